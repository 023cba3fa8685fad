//! The values of a job file, each by its path.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Place;

/// Each text of a table and of the tables in it.
pub(super) fn texts(table: &DeTable) -> Vec<Place> {
    let mut found = Vec::new();
    collect(table, "", &mut found);
    found.sort_by_key(|place| place.at.start);
    found
}

fn collect(table: &DeTable, above: &str, found: &mut Vec<Place>) {
    for (key, value) in table {
        let path = if above.is_empty() { key.get_ref().to_string() } else { format!("{above}.{}", key.get_ref()) };
        of_value(value, path, found);
    }
}

fn of_value(value: &Spanned<DeValue>, path: String, found: &mut Vec<Place>) {
    match value.get_ref() {
        DeValue::String(text) => found.push(Place { path, text: text.to_string(), at: value.span() }),
        DeValue::Table(inside) => collect(inside, &path, found),
        _ => {}
    }
}
