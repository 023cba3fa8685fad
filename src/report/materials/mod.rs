//! The lists of what a job takes, as a page, as a print, as tables and as JSON.

mod page;
mod print;
mod sections;
mod tables;

pub use sections::{List, bolt_in_words, limits_in_words, millimetres, sources, sum_in_words};
pub use tables::csv;

use super::pdf::{self, Sheet};
use crate::materials::Materials;
use crate::record::ReportFile;

/// Writes all forms of the lists: name and bytes. The same job gives the same bytes.
///
/// # Errors
/// In words: what cannot be printed.
pub fn files(materials: &Materials, sheet: Sheet) -> Result<Vec<ReportFile>, String> {
    let sections = sections::sections(materials);
    let print = pdf::write(&print::document(materials, &sections), sheet).map_err(|error| error.to_string())?;
    let mut files = vec![
        ("materials.html".to_owned(), page::render(materials, &sections, sheet)?.into_bytes()),
        ("materials.pdf".to_owned(), print),
    ];
    for list in List::ALL {
        files.push((format!("{}.csv", list.word()), csv(materials, list)?));
    }
    let mut json = serde_json::to_vec_pretty(materials).map_err(|error| error.to_string())?;
    json.push(b'\n');
    files.push(("materials.json".to_owned(), json));
    Ok(files)
}
