//! The job: the circuit as designed, as one TOML file describes it (job file, format 1).
//!
//! Everything that the file leaves open is filled from its `[assume]` table or the handbook, and listed in
//! [`Job::assumptions`], so that nothing is taken silently.

mod fastener;
mod feeds;
mod instrument;
mod lot;
mod parts;
mod read;
mod read_instruments;
mod read_loads;
mod read_wires;
mod terminal;

pub use fastener::{BoltLength, Fastener};
pub use feeds::{
    MOST_WAYS, WayToProtection, fed_behind, loads_of, powers, protected_wires, source_of, switches_of,
    ways_to_protection,
};
pub use instrument::{Acceptance, Instrument};
pub use lot::{Lot, SamplingPlan};
pub use parts::{
    Alternator, Battery, BatteryKind, Cable, Connector, Environment, FurtherBattery, Fuse, Ground, Level, Load,
    LoadKind, Mount, Relay, Splice, Switch, Vehicle, Wire,
};
pub use terminal::{Terminal, UnknownTerminal};

use crate::document::{Form, Problems, Source};
use crate::quantity::{Dimension, Resistance, Toleranced};

/// A value that the job file does not state and the engine took.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumption {
    /// The part or wire it is about; `every joint` for all.
    pub subject: String,
    /// What was assumed: `contact resistance`.
    pub what: &'static str,
    /// The value, as shown to a person.
    pub value: String,
    /// Where the value comes from.
    pub source: String,
}

/// One job: a vehicle, its source, and the circuit to be fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The text it was read from.
    pub source: Source,
    /// What is being fitted.
    pub title: String,
    /// Number of the shop's order, where there is one.
    pub work_order: Option<String>,
    /// How much is asked of the work.
    pub level: Level,
    /// The vehicle.
    pub vehicle: Vehicle,
    /// The battery that starts the engine.
    pub battery: Battery,
    /// Batteries beside it.
    pub further_batteries: Vec<FurtherBattery>,
    /// The alternator, where the job needs one.
    pub alternator: Option<Alternator>,
    /// Temperatures around the wiring.
    pub environment: Environment,
    /// Resistance of one termination.
    pub joint: Toleranced<Resistance>,
    /// Resistance from the ground studs through the body to the battery's negative post.
    pub chassis: Toleranced<Resistance>,
    /// Fuses and circuit breakers.
    pub fuses: Vec<Fuse>,
    /// Relays.
    pub relays: Vec<Relay>,
    /// Switches.
    pub switches: Vec<Switch>,
    /// Connectors.
    pub connectors: Vec<Connector>,
    /// Splices.
    pub splices: Vec<Splice>,
    /// Ground points.
    pub grounds: Vec<Ground>,
    /// Loads.
    pub loads: Vec<Load>,
    /// Wires, the cores of cables included.
    pub wires: Vec<Wire>,
    /// Cables.
    pub cables: Vec<Cable>,
    /// Things that are bolted on.
    pub mounts: Vec<Mount>,
    /// Lots of crimps or lamps, with their plans of sampling.
    pub lots: Vec<Lot>,
    /// Instruments that the readings are taken with; the first that measures a quantity is taken where none is named.
    pub instruments: Vec<Instrument>,
    /// By which rule a reading near a limit is accepted.
    pub acceptance: Acceptance,
    /// Everything the engine took because the file does not state it.
    pub assumptions: Vec<Assumption>,
}

/// The kinds of things a procedure can be walked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ItemKind {
    /// The job as a whole.
    Job,
    /// The battery.
    Battery,
    /// Fuses and breakers.
    Fuse,
    /// Relays.
    Relay,
    /// Switches.
    Switch,
    /// Connectors.
    Connector,
    /// Splices.
    Splice,
    /// Ground points.
    Ground,
    /// Loads.
    Load,
    /// Wires and the cores of cables.
    Wire,
    /// Cables.
    Cable,
    /// Mounted things.
    Mount,
    /// Lots of crimps or lamps.
    Lot,
    /// The pieces of a lot that are tried; only as members of a lot.
    Sample,
}

impl ItemKind {
    /// The words of the procedure file.
    pub const WORDS: &'static [(&'static str, ItemKind)] = &[
        ("battery", Self::Battery),
        ("fuse", Self::Fuse),
        ("relay", Self::Relay),
        ("switch", Self::Switch),
        ("connector", Self::Connector),
        ("splice", Self::Splice),
        ("ground", Self::Ground),
        ("load", Self::Load),
        ("wire", Self::Wire),
        ("cable", Self::Cable),
        ("mount", Self::Mount),
        ("lot", Self::Lot),
        ("sample", Self::Sample),
        ("job", Self::Job),
    ];

    /// The word of the procedure file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("", |(word, _)| word)
    }
}

