//! Files in, sources out; every failure names the file.

use std::path::Path;

use super::failure::Failure;
use crate::document::Source;
use crate::job::Job;
use crate::procedure::Library;
use crate::record::{Entry, Record};
use crate::walk::Walk;

/// Largest text file that is read: a job of a thousand wires is well below.
const LARGEST: u64 = 4 << 20;

pub(super) fn read_text(path: &Path) -> Result<String, Failure> {
    let size = std::fs::metadata(path).map_err(|error| cannot_read(path, &error))?;
    if size.is_dir() {
        return Err(Failure::message(format!("{} is a folder where a file is expected", path.display())));
    }
    if size.len() > LARGEST {
        return Err(Failure::message(format!("{} is larger than 4 MiB; is it the right file?", path.display())));
    }
    let bytes = std::fs::read(path).map_err(|error| cannot_read(path, &error))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| Failure::message(format!("{} is not UTF-8 text; save it as UTF-8", path.display())))?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

fn cannot_read(path: &Path, error: &std::io::Error) -> Failure {
    Failure::message(format!("could not read {}: {error}", path.display()))
}

pub(super) fn read_job(path: &Path) -> Result<Job, Failure> {
    let source = Source::new(path.display().to_string(), read_text(path)?);
    Ok(Job::read(&source)?)
}

/// The built-in library, with the files of a folder in the place of those of the same name.
pub(super) fn read_library(own: Option<&Path>) -> Result<Library, Failure> {
    let mut sources = Vec::new();
    if let Some(folder) = own {
        let entries = std::fs::read_dir(folder).map_err(|error| cannot_read(folder, &error))?;
        let mut paths: Vec<_> = entries.filter_map(|e| e.ok().map(|e| e.path())).collect();
        paths.retain(|p| p.extension().is_some_and(|e| e == "toml"));
        paths.sort();
        for path in paths {
            sources.push(Source::new(path.display().to_string(), read_text(&path)?));
        }
    }
    Ok(Library::read(Library::sources_with(sources))?)
}

/// The folder must hold a record.
pub(super) fn expect_record(folder: &Path) -> Result<(), Failure> {
    if Record::exists(folder) {
        return Ok(());
    }
    let says = format!("{} holds no record\n  name the folder in which journal.jsonl lies", folder.display());
    Err(Failure::message(says))
}

/// The entries of a record, and the walk that they tell.
pub(super) fn read_record(folder: &Path) -> Result<(Vec<Entry>, Walk), Failure> {
    expect_record(folder)?;
    Ok(Record::read(folder)?)
}
