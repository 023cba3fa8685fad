//! A kit: a job that is done again and again, and what differs from one vehicle to the next.
//!
//! A kit is two texts: an ordinary job file, and `kit.toml`, which names the values that differ. Only these are asked;
//! all else, with its remarks and its order, is as whoever made the kit wrote it. A longer way may ask for a thicker
//! conductor: [`Proposal::of`] looks for it, and says which size it put in place of which.

mod filling;
mod place;
mod proposal;
mod read;

pub use filling::Filling;
pub use proposal::{Proposal, Raised};

use std::ops::Range;

use crate::brief::WantedForm;
use crate::document::{Form, Problems, Source};
use crate::quantity::Dimension;

/// A job that is done again and again.
#[derive(Debug, Clone)]
pub struct Kit {
    /// What it fits.
    pub title: String,
    /// Its job file, as the kit has it.
    pub job: Source,
    /// What differs from vehicle to vehicle, in the order in which it is asked.
    pub differs: Vec<Differing>,
}

/// One thing that differs.
#[derive(Debug, Clone)]
pub struct Differing {
    /// Its name, and its key in a file of answers.
    pub name: String,
    /// The values of the job file that the answer takes the place of.
    places: Vec<Place>,
    asks: String,
    why: String,
    find_out: String,
    usual: Option<String>,
    form: Written,
}

/// How an answer is written.
#[derive(Debug, Clone)]
enum Written {
    Words,
    Among(Vec<String>),
    Between(Dimension, f64, f64),
}

/// A value of the job file.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Place {
    /// `wire.w3.length`
    path: String,
    /// What stands there in the kit.
    text: String,
    /// The bytes of the value, its quotes included.
    at: Range<usize>,
}

impl Kit {
    /// Reads `kit.toml`, beside the job file that it is about.
    ///
    /// # Errors
    /// All problems of the kit's own file at once; where it has none, those of its job file.
    pub fn read(source: &Source, job: &Source) -> Result<Kit, Box<Problems>> {
        read::read(source, job)
    }

    /// The form of `kit.toml`, as its reader asks for it.
    pub fn form() -> Form {
        read::form()
    }
}

impl Differing {
    fn form(&self) -> WantedForm<'_> {
        match &self.form {
            Written::Words => WantedForm::Words,
            Written::Among(words) => WantedForm::Among(words),
            Written::Between(dimension, low, high) => WantedForm::Between(*dimension, *low, *high),
        }
    }
}

#[cfg(test)]
mod sample {
    //! A kit for tests.
    use super::Kit;
    use crate::document::Source;

    pub const JOB: &str = include_str!("every-key-job.toml");
    pub const KIT: &str = include_str!("every-key.toml");

    pub fn read(kit: &str) -> Result<Kit, String> {
        Kit::read(&Source::new("kit.toml", kit), &Source::new("job.toml", JOB)).map_err(|says| says.to_string())
    }
}
