//! What a search for a fault found, in words.

use std::fmt::Write;

use serde_json::{Value, json};

use super::layout;
use crate::diagnosis::{Findings, Next, Ranked, Taken, Weights};
use crate::job::Job;
use crate::plan::Probes;
use crate::quantity::Amount;

/// Faults shown to a person; the JSON has all.
const SHOWN: usize = 6;
/// Faults named in one line.
const NAMED: usize = 6;
/// Readings so near each other are one, in volts (common practice).
const SAME: f64 = 0.002;
/// Columns of a line.
const WIDTH: usize = 80;
/// A fault below this share is not worth a line.
const WORTH_A_LINE: f64 = 0.01;

/// Below, a list of faults is no finding.
const SURE: f64 = 0.8;

pub(super) fn ranking(findings: &Findings, taken: &[Taken]) -> String {
    let mut text = String::new();
    for ranked in findings.ranked.iter().filter(|r| r.probability >= WORTH_A_LINE).take(SHOWN) {
        let label = format!("  {:>4}  ", percent(ranked.probability));
        let _ = writeln!(text, "{}", layout::labelled(&label, &ranked.fault.says(), WIDTH));
        if let Some([low, middle, high]) = ranked.ohms {
            let _ = writeln!(text, "        about {middle}, 95 % between {low} and {high}");
        }
    }
    let more = findings.ranked.iter().filter(|r| r.probability >= WORTH_A_LINE).count().saturating_sub(SHOWN);
    if more > 0 {
        let rest: f64 = findings.ranked.iter().skip(SHOWN).map(|r| r.probability).sum();
        let _ = writeln!(text, "  {:>4}  {more} more, each less likely", percent(rest));
    }
    if !findings.unexplained.is_empty() {
        text.push_str(
            "  No single fault of the list explains these readings. There may be two.\n  First take again:\n",
        );
        for one in findings.unexplained.iter().filter_map(|place| taken.get(*place)) {
            let _ = writeln!(text, "    {}, which read {}", one.measurement.probes, one.reading);
        }
    }
    text
}

/// Where the meter is put: `red probe on pump.+, black probe on pump.-`, `in w1`.
pub(super) fn where_to_measure(probes: &Probes) -> String {
    match probes {
        Probes::Between(red, black) => format!("red probe on {red}, black probe on {black}"),
        Probes::Wire(wire) => format!("in {wire}"),
    }
}

/// Faults named in the middle of a walk.
const IN_PASSING: usize = 3;

/// What the readings of a walk say so far, short enough to stand above a question.
pub(super) fn in_passing(job: &Job, findings: &Findings, width: usize) -> String {
    let mut text = String::new();
    if !findings.unexplained.is_empty() {
        let says = "No single fault explains all readings so far: take this one again first, then look for two faults.";
        return layout::labelled("  ", says, width) + "\n";
    }
    let worth = |probability: f64| probability >= WORTH_A_LINE;
    let likely: Vec<_> = findings.ranked.iter().filter(|r| worth(r.probability)).take(IN_PASSING).collect();
    text.push_str("  What all readings so far say:\n");
    for ranked in &likely {
        let ohms = ranked.ohms.map_or(String::new(), |[_, middle, _]| format!(" (about {middle})"));
        let label = format!("  {:>5}  ", percent(ranked.probability));
        text.push_str(&layout::labelled(&label, &format!("{}{ohms}", ranked.fault.says()), width));
        text.push('\n');
    }
    match (&findings.next, likely.first()) {
        (Some(next), _) => {
            let probes = where_to_measure(&next.measurement.probes);
            let says = format!("{probes}; {}", next.measurement.state.describe(job));
            text.push_str(&layout::labelled("  tells most: ", &says, width));
        }
        (None, Some(first)) => text.push_str(&layout::labelled("  mend: ", &first.fault.mend(), width)),
        (None, None) => {}
    }
    text.push('\n');
    text
}

/// Never 100 %: a list of faults is never complete.
fn percent(share: f64) -> String {
    if share > 0.99 { ">99 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

pub(super) fn next_in_words(job: &Job, next: &Next) -> String {
    let mut text = format!("\nRead next, with {}:\n", next.measurement.state.describe(job));
    let measurement = &next.measurement;
    let _ = writeln!(text, "  {}, {}", measurement.dimension.name(), where_to_measure(&measurement.probes));
    // Faults that show the same there stand together.
    let mut shows: Vec<(String, Vec<String>)> = Vec::new();
    for (fault, predicted) in &next.predicts {
        // What no hand tells apart is one value.
        let grain = |p: Amount| p.with((p.base() / SAME).round() * SAME);
        let Some(predicted) = predicted.map(|p| if p.base().abs() < 0.1 { grain(p) } else { p }.to_string()) else {
            continue;
        };
        match shows.iter_mut().find(|(shown, _)| *shown == predicted) {
            Some((_, faults)) => faults.push(fault.in_short()),
            None => shows.push((predicted, vec![fault.in_short()])),
        }
    }
    for (shown, faults) in shows.iter().take(SHOWN) {
        let several = faults.len().saturating_sub(NAMED);
        let mut names = faults.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
        if several > 0 {
            let _ = write!(names, "; {several} more");
        }
        text.push_str(&layout::labelled(&format!("  {shown:>10}  if "), &names, WIDTH));
        text.push('\n');
    }
    text
}

pub(super) fn ending(findings: &Findings, weights: &Weights) -> String {
    if findings.ranked.is_empty() {
        return String::new();
    }
    // What no reading can split stays together.
    let group = &findings.ranked[..findings.group];
    let together: f64 = group.iter().map(|ranked| ranked.probability).sum();
    let mut text = String::from("\n");
    if findings.next.is_some() {
        text.push_str("More readings would tell more. So far, to look at:\n");
    } else if group.len() > 1 {
        text.push_str("No reading at the points of this job tells these apart. Look at them in turn:\n");
    } else {
        text.push_str("The search ends here. By the readings so far:\n");
    }
    for ranked in group {
        let _ = writeln!(text, "{}", layout::labelled("  ", &ranked.fault.says(), WIDTH));
        let _ = writeln!(text, "{}", layout::labelled("    ", &ranked.fault.mend(), WIDTH));
    }
    if findings.next.is_none() && together < SURE {
        let _ =
            writeln!(text, "Together they are {} likely: a list to look through, not a finding.", percent(together));
    }
    let origins = format!("Weights of the faults: {}.\n", weights.origins.join("; "));
    text.push_str(&textwrap::fill(&origins, WIDTH));
    text.push_str("After the mend, take the readings again.\n");
    text
}

/// The findings in the form of the contract for scripts.
pub(super) fn to_json(findings: &Findings) -> Value {
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
