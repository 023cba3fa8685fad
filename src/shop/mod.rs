//! The shop: who may do what and until when, which instruments are calibrated, which limits hold beside those of the
//! library. One file, `shop.toml`; whoever asks is answered in words, and each refusal with the way out.

mod amiss;
mod equipment;
mod limits;
mod people;
mod read;

pub use equipment::Tool;
pub use limits::Limits;
pub use people::{Person, Right, Role};

use crate::document::{Form, Problems, Source};
use crate::job::{Acceptance, Instrument, Level};

/// A shop.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// The text it was read from.
    pub source: Source,
    /// Its name.
    pub name: String,
    /// The folder of the jobs, seen from the shop's own.
    pub jobs: String,
    /// Roles, and what whoever has one may do.
    pub roles: Vec<Role>,
    /// People.
    pub people: Vec<Person>,
    /// Instruments; each is called in a job as it is called here.
    pub instruments: Vec<Instrument>,
    /// Tools that take no reading.
    pub tools: Vec<Tool>,
    /// What a new job is given where it is silent.
    pub defaults: Defaults,
    /// Limits that hold in this shop beside those of the job and the library.
    pub limits: Limits,
}

/// What a new job is given where it is silent.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Defaults {
    /// How much is asked of the work.
    pub level: Option<Level>,
    /// By which rule a reading near a limit is accepted.
    pub acceptance: Option<Acceptance>,
}

/// Why something is not done in this shop, and what can be done instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Why, without a full stop.
    pub reason: String,
    /// What can be done, in whole sentences.
    pub way_out: String,
}

impl Refusal {
    pub(crate) fn new(reason: impl Into<String>, way_out: impl Into<String>) -> Self {
        Self { reason: reason.into(), way_out: way_out.into() }
    }
}

/// The reason, then the way out.
impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}. {}", self.reason, self.way_out)
    }
}

impl Shop {
    /// Reads `shop.toml`. `key_file` brings the text of a public key by the path that stands in the file, or says in
    /// words why it cannot.
    ///
    /// # Errors
    /// All problems of the file at once, each with its place and the way out.
    pub fn read(source: &Source, key_file: &dyn Fn(&str) -> Result<String, String>) -> Result<Shop, Box<Problems>> {
        read::read(source, key_file)
    }

    /// The form of the file, as its reader asks for it.
    pub fn form() -> Form {
        read::form()
    }

    /// The instrument of this name.
    pub fn instrument(&self, name: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|i| i.name == name)
    }
}

#[cfg(test)]
pub(crate) mod sample {
    //! A shop for tests.
    use super::Shop;
    use crate::document::Source;

    /// A public key that belongs to nobody.
    pub const KEY: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAINdamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea";

    /// Reads a shop whose key files are all there.
    pub fn read(text: &str) -> Result<Shop, String> {
        let keys = |path: &str| match path {
            "keys/missing.pub" => Err("no such file".to_owned()),
            "keys/other.pub" => Ok(format!("{} other", KEY.replace("B1Ea", "B1Eb"))),
            "keys/wrong.pub" => Ok("ssh-rsa AAAAB3".to_owned()),
            _ => Ok(format!("{KEY} somebody\n")),
        };
        Shop::read(&Source::new("shop.toml", text), &keys).map_err(|problems| problems.to_string())
    }

    /// Three people, two roles, two meters.
    pub const YARD: &str = r#"
format = 1
name = "Orchard yard"

[role.installer]
may = ["work"]

[role.lead]
may = ["work", "release", "concession", "sign"]
releases = ["ground"]

[person.robin]
name = "Robin Alder"
role = ["installer", "lead"]
key = "keys/robin.pub"

[person.ash]
name = "Ash Thorn"
role = "installer"
until = "2026-06-30"

[person.sam]
name = "Sam Rowan"
role = "installer"
from = "2026-03-01"

[meter.M1]
class = "mid"
serial = "0417"
calibration_due = "2027-03-31"

[meter.M2]
class = "good"
calibration_due = "2026-10-01"
"#;

    pub fn yard() -> Shop {
        read(YARD).unwrap_or_else(|problems| panic!("{problems}"))
    }
}
