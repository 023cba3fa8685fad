//! The faults of a job, and the circuit as it would be with each of them.
//!
//! A fault is the job as it was really built: the same circuit with one thing different. So the virtual meter answers for
//! it as for the job itself, relays, loads and the meter's own resistance included.

use std::collections::BTreeSet;

use super::evidence::Strengths;
use crate::circuit::{Circuit, State};
use crate::job::{Job, LoadKind, Splice, Terminal, Wire, protected_wires};
use crate::quantity::{Length, Quantity, Resistance, Toleranced, Voltage};

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Everything is as in the job file.
    AsDesigned,
    /// No path: broken, not plugged, blown, a contact that does not close.
    Open,
    /// Resistance that does not belong there.
    PoorJoint,
    /// Bare conductor on the body.
    ShortToBody,
    /// The two wires of a load exchanged.
    Reversed,
    /// A load that draws nothing.
    DeadLoad,
    /// A load of half or double its power.
    WrongLoad,
    /// A contact that does not open.
    StuckClosed,
    /// The wires of 30 and 86 exchanged.
    CoilAndContactExchanged,
    /// The wires of 87 and 87a exchanged.
    ContactsExchanged,
    /// The wires of two neighbouring cavities exchanged.
    CavitiesExchanged,
    /// A conductor too thin by one or two sizes, or of copper-clad aluminium.
    ThinConductor,
    /// A battery far below its rest voltage.
    LowBattery,
}

/// A fault at one place of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub kind: Kind,
    /// The part, wire or terminal; two where two were exchanged.
    pub at: Vec<String>,
    /// How likely before any reading; only the ratios count. From judgement of the trade, with no field data behind it.
    pub weight: f64,
}

/// An open circuit, in ohms.
const OPEN: Resistance = Resistance::ohms(1e9);

impl Kind {
    /// One word for files and scripts.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsDesigned => "as-designed",
            Self::Open => "open",
            Self::PoorJoint => "added-resistance",
            Self::ShortToBody => "short-to-body",
            Self::Reversed => "reversed",
            Self::DeadLoad => "dead-load",
            Self::WrongLoad => "wrong-load",
            Self::StuckClosed => "stuck-closed",
            Self::CoilAndContactExchanged => "30-and-86-exchanged",
            Self::ContactsExchanged => "87-and-87a-exchanged",
            Self::CavitiesExchanged => "cavities-exchanged",
            Self::ThinConductor => "thin-conductor",
            Self::LowBattery => "low-battery",
        }
    }

    /// Weights before any reading: estimates without field data (only their ratios matter, and little: de Kleer, Using
    /// Crude Probability Estimates in Diagnosis).
    fn weight(self) -> f64 {
        match self {
            Self::AsDesigned => 20.0,
            Self::PoorJoint => 4.0,
            Self::Open | Self::DeadLoad => 3.0,
            Self::ShortToBody | Self::StuckClosed | Self::WrongLoad | Self::LowBattery => 1.0,
            Self::Reversed | Self::CoilAndContactExchanged | Self::ContactsExchanged | Self::CavitiesExchanged => 0.6,
            Self::ThinConductor => 0.5,
        }
    }
}

impl Fault {
    fn new(kind: Kind, at: &[&str]) -> Self {
        Self { kind, at: at.iter().map(|name| (*name).to_owned()).collect(), weight: kind.weight() }
    }

    /// No fault.
    pub fn as_designed() -> Self {
        Self::new(Kind::AsDesigned, &[])
    }

    fn name(&self) -> &str {
        self.at.first().map_or("", String::as_str)
    }

    fn other(&self) -> &str {
        self.at.get(1).map_or("", String::as_str)
    }

    /// The strengths that it may have, where it has one.
    pub fn strengths(&self) -> Option<Strengths> {
        let between = |least, most| Some(Strengths::between(Resistance::ohms(least), Resistance::ohms(most)));
        match self.kind {
            Kind::PoorJoint => between(0.02, 200.0),
            Kind::ShortToBody => between(0.02, 2000.0),
            _ => None,
        }
    }

