//! `rigproof report`: writes the report of a record again.

use std::path::Path;

use super::arguments::Report;
use super::failure::{Failure, Outcome};
use super::files::{read_record, read_text};
use super::layout;
use crate::record::{self, RecordError};
use crate::report::{self, Style, Template};
use crate::walk::Standing;

/// Longest side of a picture in a report, in pixels.
const LONGEST: u32 = 900;

pub(super) fn run(arguments: &Report) -> Result<Outcome, Failure> {
    let (entries, walk) = read_record(&arguments.record)?;
    let findings = record::verify(&arguments.record, &record::Reader::default(), jiff::Timestamp::now())?;
    let mut report = report::Report::of(&walk, &entries, &findings.head, &pictures_of(&arguments.record));
    if !findings.intact {
        report.warn("The record that this report was written from is not intact: run `rigproof verify` on it.");
    } else if walk.signed().is_none() {
        report.warn("The work is not signed off: this is an interim report.");
    }
    if arguments.mask_identity {
        report = report.masked();
    }
    let sheet = arguments.paper.unwrap_or_default().into();
    let templates = arguments.templates.as_deref().map(templates).transpose()?.unwrap_or_default();
    let files = report.files(&Style { sheet, templates }).map_err(Failure::message)?;
    let out = &arguments.out;
    std::fs::create_dir_all(out).map_err(|error| RecordError::File { tried: "create", path: out.clone(), error })?;
    let mut written = Vec::new();
    for (name, bytes) in files {
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

/// Brings the pictures of a record, small enough for a report; one that cannot be read is left out.
pub(super) fn pictures_of(record: &Path) -> impl Fn(&str) -> Option<Vec<u8>> {
    move |file| record::small_picture(record, file, LONGEST).ok()
}

/// The templates of a folder: its files that end in `.html`.
fn templates(folder: &Path) -> Result<Vec<Template>, Failure> {
    let cannot = |error| Failure::message(format!("could not read {}: {error}", folder.display()));
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(cannot)? {
        let path = entry.map_err(cannot)?.path();
        if path.extension().is_none_or(|extension| extension != "html") {
            continue;
        }
        let Some(name) = path.file_name().and_then(|name| name.to_str()) else { continue };
        found.push(Template { name: name.to_owned(), text: read_text(&path)? });
    }
    if found.is_empty() {
        let built_in: Vec<String> = report::built_in_templates().into_iter().map(|template| template.name).collect();
        return Err(Failure::message(format!(
            "{} holds no template\n  a template is a file that ends in .html; those of this program are {}",
            folder.display(),
            built_in.join(", ")
        )));
    }
    Ok(found)
}
