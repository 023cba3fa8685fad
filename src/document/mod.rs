//! A text file that people write by hand: its source, the problems found in it, and a reader that
//! collects every problem of a file before it stops.

mod form;
mod problem;
mod table;

pub use form::Form;
pub use problem::{Problem, Problems, Source};
pub(crate) use table::closest;
pub use table::{Table, parse_toml};
