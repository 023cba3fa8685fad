//! `rigproof schema`: the form of a kind of file, for editors.

use super::answers;
use super::arguments::{FileKind, Schema};
use super::failure::{Failure, Outcome};
use super::layout;
use super::{readings, settings};
use crate::brief::Brief;
use crate::diagnosis::Weights;
use crate::job::Job;
use crate::kit::Kit;
use crate::procedure::Library;
use crate::shop::Shop as ShopFile;

pub(super) fn run(arguments: &Schema) -> Result<Outcome, Failure> {
    let (form, title) = match arguments.kind {
        FileKind::Job => (Job::form(), "A job, format 1"),
        FileKind::Procedure => (Library::forms().0, "A procedure, format 1"),
        FileKind::Hazards => (Library::forms().1, "The hazards of a library, format 1"),
        FileKind::Answers => (answers::form(), "The answers of a walk, format 1"),
        FileKind::Brief => (Brief::form(), "What was said of a load that is to be fitted, format 1"),
        FileKind::Shop => (ShopFile::form(), "A shop, format 1"),
        FileKind::Kit => (Kit::form(), "What differs in a job that is done again and again, format 1"),
        FileKind::Settings => (settings::form(), "What a person sets once, format 1"),
        FileKind::Weights => (Weights::form(), "How likely each kind of fault is, format 1"),
        FileKind::Readings => (readings::form(), "The readings of a search for a fault, format 1"),
    };
    layout::print(&format!("{:#}", form.schema(title)))?;
    Ok(Outcome::Conforms)
}
