//! The symbols of a circuit drawing: what is written at each, how much room it takes.

use std::collections::BTreeMap;

use super::width::text_width;
use crate::job::{Job, LoadKind};
use crate::quantity::Current;

/// Size of the names of parts, in points.
pub(super) const NAME: f32 = 7.5;
/// Size of all other words, in points.
pub(super) const WORDS: f32 = 7.0;
/// From one line of words to the next, in points.
pub(super) const LEADING: f32 = 8.0;
/// Room beside a text, in points.
const AIR: f32 = 2.0;
/// Half the width of the symbols of fuse, contact and resistor, in points.
pub(super) const HALF: f32 = 9.0;

/// What stands at a place of a circuit drawing. Terminals are by their names without the part.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Symbol {
    /// A battery, at its positive post.
    Supply(String),
    /// The negative post of a battery beside the first one, below its cells.
    Negative(String),
    /// A fuse or breaker.
    Fuse { name: String, enter: String },
    /// A switch.
    Switch { name: String, enter: String },
    /// The contact of a relay.
    Contact { relay: String, enter: String, changes_over: bool },
    /// The coil of a relay.
    Coil { relay: String, enter: &'static str, leave: &'static str },
    /// A cavity of a connector; the name is that of both.
    Cavity { name: String, enter: String },
    /// A splice.
    Splice(String),
    /// A ground; `chassis` is the body itself.
    Ground(String),
    /// A load.
    Load { name: String, enter: String, leave: &'static str },
    /// A terminal by its full name: a joint, or a reference to where its part is drawn.
    Terminal(String),
    /// The far pin of a load or coil, which is drawn already.
    Pin(String),
}

/// Rows in which the parts are drawn: `K1.30` for a contact, `K1.86` for its coil, `F1.in`.
pub(super) type Whereabouts = BTreeMap<String, usize>;

/// The words around a symbol.
#[derive(Debug, Clone, Default)]
pub(super) struct Words {
    /// Above it, the lowest last; the first is the name.
    pub above: Vec<String>,
    /// Below it.
    pub below: Vec<String>,
    /// At its left terminal.
    pub left: String,
    /// At its right terminal.
    pub right: String,
}

impl Symbol {
    /// The full name of the terminal at which a load or coil is reached.
    pub fn entered(&self) -> Option<String> {
        match self {
            Self::Load { name, enter, .. } => Some(format!("{name}.{enter}")),
            Self::Coil { relay, enter, .. } => Some(format!("{relay}.{enter}")),
            _ => None,
        }
    }

    /// The full name of the far pin of a load or coil.
    pub fn left_by(&self) -> Option<String> {
        match self {
            Self::Load { name, leave, .. } => Some(format!("{name}.{leave}")),
            Self::Coil { relay, leave, .. } => Some(format!("{relay}.{leave}")),
            _ => None,
        }
    }

    /// Whether it uses the current: loads and coils stand in one column.
    pub fn is_sink(&self) -> bool {
        matches!(self, Self::Load { .. } | Self::Coil { .. })
    }

    /// The full names of the terminals that it shows.
    pub fn terminals(&self) -> Vec<String> {
        let both = |part: &str| vec![format!("{part}.in"), format!("{part}.out")];
        match self {
            Self::Supply(battery) => vec![format!("{battery}.+")],
            Self::Negative(battery) => vec![format!("{battery}.-")],
            Self::Fuse { name, .. } | Self::Switch { name, .. } | Self::Cavity { name, .. } => both(name),
            Self::Contact { relay, .. } => ["30", "87", "87a"].map(|pole| format!("{relay}.{pole}")).to_vec(),
            Self::Coil { relay, .. } => ["85", "86"].map(|pole| format!("{relay}.{pole}")).to_vec(),
            Self::Load { name, .. } => ["+", "-"].map(|pole| format!("{name}.{pole}")).to_vec(),
            Self::Splice(name) => vec![name.clone()],
            Self::Ground(_) | Self::Terminal(_) | Self::Pin(_) => Vec::new(),
        }
    }

