//! What a job is made of. Values are as stated or assumed; the circuit gives them their electrical meaning.

use std::ops::Range;

use super::{Fastener, Terminal};
use crate::handbook::fuse::FuseStyle;
use crate::quantity::{
    Charge, ConductorSize, Current, Intensity, Length, Power, Resistance, Slope, Temperature, Toleranced, Voltage,
};

/// How much is asked of the work. No level drops a hazard or a check of protection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Level {
    /// What every job needs.
    Essential,
    /// What a good installer does.
    #[default]
    Standard,
    /// What a shop records for somebody else.
    Full,
}

impl Level {
    /// The words of the job and procedure files.
    pub const WORDS: &'static [(&'static str, Level)] =
        &[("essential", Self::Essential), ("standard", Self::Standard), ("full", Self::Full)];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, level)| *level == self).map_or("", |(word, _)| word)
    }
}

/// The vehicle that is worked on.
#[derive(Debug, Clone, PartialEq)]
pub struct Vehicle {
    /// In words: `Orchard flatbed, single cab`.
    pub description: String,
    /// Registration or VIN; the report can mask it.
    pub identity: Option<String>,
    /// Nominal voltage: 6, 12, 24 or 48 V.
    pub system: Voltage,
}

/// Chemistry and build of the battery.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BatteryKind {
    /// Lead-acid with liquid electrolyte.
    Flooded,
    /// Lead-acid, absorbed glass mat.
    Agm,
    /// Lead-acid, gel.
    Gel,
    /// Lithium iron phosphate.
    LithiumIronPhosphate,
}

impl BatteryKind {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, BatteryKind)] = &[
        ("flooded", Self::Flooded),
        ("agm", Self::Agm),
        ("gel", Self::Gel),
        ("lithium-iron-phosphate", Self::LithiumIronPhosphate),
    ];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("", |(word, _)| word)
    }
}

/// The battery: an ideal source behind its internal resistance.
#[derive(Debug, Clone, PartialEq)]
pub struct Battery {
    /// Its kind.
    pub kind: BatteryKind,
    /// What it holds when full.
    pub capacity: Option<Toleranced<Charge>>,
    /// Voltage at rest, nothing drawn.
    pub rest_voltage: Toleranced<Voltage>,
    /// Internal resistance.
    pub internal_resistance: Toleranced<Resistance>,
}

/// A battery beside the one that starts the engine, such as one for the living space.
#[derive(Debug, Clone, PartialEq)]
pub struct FurtherBattery {
    /// Its name in the job; its terminals are `name.+` and `name.-`.
    pub name: String,
    /// The battery itself.
    pub battery: Battery,
    /// Where it stands, in words.
    pub place: Option<String>,
}

/// The alternator: holds its voltage at the battery posts up to its current.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternator {
    /// Regulated voltage.
    pub voltage: Toleranced<Voltage>,
    /// Rated current.
    pub current: Option<Toleranced<Current>>,
    /// What is left of the current at idle.
    pub idle_current: Option<Toleranced<Current>>,
}

/// Temperatures around the wiring.
#[derive(Debug, Clone, PartialEq)]
pub struct Environment {
    /// Outside the engine bay.
    pub ambient: Toleranced<Temperature>,
    /// In the engine bay; the ambient's upper end where it is not stated.
    pub engine_bay: Option<Toleranced<Temperature>>,
    /// Conductor temperature where the job fixes it.
    pub conductor: Option<Toleranced<Temperature>>,
}

/// A fuse or a circuit breaker.
#[derive(Debug, Clone, PartialEq)]
pub struct Fuse {
    /// Its name in the job.
    pub name: String,
    /// Rated current.
    pub rating: Current,
    /// Body; `None` for a circuit breaker.
    pub style: Option<FuseStyle>,
    /// Resistance with its clips.
    pub resistance: Toleranced<Resistance>,
    /// Largest current it can break.
    pub breaking_capacity: Option<Current>,
    /// Where it sits, in words.
    pub place: Option<String>,
}

