use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::quantity::Day;
use crate::walk::Event;

/// What the first entry carries in the place of the hash of the line before.
pub const FIRST_PREVIOUS: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// One line of the journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Counts from 0.
    pub seq: u64,
    /// SHA-256 of the line before, its line feed included.
    pub prev: String,
    /// When, by the clock of this machine: a claim, not a proof.
    pub at: Timestamp,
    /// Who worked.
    pub by: String,
    /// What happened.
    pub event: Event,
}

impl Entry {
    /// The line as it stands in the journal: canonical JSON (RFC 8785) and a line feed.
    ///
    /// # Errors
    /// None for entries of this program: all their numbers are finite.
    pub fn line(&self) -> Result<String, serde_json::Error> {
        let mut line = serde_json_canonicalizer::to_string(self)?;
        line.push('\n');
        Ok(line)
    }

    /// The day on which it was made, by UTC.
    pub fn day(&self) -> Day {
        day_of(self.at)
    }

    /// Reads a line and checks that it is exactly what this program would write.
    ///
    /// # Errors
    /// In words: not JSON, not an entry, not in canonical form.
    pub fn parse(line: &str) -> Result<Entry, String> {
        let text = line.strip_suffix('\n').ok_or("the line does not end in a line feed")?;
        let entry: Entry = serde_json::from_str(text).map_err(|error| format!("this is no entry: {error}"))?;
        let again = entry.line().map_err(|error| error.to_string())?;
        if again != line {
            return Err("the line is not in canonical form (RFC 8785)".to_owned());
        }
        Ok(entry)
    }
}

/// The day of a moment, by UTC as all times of a record are.
pub fn day_of(moment: Timestamp) -> Day {
    TimeZone::UTC.to_datetime(moment).date().into()
}

/// SHA-256 of bytes, in lower-case hexadecimal.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Bytes in lower-case hexadecimal.
pub(super) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}
