//! What a search for a fault found, in words.

use std::fmt::Write;

use super::layout;
use crate::diagnosis::{Findings, Next, Taken, Weights};
use crate::job::Job;
use crate::plan::Probes;

/// Faults shown to a person; the JSON has all.
const SHOWN: usize = 6;
/// Faults named in one line.
const NAMED: usize = 6;
/// Columns of a line.
const WIDTH: usize = 80;
/// A fault below this share is not worth a line.
const WORTH_A_LINE: f64 = 0.01;

/// Below, a list of faults is no finding.
const SURE: f64 = 0.8;

pub(super) fn ranking(findings: &Findings, taken: &[Taken]) -> String {
    let mut text = String::new();
    for ranked in findings.ranked.iter().filter(|r| r.probability >= WORTH_A_LINE).take(SHOWN) {
        let _ = writeln!(text, "  {:>4}  {}", percent(ranked.probability), ranked.fault.says());
        if let Some([low, middle, high]) = ranked.ohms {
            let _ = writeln!(text, "        about {middle}, 95 % between {low} and {high}");
        }
    }
    if !findings.unexplained.is_empty() {
        text.push_str("  No single fault of the list explains these readings. There may be two. First take again:\n");
        for one in findings.unexplained.iter().filter_map(|place| taken.get(*place)) {
            let _ = writeln!(text, "    {}, which read {}", one.measurement.probes, one.reading);
        }
    }
    text
}

/// Never 100 %: a list of faults is never complete.
fn percent(share: f64) -> String {
    if share > 0.99 { ">99 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

pub(super) fn next_in_words(job: &Job, next: &Next) -> String {
    let mut text = format!("\nRead next, with {}:\n", next.measurement.state.describe(job));
    let _ = match &next.measurement.probes {
        Probes::Between(red, black) => writeln!(text, "  voltage, red probe on {red}, black probe on {black}"),
        Probes::Wire(wire) => writeln!(text, "  current in {wire}"),
    };
    // Faults that show the same there stand together.
    let mut shows: Vec<(String, Vec<String>)> = Vec::new();
    for (fault, predicted) in &next.predicts {
        let Some(predicted) = predicted.map(|p| p.to_string()) else { continue };
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
        text.push_str("No reading at the points of this job tells these apart. Look at them one after the other:\n");
    } else {
        text.push_str("The search ends here. By the readings so far:\n");
    }
    for ranked in group {
        let _ = writeln!(text, "  {}\n    {}", ranked.fault.says(), ranked.fault.mend());
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
