//! What may be wrong with a job, in words and as what is different in its circuit.

use std::fmt::Write;

use super::evidence::Strengths;
use crate::circuit::Change;
use crate::job::{Job, Terminal};
use crate::quantity::Resistance;

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Everything is as in the job file.
    AsDesigned,
    /// No path: broken, not plugged, blown, a contact that does not close.
    Open,
    /// Resistance that does not belong there.
    PoorJoint,
    /// Bare conductor on the body.
    ShortToBody,
    /// A path between two circuits that the job does not have.
    StrayPath,
    /// The two wires of a load exchanged.
    Reversed,
    /// A load that draws nothing.
    DeadLoad,
    /// A load of half or double its power.
    WrongLoad,
    /// A contact that does not open, an armature that does not come back.
    StuckClosed,
    /// An armature that is not pulled in, though the coil is fed.
    StuckOpen,
    /// The wires of 30 and 86 exchanged.
    CoilAndContactExchanged,
    /// The wires of 87 and 87a exchanged.
    ContactsExchanged,
    /// The wires of two neighbouring cavities exchanged.
    CavitiesExchanged,
    /// The switch sits in the return of its load.
    SwitchInReturn,
    /// A conductor too thin by one or two sizes, or of copper-clad aluminium.
    ThinConductor,
    /// A fuse of another rating than that of the job.
    WrongFuse,
    /// A battery far below its rest voltage.
    LowBattery,
    /// The leads of the meter are exchanged.
    LeadsExchanged,
    /// A lead of the meter is broken, or its probe does not reach metal.
    LeadOpen,
    /// The meter shows several percent too much or too little.
    MeterOff,
}

/// How strong a fault is, where it may be more or less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Strength {
    /// Resistance of a joint or of a path.
    Ohms(Resistance),
    /// A multiple: of a load's current, of a conductor's resistance, of what a meter should show.
    Times(f64),
}

/// The strengths that a fault may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// Any resistance between two.
    Ohms(Strengths),
    /// One of these multiples.
    Times(&'static [f64]),
}

/// A fault at one place of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub kind: Kind,
    /// The part, wire or terminal; two where two were exchanged.
    pub at: Vec<String>,
    /// How likely before any reading; only the ratios count. See [`super::Weights`].
    pub weight: f64,
}

impl Kind {
    /// Every kind, in the order in which they are weighed.
    pub const ALL: [Kind; 20] = [
        Self::AsDesigned,
        Self::Open,
        Self::PoorJoint,
        Self::ShortToBody,
        Self::StrayPath,
        Self::Reversed,
        Self::DeadLoad,
        Self::WrongLoad,
        Self::StuckClosed,
        Self::StuckOpen,
        Self::CoilAndContactExchanged,
        Self::ContactsExchanged,
        Self::CavitiesExchanged,
        Self::SwitchInReturn,
        Self::ThinConductor,
        Self::WrongFuse,
        Self::LowBattery,
        Self::LeadsExchanged,
        Self::LeadOpen,
        Self::MeterOff,
    ];

    /// One word for files and scripts.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsDesigned => "as-designed",
            Self::Open => "open",
            Self::PoorJoint => "added-resistance",
            Self::ShortToBody => "short-to-body",
            Self::StrayPath => "stray-path",
            Self::Reversed => "reversed",
            Self::DeadLoad => "dead-load",
            Self::WrongLoad => "wrong-load",
            Self::StuckClosed => "stuck-closed",
            Self::StuckOpen => "stuck-open",
            Self::CoilAndContactExchanged => "30-and-86-exchanged",
            Self::ContactsExchanged => "87-and-87a-exchanged",
            Self::CavitiesExchanged => "cavities-exchanged",
            Self::SwitchInReturn => "switch-in-return",
            Self::ThinConductor => "thin-conductor",
            Self::WrongFuse => "wrong-fuse",
            Self::LowBattery => "low-battery",
            Self::LeadsExchanged => "meter-leads-exchanged",
            Self::LeadOpen => "meter-lead-open",
            Self::MeterOff => "meter-off",
        }
    }

    /// Whether it is the meter or its use, and not the circuit.
    pub fn is_of_the_meter(self) -> bool {
        matches!(self, Self::LeadsExchanged | Self::LeadOpen | Self::MeterOff)
    }
}