/// A relay with one changeover or make contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Relay {
    /// Its name in the job.
    pub name: String,
    /// Coil resistance.
    pub coil: Toleranced<Resistance>,
    /// Rated contact current.
    pub contact: Option<Current>,
    /// Resistance of the closed contact.
    pub contact_resistance: Toleranced<Resistance>,
    /// The coil voltage at which it surely pulls in.
    pub pull_in: Toleranced<Voltage>,
    /// The coil voltage below which it surely lets go.
    pub drop_out: Toleranced<Voltage>,
    /// Where it sits, in words.
    pub place: Option<String>,
}

/// A switch with one make contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Switch {
    /// Its name in the job.
    pub name: String,
    /// Rated current.
    pub rating: Option<Current>,
    /// Resistance of the closed contact.
    pub resistance: Toleranced<Resistance>,
    /// Where it sits, in words.
    pub place: Option<String>,
}

/// A plug connection with named cavities.
#[derive(Debug, Clone, PartialEq)]
pub struct Connector {
    /// Its name in the job.
    pub name: String,
    /// Names of its cavities.
    pub cavities: Vec<String>,
    /// Rated current of one contact.
    pub rating: Option<Current>,
    /// Resistance of one mated contact pair.
    pub resistance: Toleranced<Resistance>,
    /// Insulation diameters that the cavity seal takes.
    pub seal: Option<Toleranced<Length>>,
    /// Where it sits, in words.
    pub place: Option<String>,
}

/// A point where several wires are joined.
#[derive(Debug, Clone, PartialEq)]
pub struct Splice {
    /// Its name in the job.
    pub name: String,
    /// How it is made, in words.
    pub method: String,
    /// Where it sits, in words.
    pub place: Option<String>,
}

/// A point where wires meet the body.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    /// Its name in the job.
    pub name: String,
    /// Where it sits, in words.
    pub place: Option<String>,
    /// Resistance from its stud into the body metal, where stated.
    pub resistance: Option<Toleranced<Resistance>>,
    /// Its bolt or stud.
    pub fastener: Fastener,
}

/// How a load draws current.
#[derive(Debug, Clone, PartialEq)]
pub enum LoadKind {
    /// V / R.
    Resistor {
        /// Its resistance.
        resistance: Toleranced<Resistance>,
    },
    /// (P/Vr) · (V/Vr)^0.55; cold resistance for an ohmmeter.
    Filament {
        /// Rated power P.
        power: Toleranced<Power>,
        /// Rated voltage Vr.
        at: Voltage,
        /// Resistance of the cold filament.
        cold: Toleranced<Resistance>,
    },
    /// P/V from `works_from` up; P·V/works_from² below it; open to an ohmmeter.
    Led {
        /// Power of the regulated driver.
        power: Toleranced<Power>,
        /// The voltage from which the driver regulates; `None` where the maker does not say.
        works_from: Option<Voltage>,
    },
    /// The running current from 1 V up, falling linearly to 0 below; its winding for an ohmmeter.
    Motor {
        /// Running current.
        current: Toleranced<Current>,
        /// The voltage at which that current was stated.
        at: Voltage,
        /// Current with the rotor held, where stated.
        stall: Option<Current>,
        /// Resistance of the winding.
        winding: Toleranced<Resistance>,
    },
}

impl LoadKind {
    /// The word of the job file.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Resistor { .. } => "resistor",
            Self::Filament { .. } => "filament",
            Self::Led { .. } => "led",
            Self::Motor { .. } => "motor",
        }
    }
}