    /// What is wrong, in words: `the load lamp is dead`.
    pub fn says(&self) -> String {
        let (at, other) = (self.name(), self.other());
        match self.kind {
            Kind::AsDesigned => "everything as designed".to_owned(),
            Kind::Open => format!("{at} is open: broken, not plugged, blown, or a contact that does not close"),
            Kind::PoorJoint => format!("{at} has too much resistance: a joint at its ends, or its contact"),
            Kind::ShortToBody => format!("bare metal at {at} touches the body"),
            Kind::Reversed => format!("the two wires of {at} are exchanged"),
            Kind::DeadLoad => format!("{at} draws nothing: the load itself is dead"),
            Kind::WrongLoad => format!("{at} is not the load of the job: half or double its power"),
            Kind::StuckClosed => format!("the contact of {at} does not open"),
            Kind::CoilAndContactExchanged => format!("the wires of {at}.30 and {at}.86 are exchanged"),
            Kind::ContactsExchanged => format!("the wires of {at}.87 and {at}.87a are exchanged"),
            Kind::CavitiesExchanged => format!("the wires of {at} and {other} are exchanged"),
            Kind::ThinConductor => format!("{at} is thinner than in the job, or copper-clad aluminium"),
            Kind::LowBattery => "the battery is far below its rest voltage".to_owned(),
        }
    }

    /// What is wrong, in few words: `w3 added resistance`.
    pub fn in_short(&self) -> String {
        if self.kind == Kind::LowBattery {
            return "low battery".to_owned();
        }
        format!("{} {}", self.at.join(" and "), self.kind.word().replace('-', " ")).trim().to_owned()
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
            Kind::DeadLoad | Kind::WrongLoad => format!("read the print on {at}; replace it by the one of the job"),
            Kind::StuckClosed => format!("take {at} out of its socket and replace it"),
            Kind::ThinConductor => format!("read the print on {at}; replace it by the size of the job"),
            Kind::LowBattery => "charge the battery, let it rest, and read it again".to_owned(),
            _ => "compare each wire with the job's list and put it where it belongs".to_owned(),
        }
    }

    /// The job and the state as a meter would meet them with this fault; `ohms` is its strength, where it has one.
    pub fn as_built(&self, job: &Job, state: &State, ohms: Resistance) -> (Job, State) {
        let mut built = job.clone();
        let mut state = state.clone();
        match self.kind {
            Kind::AsDesigned => {}
            Kind::Open => add_in_series(&mut built, &state, self.name(), OPEN),
            Kind::PoorJoint => add_in_series(&mut built, &state, self.name(), ohms),
            Kind::ShortToBody => {
                let chassis = Terminal::chassis();
                if let Ok(at) = job.terminal(self.name()) {
                    bridge(&mut built, "short", at, chassis, ohms);
                }
                blow_fuses(&built, &mut state);
            }
            Kind::Reversed => {
                exchange(&mut built, &Terminal::of(self.name(), "+"), &Terminal::of(self.name(), "-"));
            }
            Kind::DeadLoad => {
                for load in built.loads.iter_mut().filter(|load| load.name == self.name()) {
                    load.kind = LoadKind::Resistor { resistance: Toleranced::exact(OPEN) };
                }
            }
            // The half is told from the double by the sign of what changes; one of them stands for both directions.
            Kind::WrongLoad => scale_load(&mut built, self.name(), if ohms.as_ohms() < 1.0 { 0.5 } else { 2.0 }),
            Kind::StuckClosed => {
                let of = |relay: &crate::job::Relay| relay.contact_resistance.nominal;
                let contact = job.relays.iter().find(|r| r.name == self.name()).map(of);
                let (from, to) = match contact {
                    Some(_) => ("30", "87"),
                    None => ("in", "out"),
                };
                let ohms = contact.unwrap_or(Resistance::ohms(0.01));
                bridge(&mut built, "stuck", Terminal::of(self.name(), from), Terminal::of(self.name(), to), ohms);
            }
            Kind::CoilAndContactExchanged => {
                exchange(&mut built, &Terminal::of(self.name(), "30"), &Terminal::of(self.name(), "86"));
            }
            Kind::ContactsExchanged => {
                exchange(&mut built, &Terminal::of(self.name(), "87"), &Terminal::of(self.name(), "87a"));
            }
            Kind::CavitiesExchanged => {
                let out = |cavity: &str| job.terminal(&format!("{cavity}.out"));
                if let (Ok(a), Ok(b)) = (out(self.name()), out(self.other())) {
                    exchange(&mut built, &a, &b);
                }
            }
            Kind::ThinConductor => {
                for wire in built.wires.iter_mut().filter(|w| w.name == self.name()) {
                    // A run longer by as much has the same resistance; 1.6 is a size of the metric row.
                    let by = |length: Length| Length::from_base(1.6 * length.base());
                    wire.length = Toleranced::plus_minus(by(wire.length.nominal), by(wire.length.half_width()));
                }
            }
            Kind::LowBattery => {
                let rest = built.battery.rest_voltage.nominal.as_volts();
                let low = Voltage::volts(rest * 0.92);
                built.battery.rest_voltage = Toleranced::plus_minus(low, Voltage::volts(rest * 0.05));
            }
        }
        (built, state)
    }
}

