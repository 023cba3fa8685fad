//! `rigproof sheet`: the plan on paper.

use std::path::Path;

use super::arguments::Sheet as Arguments;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_library, read_record};
use super::layout;
use super::walk::design_errors;
use crate::plan::Plan;
use crate::record::RecordError;
use crate::report::sheets::Sheets;
use crate::walk::Walk;

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let (errors, despite) = design_errors(&job, &arguments.job, arguments.despite.as_deref())?;
    let walk = if let Some(folder) = &arguments.record {
        // A record goes on by the job and the procedures that it was begun with.
        let (_, walk) = read_record(folder)?;
        if let Some((says, _)) = super::walk::other_job(&job, &walk, &arguments.job, folder) {
            return Err(Failure::message(says));
        }
        walk
    } else {
        let plan = Plan::of(&job, &read_library(arguments.own.procedures.as_deref())?)?;
        Walk::new(job, plan)
    };
    let mut sheets = Sheets::of(&walk, arguments.paper.unwrap_or_default().into());
    if let Some(reason) = despite {
        sheets = sheets.in_spite_of(errors, &reason);
    }
    let out = &arguments.out;
    std::fs::create_dir_all(out).map_err(|error| RecordError::File { tried: "create", path: out.clone(), error })?;
    let files = [("sheets.pdf", sheets.pdf()), ("sheets.csv", sheets.csv())];
    let mut written = Vec::new();
    for (name, bytes) in files {
        let path = out.join(name);
        refuse_filled(&path)?;
        std::fs::write(&path, bytes.map_err(Failure::message)?).map_err(|error| RecordError::File {
            tried: "write",
            path: path.clone(),
            error,
        })?;
        written.push(path.display().to_string());
    }
    let says = format!(
        "wrote {}\n  code    {}, at the foot of each page\n  filled  rigproof walk {} --from-sheets {}",
        written.join(", "),
        sheets.code(),
        arguments.job.display(),
        written[1]
    );
    layout::print(&says)?;
    Ok(Outcome::Conforms)
}

/// A table in which somebody has written is not written over.
fn refuse_filled(path: &Path) -> Result<(), Failure> {
    if path.extension().is_none_or(|extension| extension != "csv") || !path.exists() {
        return Ok(());
    }
    if super::filled::is_filled(path) {
        return Err(Failure::message(format!(
            "{} has values in it, and is not written over\n  name another folder with --out DIR",
            path.display()
        )));
    }
    Ok(())
}
