//! `rigproof diagnose`: which fault explains the readings, and what to read next.

use std::io::IsTerminal;
use std::path::Path;

use super::arguments::Diagnose;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_record, read_text};
use super::findings::{ending, next_in_words, ranking, to_json};
use super::layout;
use super::readings::read_readings;
use crate::diagnosis::{Kind, Taken, Weights, find};
use crate::document::Source;
use crate::job::Job;
use crate::quantity::{Dimension, Reading};
use crate::walk::Walk;

pub(super) fn run(arguments: &Diagnose) -> Result<Outcome, Failure> {
    let mut job = read_job(&arguments.job)?;
    let weights = read_weights(arguments.weights.as_deref())?;
    let mut taken = Vec::new();
    if let Some(folder) = &arguments.record {
        let walk = readings_of_record(folder, &job)?;
        taken.extend(walk.taken());
        // With what the walk has measured of it.
        job = walk.job().clone();
    }
    if let Some(path) = &arguments.readings {
        taken.extend(read_readings(path, &job)?);
    }
    let asks = !arguments.json && std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
    if !asks && taken.is_empty() && arguments.readings.is_none() {
        return Err(Failure::message("without a terminal, name the readings with --readings FILE"));
    }
    let mut findings = find(&job, &weights, &taken);
    if asks {
        layout::print(
            "Before you set a state: hands, tools and cloth clear of live metal and of all\n\
             that turns or gets hot. The vehicle maker's manual comes first.\n\
             An empty line ends the search.\n",
        )?;
        if !taken.is_empty() {
            layout::print(&format!("\nBy the readings so far ({}):\n{}", taken.len(), ranking(&findings, &taken)))?;
        }
        while let Some(next) = &findings.next {
            layout::print(&next_in_words(&job, next))?;
            let Some(reading) = ask(next.measurement.dimension)? else { break };
            taken.push(Taken { measurement: next.measurement.clone(), reading, instrument: None });
            findings = find(&job, &weights, &taken);
            layout::print(&ranking(&findings, &taken))?;
        }
        layout::print(&ending(&findings, &weights))?;
    } else if arguments.json {
        layout::print(&to_json(&findings).to_string())?;
    } else {
        let mut text = ranking(&findings, &taken);
        match &findings.next {
            Some(next) => text.push_str(&next_in_words(&job, next)),
            None => text.push_str(&ending(&findings, &weights)),
        }
        layout::print(&text)?;
    }
    let as_designed = findings.ranked.first().is_some_and(|first| first.fault.kind == Kind::AsDesigned);
    Ok(if as_designed && findings.unexplained.is_empty() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

/// The walk of a record, which must be of this job.
fn readings_of_record(folder: &Path, job: &Job) -> Result<Walk, Failure> {
    let (_, walk) = read_record(folder)?;
    if walk.stated().title != job.title {
        let says = format!("{} is the record of another job: {}", folder.display(), walk.stated().title);
        return Err(Failure::message(says));
    }
    Ok(walk)
}

/// The weights of a shop, or the program's own.
pub(super) fn read_weights(path: Option<&Path>) -> Result<Weights, Failure> {
    let Some(path) = path else { return Ok(Weights::default()) };
    Ok(Weights::read(&Source::new(path.display().to_string(), read_text(path)?))?)
}

/// Asks until a reading is typed that can be one; `None` for an empty line.
fn ask(dimension: Dimension) -> Result<Option<Reading>, Failure> {
    loop {
        let typed: String = dialoguer::Input::new()
            .with_prompt("  The meter shows")
            .allow_empty(true)
            .interact_text()
            .map_err(|error| Failure::message(format!("the terminal does not answer: {error}")))?;
        if typed.trim().is_empty() {
            return Ok(None);
        }
        match Reading::parse(&typed, dimension) {
            Ok(reading) => return Ok(Some(reading)),
            Err(error) => layout::print(&format!("  {error}\n"))?,
        }
    }
}