/// Every single fault of the model on a job, after "as designed".
pub fn faults_of(job: &Job) -> Vec<Fault> {
    let mut faults = vec![Fault::as_designed(), Fault::new(Kind::LowBattery, &["battery"])];
    let mut add = |kind, at: &[&str]| faults.push(Fault::new(kind, at));
    let mut in_line = |name: &str| {
        add(Kind::Open, &[name]);
        add(Kind::PoorJoint, &[name]);
    };
    job.wires.iter().for_each(|wire| in_line(&wire.name));
    job.fuses.iter().for_each(|fuse| in_line(&fuse.name));
    job.switches.iter().for_each(|switch| in_line(&switch.name));
    job.grounds.iter().for_each(|ground| in_line(&ground.name));
    job.relays.iter().for_each(|relay| in_line(&format!("{} contact", relay.name)));
    for connector in &job.connectors {
        connector.cavities.iter().for_each(|cavity| in_line(&format!("{}.{cavity}", connector.name)));
    }
    for relay in &job.relays {
        add(Kind::Open, &[&format!("{} coil", relay.name)]);
        add(Kind::StuckClosed, &[&relay.name]);
        add(Kind::CoilAndContactExchanged, &[&relay.name]);
        add(Kind::ContactsExchanged, &[&relay.name]);
    }
    job.switches.iter().for_each(|switch| add(Kind::StuckClosed, &[&switch.name]));
    for load in &job.loads {
        add(Kind::Reversed, &[&load.name]);
        add(Kind::DeadLoad, &[&load.name]);
        add(Kind::WrongLoad, &[&load.name]);
    }
    for connector in &job.connectors {
        for pair in connector.cavities.windows(2) {
            let cavity = |name: &String| format!("{}.{name}", connector.name);
            add(Kind::CavitiesExchanged, &[&cavity(&pair[0]), &cavity(&pair[1])]);
        }
    }
    job.wires.iter().for_each(|wire| add(Kind::ThinConductor, &[&wire.name]));
    let fed: BTreeSet<&str> =
        job.fuses.iter().flat_map(|fuse| protected_wires(job, &fuse.name)).map(|wire| wire.to.name()).collect();
    for terminal in fed {
        add(Kind::ShortToBody, &[terminal]);
    }
    faults
}

fn more(value: &Toleranced<Resistance>, ohms: Resistance) -> Toleranced<Resistance> {
    Toleranced::plus_minus(Resistance::ohms(value.nominal.as_ohms() + ohms.as_ohms()), value.half_width())
}

