//! Rules on the circuit as designed. Every finding says against what, by whose rule, and what to change.
//!
//! A rule whose limit rests on common practice or on memory says so in its source and is at most a warning.

mod contacts;
mod facts;
mod fastening;
mod layout;
mod protection;
mod sizing;
mod supply;
mod voltage;

pub(crate) use protection::ADIABATIC_UP_TO;
pub use sizing::{Free, FuseChoice, SizeChoice, Sizing, area_for_drop, smallest_gauge_for_drop};

use std::cmp::Ordering;

use serde::Serialize;

use crate::handbook::{Cited, Status};
use crate::job::{Fuse, Job, Wire};
use crate::quantity::{Amount, Current};
use facts::Facts;

/// How grave a finding is; ordered, the gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The design must be changed.
    Error,
    /// Somebody who knows must decide.
    Warning,
    /// Worth knowing.
    Note,
}

/// Something that a rule found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Name of the rule: `fuse-above-ampacity`.
    pub rule: &'static str,
    /// How grave it is.
    pub severity: Severity,
    /// The part or wire.
    pub subject: String,
    /// What is found.
    pub says: String,
    /// What to change.
    pub change: String,
    /// What the circuit has.
    pub value: Option<Amount>,
    /// What the rule allows.
    pub limit: Option<Amount>,
    /// Whose rule it is, and how far it can be trusted.
    pub source: String,
}

/// All findings on a job, the gravest first.
pub fn check(job: &Job) -> Vec<Finding> {
    let mut findings = Vec::new();
    let facts = match Facts::of(job) {
        Ok(facts) => facts,
        Err(none) => {
            findings.push(Finding {
                rule: "no-steady-state",
                severity: Severity::Error,
                subject: "circuit".to_owned(),
                says: none.says,
                change: "use a larger conductor, a shorter run or a smaller load".to_owned(),
                value: None,
                limit: None,
                source: "the solved circuit".to_owned(),
            });
            layout::check(job, &mut findings);
            fastening::check(job, &mut findings);
            return findings;
        }
    };
    protection::check(&facts, &mut findings);
    contacts::check(&facts, &mut findings);
    voltage::check(&facts, &mut findings);
    layout::check(job, &mut findings);
    fastening::check(job, &mut findings);
    supply::check(&facts, &mut findings);
    findings.sort_by(gravest_first);
    findings
}

/// The current that a wire may carry for long where it runs: table by size and insulation, times surroundings, times bundle.
pub(crate) fn ampacity(job: &Job, wire: &Wire) -> Option<Cited<Current>> {
    facts::ampacity_of(job, wire).map(|ampacity| ampacity.limit)
}

/// The share of its rating that a fuse may carry for long in the warmest surroundings of a job, and whose rule it is.
pub fn fuse_loading(job: &Job) -> (f64, String) {
    (protection::loading(job), format!("{}; warmth by one maker's rerating", protection::LOADING_SOURCE))
}

/// What a fuse carries with everything on, and for each wire the current through the fuse at a short at its far end;
/// `None` where the circuit has no steady state, and for a wire behind an open contact.
pub(crate) fn currents_of(job: &Job, fuse: &Fuse, wires: &[&Wire]) -> Option<(Current, Vec<Option<Current>>)> {
    let facts = Facts::of(job).ok()?;
    let least = |wire: &&Wire| protection::least_fault(&facts, fuse, wire).filter(|fault| fault.as_amps() >= 1e-3);
    Some((facts.current(&fuse.name), wires.iter().map(least).collect()))
}

fn gravest_first(a: &Finding, b: &Finding) -> Ordering {
    (a.severity, a.rule, &a.subject).cmp(&(b.severity, b.rule, &b.subject))
}

/// Whether a design conforms: no finding is an error.
pub fn conforms(findings: &[Finding]) -> bool {
    findings.iter().all(|f| f.severity != Severity::Error)
}

/// An error where the rule was read in its source, a warning where it is practice or memory.
fn by_status(status: Status) -> Severity {
    if status == Status::Verified { Severity::Error } else { Severity::Warning }
}
