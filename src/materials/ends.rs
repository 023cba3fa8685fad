//! How each end of each wire is made.

use serde::Serialize;

use super::Known;
use super::cuts::{Cut, strip_taken};
use super::part::{Part, both_ends, wet_by};
use crate::handbook::fuse::FuseStyle;
use crate::handbook::materials::{count, insulation_gap, length};
use crate::handbook::workmanship::{crimp_pull, strip_length};
use crate::job::{Connector, Fastener, Job, Terminal, Wire};
use crate::quantity::{Area, ConductorSize, Force, Length};

/// Which end of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The one nearer the battery.
    From,
    /// The one nearer the load.
    To,
}

impl Side {
    /// The word of the job file.
    pub fn word(self) -> &'static str {
        match self {
            Side::From => "from",
            Side::To => "to",
        }
    }
}

/// What is put on the end of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A ring on a stud or bolt.
    Ring,
    /// A flat female terminal, 6.3 mm.
    Blade,
    /// The female terminal that belongs to a fuse holder.
    HolderTerminal,
    /// What the sheet of a part asks for.
    ByItsSheet,
    /// A socket contact of a connector: the half that the battery feeds.
    Socket,
    /// A pin contact of a connector.
    Pin,
    /// The barrel of a splice.
    Splice,
}

impl Kind {
    /// Its word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Ring => "ring",
            Kind::Blade => "blade",
            Kind::HolderTerminal => "holder-terminal",
            Kind::ByItsSheet => "by-its-sheet",
            Kind::Socket => "socket",
            Kind::Pin => "pin",
            Kind::Splice => "splice",
        }
    }
}

/// The terminal of an end.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Termination {
    /// What it is.
    pub kind: Kind,
    /// What it is, in words: `ring for M6`.
    pub words: String,
    /// The sum of the conductors in its barrel.
    #[serde(rename = "barrel_mm2")]
    pub barrel: Area,
    /// Wires that lie in the same barrel.
    pub with: Vec<String>,
}

/// How far the jacket of a cable is taken off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Jacket {
    /// How long; `None` where the cores part on their way and it is measured.
    #[serde(rename = "length_m")]
    pub length: Option<Length>,
    /// What is to be done, in words, and where the figure comes from.
    pub words: String,
}

/// One end of one wire.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct End {
    /// The wire, or the core of a cable.
    pub wire: String,
    /// Which end.
    pub side: Side,
    /// The terminal on which it ends.
    pub at: String,
    /// The terminal at its other end.
    pub toward: String,
    /// The cable it is a core of.
    pub cable: Option<String>,
    /// Size of the conductor.
    #[serde(serialize_with = "super::as_text")]
    pub size: ConductorSize,
    /// Colour.
    pub colour: Option<String>,
    /// Where the part sits.
    pub place: Option<String>,
    /// The word by which it is wet there.
    pub wet: Option<String>,
    /// What goes on the wire before the terminal, in this order.
    pub first: Vec<String>,
    /// The jacket of its cable.
    pub jacket: Option<Jacket>,
    /// How much insulation to take off, in words: the terminal's own figure goes before it.
    pub strip: Known<String>,
    /// The same as it was counted for the cut.
    #[serde(rename = "strip_counted_m")]
    pub strip_counted: Length,
    /// The terminal.
    pub terminal: Termination,
    /// Least force at which the crimp may let go; `None` for a size without a row.
    #[serde(rename = "pull_newtons")]
    pub pull: Option<Known<Force>>,
    /// Least gap between insulation and barrel.
    #[serde(rename = "gap_least_m")]
    pub gap_least: Known<Length>,
    /// Greatest gap between insulation and barrel.
    #[serde(rename = "gap_most_m")]
    pub gap_most: Known<Length>,
    /// How much longer than the joint a sleeve is, where one goes on.
    #[serde(rename = "sleeve_over_joint_m")]
    pub sleeve: Option<Known<Length>>,
    /// What is to be minded.
    pub notes: Vec<String>,
}

/// All ends, in the order of the cuts; of each wire the one nearer the battery first.
pub(super) fn ends(job: &Job, cuts: &[Cut]) -> Vec<End> {
    let wires = cuts.iter().flat_map(|cut| &cut.wires).filter_map(|name| job.wire(name));
    wires.flat_map(|wire| [end(job, wire, Side::From), end(job, wire, Side::To)]).collect()
}

/// The stud of a ground as it is asked for.
pub(super) fn stud(fastener: &Fastener) -> String {
    match (fastener.thread(), &fastener.bolt) {
        (Some(thread), _) => thread.designation().to_owned(),
        (None, Some(written)) => format!("{written} (measure the stud)"),
        (None, None) => "its stud (measure it)".to_owned(),
    }
}

