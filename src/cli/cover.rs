//! `rigproof cover`: which faults the procedures would notice.

use std::fmt::Write;

use serde_json::{Value, json};

use super::arguments::Cover;
use super::diagnose::read_weights;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_library};
use super::findings::where_to_measure;
use super::layout;
use crate::diagnosis::{Addition, Coverage, Covered, Kind, Noticed, SURELY, coverage};
use crate::job::Job;
use crate::plan::{Measurement, Plan, Probes};
use crate::quantity::{Dimension, Resistance};

/// Columns of a line.
const WIDTH: usize = 80;
/// Names in one list.
const NAMED: usize = 5;

pub(super) fn run(arguments: &Cover) -> Result<Outcome, Failure> {
    if let Some(floor) = arguments.at_least.filter(|floor| !(0.0..=100.0).contains(floor)) {
        return Err(Failure::message(format!("--at-least {floor}: a share lies between 0 and 100 per cent")));
    }
    let mut job = read_job(&arguments.job)?;
    if let Some(level) = arguments.level {
        job.level = level.into();
    }
    let weights = read_weights(arguments.weights.as_deref())?;
    let plan = Plan::of(&job, &read_library(arguments.own.procedures.as_deref())?)?;
    let covered = coverage(&job, &plan, &weights);
    let text = if arguments.json {
        to_json(&covered).to_string()
    } else {
        let mut text = in_words(&job, &plan, &covered);
        if arguments.matrix {
            text.push_str(&matrix(&covered));
        }
        text
    };
    layout::print(&text)?;
    let reached = 100.0 * covered.fraction_detected(false);
    let enough = arguments.at_least.is_none_or(|floor| reached + 1e-9 >= floor);
    Ok(if enough { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn in_words(job: &Job, plan: &Plan, coverage: &Coverage) -> String {
    let counted = coverage.counted().count();
    let detected = coverage.detected().count();
    let of = |noticed: Noticed| coverage.faults.iter().filter(|covered| covered.noticed == noticed).count();
    let readings = coverage.steps.iter().filter(|step| step.is_reading).count();
    let meter = job
        .instrument(None, Dimension::Voltage)
        .map_or(String::new(), |instrument| format!(", read with {}", instrument.called()));
    let head = format!(
        "{} at level {}: {} steps, {readings} of them readings of the circuit{meter}",
        job.title,
        job.level.word(),
        plan.steps.len(),
    );
    let mut text = textwrap::fill(&head, WIDTH) + "\n\n";
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    let mut line = |label: &str, value: String, more: String| {
        let _ = writeln!(text, "{}", format!("  {label:<38}{value:>7}   {more}").trim_end());
    };
    line("faults that count", counted.to_string(), String::new());
    line(
        "noticed for sure (fraction detected)",
        detected.to_string(),
        format!(
            "{}, weighted {}",
            percent(coverage.fraction_detected(false)),
            percent(coverage.fraction_detected(true))
        ),
    );
    line("  by a reading", of(Noticed::ByReading).to_string(), String::new());
    line("  by an inspection alone", of(Noticed::ByInspection).to_string(), String::new());
    line(
        "told from all others (isolated)",
        coverage.isolated().to_string(),
        format!("in groups of {:.1} on average", coverage.mean_group()),
    );
    line("take nothing from a load, not counted", of(Noticed::Harmless).to_string(), String::new());
    line("a sound job is doubted at some step", percent(coverage.false_alarm), String::new());
    let missed: Vec<&Covered> = coverage.counted().filter(|covered| !covered.is_detected()).collect();
    if !missed.is_empty() {
        text.push_str("\nNot noticed for sure:\n");
        for covered in missed {
            let perhaps = covered.at_best();
            let says = if perhaps > 0.0 { format!(" (perhaps: {:.0} %)", 100.0 * perhaps) } else { String::new() };
            let _ = writeln!(text, "{}", layout::labelled("  ", &format!("{}{says}", covered.fault.says()), WIDTH));
            if let Some(add) = &covered.add {
                let _ = writeln!(text, "{}", layout::labelled("    add: ", &addition(job, add), WIDTH));
            }
        }
    }
    let uncounted: Vec<String> = coverage
        .faults
        .iter()
        .filter(|covered| covered.noticed == Noticed::Harmless)
        .map(|covered| covered.fault.in_short())
        .collect();
    if !uncounted.is_empty() {
        let why = "Not counted, since no load gets less by it at any strength (a charging line is of this kind: how much \
                   current a battery takes is not modelled):";
        let _ = write!(text, "\n{}\n", textwrap::fill(why, WIDTH));
        let _ = writeln!(text, "{}", layout::labelled("  ", &uncounted.join("; "), WIDTH));
    }
    let weakest = weakest(coverage);
    if !weakest.is_empty() {
        let _ = write!(text, "\nPoor joints are noticed for sure from:\n{weakest}");
    }
    text.push_str("\nSteps that alone notice something:\n");
    let mut some = false;
    for (place, step) in coverage.steps.iter().enumerate() {
        let alone = coverage.alone(place);
        if alone.is_empty() {
            continue;
        }
        some = true;
        let more = alone.len().saturating_sub(NAMED);
        let mut names: Vec<String> = alone.iter().take(NAMED).map(|covered| covered.fault.in_short()).collect();
        if more > 0 {
            names.push(format!("{more} more"));
        }
        let _ = writeln!(text, "{}", layout::labelled(&format!("  {}: ", step.key), &names.join("; "), WIDTH));
    }
    if !some {
        text.push_str("  none: every fault that is noticed is noticed twice\n");
    }
    let notes = "A joint counts where it takes 3 % of the system's voltage from a load; a path from 50 mA on with all \
                 switches off, from 0.5 A on where it is live only while the load works (common practice). An inspection \
                 counts as sure where the procedure says what it reveals: it is as good as the eye that makes it. Faults \
                 are single ones; the list of them is never complete.";
    let _ = write!(text, "\n{}\n", textwrap::fill(notes, WIDTH));
    text
}

/// The weakest joints that are surely noticed, from the best to the worst served.
fn weakest(coverage: &Coverage) -> String {
    let mut joints: Vec<(Resistance, String)> = coverage
        .counted()
        .filter(|covered| covered.fault.kind == Kind::PoorJoint)
        .filter_map(|covered| Some((covered.surely_from?, covered.fault.at.join(" and "))))
        .collect();
    joints.sort_by(|(a, _), (b, _)| a.as_ohms().total_cmp(&b.as_ohms()));
    let mut text = String::new();
    let mut rest = joints.as_slice();
    while let Some((ohms, _)) = rest.first() {
        let same = rest.iter().take_while(|(other, _)| other == ohms).count();
        let names: Vec<&str> = rest[..same].iter().map(|(_, name)| name.as_str()).collect();
        let _ =
            writeln!(text, "{}", layout::labelled(&format!("  {:>8}  ", ohms.to_string()), &names.join(", "), WIDTH));
        rest = &rest[same..];
    }
    text
}

fn addition(job: &Job, add: &Addition) -> String {
    match add {
        Addition::Reading(measurement) => reading_in_words(job, measurement),
        Addition::Inspection => "a look at it: no reading at the points of this job tells it for sure".to_owned(),
    }
}

fn reading_in_words(job: &Job, measurement: &Measurement) -> String {
    let state = measurement.state.describe(job);
    format!("{}, {}; {state}", measurement.dimension.name(), where_to_measure(&measurement.probes))
}

/// Every fault against every step: `#` for sure, `+` perhaps.
fn matrix(coverage: &Coverage) -> String {
    let mut text = String::from("\nEvery fault against every step, # noticed for sure, + perhaps:\n");
    for (place, step) in coverage.steps.iter().enumerate() {
        let _ = writeln!(text, "  {:>3}  {}", place + 1, step.key);
    }
    text.push('\n');
    for covered in coverage.counted() {
        let by = |wanted: bool| -> Vec<String> {
            let own = covered.by.iter().filter(|(_, share)| (*share >= SURELY) == wanted);
            own.map(|(step, _)| (step + 1).to_string()).collect()
        };
        let mut row = String::new();
        for (sign, steps) in [("#", by(true)), ("+", by(false))] {
            if !steps.is_empty() {
                let _ = write!(row, "{sign} {}  ", steps.join(" "));
            }
        }
        let _ =
            writeln!(text, "{}", layout::labelled(&format!("  {:<34}", covered.fault.in_short()), row.trim(), WIDTH));
    }
    text
}

fn to_json(coverage: &Coverage) -> Value {
    let name = |covered: &Covered| json!({ "fault": covered.fault.kind.word(), "where": covered.fault.at });
    let undetected: Vec<Value> = coverage
        .counted()
        .filter(|covered| !covered.is_detected())
        .map(|covered| {
            let mut value = name(covered);
            value["says"] = json!(covered.fault.says());
            value["probability"] = json!(covered.at_best());
            value["add"] = match &covered.add {
                Some(Addition::Reading(reading)) => {
                    let Measurement { dimension, probes, state, .. } = reading.as_ref();
                    let mut add = json!({ "measure": dimension.name(), "state": state });
                    if let Probes::Between(red, black) = probes {
                        add["between"] = json!([red.name(), black.name()]);
                    }
                    add
                }
                _ => json!("inspection"),
            };
            value
        })
        .collect();
    let rows: Vec<Value> = coverage
        .faults
        .iter()
        .map(|covered| {
            let mut value = name(covered);
            value["noticed"] = json!(match covered.noticed {
                Noticed::ByReading => "by reading",
                Noticed::ByInspection => "by inspection",
                Noticed::Perhaps => "perhaps",
                Noticed::Never => "never",
                Noticed::Harmless => "harmless",
            });
            let by = covered.by.iter().map(|(step, share)| json!([step, share]));
            value["by"] = by.collect();
            value["group"] = json!(covered.group);
            if let Some(ohms) = covered.surely_from {
                value["surely_from_ohms"] = json!(ohms.as_ohms());
            }
            value
        })
        .collect();
    let steps: Vec<Value> = coverage
        .steps
        .iter()
        .enumerate()
        .map(|(place, step)| {
            json!({
                "step": step.key.as_str(),
                "reading": step.is_reading,
                "alone": coverage.alone(place).into_iter().map(name).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "faults": coverage.counted().count(),
        "detected": coverage.detected().count(),
        "isolated": coverage.isolated(),
        "undetected": undetected,
        "fraction_detected": coverage.fraction_detected(false),
        "fraction_detected_weighted": coverage.fraction_detected(true),
        "mean_group": coverage.mean_group(),
        "false_alarm": coverage.false_alarm,
        "steps": steps,
        "rows": rows,
    })
}
