//! `rigproof expect`: the virtual meter.

use std::fmt::Write;

use serde_json::{Value, json};

use super::arguments::Expect;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_library};
use super::layout;
use crate::circuit::{Circuit, Expectation, State};
use crate::job::{ItemKind, Job, Terminal};
use crate::plan::{Ask, Measurement, Plan, Probes};

pub(super) fn run(arguments: &Expect) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let state = state(arguments, &job)?;
    let circuit = Circuit::of(&job);
    let single = if let Some(pair) = &arguments.volts {
        let (red, black) = pair_of(&job, pair)?;
        let expectation = if arguments.corners {
            circuit.voltage_at_corners(&red, &black, &state)?
        } else {
            circuit.voltage(&red, &black, &state)?
        };
        Some((format!("voltage, red {red}, black {black}"), expectation))
    } else if let Some(pair) = &arguments.ohms {
        let (red, black) = pair_of(&job, pair)?;
        Some((format!("resistance between {red} and {black}"), circuit.resistance(&red, &black, &state)?))
    } else if let Some(wire) = &arguments.amps {
        if job.wire(wire).is_none() {
            let names = job.names(ItemKind::Wire);
            let text = format!("no wire is called `{wire}`\n  the wires of this job are {}", names.join(", "));
            return Err(Failure::message(text));
        }
        Some((format!("current in {wire}"), circuit.current(wire, &state)?))
    } else {
        None
    };
    let text = match (single, arguments.json) {
        (Some((_, expectation)), true) => to_json(&expectation).to_string(),
        (Some((title, expectation)), false) => in_words(&title, &state, &expectation, &job),
        (None, as_json) => {
            let plan = Plan::of(&job, &read_library(arguments.own.procedures.as_deref())?)?;
            table(&job, &plan, as_json)?
        }
    };
    layout::print(&text)?;
    Ok(Outcome::Conforms)
}

fn pair_of(job: &Job, pair: &[String]) -> Result<(Terminal, Terminal), Failure> {
    let terminal = |name: &String| job.terminal(name).map_err(|unknown| Failure::message(unknown.to_string()));
    match pair {
        [red, black] => Ok((terminal(red)?, terminal(black)?)),
        _ => Err(Failure::message("two terminals are needed: red probe, black probe")),
    }
}

fn state(arguments: &Expect, job: &Job) -> Result<State, Failure> {
    let names = |written: &[String], kind: ItemKind| {
        let all = job.names(kind);
        let mut chosen = std::collections::BTreeSet::new();
        for name in written {
            if name == "all" {
                chosen.extend(all.iter().map(|n| (*n).to_owned()));
            } else if all.contains(&name.as_str()) {
                chosen.insert(name.clone());
            } else {
                let mut text = format!("no {} is called `{name}`", kind.word());
                let _ = if all.is_empty() {
                    write!(text, "\n  this job has none")
                } else {
                    write!(text, "\n  this job has {}", all.join(", "))
                };
                return Err(Failure::message(text));
            }
        }
        Ok(chosen)
    };
    Ok(State {
        on: names(&arguments.on, ItemKind::Switch)?,
        engine: arguments.engine.into(),
        pulled: names(&arguments.pull, ItemKind::Fuse)?,
        unplugged: names(&arguments.unplug, ItemKind::Connector)?,
        battery_off: arguments.disconnect_battery || arguments.ohms.is_some(),
        in_line: None,
    })
}

/// The form of the contract; numbers in base units.
fn to_json(expectation: &Expectation) -> Value {
    let mut because: Vec<Value> = expectation
        .because
        .iter()
        .map(|step| json!({ "element": step.element, "value": step.value.base(), "says": step.says }))
        .collect();
    because.extend(expectation.varies.iter().take(3).map(|v| {
        let says = format!("the {} of {} can move it by ±{}", v.subject.what, v.subject.name, v.share);
        json!({ "element": v.subject.name, "tolerance": v.share.base(), "says": says })
    }));
    let varies: Vec<Value> = expectation
        .varies
        .iter()
        .map(|v| json!({ "element": v.subject.name, "what": v.subject.what, "share": v.share.base() }))
        .collect();
    let notices: Vec<&str> = expectation.notices.iter().map(|n| n.says.as_str()).collect();
    let mut value = json!({
        "quantity": expectation.dimension.name(),
        "unit": expectation.dimension.unit(),
        "nominal": expectation.nominal.map(crate::quantity::Amount::base),
        "low": expectation.low.map(crate::quantity::Amount::base),
        "high": expectation.high.map(crate::quantity::Amount::base),
        "because": because,
        "varies": varies,
        "notices": notices,
    });
    if expectation.is_open() {
        value["open"] = Value::Bool(true);
    }
    value
}

fn in_words(title: &str, state: &State, expectation: &Expectation, job: &Job) -> String {
    let mut text = format!("{title}\n  state    {}\n", state.describe(job));
    match expectation.nominal {
        Some(nominal) => {
            let _ = writeln!(text, "  reading  {nominal}");
            let _ = writeln!(text, "  range    {} by the stated tolerances", expectation.range());
        }
        None => text.push_str("  reading  over-range (OL): no path conducts\n"),
    }
    let section = |text: &mut String, heading: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            let _ = writeln!(text, "  {heading}");
            for line in lines {
                let _ = writeln!(text, "    {line}");
            }
        }
    };
    section(&mut text, "because", expectation.because.iter().map(|s| s.says.clone()).collect());
    let largest = expectation.varies.iter().take(5);
    let varies = largest.map(|v| format!("±{}  {} of {}", v.share, v.subject.what, v.subject.name)).collect();
    section(&mut text, "what can move it", varies);
    section(&mut text, "note", expectation.notices.iter().map(|n| n.says.clone()).collect());
    text
}

fn table(job: &Job, plan: &Plan, as_json: bool) -> Result<String, Failure> {
    let mut rows: Vec<(String, &Measurement, Expectation)> = Vec::new();
    for step in &plan.steps {
        if let Ask::Measure(measurement) = &step.ask {
            rows.push((step.key.to_string(), measurement, measurement.expect(job)?));
        }
    }
    if as_json {
        let readings: Vec<Value> = rows
            .iter()
            .map(|(step, measurement, expectation)| {
                let mut value = to_json(expectation);
                value["step"] = json!(step);
                value["state"] = json!(measurement.state);
                match &measurement.probes {
                    Probes::Between(red, black) => value["between"] = json!([red.name(), black.name()]),
                    Probes::Wire(wire) => value["in"] = json!(wire),
                }
                value
            })
            .collect();
        return Ok(json!({ "readings": readings }).to_string());
    }
    let mut text = format!("{}: {} readings\n", job.title, rows.len());
    let mut state = String::new();
    for (step, measurement, expectation) in &rows {
        let now = measurement.state.describe(job);
        if now != state {
            let _ = write!(text, "\n{now}\n");
            state = now;
        }
        let probes = measurement.probes.to_string();
        let range = if expectation.is_open() { "open (OL)".to_owned() } else { expectation.range() };
        let _ = writeln!(text, "  {probes:<32} {range:<20} {step}");
    }
    let assumed: Vec<String> =
        job.assumptions.iter().map(|a| format!("  {}: {} {}, {}", a.subject, a.what, a.value, a.source)).collect();
    if !assumed.is_empty() {
        let _ = write!(text, "\nassumed, since the job does not say:\n{}\n", assumed.join("\n"));
    }
    Ok(text)
}