/// A barrel on a terminal that holds one contact: all wires that end there lie in it together.
fn shares_barrel(kind: Kind) -> bool {
    matches!(kind, Kind::Blade | Kind::HolderTerminal | Kind::ByItsSheet | Kind::Splice)
}

/// What is to be minded where several wires end on one terminal.
fn crowded(kind: Kind, barrel: Area, with: &[&Wire], others: usize) -> Option<String> {
    if !with.is_empty() && kind != Kind::Splice {
        let names: Vec<&str> = with.iter().map(|w| w.name.as_str()).collect();
        return Some(format!(
            "in one barrel with {}: choose it by the sum, {:.2} mm²; the part may forbid two wires in one terminal",
            names.join(" and "),
            barrel.as_mm2()
        ));
    }
    let most = count("rings-on-a-stud");
    let rings = others + 1;
    (kind == Kind::Ring && rings as f64 > most.value)
        .then(|| format!("{rings} rings on one stud: {}; a bus bar takes the rest", most.citation()))
}

fn end(job: &Job, wire: &Wire, side: Side) -> End {
    let (at, part, toward) = both_ends(job, wire)[usize::from(side == Side::To)];
    let wet = wet_by(part, side, wire.zone.as_deref());
    let (kind, words) = kind_of(job, at, part);
    let mut notes = Vec::new();
    let others: Vec<&Wire> =
        job.wires.iter().filter(|w| w.name != wire.name && (&w.from == at || &w.to == at)).collect();
    let with: Vec<&Wire> = if shares_barrel(kind) { others.clone() } else { Vec::new() };
    let barrel = with.iter().fold(wire.size.area(), |sum, w| sum + w.size.area());
    notes.extend(crowded(kind, barrel, &with, others.len()));
    // A sleeve would keep a terminal from going into its holder or socket: there the housing keeps the water out.
    let sleeved = wet.is_some() && matches!(kind, Kind::Ring | Kind::ByItsSheet);
    if let Some(word) = wet.filter(|_| matches!(kind, Kind::Blade | Kind::HolderTerminal)) {
        notes.push(format!(
            "wet by its place (\"{word}\"): a holder or socket with seals, or a cover (common practice)"
        ));
    }
    let (least, most) = insulation_gap(wire.size);
    let bare = matches!(part, Part::Splice(_));
    End {
        wire: wire.name.clone(),
        side,
        at: at.name().to_owned(),
        toward: toward.name().to_owned(),
        cable: wire.cable.clone(),
        size: wire.size,
        colour: wire.colour.clone(),
        place: part.place().map(str::to_owned),
        wet: wet.map(str::to_owned),
        first: goes_first(job, wire, side, part, sleeved),
        jacket: wire.cable.as_ref().map(|cable| jacket(job, cable, side)),
        strip: strip_length(wire.size).into(),
        strip_counted: strip_taken(wire.size).value,
        terminal: Termination { kind, words, barrel, with: with.iter().map(|w| w.name.clone()).collect() },
        pull: crimp_pull(wire.size).map(Known::from),
        gap_least: least.into(),
        gap_most: most.into(),
        sleeve: (sleeved || bare).then(|| length("sleeve-over-joint").into()),
        notes,
    }
}

/// What fits a terminal, and in words.
fn kind_of(job: &Job, at: &Terminal, part: Part<'_>) -> (Kind, String) {
    let by_sheet = |of: &str| (Kind::ByItsSheet, format!("as the sheet of {of} asks"));
    match part {
        Part::Battery => (Kind::Ring, "ring for the stud of the battery clamp (measure it)".to_owned()),
        Part::Chassis => (Kind::Ring, "ring for the stud in the body (measure it)".to_owned()),
        Part::Ground(ground) => (Kind::Ring, format!("ring for {}", stud(&ground.fastener))),
        Part::Fuse(fuse) => match fuse.style {
            Some(FuseStyle::Blade | FuseStyle::Mini | FuseStyle::Maxi) => {
                (Kind::HolderTerminal, format!("female terminal of the holder of {}", fuse.name))
            }
            Some(FuseStyle::Strip) => {
                (Kind::Ring, format!("ring for the stud of the holder of {} (measure it)", fuse.name))
            }
            None => by_sheet(&fuse.name),
        },
        Part::Relay(relay) => flat(job, at, &relay.name),
        Part::Switch(switch) => flat(job, at, &switch.name),
        Part::Connector(connector) if fed_half(at) => {
            (Kind::Socket, format!("socket contact, cavity {}", cavity(connector, at)))
        }
        Part::Connector(connector) => (Kind::Pin, format!("pin contact, cavity {}", cavity(connector, at))),
        Part::Splice(splice) => (Kind::Splice, barrel_of_splice(job, &splice.name)),
        Part::Load(load) => by_sheet(&load.name),
    }
}

