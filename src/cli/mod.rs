//! The command line: reads files, asks people, prints, and turns every end into an exit status.

mod aim;
mod answers;
mod arguments;
mod card;
mod check;
mod cover;
mod diagnose;
mod energy;
mod expect;
mod failure;
mod files;
mod filled;
mod findings;
mod guide;
mod house;
mod kits;
mod layout;
mod ledger;
mod lines;
mod manual;
mod materials;
mod new;
mod procedures;
mod readings;
mod report;
mod schema;
mod settings;
mod sheet;
mod shop;
mod shop_folder;
mod sign;
mod signing;
mod terminal;
mod timestamp;
mod trend;
mod units;
mod verify;
mod walk;

pub use answers::check as check_answers;
pub use failure::{Failure, Outcome};

use std::ffi::OsString;

use clap::Parser;

/// Runs the program with its arguments.
///
/// # Errors
/// [`Failure`]: what to print, and the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Result<Outcome, Failure> {
    let parsed = arguments::Arguments::try_parse_from(arguments).map_err(Failure::usage)?;
    let Some(mut command) = parsed.command else { return guide::run() };
    settings::fill(&mut command)?;
    match command {
        arguments::Command::Check(arguments) => check::check(&arguments),
        arguments::Command::Size(arguments) => check::size(&arguments),
        arguments::Command::Procedures(arguments) => procedures::run(&arguments),
        arguments::Command::New(arguments) => new::run(&arguments),
        arguments::Command::Expect(arguments) => expect::run(&arguments),
        arguments::Command::Cover(arguments) => cover::run(&arguments),
        arguments::Command::Diagnose(arguments) => diagnose::run(&arguments),
        arguments::Command::Walk(arguments) => walk::run(&arguments),
        arguments::Command::Schema(arguments) => schema::run(&arguments),
        arguments::Command::Report(arguments) => report::run(&arguments),
        arguments::Command::Verify(arguments) => verify::run(&arguments),
        arguments::Command::Sign(arguments) => sign::run(&arguments),
        arguments::Command::Timestamp(arguments) => timestamp::run(&arguments),
        arguments::Command::Settings(arguments) => settings::run(&arguments),
        arguments::Command::Completions(arguments) => manual::completions(&arguments),
        arguments::Command::Manual(arguments) => manual::pages(&arguments),
        arguments::Command::Aim(arguments) => aim::run(&arguments),
        arguments::Command::Energy(arguments) => energy::run(&arguments),
        arguments::Command::Materials(arguments) => materials::run(&arguments),
        arguments::Command::Sheet(arguments) => sheet::run(&arguments),
        arguments::Command::Trend(arguments) => trend::run(&arguments),
        arguments::Command::Shop(arguments) => shop::run(&arguments),
        arguments::Command::Ledger(arguments) => ledger::run(&arguments),
    }
}
