//! The report: one view model, written as a self-contained page and as JSON.

mod bar;
pub mod drawing;
mod matrix;
pub mod pdf;
mod view;

pub use view::View;

use tera::{Context, Tera};

/// Whether a character only turns the direction of the text around it: a name that holds one can read as another.
pub fn turns_text(c: char) -> bool {
    matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

const PAGE: &str = include_str!("templates/report.html");

/// Writes a view as the files of a report: name and bytes.
///
/// # Errors
/// In words, where the template cannot be filled in: template, line and variable.
pub fn render(view: &View) -> Result<Vec<(String, Vec<u8>)>, String> {
    let mut tera = Tera::new();
    tera.autoescape_on([".html"]);
    tera.add_raw_template("report.html", PAGE).map_err(|error| error.to_string())?;
    let context = Context::from_serialize(view).map_err(|error| error.to_string())?;
    let page = tera.render("report.html", &context).map_err(|error| error.to_string())?;
    let json = serde_json::to_vec_pretty(view).map_err(|error| error.to_string())?;
    Ok(vec![("report.html".to_owned(), page.into_bytes()), ("report.json".to_owned(), json)])
}