/// What a procedure is walked for: each thing of a kind, or each member of each thing: the wires of a splice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ForEach {
    /// The kind of the thing, or of the members.
    pub kind: ItemKind,
    /// The kind of the things whose members are meant.
    pub of: Option<ItemKind>,
}

impl ForEach {
    /// Reads `wire`, `wire of splice`.
    pub fn from_words(text: &str) -> Option<Self> {
        let kind = |word: &str| ItemKind::WORDS.iter().find(|(name, _)| *name == word).map(|(_, kind)| *kind);
        let Some((member, owner)) = text.split_once(" of ") else {
            return Some(Self { kind: kind(text).filter(|kind| *kind != ItemKind::Sample)?, of: None });
        };
        let (member, owner) = (kind(member.trim())?, kind(owner.trim())?);
        let of_circuit = matches!(member, ItemKind::Wire | ItemKind::Load)
            && !matches!(owner, ItemKind::Wire | ItemKind::Job | ItemKind::Mount | ItemKind::Lot | ItemKind::Sample)
            && !(member == ItemKind::Load && matches!(owner, ItemKind::Load | ItemKind::Battery | ItemKind::Cable));
        let known = of_circuit || (member == ItemKind::Sample && owner == ItemKind::Lot);
        known.then_some(Self { kind: member, of: Some(owner) })
    }

    /// As it is written.
    pub fn words(self) -> String {
        match self.of {
            Some(of) => format!("{} of {}", self.kind.word(), of.word()),
            None => self.kind.word().to_owned(),
        }
    }
}

impl Job {
    /// Reads a job file.
    ///
    /// # Errors
    /// All problems of the file at once, each with its place and the way out.
    pub fn read(source: &Source) -> Result<Job, Box<Problems>> {
        read::read(source)
    }

    /// The form of a job file, as its reader asks for it.
    pub fn form() -> Form {
        read::form()
    }

    /// The names of all things of a kind, in the order of the file.
    pub fn names(&self, kind: ItemKind) -> Vec<&str> {
        match kind {
            ItemKind::Job => vec!["job"],
            ItemKind::Battery => {
                std::iter::once("battery").chain(self.further_batteries.iter().map(|b| b.name.as_str())).collect()
            }
            ItemKind::Fuse => self.fuses.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Relay => self.relays.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Switch => self.switches.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Connector => self.connectors.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Splice => self.splices.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Ground => self.grounds.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Load => self.loads.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Wire => self.wires.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Cable => self.cables.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Mount => self.mounts.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Lot => self.lots.iter().map(|p| p.name.as_str()).collect(),
            ItemKind::Sample => Vec::new(),
        }
    }

    /// The wires that end at a thing (the cores of a cable), the loads whose own current runs through it, or the pieces of
    /// a lot that are tried.
    pub fn members(&self, kind: ItemKind, owner: &str) -> Vec<String> {
        if kind == ItemKind::Load {
            return powers(self, owner);
        }
        if kind == ItemKind::Sample {
            let lot = self.lots.iter().find(|lot| lot.name == owner);
            return lot.map(Lot::samples).unwrap_or_default().iter().map(ToString::to_string).collect();
        }
        let of_owner = |w: &&Wire| w.from.part() == owner || w.to.part() == owner || w.cable.as_deref() == Some(owner);
        self.wires.iter().filter(of_owner).map(|w| w.name.clone()).collect()
    }

    /// The wire (or core) of this name.
    pub fn wire(&self, name: &str) -> Option<&Wire> {
        self.wires.iter().find(|w| w.name == name)
    }

    /// The battery of this name: `battery`, or one beside it.
    pub fn battery_named(&self, name: &str) -> Option<&Battery> {
        if name == "battery" {
            return Some(&self.battery);
        }
        self.further_batteries.iter().find(|b| b.name == name).map(|b| &b.battery)
    }

    /// The instrument of this name, or the first that measures a quantity; the generic one where the job states none.
    /// `None` where the name is unknown or that instrument does not measure the quantity.
    pub fn instrument(&self, name: Option<&str>, dimension: Dimension) -> Option<Instrument> {
        let fits = |i: &&Instrument| i.measures(dimension) && name.is_none_or(|name| i.name == name);
        let own = self.instruments.iter().find(fits).cloned();
        own.or_else(|| Some(Instrument::generic()).filter(|i| name.is_none() && i.measures(dimension)))
    }

    /// The load of this name.
    pub fn load(&self, name: &str) -> Option<&Load> {
        self.loads.iter().find(|l| l.name == name)
    }
}
