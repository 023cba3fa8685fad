//! How long each wire and cable is cut, term by term.

use std::collections::BTreeSet;

use serde::Serialize;

use super::ends::Side;
use super::part::{Part, both_ends, wet_by};
use super::up_to_steps;
use crate::handbook::Cited;
use crate::handbook::materials::{count, length, retermination};
use crate::handbook::workmanship::{strip_figure, strip_length};
use crate::job::{Job, Wire};
use crate::quantity::{ConductorSize, Length, Temperature};

/// A part of the length of a cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Term {
    /// What it is for: `way`, `stripped`, `drip loop at F1.out`.
    pub what: String,
    /// How long, at least 0.
    #[serde(rename = "length_m")]
    pub length: Length,
    /// Where the figure comes from.
    pub source: String,
}

/// A piece that is cut off a reel: a wire, or a cable with its cores.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cut {
    /// The wire or cable.
    pub name: String,
    /// The wire itself, or the cores of the cable.
    pub wires: Vec<String>,
    /// Whether it is a cable.
    pub cable: bool,
    /// Size of the conductor, or of each core.
    #[serde(serialize_with = "super::as_text")]
    pub size: ConductorSize,
    /// Colour; that of a cable are the colours of its cores.
    pub colour: String,
    /// Continuous rating of the insulation.
    #[serde(rename = "insulation_celsius")]
    pub insulation: Temperature,
    /// Where it runs.
    pub zone: Option<String>,
    /// What its length is made of; the first term is the way by the job.
    pub terms: Vec<Term>,
    /// The length to cut, in whole steps of 10 mm, rounded up.
    #[serde(rename = "cut_m")]
    pub length: Length,
    /// From terminal to terminal once it is fitted: the cut without what goes into the terminals and the rounding.
    #[serde(rename = "fitted_m")]
    pub fitted: Length,
    /// What is to be minded about this piece.
    pub notes: Vec<String>,
}

impl Cut {
    /// The reel: what size and colour and insulation to take.
    pub fn reel(&self) -> String {
        let kind = if self.cable { "cable" } else { "wire" };
        let colour = if self.colour.is_empty() { "any colour" } else { &self.colour };
        let (size, celsius) = (self.size, self.insulation.as_rating());
        if self.cable {
            format!("{kind} {} x {size}, {colour}, {celsius}", self.wires.len())
        } else {
            format!("{kind} {size}, {colour}, {celsius}")
        }
    }
}

/// What the strip of an end takes of the wire: the handbook's figure, or one that is taken where only the barrel tells.
pub(super) fn strip_taken(size: ConductorSize) -> Cited<Length> {
    match strip_figure(size) {
        Some(figure) => strip_length(size).map(|_| figure),
        None => length("barrel-taken"),
    }
}

/// The cuts of a job, reel by reel, the longest piece of each first. Wires in `without_slack` keep the length of their
/// way.
pub(super) fn cuts(job: &Job, without_slack: &BTreeSet<String>) -> Vec<Cut> {
    let single =
        job.wires.iter().filter(|wire| wire.cable.is_none()).map(|wire| cut(job, wire, &[wire], without_slack));
    let cables = job.cables.iter().filter_map(|cable| {
        let cores: Vec<&Wire> = cable.cores.iter().filter_map(|name| job.wire(name)).collect();
        let mut cut = cut(job, cores.first()?, &cores, without_slack);
        cut.name.clone_from(&cable.name);
        cut.cable = true;
        let colours: Vec<&str> = cores.iter().filter_map(|core| core.colour.as_deref()).collect();
        cut.colour = colours.join("/");
        Some(cut)
    });
    let mut all: Vec<Cut> = single.chain(cables).collect();
    all.sort_by(|a, b| {
        let reel = |cut: &Cut| (cut.cable, cut.colour.clone(), cut.wires.len());
        (a.size.area().as_mm2().total_cmp(&b.size.area().as_mm2()))
            .then_with(|| reel(a).cmp(&reel(b)))
            .then_with(|| a.insulation.as_celsius().total_cmp(&b.insulation.as_celsius()))
            .then_with(|| b.length.as_metres().total_cmp(&a.length.as_metres()))
            .then_with(|| a.name.cmp(&b.name))
    });
    all
}

fn cut(job: &Job, wire: &Wire, cores: &[&Wire], without_slack: &BTreeSet<String>) -> Cut {
    let way = Term {
        what: "way".to_owned(),
        length: wire.length.nominal,
        source: "the job; measure the real way before cutting".to_owned(),
    };
    let strip = strip_taken(wire.size);
    let stripped = Term {
        what: "stripped".to_owned(),
        length: strip.value * 2.0,
        source: format!("both ends; {}", strip.citation()),
    };
    let mut notes = Vec::new();
    let mut slack = Vec::new();
    if cores.iter().any(|core| without_slack.contains(&core.name)) {
        notes.push(
            "no slack and no loop: no fuse stands before it, and its way is limited; it is made new, not made again"
                .to_owned(),
        );
    } else {
        slack = slack_of(job, wire, cores);
    }
    if wire.resistance.is_some() {
        notes.push("the job states its resistance: that holds for its own length only".to_owned());
    }
    let fitted = slack.iter().fold(way.length, |sum, term| sum + term.length);
    let step = length("cut-step");
    let mut terms = vec![way, stripped];
    terms.extend(slack);
    let sum = terms.iter().fold(Length::metres(0.0), |sum, term| sum + term.length);
    let rounded = up_to_steps(sum, step.value);
    if (rounded - sum).as_metres() > 1e-6 {
        terms.push(Term { what: "rounding".to_owned(), length: rounded - sum, source: step.citation() });
    }
    Cut {
        name: wire.name.clone(),
        wires: cores.iter().map(|core| core.name.clone()).collect(),
        cable: false,
        size: wire.size,
        colour: wire.colour.clone().unwrap_or_default(),
        insulation: wire.insulation_or_usual(),
        zone: wire.zone.clone(),
        terms,
        length: rounded,
        fitted,
        notes,
    }
}

/// Slack for making the ends again, drip loops, and what lets a switch out of its panel.
fn slack_of(job: &Job, wire: &Wire, cores: &[&Wire]) -> Vec<Term> {
    let (times, one) = (count("reterminations"), retermination(wire.size));
    let mut terms = vec![Term {
        what: "slack".to_owned(),
        length: one.value * times.value * 2.0,
        source: format!(
            "each end made again {} times, {} a time; {}",
            times.value,
            one.value.as_rating(),
            one.citation()
        ),
    }];
    for (index, side) in [Side::From, Side::To].into_iter().enumerate() {
        let ends: Vec<_> = cores.iter().map(|core| both_ends(job, core)[index]).collect();
        let drips = ends.iter().find_map(|(terminal, part, _)| {
            let goes_down = !matches!(part, Part::Splice(_));
            Some((terminal.name(), wet_by(*part, side, wire.zone.as_deref()).filter(|_| goes_down)?))
        });
        if let Some((at, word)) = drips {
            let drip = length("drip-loop");
            let what = format!("drip loop at {at}, \"{word}\"");
            terms.push(Term { what, length: drip.value, source: drip.citation() });
        }
        if let Some((at, ..)) = ends.iter().find(|(_, part, _)| matches!(part, Part::Switch(_))) {
            let service = length("service-loop");
            let what = format!("service loop at {at}");
            terms.push(Term { what, length: service.value, source: service.citation() });
        }
    }
    terms
}