impl Fault {
    /// No fault.
    pub fn as_designed() -> Self {
        Self { kind: Kind::AsDesigned, at: Vec::new(), weight: 1.0 }
    }

    fn name(&self) -> &str {
        self.at.first().map_or("", String::as_str)
    }

    fn other(&self) -> &str {
        self.at.get(1).map_or("", String::as_str)
    }

    /// The strengths that it may have.
    pub fn range(&self) -> Range {
        let ohms = |least, most| Range::Ohms(Strengths::between(Resistance::ohms(least), Resistance::ohms(most)));
        match self.kind {
            Kind::PoorJoint => ohms(0.02, 200.0),
            Kind::ShortToBody => ohms(0.02, 2000.0),
            Kind::StrayPath => ohms(0.05, 2000.0),
            Kind::WrongLoad | Kind::WrongFuse => Range::Times(&[0.5, 2.0]),
            // A size of the metric row has 1.6 times the resistance of the next; copper-clad aluminium as much as a size.
            Kind::ThinConductor => Range::Times(&[1.6, 2.5]),
            Kind::MeterOff => Range::Times(&[0.9, 1.1]),
            _ => Range::Times(&[1.0]),
        }
    }

    /// What is wrong, in words: `the load lamp is dead`.
    pub fn says(&self) -> String {
        let (at, other) = (self.name(), self.other());
        match self.kind {
            Kind::AsDesigned => "everything as designed".to_owned(),
            Kind::Open => {
                format!("{at} is open: broken, missing, not plugged, blown, or a contact that does not close")
            }
            Kind::PoorJoint => format!("{at} has too much resistance: a joint at its ends, or its contact"),
            Kind::ShortToBody => format!("bare metal at {at} touches the body"),
            Kind::StrayPath => format!("a path joins {at} and {other}: water, a loose strand, a back-feed"),
            Kind::Reversed => format!("the two wires of {at} are exchanged"),
            Kind::DeadLoad => format!("{at} draws nothing: the load itself is dead"),
            Kind::WrongLoad => format!("{at} is not the load of the job: half or double its power"),
            Kind::StuckClosed => format!("the contact of {at} does not open"),
            Kind::StuckOpen => format!("{at} does not pull in, though its coil is fed"),
            Kind::CoilAndContactExchanged => format!("the wires of {at}.30 and {at}.86 are exchanged"),
            Kind::ContactsExchanged => format!("the wires of {at}.87 and {at}.87a are exchanged"),
            Kind::CavitiesExchanged => format!("the wires of {at} and {other} are exchanged"),
            Kind::SwitchInReturn => format!("{at} sits in {other}, the return of its load, and not in the feed"),
            Kind::ThinConductor => format!("{at} is thinner than in the job, or copper-clad aluminium"),
            Kind::WrongFuse => format!("{at} is a fuse of another rating than in the job"),
            Kind::LowBattery => "the battery is far below its rest voltage".to_owned(),
            Kind::LeadsExchanged => "the leads of the meter are exchanged".to_owned(),
            Kind::LeadOpen => "a lead of the meter is broken, or a probe does not reach bare metal".to_owned(),
            Kind::MeterOff => "the meter shows about a tenth too much or too little: its own battery?".to_owned(),
        }
    }

    /// What is wrong, in few words: `w3 added resistance`.
    pub fn in_short(&self) -> String {
        match self.kind {
            Kind::LowBattery => "low battery".to_owned(),
            Kind::LeadsExchanged | Kind::LeadOpen | Kind::MeterOff => self.kind.word().replace('-', " "),
            _ => {
                let mut text = self.at.join(" and ");
                let _ = write!(text, " {}", self.kind.word().replace('-', " "));
                text.trim().to_owned()
            }
        }
    }

