use std::collections::BTreeMap;
use std::fmt::Write;

use serde_json::{Value, json};

use super::Trend;
use super::taken::Taken;
use crate::cli::layout::labelled;
use crate::report::visible;
use crate::statistics::{FEW, Interval};

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
    let mut say = |label: &str, words: &str| {
        let _ = writeln!(text, "{}", labelled(label, words, WIDTH));
    };
    say(
        "  limits:  ",
        &format!("{} (mean {}, 3 sigma of the moving ranges)", chart.low.range_to(chart.high), chart.centre),
    );
    say("  moves:   ", &format!("by {} at most, {} in the mean; * marks more", chart.range_high, chart.mean_range));
    let (low, high) = (trend.average.low, trend.average.high);
    match trend.average.first_outside() {
        Some(at) => say(
            "  drift:   ",
            &format!(
                "THE MOVING AVERAGE LEAVES {} at reading {}: a slow change, such as a tool that wears",
                low.range_to(high),
                at + 1
            ),
        ),
        None => say("  drift:   ", &format!("none seen; the moving average keeps to {}", low.range_to(high))),
    }
    if let Some(capability) = trend.capability {
        let with = |figure: f64, interval: Option<Interval>| {
            let room = interval.map(|i| format!(" (95 %: {:.2} to {:.2})", i.low, i.high)).unwrap_or_default();
            format!("{figure:.2}{room}")
        };
        let cp = capability.cp.map(|cp| format!("Cp {}, ", with(cp, capability.cp_interval()))).unwrap_or_default();
        let cpk = with(capability.cpk, capability.cpk_interval());
        say("  spread:  ", &format!("{cp}Cpk {cpk}; for a steady process with a normal distribution only"));
    }
    if chart.provisional() {
        let says =
            format!("limits from {} readings are provisional; {FEW} or more tell (common practice)", chart.count);
        say("  few:     ", &says);
    }
    if chart.is_rounding(trend.digit) {
        let says =
            "the readings move by less than two steps of their last digit: the chart shows the rounding of the meter";
        say("  digits:  ", says);
    }
    let says = "limits of a chart are what this process did, not what a joint needs; they judge no vehicle";
    say("  note:    ", says);
    // Names of files are a stranger's words: they do not steer the terminal.
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}
