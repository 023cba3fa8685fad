//! The lists of what a job takes, as a page, as a print, as tables and as JSON.

mod page;
mod print;
mod sections;
mod tables;

pub use sections::{List, bolt_in_words, limits_in_words, millimetres, sources, sum_in_words};
pub use tables::csv;

use serde_json::Value;

use super::pdf::{self, Sheet};
use crate::materials::Materials;
use crate::record::ReportFile;

/// Everything as JSON: numbers in SI units without the rest of rounding, `0.013` and not `0.013000000000000001`.
///
/// # Errors
/// In words, where a number has no form in JSON.
pub fn as_json(materials: &Materials) -> Result<Value, String> {
    let mut value = serde_json::to_value(materials).map_err(|error| error.to_string())?;
    round(&mut value);
    Ok(value)
}

fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let rounded = number.as_f64().map(|n| (n * 1e9).round() / 1e9);
            if let Some(rounded) = rounded.and_then(serde_json::Number::from_f64) {
                *number = rounded;
            }
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(items) => items.values_mut().for_each(round),
        _ => {}
    }
}

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
    let mut json = serde_json::to_vec_pretty(&as_json(materials)?).map_err(|error| error.to_string())?;
    json.push(b'\n');
    files.push(("materials.json".to_owned(), json));
    Ok(files)
}
