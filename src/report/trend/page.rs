//! The page of a trend.

use serde::Serialize;
use tera::{Context, Tera};

use super::Trend;
use crate::report::page::{STYLE, in_words, paper};
use crate::report::pdf::Sheet;
use crate::report::visible;
use crate::statistics::Rule;

const PAGE: (&str, &str) = ("trend.html", include_str!("../templates/trend.html"));

#[derive(Serialize)]
struct Fact {
    label: &'static str,
    words: String,
}

#[derive(Serialize)]
struct Row {
    number: usize,
    day: String,
    value: String,
    by: String,
    with: String,
    record: String,
    breaks: Vec<&'static str>,
}

/// Writes the page around a drawing.
pub(super) fn render(trend: &Trend, title: &str, drawing: &str) -> Result<String, String> {
    let mut tera = Tera::new();
    tera.autoescape_on([".html"]);
    tera.add_raw_templates(vec![PAGE, STYLE]).map_err(|error| in_words(&error))?;
    let rows: Vec<Row> = trend
        .readings
        .iter()
        .enumerate()
        .map(|(at, taken)| {
            let with = [taken.instrument.as_deref(), taken.tool.as_deref()].into_iter().flatten().collect::<Vec<_>>();
            Row {
                number: at + 1,
                day: taken.at.strftime("%Y-%m-%d").to_string(),
                value: taken.value.to_string(),
                by: visible(&taken.by),
                with: visible(&with.join(", ")),
                record: visible(&taken.record),
                breaks: trend.broken_at(at).map(Rule::says).collect(),
            }
        })
        .collect();
    let mut context = Context::new();
    context.insert("title", &visible(title));
    context.insert("steady", &trend.is_steady());
    context.insert("drawing", drawing);
    let facts: Vec<Fact> = trend.facts().into_iter().map(|(label, words)| Fact { label, words }).collect();
    context.insert("facts", &facts);
    context.insert("rows", &rows);
    context.insert("paper", paper(Sheet::A4));
    tera.render(PAGE.0, &context).map_err(|error| in_words(&error))
}