    /// What is written at it. `mirrored` where current comes back through it, from its right to its left.
    pub fn words(&self, job: &Job, at: &Whereabouts, mirrored: bool) -> Words {
        let row = |what: &str, terminal: String| at.get(&terminal).map(|row| format!("{what} {row}"));
        let ends = |enter: &str| {
            let leave = if enter == "in" { "out" } else { "in" };
            let (left, right) = if mirrored { (leave, enter) } else { (enter, leave) };
            (left.to_owned(), right.to_owned())
        };
        let below = |texts: Vec<Option<String>>| texts.into_iter().flatten().collect();
        match self {
            Self::Negative(_) | Self::Pin(_) => Words::default(),
            Self::Fuse { name, enter } => {
                let fuse = job.fuses.iter().find(|f| f.name == *name);
                let kind = fuse.filter(|f| f.style.is_none()).map(|_| "breaker".to_owned());
                let (left, right) = ends(enter);
                Words {
                    above: vec![name.clone()],
                    below: below(vec![fuse.map(|f| f.rating.as_rating()), kind]),
                    left,
                    right,
                }
            }
            Self::Switch { name, enter } => {
                let rating = job.switches.iter().find(|s| s.name == *name).and_then(|s| s.rating);
                let (left, right) = ends(enter);
                Words { above: vec![name.clone()], below: below(vec![rating.map(Current::as_rating)]), left, right }
            }
            Self::Contact { relay, enter, changes_over } => {
                let rating = job.relays.iter().find(|r| r.name == *relay).and_then(|r| r.contact);
                let coil = row("coil row", format!("{relay}.86"));
                let far = if enter == "30" { "87" } else { "30" }.to_owned();
                let (left, right) = if mirrored { (far, enter.clone()) } else { (enter.clone(), far) };
                let mut words = Words { above: vec![relay.clone()], left, right, ..Words::default() };
                let rating = rating.map(Current::as_rating);
                if *changes_over {
                    // Below it runs the line of 87a.
                    words.above = below(vec![Some(relay.clone()), coil]);
                } else {
                    words.below = below(vec![rating, coil]);
                }
                words
            }
            Self::Coil { relay, enter, leave } => {
                let coil = job.relays.iter().find(|r| r.name == *relay).map(|r| r.coil.nominal.as_rating());
                let contact = row("contact row", format!("{relay}.30"));
                Words {
                    above: vec![relay.clone()],
                    below: below(vec![coil.map(|c| format!("coil {c}")), contact]),
                    left: (*enter).to_owned(),
                    right: (*leave).to_owned(),
                }
            }
            Self::Supply(name) | Self::Cavity { name, .. } | Self::Splice(name) => {
                Words { above: vec![name.clone()], ..Words::default() }
            }
            Self::Ground(name) => {
                let name = if name == "chassis" { "body" } else { name };
                Words { above: vec![name.to_owned()], ..Words::default() }
            }
            Self::Load { name, enter, leave } => {
                let load = job.load(name);
                let kind = load.map(|l| match &l.kind {
                    LoadKind::Led { .. } => "LED".to_owned(),
                    other => other.word().to_owned(),
                });
                Words {
                    above: vec![name.clone()],
                    below: below(vec![load.map(crate::job::Load::draws), kind]),
                    left: sign(enter),
                    right: sign(leave),
                }
            }
            Self::Terminal(name) => {
                let (part, pole) = name.rsplit_once('.').unwrap_or((name, ""));
                let shown = match pole {
                    "-" => format!("{part} −"),
                    "+" => format!("{part} +"),
                    _ => name.clone(),
                };
                Words { above: vec![shown], below: below(vec![row("row", name.clone())]), ..Words::default() }
            }
        }
    }

    /// Half the width of the symbol itself, without words and stubs.
    pub fn body(&self, job: &Job) -> f32 {
        match self {
            Self::Fuse { .. } | Self::Switch { .. } | Self::Contact { .. } | Self::Load { .. } => HALF,
            Self::Cavity { .. } => 5.0,
            Self::Splice(_) => 2.4,
            Self::Coil { .. } | Self::Ground(_) => 7.0,
            Self::Terminal(_) => 1.8,
            Self::Supply(name) => supply_half(job, name),
            Self::Negative(_) => 1.0,
            Self::Pin(_) => 0.0,
        }
    }

    /// How far it reaches from its middle to either side, words and stubs included.
    pub fn reach(&self, job: &Job, words: &Words) -> f32 {
        let widest = |texts: &[String], size, bold| {
            texts.iter().map(|t| text_width(t, size, bold)).fold(0.0, f32::max) / 2.0 + AIR
        };
        let name = words.above.first().map_or(0.0, |name| text_width(name, NAME, true) / 2.0 + AIR);
        let pins = [&words.left, &words.right].map(|t| text_width(t, WORDS, false)).into_iter().fold(0.0, f32::max);
        let pins = if matches!(self, Self::Contact { changes_over: true, .. }) {
            pins.max(text_width("87a", WORDS, false))
        } else {
            pins
        };
        let stub = if pins > 0.0 { pins + AIR } else { 3.0 };
        [self.body(job) + stub, name, widest(&words.above, WORDS, false), widest(&words.below, WORDS, false)]
            .into_iter()
            .fold(0.0, f32::max)
    }
}

/// A pole as it is written on a part.
fn sign(pole: &str) -> String {
    if pole == "-" { "−".to_owned() } else { pole.to_owned() }
}

/// The words beside the cells of a battery.
pub(super) fn beside_cells(job: &Job, name: &str) -> Vec<String> {
    let Some(battery) = job.battery_named(name) else { return Vec::new() };
    let mut texts = vec![battery.rest_voltage.nominal.to_string()];
    texts.extend(battery.capacity.as_ref().map(|c| c.nominal.as_rating()));
    texts
}

/// Between the middle of a battery's cells and the words beside them, in points.
pub(super) const BESIDE: f32 = 11.0;

fn supply_half(job: &Job, name: &str) -> f32 {
    let beside = beside_cells(job, name).iter().map(|t| text_width(t, WORDS, false)).fold(0.0, f32::max);
    beside + BESIDE
}

/// The kind of a load, as its symbol shows it.
pub(super) fn kind_of<'j>(job: &'j Job, name: &str) -> Option<&'j LoadKind> {
    job.load(name).map(|load| &load.kind)
}