/// Something that uses the current.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Its name in the job.
    pub name: String,
    /// How it draws current.
    pub kind: LoadKind,
    /// The least voltage that its maker allows across it.
    pub needs: Option<Voltage>,
    /// Largest share of the system voltage that the wiring may take, where the job asks for one.
    pub allowed_drop: Option<f64>,
    /// Current in the first moment, where the maker states it.
    pub inrush: Option<Current>,
    /// Whether it runs for minutes or for hours.
    pub continuous: bool,
    /// What it takes while it is off by its own switch and yet fed: a radio, a fridge that waits. Only the reckoning
    /// of a parked vehicle (`rigproof energy`) looks at it; the circuit of a working load does not.
    pub standby: Option<Toleranced<Current>>,
    /// Of a lamp: how high the middle of its lens stands above the ground.
    pub height: Option<Toleranced<Length>>,
    /// Of a lamp: how far the middle of its beam falls on its way forward.
    pub tilt: Option<Slope>,
    /// Of a lamp: its luminous intensity in the middle of the beam.
    pub intensity: Option<Toleranced<Intensity>>,
    /// Where it sits, in words.
    pub place: Option<String>,
}

impl Load {
    /// What it draws, as its label says: `24 W`, `7 A`, `4 Ω`.
    pub fn draws(&self) -> String {
        match &self.kind {
            LoadKind::Resistor { resistance } => resistance.nominal.as_rating(),
            LoadKind::Filament { power, .. } | LoadKind::Led { power, .. } => power.nominal.as_rating(),
            LoadKind::Motor { current, .. } => current.nominal.as_rating(),
        }
    }
}

/// One wire, or one core of a cable, from the end nearer the battery to the end nearer the load.
#[derive(Debug, Clone, PartialEq)]
pub struct Wire {
    /// Its name: `w1`, or `c1.red` for a core.
    pub name: String,
    /// The end nearer the battery.
    pub from: Terminal,
    /// The end nearer the load.
    pub to: Terminal,
    /// Size of the conductor.
    pub size: ConductorSize,
    /// Real length along the route.
    pub length: Toleranced<Length>,
    /// Colour of the insulation.
    pub colour: Option<String>,
    /// Where it runs: `engine bay`, `cabin`, ...
    pub zone: Option<String>,
    /// Continuous temperature rating of its insulation.
    pub insulation: Option<Temperature>,
    /// Outside diameter of the insulation.
    pub outer: Option<Length>,
    /// Current-carrying conductors beside it in the bundle, itself included.
    pub bundle: Option<usize>,
    /// Whether it runs in a sheath or conduit over its whole length.
    pub sheathed: bool,
    /// Resistance of the whole wire, where the job states it: taken as it is, whatever the temperature.
    pub resistance: Option<Toleranced<Resistance>>,
    /// The cable it is a core of.
    pub cable: Option<String>,
    /// Where it stands in the job file.
    pub place_in_file: Range<usize>,
}

/// Insulation rating taken where a wire states none: thin-wall vehicle cable (common practice).
const USUAL_INSULATION: Temperature = Temperature::celsius(105.0);

impl Wire {
    /// Continuous temperature rating of its insulation; that of thin-wall vehicle cable where the job states none.
    pub fn insulation_or_usual(&self) -> Temperature {
        self.insulation.unwrap_or(USUAL_INSULATION)
    }

    /// Whether it runs in the engine bay.
    pub fn in_engine_bay(&self) -> bool {
        self.zone.as_deref().is_some_and(|zone| zone.to_lowercase().contains("engine"))
    }
}

/// A jacketed cable with several cores.
#[derive(Debug, Clone, PartialEq)]
pub struct Cable {
    /// Its name in the job.
    pub name: String,
    /// Size of each core.
    pub size: ConductorSize,
    /// Real length along the route.
    pub length: Toleranced<Length>,
    /// Outside diameter of the jacket.
    pub outer: Option<Length>,
    /// Where it runs.
    pub zone: Option<String>,
    /// Names of its cores among the wires.
    pub cores: Vec<String>,
}

/// Something that is bolted to the vehicle.
#[derive(Debug, Clone, PartialEq)]
pub struct Mount {
    /// Its name in the job.
    pub name: String,
    /// The part that it carries.
    pub of: Option<String>,
    /// Where, in words.
    pub place: Option<String>,
    /// Its bolts.
    pub fastener: Fastener,
}
