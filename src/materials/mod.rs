//! What a job takes before the first cut: what to buy, how long to cut, how each end is made, bolts and clamps, labels.
//!
//! All of it follows from the job file and the handbook. Where the file does not say enough, a row says what to look at
//! or measure instead of a figure.

mod bolts;
mod cuts;
mod ends;
mod labels;
mod part;
mod runs;
mod shopping;

pub use bolts::{Bolt, BoltOf};
pub use cuts::{Cut, Term};
pub use ends::{End, Jacket, Kind, Side, Termination};
pub use labels::{Label, most_letters};
pub use runs::Run;
pub use shopping::{Amount, Group, Purchase};

use std::collections::{BTreeMap, BTreeSet};

use serde::{Serialize, Serializer};

use crate::design::{self, Severity};
use crate::handbook::Cited;
use crate::handbook::materials::{Place, says};
use crate::job::{Job, ways_to_protection};
use crate::quantity::{ConductorSize, Length, Toleranced};

/// A value, and where it comes from in words for a person.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Known<T> {
    /// The value; a quantity in its SI unit.
    pub value: T,
    /// Its source, with `(common practice)` or `(from memory)` where it is no more than that.
    pub source: String,
}

impl<T> From<Cited<T>> for Known<T> {
    fn from(cited: Cited<T>) -> Self {
        Self { source: cited.citation(), value: cited.value }
    }
}

/// Something that the lists cannot settle, or that must be read beside them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Remark {
    /// The part or wire; `job` for all.
    pub subject: String,
    /// What is said of it.
    pub says: String,
}

/// Everything that a job takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Materials {
    /// The job.
    pub title: String,
    /// Number of the shop's order, where there is one.
    pub work_order: Option<String>,
    /// The vehicle, in words.
    pub vehicle: String,
    /// What is bought.
    pub shopping: Vec<Purchase>,
    /// What is cut, reel by reel, the longest piece of each first.
    pub cuts: Vec<Cut>,
    /// How each end of each wire is made, in the order of the cuts.
    pub ends: Vec<End>,
    /// Bolts and studs.
    pub bolts: Vec<Bolt>,
    /// Wires that lie together, and what holds them.
    pub runs: Vec<Run>,
    /// Sleeves with the name of a wire, one for each end.
    pub labels: Vec<Label>,
    /// What is to be settled before buying and cutting.
    pub remarks: Vec<Remark>,
}

impl Materials {
    /// Works out what a job takes.
    pub fn of(job: &Job) -> Self {
        let without_slack = unprotected(job);
        let cuts = cuts::cuts(job, &without_slack);
        let ends = ends::ends(job, &cuts);
        let bolts = bolts::bolts(job);
        let runs = runs::runs(job);
        let shopping = shopping::shopping(job, &cuts, &ends, &bolts, &runs);
        let labels = labels::labels(job, &ends);
        let remarks = remarks(job, &cuts, &ends);
        Self {
            title: job.title.clone(),
            work_order: job.work_order.clone(),
            vehicle: job.vehicle.description.clone(),
            shopping,
            cuts,
            ends,
            bolts,
            runs,
            labels,
            remarks,
        }
    }
}

/// The wires between a battery and the first fuse: their length is limited, so that no slack is added.
fn unprotected(job: &Job) -> BTreeSet<String> {
    ways_to_protection(job).iter().flat_map(|way| &way.wires).map(|wire| wire.name.clone()).collect()
}

/// The job with its wires as long as they are fitted with all slack.
fn as_fitted(job: &Job, cuts: &[Cut]) -> Job {
    let mut fitted = job.clone();
    for wire in &mut fitted.wires {
        let Some(cut) = cuts.iter().find(|cut| cut.wires.contains(&wire.name)) else { continue };
        wire.length = Toleranced::plus_minus(cut.fitted, wire.length.half_width());
    }
    fitted
}

fn remarks(job: &Job, cuts: &[Cut], ends: &[End]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let mut add = |subject: &str, says: String| remarks.push(Remark { subject: subject.to_owned(), says });
    let known = design::check(job);
    for finding in known.iter().filter(|f| f.severity == Severity::Error) {
        add(&finding.subject, format!("the design check finds an error, mend it before buying: {}", finding.says));
    }
    for finding in design::check(&as_fitted(job, cuts)) {
        let new = !known.iter().any(|f| (f.rule, &f.subject) == (finding.rule, &finding.subject));
        if new && finding.severity != Severity::Note {
            add(&finding.subject, format!("with the slack of the cut list: {}; then {}", finding.says, finding.change));
        }
    }
    for splice in &job.splices {
        let meeting = ends.iter().filter(|end| end.at == splice.name).count();
        if meeting == 1 {
            add(&splice.name, "only one wire ends here: a splice joins at least two".to_owned());
        }
    }
    for connector in &job.connectors {
        for cavity in &connector.cavities {
            for side in ["in", "out"] {
                let at = format!("{}.{cavity}.{side}", connector.name);
                let meeting: Vec<&str> = ends.iter().filter(|end| end.at == at).map(|end| end.wire.as_str()).collect();
                if meeting.len() > 1 {
                    let wires = meeting.join(" and ");
                    add(
                        &at,
                        format!("{wires} end in one cavity: its contact and seal take one wire, so join them before"),
                    );
                }
            }
        }
    }
    let mut moving: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for cut in cuts {
        if let Some(word) = cut.zone.as_deref().and_then(|zone| says(zone, Place::Moving)) {
            moving.entry(word).or_default().push(&cut.name);
        }
    }
    for (word, pieces) in moving {
        let says = format!("the zone says \"{word}\": lay it out with the part in both end positions before cutting");
        add(&pieces.join(", "), says);
    }
    let mut seen = BTreeSet::new();
    remarks.retain(|remark| seen.insert((remark.subject.clone(), remark.says.clone())));
    remarks
}

/// A length in whole steps, rounded up. A sum that is a whole number of steps itself stays for all its rounding.
fn up_to_steps(length: Length, step: Length) -> Length {
    step * (length / step - 1e-6).ceil()
}

/// A diameter or a bore as it is bought: in tenths of a millimetre, rounded up: `6.4 mm`, `15 mm`.
pub fn tenths(length: Length) -> String {
    let tenths = (length.as_metres() * 1e4 - 1e-6).ceil();
    format!("{} mm", tenths / 10.0)
}

fn as_text<S: Serializer>(size: &ConductorSize, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(size)
}