    /// How it is mended, in words.
    pub fn mend(&self) -> String {
        let at = self.name();
        match self.kind {
            Kind::AsDesigned => "nothing to mend".to_owned(),
            Kind::Open | Kind::PoorJoint => {
                format!("look at {at} and both its ends; clean, crimp and fasten anew what is loose or dirty")
            }
            Kind::ShortToBody => {
                "take the fuse out, find where the insulation is chafed, replace and protect it".to_owned()
            }
            Kind::StrayPath => format!("open {at}: dry and clean it, look for a loose strand between the two"),
            Kind::DeadLoad | Kind::WrongLoad => format!("read the print on {at}; replace it by the one of the job"),
            Kind::StuckClosed | Kind::StuckOpen => format!("take {at} out and replace it"),
            Kind::ThinConductor => format!("read the print on {at}; replace it by the size of the job"),
            Kind::WrongFuse => format!("read the rating on {at}; fit the one of the job"),
            Kind::LowBattery => "charge the battery, let it rest, and read it again".to_owned(),
            Kind::LeadsExchanged => "red lead to V, black lead to COM; red probe on the point named first".to_owned(),
            Kind::LeadOpen => "prove the meter on the battery, then scrape to bare metal".to_owned(),
            Kind::MeterOff => "compare with a second meter on the battery; fit a new battery in the meter".to_owned(),
            _ => "compare each wire with the job's list and put it where it belongs".to_owned(),
        }
    }

    /// What is different in the circuit with this fault at a strength; nothing where it is the meter.
    pub fn changes(&self, job: &Job, strength: Strength) -> Vec<Change> {
        let at = self.name().to_owned();
        let (ohms, times) = match strength {
            Strength::Ohms(ohms) => (ohms, 1.0),
            Strength::Times(times) => (Resistance::ohms(times), times),
        };
        let exchange = |a: String, b: String| vec![Change::Exchange { a: Terminal::new(a), b: Terminal::new(b) }];
        let bridge =
            |from: &str, to: Terminal| vec![Change::Bridge { from: Terminal::new(from), to, resistance: ohms }];
        match self.kind {
            Kind::AsDesigned | Kind::LeadsExchanged | Kind::LeadOpen | Kind::MeterOff => Vec::new(),
            Kind::Open | Kind::DeadLoad => vec![Change::Broken { element: at }],
            Kind::PoorJoint => vec![Change::InSeries { element: at, resistance: ohms }],
            Kind::ShortToBody => bridge(&at, Terminal::chassis()),
            Kind::StrayPath => bridge(&at, Terminal::new(self.other())),
            Kind::Reversed => exchange(format!("{at}.+"), format!("{at}.-")),
            Kind::WrongLoad => vec![Change::Draws { load: at, times }],
            Kind::StuckClosed if job.relays.iter().any(|relay| relay.name == at) => {
                vec![Change::Armature { relay: at, pulled_in: true }]
            }
            Kind::StuckClosed => {
                let own = job.switches.iter().find(|switch| switch.name == at).map(|s| s.resistance.nominal);
                let (from, to) = (Terminal::of(&at, "in"), Terminal::of(&at, "out"));
                let least = Resistance::ohms(1e-3);
                vec![Change::Bridge { from, to, resistance: own.filter(|own| *own > least).unwrap_or(least) }]
            }
            Kind::StuckOpen => vec![Change::Armature { relay: at, pulled_in: false }],
            Kind::CoilAndContactExchanged => exchange(format!("{at}.30"), format!("{at}.86")),
            Kind::ContactsExchanged => exchange(format!("{at}.87"), format!("{at}.87a")),
            Kind::CavitiesExchanged => exchange(format!("{at}.out"), format!("{}.out", self.other())),
            Kind::SwitchInReturn => vec![Change::SwitchMoved { switch: at, wire: self.other().to_owned() }],
            Kind::ThinConductor | Kind::WrongFuse => vec![Change::Resists { element: at, times }],
            Kind::LowBattery => vec![Change::RestVoltage { times: 0.92, give_or_take: 0.05 }],
        }
    }

    /// What the meter makes of a value: its multiple.
    pub fn meter_shows(&self, strength: Strength) -> f64 {
        match (self.kind, strength) {
            (Kind::LeadsExchanged, _) => -1.0,
            (Kind::LeadOpen, _) => 0.0,
            (Kind::MeterOff, Strength::Times(times)) => times,
            _ => 1.0,
        }
    }
}