/// Whether a terminal lies on the half of its connector that is nearer the battery.
fn fed_half(at: &Terminal) -> bool {
    at.name().rsplit('.').next() == Some("in")
}

/// `X1.A` of `X1.A.in`.
fn cavity(connector: &Connector, at: &Terminal) -> String {
    let name = at.name();
    let inner = name.strip_prefix(connector.name.as_str()).unwrap_or(name).trim_start_matches('.');
    let cavity = inner.strip_suffix(".in").or_else(|| inner.strip_suffix(".out")).unwrap_or(inner);
    format!("{}.{cavity}", connector.name)
}

/// A flat female terminal as far as one takes the wires that end there.
fn flat(job: &Job, at: &Terminal, of: &str) -> (Kind, String) {
    let most = count("blade-most-mm2");
    let together = job.wires.iter().filter(|w| &w.from == at || &w.to == at);
    let area = together.fold(0.0, |sum, w| sum + w.size.area().as_mm2());
    if area <= most.value + 1e-9 {
        return (Kind::Blade, "flat female terminal 6.3 mm".to_owned());
    }
    let words = format!("as the sheet of {of} asks: mostly a ring, since {area:.1} mm² is too thick for 6.3 mm");
    (Kind::ByItsSheet, words)
}

/// The areas on the two sides of a splice, and their sum.
fn splice_areas(job: &Job, splice: &str) -> (Area, Area) {
    let sum = |side: fn(&Wire) -> &Terminal| {
        let wires = job.wires.iter().filter(|w| side(w).name() == splice);
        wires.fold(Area::mm2(0.0), |sum, w| sum + w.size.area())
    };
    (sum(|w| &w.to), sum(|w| &w.from))
}

/// A barrel that is open at both ends is chosen by its fuller side, one that takes all wires from one end by the sum.
pub(super) fn barrel_of_splice(job: &Job, splice: &str) -> String {
    let (arrive, leave) = splice_areas(job, splice);
    let all = format!("{:.2} mm² from one end", (arrive + leave).as_mm2());
    if arrive.as_mm2() <= 0.0 || leave.as_mm2() <= 0.0 {
        return format!("splice barrel for {all}");
    }
    format!("splice barrel for {:.2} mm² and {:.2} mm² on its sides, or {all}", arrive.as_mm2(), leave.as_mm2())
}

/// What must be on the wire before its terminal: US Army TM 9-4120-367-14 says it of the sleeve; of seal, boot and gland
/// nut it is practice.
fn goes_first(job: &Job, wire: &Wire, side: Side, part: Part<'_>, sleeved: bool) -> Vec<String> {
    let at = if side == Side::From { &wire.from } else { &wire.to };
    let mut first = vec!["label sleeve".to_owned()];
    match part {
        Part::Connector(connector) => {
            if wire.cable.is_some() {
                first.push("boot or gland nut of the connector over the jacket, where it has one".to_owned());
            }
            if let Some(seal) = connector.seal {
                first.push(format!("cavity seal for {} to {}", seal.low(), seal.high()));
            }
        }
        Part::Splice(_) => {
            // One sleeve covers the joint: it waits on the wire that is named first.
            let bearer = job.wires.iter().find(|w| &w.from == at || &w.to == at);
            if bearer.is_some_and(|w| w.name == wire.name) {
                first.push("adhesive-lined sleeve of the splice, far from the heat".to_owned());
            }
        }
        // 33 CFR 183.445(b): a live terminal that no fuse guards has a boot, cap or cover.
        Part::Battery if at.name().ends_with(".+") => first.push("boot for the live stud".to_owned()),
        _ => {}
    }
    if sleeved {
        first.push("adhesive-lined sleeve for the barrel".to_owned());
    }
    first
}

fn jacket(job: &Job, cable: &str, side: Side) -> Jacket {
    let cores = job.wires.iter().filter(|w| w.cable.as_deref() == Some(cable));
    let mut parts: Vec<&str> = cores.map(|w| if side == Side::From { w.from.part() } else { w.to.part() }).collect();
    parts.sort_unstable();
    parts.dedup();
    if parts.len() > 1 {
        let words = format!("from where its cores part for {}: measure it", parts.join(" and "));
        return Jacket { length: None, words };
    }
    let strip = length("jacket-strip");
    Jacket { length: Some(strip.value), words: format!("{}: {}", strip.value.as_rating(), strip.citation()) }
}