fn add_in_series(job: &mut Job, state: &State, name: &str, ohms: Resistance) {
    if let Some(at) = job.wires.iter().position(|wire| wire.name == name) {
        let inside = point(job, "inside the joint");
        let to = std::mem::replace(&mut job.wires[at].to, inside.clone());
        bridge(job, "joint", inside, to, ohms);
    } else if let Some(fuse) = job.fuses.iter_mut().find(|fuse| fuse.name == name) {
        fuse.resistance = more(&fuse.resistance, ohms);
    } else if let Some(switch) = job.switches.iter_mut().find(|switch| switch.name == name) {
        switch.resistance = more(&switch.resistance, ohms);
    } else if let Some(ground) = job.grounds.iter_mut().find(|ground| ground.name == name) {
        let own = ground.resistance.unwrap_or(Toleranced::exact(Resistance::ohms(0.0)));
        ground.resistance = Some(more(&own, ohms));
    } else if let Some((part, which)) = name.split_once(' ') {
        for relay in job.relays.iter_mut().filter(|relay| relay.name == part) {
            let value = if which == "coil" { &mut relay.coil } else { &mut relay.contact_resistance };
            *value = more(value, ohms);
        }
    } else if let Some((part, cavity)) = name.split_once('.') {
        let Some(connector) = job.connectors.iter_mut().find(|c| c.name == part) else { return };
        connector.cavities.retain(|own| own != cavity);
        let own = connector.resistance;
        // The two sides stay points to probe; what joins them is no longer the connector's own contact.
        let ends = ["in", "out"].map(|side| point(job, &format!("{part}.{cavity}.{side}")));
        if !state.unplugged.contains(part) {
            let [from, to] = ends;
            bridge(job, "contact", from, to, more(&own, ohms).nominal);
        }
    }
}

/// A point of its own, held as a splice.
fn point(job: &mut Job, name: &str) -> Terminal {
    let terminal = Terminal::new(name);
    job.splices.push(Splice { name: name.to_owned(), method: "fault".to_owned(), place: None });
    terminal
}

/// A resistance between two terminals, held as a wire of that resistance.
fn bridge(job: &mut Job, name: &str, from: Terminal, to: Terminal, ohms: Resistance) {
    let Some(pattern) = job.wires.first().cloned() else { return };
    let joints = 2.0 * job.joint.nominal.as_ohms();
    let own = Resistance::ohms((ohms.as_ohms() - joints).max(1e-6));
    job.wires.push(Wire {
        name: format!("fault {name}"),
        from,
        to,
        resistance: Some(Toleranced::exact(own)),
        cable: None,
        ..pattern
    });
}

/// The wires of one terminal go to the other.
fn exchange(job: &mut Job, a: &Terminal, b: &Terminal) {
    for wire in &mut job.wires {
        for end in [&mut wire.from, &mut wire.to] {
            if end == a {
                *end = b.clone();
            } else if end == b {
                *end = a.clone();
            }
        }
    }
}

fn scale_load(job: &mut Job, name: &str, by: f64) {
    fn scaled<Q: Quantity>(value: Toleranced<Q>, by: f64) -> Toleranced<Q> {
        Toleranced::plus_minus(Q::from_base(value.nominal.base() * by), Q::from_base(value.half_width().base() * by))
    }
    for load in job.loads.iter_mut().filter(|load| load.name == name) {
        match &mut load.kind {
            LoadKind::Resistor { resistance } => *resistance = scaled(*resistance, 1.0 / by),
            LoadKind::Filament { power, cold, .. } => {
                (*power, *cold) = (scaled(*power, by), scaled(*cold, 1.0 / by));
            }
            LoadKind::Led { power, .. } => *power = scaled(*power, by),
            LoadKind::Motor { current, winding, .. } => {
                (*current, *winding) = (scaled(*current, by), scaled(*winding, 1.0 / by));
            }
        }
    }
}

/// Current over the rating at which a fuse is taken as blown by the time a meter reads (a blade fuse carries 1.35 times
/// its rating for up to ten minutes, ISO 8820-3; the rest is a round figure).
const BLOWS_AT: f64 = 1.5;

fn blow_fuses(job: &Job, state: &mut State) {
    for _ in 0..=job.fuses.len() {
        let Ok(solution) = Circuit::of(job).solve(state) else { return };
        let share = |fuse: &crate::job::Fuse| {
            solution.current(&fuse.name).map_or(0.0, |amps| amps.as_amps().abs() / fuse.rating.as_amps())
        };
        let worst = job.fuses.iter().max_by(|a, b| share(a).total_cmp(&share(b)));
        match worst {
            Some(fuse) if share(fuse) > BLOWS_AT => state.pulled.insert(fuse.name.clone()),
            _ => return,
        };
    }
}
