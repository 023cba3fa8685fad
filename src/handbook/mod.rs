//! Published tables as data. Every table names its source; the loader refuses one that does not.
//!
//! A value that only practice or memory supports says so in its [`Status`], and the findings that rest on
//! it repeat that to the person.

pub mod ampacity;
pub mod assumption;
pub mod battery;
pub mod conductor;
pub mod fuse;
pub mod hardware;
pub mod lamp;
pub mod materials;
pub mod meter;
pub mod relay;
pub mod workmanship;

use serde::{Deserialize, Deserializer, Serialize, de::DeserializeOwned};

use crate::quantity::ConductorSize;

/// After how many days finished work is looked at again: new joints settle (common practice).
pub const CHECK_AGAIN_DAYS: i64 = 30;

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Read in the named source.
    Verified,
    /// Practice of the trade without a source that binds.
    CommonPractice,
    /// Recalled, not read anywhere: never the only ground for a limit.
    FromMemory,
}

impl Status {
    /// What is added behind a source when it is shown.
    pub fn remark(self) -> &'static str {
        match self {
            Status::Verified => "",
            Status::CommonPractice => " (common practice)",
            Status::FromMemory => " (from memory)",
        }
    }
}

/// A value together with where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Cited<T> {
    /// The value.
    pub value: T,
    /// Its source, in words for a person.
    pub source: String,
    /// How far it can be trusted.
    pub status: Status,
}

impl<T> Cited<T> {
    /// A value with its source.
    pub fn new(value: T, source: impl Into<String>, status: Status) -> Self {
        Self { value, source: source.into(), status }
    }

    /// The same source for a value derived from this one.
    pub fn map<U>(self, derive: impl FnOnce(T) -> U) -> Cited<U> {
        Cited { value: derive(self.value), source: self.source, status: self.status }
    }

    /// The source as it is shown, with the remark of its status.
    pub fn citation(&self) -> String {
        format!("{}{}", self.source, self.status.remark())
    }
}

/// A published table: rows of data under one source.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Published<R> {
    pub source: String,
    pub status: Status,
    pub rows: Vec<R>,
}

/// Reads a gauge as tables print it: `12`, `2/0`.
pub(crate) fn gauge<'de, D: Deserializer<'de>>(deserializer: D) -> Result<ConductorSize, D::Error> {
    let text = String::deserialize(deserializer)?;
    ConductorSize::parse(&format!("{text} AWG")).map_err(|error| serde::de::Error::custom(format!("{text}: {error:?}")))
}

/// Reads one named table out of an embedded file.
///
/// # Panics
/// Where the embedded data is broken; a test loads every table.
pub(crate) fn load<R: DeserializeOwned>(file: &str, table: &str) -> Published<R> {
    // Only this table's own lines are parsed: a command that needs one row does not pay for the whole handbook.
    let heading = format!("[{table}]\n");
    let start = file.find(&heading).expect("the embedded handbook holds the table") + heading.len();
    let rest = &file[start..];
    let own = rest.find("\n[").map_or(rest, |end| &rest[..=end]);
    let published: Published<R> = toml::from_str(own).expect("the rows of a handbook table have their columns");
    assert!(!published.source.trim().is_empty(), "table {table} names no source");
    published
}

const CONDUCTORS: &str = include_str!("tables/conductors.toml");
const AMPACITY: &str = include_str!("tables/ampacity.toml");
const PROTECTION: &str = include_str!("tables/protection.toml");
const WORKMANSHIP: &str = include_str!("tables/workmanship.toml");
const HARDWARE: &str = include_str!("tables/hardware.toml");
const ASSUMPTIONS: &str = include_str!("tables/assumptions.toml");
const BATTERY: &str = include_str!("tables/battery.toml");
const LAMPS: &str = include_str!("tables/lamps.toml");
const MATERIALS: &str = include_str!("tables/materials.toml");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_table_of_every_file_names_its_source_and_has_rows() {
        for file in [CONDUCTORS, AMPACITY, PROTECTION, WORKMANSHIP, HARDWARE, ASSUMPTIONS, BATTERY, LAMPS, MATERIALS] {
            let tables: toml::Table = toml::from_str(file).unwrap();
            for (name, table) in tables {
                let table: Published<toml::Table> = table.try_into().expect(&name);
                assert!(table.source.len() > 10, "{name}");
                assert!(!table.rows.is_empty(), "{name}");
            }
        }
    }
}
