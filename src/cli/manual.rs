//! Completions for a shell, and pages of the manual.

use clap::CommandFactory;

use super::arguments::{Arguments, Completions, Manual};
use super::failure::{Failure, Outcome};
use super::layout;
use crate::record::RecordError;

/// `rigproof completions`: the script on standard output.
pub(super) fn completions(arguments: &Completions) -> Result<Outcome, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut Arguments::command(), "rigproof", &mut script);
    layout::print(&String::from_utf8_lossy(&script))?;
    Ok(Outcome::Conforms)
}

/// `rigproof manual`: one page for the program and one for each command.
pub(super) fn pages(arguments: &Manual) -> Result<Outcome, Failure> {
    let out = &arguments.out;
    let failed = |tried| move |error| RecordError::File { tried, path: out.clone(), error };
    std::fs::create_dir_all(out).map_err(failed("create"))?;
    clap_mangen::generate_to(Arguments::command(), out).map_err(failed("write"))?;
    let page = out.join("rigproof.1");
    layout::print(&format!("wrote {} and a page for each command\n  man -l {}", page.display(), page.display()))?;
    Ok(Outcome::Conforms)
}
