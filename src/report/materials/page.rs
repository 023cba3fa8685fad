//! The lists as one page.

use tera::{Context, Tera};

use super::sections::Section;
use crate::materials::Materials;
use crate::report::page::{STYLE, in_words, paper};
use crate::report::pdf::Sheet;
use crate::report::visible;

const PAGE: (&str, &str) = ("materials.html", include_str!("../templates/materials.html"));

/// Writes the page.
pub(super) fn render(materials: &Materials, sections: &[Section], sheet: Sheet) -> Result<String, String> {
    let mut tera = Tera::new();
    tera.autoescape_on([".html"]);
    tera.add_raw_templates(vec![PAGE, STYLE]).map_err(|error| in_words(&error))?;
    let mut context = Context::new();
    context.insert("title", &visible(&materials.title));
    context.insert("vehicle", &visible(&materials.vehicle));
    context.insert("work_order", &materials.work_order.as_deref().map(visible));
    context.insert("remarks", &remarks(materials));
    context.insert("sections", sections);
    context.insert("paper", paper(sheet));
    tera.render(PAGE.0, &context).map_err(|error| in_words(&error))
}

/// What is to be settled first, in plain words.
pub(super) fn remarks(materials: &Materials) -> Vec<String> {
    materials.remarks.iter().map(|r| visible(&format!("{}: {}", r.subject, r.says))).collect()
}
