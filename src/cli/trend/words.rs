use std::collections::BTreeMap;
use std::fmt::Write;

use serde_json::{Value, json};

use crate::cli::layout::labelled;
use crate::report::trend::{Taken, Trend};
use crate::report::visible;

/// Columns of a line.
const WIDTH: usize = 80;

/// Readings that repeat: procedure and step, whatever thing they were taken of, with how many there are.
fn repeated(all: &[Taken]) -> BTreeMap<(String, &'static str), usize> {
    let mut counts = BTreeMap::new();
    for taken in all {
        let mut parts = taken.step.as_str().split('/');
        let (Some(procedure), Some(step)) = (parts.next(), parts.next_back()) else { continue };
        let name = format!("{procedure}/*/{step}");
        *counts.entry((name, taken.value.dimension().name())).or_insert(0) += 1;
    }
    counts.retain(|_, count| *count > 1);
    counts
}

pub(super) fn list_as_json(all: &[Taken]) -> Value {
    let row = |((step, quantity), count): (&(String, &str), &usize)| json!({"step": step, "quantity": quantity, "count": count});
    Value::Array(repeated(all).iter().map(row).collect())
}

pub(super) fn list(all: &[Taken]) -> String {
    let counts = repeated(all);
    if counts.is_empty() {
        return "no reading repeats in these records\n".to_owned();
    }
    let mut text = "readings that repeat (name one with --step)\n".to_owned();
    for ((step, quantity), count) in counts {
        let _ = writeln!(text, "  {count:>5}  {step}  {quantity}");
    }
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}

pub(super) fn chart(step: &str, trend: &Trend) -> String {
    let chart = &trend.chart;
    let mut text = format!("{step}: {} readings\n\n", trend.readings.len());
    let _ = writeln!(text, "  {:>4}  {:<10}  {:>12}  {:>12}  {:<8}  record", "", "day", "reading", "moved by", "of");
    let mut before = None;
    for (at, taken) in trend.readings.iter().enumerate() {
        let moved = before.map_or(String::new(), |b: f64| {
            let range = taken.value.with((taken.value.base() - b).abs());
            let high = range.base() > chart.range_high.base();
            format!("{range}{}", if high { " *" } else { "" })
        });
        before = Some(taken.value.base());
        let day = taken.at.strftime("%Y-%m-%d").to_string();
        // Tens of columns stand before the folder; a long one ends the line and is not broken.
        let (value, record) = (taken.value.to_string(), &taken.record);
        let of = taken.step.as_str().split('/').nth(1).unwrap_or_default();
        let _ = writeln!(text, "  {:>4}  {day:<10}  {value:>12}  {moved:>12}  {of:<8}  {record}", at + 1);
        for rule in trend.broken_at(at) {
            let _ = writeln!(text, "        BREAKS: {}", rule.says());
        }
    }
    text.push('\n');
    for (label, words) in trend.facts() {
        let _ = writeln!(text, "{}", labelled(&format!("  {:<9}", format!("{label}:")), &words, WIDTH));
    }
    // Names of files are a stranger's words: they do not steer the terminal.
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}

/// One line for each group of readings: how many, where they lie, and whether something changed.
pub(super) fn groups(step: &str, by: &str, groups: &[(String, Trend)]) -> String {
    let mut text = format!("{step}, by {by}\n\n");
    let _ = writeln!(text, "  {:<14}  {:>8}  {:>12}  {:<24}  changed", by, "readings", "mean", "limits");
    for (name, trend) in groups {
        let chart = &trend.chart;
        let changed = match trend.average.first_outside() {
            Some(at) => trend.readings[at].at.strftime("from %Y-%m-%d").to_string(),
            None => format!("{} marks", trend.broken()),
        };
        let limits = chart.low.range_to(chart.high);
        let (count, mean) = (trend.readings.len(), chart.centre.to_string());
        let _ = writeln!(text, "  {name:<14}  {count:>8}  {mean:>12}  {limits:<24}  {changed}");
    }
    let says = "changed: from the day on which the moving average left its limits; else how many readings break a rule of \
                the chart (of a steady process, 1 in 92 does). Name one of them for its whole chart";
    let _ = writeln!(text, "\n{}", labelled("  ", says, WIDTH));
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}
