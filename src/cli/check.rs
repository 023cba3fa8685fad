//! `rigproof check` and `rigproof size`: the design against its rules, and the sizes that it needs.

use std::fmt::Write;

use serde_json::{Value, json};

use super::arguments::{Check, Size};
use super::failure::{Failure, Outcome};
use super::files::read_job;
use super::layout::{self, labelled};
use crate::design::{self, Finding, Severity, SizeChoice, Sizing};
use crate::job::Job;
use crate::quantity::Amount;

const WIDTH: usize = 96;

pub(super) fn check(arguments: &Check) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let findings = design::check(&job);
    let conforms = design::conforms(&findings);
    let text =
        if arguments.json { to_json(&findings, conforms).to_string() } else { in_words(&job, &findings, conforms) };
    layout::print(&text)?;
    Ok(if conforms { Outcome::Conforms } else { Outcome::DoesNotConform })
}

fn to_json(findings: &[Finding], conforms: bool) -> Value {
    let findings: Vec<Value> = findings
        .iter()
        .map(|f| {
            let unit = f.value.or(f.limit).map(|a| a.dimension().unit());
            json!({
                "rule": f.rule,
                "severity": f.severity,
                "subject": f.subject,
                "says": f.says,
                "change": f.change,
                "value": f.value.map(Amount::base),
                "limit": f.limit.map(Amount::base),
                "unit": unit,
                "source": f.source,
            })
        })
        .collect();
    json!({ "findings": findings, "conforms": conforms })
}

fn in_words(job: &Job, findings: &[Finding], conforms: bool) -> String {
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let plural = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let mut text = format!(
        "{}: {}; {}, {}, {}\n",
        job.title,
        if conforms { "the design conforms to the rules that were checked" } else { "the design does not conform" },
        plural(count(Severity::Error), "error"),
        plural(count(Severity::Warning), "warning"),
        plural(count(Severity::Note), "note"),
    );
    for finding in findings {
        let word = match finding.severity {
            Severity::Error => "ERROR  ",
            Severity::Warning => "WARNING",
            Severity::Note => "note   ",
        };
        let _ = write!(text, "\n{word} {}  {}\n", finding.subject, finding.rule);
        for (label, words) in [("  ", &finding.says), ("  change: ", &finding.change), ("  by: ", &finding.source)] {
            let _ = writeln!(text, "{}", labelled(label, words, WIDTH));
        }
    }
    if !job.assumptions.is_empty() {
        text.push_str("\nassumed, since the job does not say:\n");
        for a in &job.assumptions {
            let words = format!("{}: {} {}, {}", a.subject, a.what, a.value, a.source);
            let _ = writeln!(text, "{}", labelled("  ", &words, WIDTH));
        }
    }
    text
}

pub(super) fn size(arguments: &Size) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let sizing = Sizing::of(&job);
    let enough = !sizing.wires.iter().any(too_thin) && design::conforms(&design::check(&job));
    let text = if arguments.json { sizes_as_json(&sizing, enough) } else { sizes_in_words(&job, &sizing) };
    layout::print(&text)?;
    Ok(if enough { Outcome::Conforms } else { Outcome::DoesNotConform })
}

/// Whether the stated size is less than what is needed, or none is enough.
fn too_thin(wire: &SizeChoice) -> bool {
    !wire.needed.is_some_and(|needed| wire.stated.reaches(needed))
}

fn sizes_as_json(sizing: &Sizing, enough: bool) -> String {
    let wires: Vec<Value> = sizing
        .wires
        .iter()
        .map(|w| {
            json!({
                "wire": w.wire,
                "stated": w.stated.to_string(),
                "needed": w.needed.map(|n| n.to_string()),
                "because": w.because,
            })
        })
        .collect();
    let fuses: Vec<Value> = sizing
        .fuses
        .iter()
        .map(|f| {
            json!({
                "fuse": f.fuse,
                "stated": f.stated.as_amps(),
                "needed": f.needed.map(crate::quantity::Current::as_amps),
                "because": f.because,
            })
        })
        .collect();
    json!({ "wires": wires, "fuses": fuses, "enough": enough }).to_string()
}

fn sizes_in_words(job: &Job, sizing: &Sizing) -> String {
    let mut text = format!("{}: the smallest standard sizes that keep every rule\n\n", job.title);
    let _ = writeln!(text, "{:<10} {:>9} {:>9}   because of", "wire", "stated", "needed");
    for wire in &sizing.wires {
        let needed = wire.needed.map_or("none".to_owned(), |n| n.to_string());
        let mark = if too_thin(wire) { "  << too thin" } else { "" };
        let _ =
            writeln!(text, "{:<10} {:>9} {:>9}   {}{mark}", wire.wire, wire.stated.to_string(), needed, wire.because);
    }
    let _ = write!(text, "\n{:<10} {:>9} {:>9}   because of\n", "fuse", "stated", "needed");
    for fuse in &sizing.fuses {
        let needed = fuse.needed.map_or("none".to_owned(), |n| format!("{} at least", n.as_rating()));
        let _ = writeln!(text, "{:<10} {:>9} {:>9}   {}", fuse.fuse, fuse.stated.as_rating(), needed, fuse.because);
    }
    let after = design::check(&sizing.job);
    let left: Vec<&Finding> = after.iter().filter(|f| f.severity == Severity::Error).collect();
    if !left.is_empty() {
        text.push_str("\nsizes alone do not mend:\n");
        for finding in left {
            let _ = writeln!(text, "{}", labelled("  ", &format!("{}: {}", finding.subject, finding.says), WIDTH));
        }
    }
    text
}
