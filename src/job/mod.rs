//! The job: the circuit as designed, as one TOML file describes it (job file, format 1).
//!
//! Everything that the file leaves open is filled from its `[assume]` table or the handbook, and listed in
//! [`Job::assumptions`], so that nothing is taken silently.

mod feeds;
mod parts;
mod read;
mod read_loads;
mod read_wires;
mod terminal;

pub use feeds::{WayToProtection, loads_of, powers, protected_wires, switches_of, ways_to_protection};
pub use parts::{
    Alternator, Battery, BatteryKind, Cable, Connector, Environment, Fuse, Ground, Level, Load, LoadKind, Mount, Relay,
    Splice, Switch, Vehicle, Wire,
};
pub use terminal::{Terminal, UnknownTerminal};

use crate::document::{Problems, Source};
use crate::quantity::{Resistance, Toleranced};

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
    /// The battery.
    pub battery: Battery,
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
        ("job", Self::Job),
    ];

    /// The word of the procedure file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("", |(word, _)| word)
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

    /// The names of all things of a kind, in the order of the file.
    pub fn names(&self, kind: ItemKind) -> Vec<&str> {
        match kind {
            ItemKind::Job => vec!["job"],
            ItemKind::Battery => vec!["battery"],
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
        }
    }

    /// The wire (or core) of this name.
    pub fn wire(&self, name: &str) -> Option<&Wire> {
        self.wires.iter().find(|w| w.name == name)
    }

    /// The load of this name.
    pub fn load(&self, name: &str) -> Option<&Load> {
        self.loads.iter().find(|l| l.name == name)
    }
}
