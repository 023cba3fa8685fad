//! `rigproof energy`: how long the batteries last, what the alternator leaves, what a parked vehicle draws.

mod as_json;
mod in_words;

use super::arguments::Energy as Arguments;
use super::failure::{Failure, Outcome};
use super::files::read_job;
use super::layout::{self, option};
use crate::circuit::{Engine, State};
use crate::energy::{Energy, EnergyError, Level, Question};
use crate::job::{ItemKind, Job};
use crate::quantity::{Current, Duration};

impl From<EnergyError> for Failure {
    fn from(error: EnergyError) -> Self {
        Self::message(error.to_string())
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let question = question(arguments, &job)?;
    let energy = Energy::of(&job, &question)?;
    let text = if arguments.json {
        as_json::as_json(&energy, &question).to_string()
    } else {
        in_words::in_words(&job, &question, &energy)
    };
    layout::print(&text)?;
    Ok(if energy.holds() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn question(arguments: &Arguments, job: &Job) -> Result<Question, Failure> {
    let switches = job.names(ItemKind::Switch);
    let mut on = if arguments.on.is_empty() { State::all_on(job).on } else { std::collections::BTreeSet::new() };
    for name in &arguments.on {
        if name == "all" {
            on.extend(switches.iter().map(|s| (*s).to_owned()));
        } else if switches.contains(&name.as_str()) {
            on.insert(name.clone());
        } else {
            let there = if switches.is_empty() { "none".to_owned() } else { switches.join(", ") };
            return Err(Failure::message(format!("no switch is called `{name}`\n  this job has {there}")));
        }
    }
    let level = |name: &str, text: Option<&String>| {
        let Some(text) = text else { return Ok(None) };
        let level = Level::parse(text);
        level.map(Some).map_err(|e| Failure::message(format!("{name} \"{text}\": {}\n  {}", e.says, e.help)))
    };
    Ok(Question {
        on,
        engine: arguments.engine.map(Engine::from),
        from: level("--from", arguments.from.as_ref())?,
        to: level("--to", arguments.to.as_ref())?,
        vehicle: not_negative("--vehicle", arguments.vehicle.as_deref())?,
        key_off: not_negative("--key-off", arguments.key_off.as_deref())?,
        parked: Duration::seconds(f64::from(arguments.days) * 86400.0),
    })
}

fn not_negative(name: &str, text: Option<&str>) -> Result<Option<Current>, Failure> {
    match option::<Current>(name, text)? {
        Some(current) if current < Current::amps(0.0) => {
            let text = text.unwrap_or_default();
            Err(Failure::message(format!("{name} \"{text}\": what is drawn cannot be negative")))
        }
        current => Ok(current),
    }
}
