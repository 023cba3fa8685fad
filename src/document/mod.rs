//! A text file that people write by hand: its source, the problems found in it, and a reader that
//! collects every problem of a file before it stops.

mod form;
mod problem;
mod table;

pub use form::Form;
pub use problem::{Problem, Problems, Source};
pub(crate) use table::closest;
pub use table::{Table, parse_toml};

/// A text that a spreadsheet would take for a formula is made one that it does not.
pub fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@']) { format!("'{text}") } else { text.to_owned() }
}
