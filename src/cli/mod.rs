//! The command line: reads files, asks people, prints, and turns every end into an exit status.

mod answers;
mod arguments;
mod card;
mod check;
mod cover;
mod diagnose;
mod expect;
mod failure;
mod files;
mod filled;
mod findings;
mod layout;
mod lines;
mod procedures;
mod readings;
mod report;
mod schema;
mod sheet;
mod sign;
mod signing;
mod terminal;
mod timestamp;
mod units;
mod verify;
mod walk;

pub use failure::{Failure, Outcome};

use std::ffi::OsString;

use clap::Parser;

/// Runs the program with its arguments.
///
/// # Errors
/// [`Failure`]: what to print, and the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Result<Outcome, Failure> {
    let parsed = arguments::Arguments::try_parse_from(arguments).map_err(Failure::usage)?;
    match parsed.command {
        arguments::Command::Check(arguments) => check::check(&arguments),
        arguments::Command::Size(arguments) => check::size(&arguments),
        arguments::Command::Procedures(arguments) => procedures::run(&arguments),
        arguments::Command::Expect(arguments) => expect::run(&arguments),
        arguments::Command::Cover(arguments) => cover::run(&arguments),
        arguments::Command::Diagnose(arguments) => diagnose::run(&arguments),
        arguments::Command::Walk(arguments) => walk::run(&arguments),
        arguments::Command::Schema(arguments) => schema::run(&arguments),
        arguments::Command::Report(arguments) => report::run(&arguments),
        arguments::Command::Verify(arguments) => verify::run(&arguments),
        arguments::Command::Sign(arguments) => sign::run(&arguments),
        arguments::Command::Timestamp(arguments) => timestamp::run(&arguments),
        arguments::Command::Sheet(arguments) => sheet::run(&arguments),
    }
}
