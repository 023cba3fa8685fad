//! The page: the view put into a template. A shop may bring templates of its own.

use base64ct::{Base64, Encoding};
use serde_json::{Value, json};
use tera::{Context, Tera};

use super::drawing::svg::svg;
use super::pdf::Sheet;
use super::{Figure, Report, Style};

/// A template: its name, which ends in `.html`, and its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Template {
    /// Its name: `report.html` is what is written, and what it includes.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// The template that is written.
const PAGE: &str = "report.html";
const BUILT_IN: [(&str, &str); 2] = [(PAGE, include_str!("templates/report.html")), STYLE];

/// What every page begins with.
pub(super) const STYLE: (&str, &str) = ("style.html", include_str!("templates/style.html"));

/// The templates that this program brings along, to begin own ones from.
pub fn built_in_templates() -> Vec<Template> {
    BUILT_IN.iter().map(|(name, text)| Template { name: (*name).to_owned(), text: (*text).to_owned() }).collect()
}

/// Writes the page.
pub(super) fn render(report: &Report, style: &Style) -> Result<String, String> {
    let mut tera = Tera::new();
    tera.autoescape_on([".html"]);
    let own = |name: &str| style.templates.iter().any(|template| template.name == name);
    let built_in = built_in_templates();
    let all = built_in.iter().filter(|template| !own(&template.name)).chain(&style.templates);
    let all: Vec<(&str, &str)> = all.map(|template| (template.name.as_str(), template.text.as_str())).collect();
    tera.add_raw_templates(all).map_err(|error| in_words(&error))?;
    let context = context(report, style).map_err(|error| error.to_string())?;
    tera.render(PAGE, &context).map_err(|error| in_words(&error))
}

/// The paper as a style sheet names it.
pub(super) fn paper(sheet: Sheet) -> &'static str {
    match sheet {
        Sheet::A4 => "A4",
        Sheet::Letter => "letter",
    }
}

/// What a template is given: the view, and what of it is drawn.
fn context(report: &Report, style: &Style) -> Result<Context, tera::Error> {
    let mut context = Context::from_serialize(&report.view)?;
    let figures = |name: &str, figures: &[Figure]| -> Value {
        let figure = |(n, figure): (usize, &Figure)| {
            let id = format!("{name}-{}", n + 1);
            json!({ "title": figure.title, "says": figure.scene.says, "svg": svg(&figure.scene, &id) })
        };
        figures.iter().enumerate().map(figure).collect()
    };
    let photo = |photo: &super::Photo| {
        let row = report.view.pictures.iter().find(|row| row.file == photo.file);
        let source = format!("data:image/jpeg;base64,{}", Base64::encode_string(&photo.jpeg));
        json!({
            "step": row.map_or("", |row| row.step.as_str()),
            "caption": row.map_or("", |row| row.caption.as_str()),
            "file": photo.file,
            "source": source,
        })
    };
    context.insert("paper", paper(style.sheet));
    context.insert("circuit", &figures("circuit", &report.circuit));
    context.insert("paths", &figures("path", &report.paths));
    context.insert("protection", &figures("protection", &report.protection));
    context.insert("coverage_svg", &svg(&report.coverage, "coverage"));
    context.insert("photos", &report.photos.iter().map(photo).collect::<Value>());
    Ok(context)
}

/// An error of a template with all that lies below it: template, line, and what was not found.
pub(super) fn in_words(error: &tera::Error) -> String {
    use std::error::Error;
    let says = error.to_string();
    let mut words = format!("a template cannot be filled in: {}", says.strip_prefix("error: ").unwrap_or(&says));
    let mut below = error.source();
    while let Some(cause) = below {
        let says = cause.to_string();
        if !words.contains(&says) {
            words.push_str(": ");
            words.push_str(&says);
        }
        below = cause.source();
    }
    words
}
