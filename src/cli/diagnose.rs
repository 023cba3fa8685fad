//! `rigproof diagnose`: which fault explains the readings, and what to read next.

use std::io::IsTerminal;
use std::path::Path;

use serde_json::{Value, json};

use super::arguments::Diagnose;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_text};
use super::findings::{ending, next_in_words, ranking};
use super::layout;
use super::readings::read_readings;
use crate::diagnosis::{Findings, Kind, Ranked, Taken, Weights, find};
use crate::document::Source;
use crate::plan::Probes;
use crate::quantity::{Amount, Dimension, Reading};

pub(super) fn run(arguments: &Diagnose) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let weights = read_weights(arguments.weights.as_deref())?;
    let mut taken = match &arguments.readings {
        Some(path) => read_readings(path, &job)?,
        None => Vec::new(),
    };
    let asks = arguments.readings.is_none() && !arguments.json;
    if asks && !std::io::stdin().is_terminal() {
        return Err(Failure::message("without a terminal, name the readings with --readings FILE"));
    }
    let mut findings = find(&job, &weights, &taken);
    if asks {
        layout::print(
            "Before you set a state: hands, tools and cloth clear of live metal and of all\n\
             that turns or gets hot. The vehicle maker's manual comes first.\n\
             An empty line ends the search.\n",
        )?;
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

fn to_json(findings: &Findings) -> Value {
    let fault = |ranked: &Ranked| {
        let mut value = json!({
            "fault": ranked.fault.kind.word(),
            "where": ranked.fault.at,
            "probability": ranked.probability,
            "says": ranked.fault.says(),
            "mend": ranked.fault.mend(),
        });
        if let Some([low, middle, high]) = ranked.ohms {
            value["ohms"] = json!({ "low": low.as_ohms(), "middle": middle.as_ohms(), "high": high.as_ohms() });
        }
        value
    };
    let next = findings.next.as_ref().map(|next| {
        let mut value = json!({ "on": next.measurement.state.on, "bits": next.bits });
        if let Probes::Between(red, black) = &next.measurement.probes {
            value["between"] = json!([red.name(), black.name()]);
        }
        let splits: Vec<Value> = next
            .predicts
            .iter()
            .map(|(fault, shows)| {
                json!({ "fault": fault.kind.word(), "where": fault.at, "shows": shows.map(Amount::base) })
            })
            .collect();
        value["splits"] = Value::Array(splits);
        value
    });
    json!({
        "faults": findings.ranked.iter().map(fault).collect::<Vec<_>>(),
        "next": next,
        "group": findings.group,
        "unexplained": findings.unexplained,
    })
}
