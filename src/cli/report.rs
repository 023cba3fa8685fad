//! `rigproof report`: writes the report of a record again.

use super::arguments::Report;
use super::failure::{Failure, Outcome};
use super::files::read_record;
use super::layout;
use crate::record::{self, RecordError};
use crate::report;
use crate::walk::Standing;

pub(super) fn run(arguments: &Report) -> Result<Outcome, Failure> {
    let (entries, walk) = read_record(&arguments.record)?;
    let findings = record::verify(&arguments.record, &record::Reader::default(), jiff::Timestamp::now())?;
    let mut view = report::View::of(&walk, &entries, &findings.head);
    if !findings.intact {
        view.warn("The record that this report was written from is not intact: run `rigproof verify` on it.");
    } else if walk.signed().is_none() {
        view.warn("The work is not signed off: this is an interim report.");
    }
    if arguments.mask_identity {
        view = view.masked();
    }
    let out = &arguments.out;
    std::fs::create_dir_all(out).map_err(|error| RecordError::File { tried: "create", path: out.clone(), error })?;
    let mut written = Vec::new();
    for (name, bytes) in report::render(&view).map_err(Failure::message)? {
        let path = out.join(name);
        std::fs::write(&path, bytes).map_err(|error| RecordError::File {
            tried: "write",
            path: path.clone(),
            error,
        })?;
        written.push(path.display().to_string());
    }
    layout::print(&format!("wrote {}", written.join(", ")))?;
    let good = walk.standing() == Standing::Conforms && findings.intact;
    Ok(if good { Outcome::Conforms } else { Outcome::DoesNotConform })
}
