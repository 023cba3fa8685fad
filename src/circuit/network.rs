//! Turns a job in a given state into nodes and branches.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use super::change::{self, Change, OPEN};
use super::load_model::LoadModel;
use super::state::{Engine, State};
use super::{Circuit, heat};
use crate::handbook::conductor;
use crate::job::{Alternator, Battery, Job, LoadKind, Terminal, Wire};
use crate::quantity::{Quantity, Resistance, Temperature, Toleranced};

/// The instrument as an element: no part or wire can have a name with a space.
pub(super) const METER: &str = "the meter";

/// A path that the job does not have, as an element.
pub(super) const BRIDGE: &str = "a path that does not belong there";

/// Points that touch, kept apart, in ohms.
const TOUCHING: f64 = 1e-6;

/// What a branch or a tolerance belongs to, for a person.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subject {
    /// Name of the part or wire.
    pub name: String,
    /// Which of its values: `contact resistance`, `length`.
    pub what: String,
}

/// A value with a tolerance that readings depend on.
#[derive(Debug, Clone)]
pub(super) struct Parameter {
    pub subject: Subject,
    /// Largest distance from the nominal value, in the base unit of the value.
    pub half_width: f64,
}

/// How a branch follows one parameter: change of its own value per unit of the parameter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dependence {
    pub parameter: usize,
    pub per_unit: f64,
}

#[derive(Debug, Clone)]
pub(super) enum Law {
    /// A resistance in ohms.
    Resistance { ohms: f64, follows: Vec<Dependence> },
    /// A source behind a resistance; the first node is its positive side.
    Source { volts: f64, ohms: f64, volts_parameter: usize, ohms_parameter: usize },
    /// A load.
    Load { model: LoadModel, parameter: usize },
}

impl Law {
    /// Current from the first node to the second in amperes, and its slope in siemens, at a voltage across.
    pub(super) fn draw(&self, across: f64) -> (f64, f64) {
        match self {
            Self::Resistance { ohms, .. } => (across / ohms, 1.0 / ohms),
            Self::Source { volts, ohms, .. } => ((across - volts) / ohms, 1.0 / ohms),
            Self::Load { model, .. } => {
                let draw = model.draw(across);
                (draw.amps, draw.slope)
            }
        }
    }
}

/// Something between two nodes.
#[derive(Debug, Clone)]
pub(super) struct Branch {
    pub a: usize,
    pub b: usize,
    pub element: Arc<str>,
    pub law: Law,
}

impl Branch {
    /// Its two nodes.
    pub(super) fn ends(&self) -> (usize, usize) {
        (self.a, self.b)
    }

    /// Voltage of its first node over its second.
    pub(super) fn across(&self, volts: &[f64]) -> f64 {
        volts[self.a] - volts[self.b]
    }

    /// Whether it is the coil of a relay.
    pub(super) fn is_coil(&self) -> bool {
        self.element.ends_with(" coil")
    }

    /// Resistance of a plain branch.
    pub(super) fn ohms(&self) -> Option<f64> {
        match &self.law {
            Law::Resistance { ohms, .. } => Some(*ohms),
            _ => None,
        }
    }
}

/// Which instrument the network is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// Voltages and currents of the live circuit.
    Live,
    /// What an ohmmeter sees: no source, loads at their cold resistance.
    Ohmmeter,
}

/// A node held at a fixed voltage.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fixed {
    pub node: usize,
    pub volts: f64,
    pub parameter: Option<usize>,
}

/// Current pushed into a node from the reference, in amperes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Injection {
    pub node: usize,
    pub amps: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Network {
    pub nodes: usize,
    nodes_of: Arc<HashMap<Terminal, usize>>,
    pub branches: Vec<Branch>,
    pub parameters: Arc<[Parameter]>,
    pub fixed: Vec<Fixed>,
    pub injections: Vec<Injection>,
    pub reference: usize,
}

impl Network {
    pub(super) fn node(&self, terminal: &Terminal) -> Option<usize> {
        self.nodes_of.get(terminal).copied()
    }

    pub(super) fn branch(&self, element: &str) -> Option<&Branch> {
        self.branches.iter().find(|b| &*b.element == element)
    }

    /// The same network with paths between nodes that the job does not have.
    pub(super) fn with_paths(&self, paths: impl IntoIterator<Item = (usize, usize, Resistance)>) -> Self {
        let mut network = self.clone();
        for (a, b, resistance) in paths.into_iter().filter(|(a, b, _)| a != b) {
            let law = Law::Resistance { ohms: resistance.as_ohms(), follows: Vec::new() };
            network.branches.push(Branch { a, b, element: BRIDGE.into(), law });
        }
        network
    }

    /// Joins two nodes by a plain resistance that follows nothing: an instrument.
    pub(super) fn add_instrument(&mut self, a: usize, b: usize, resistance: Resistance) {
        if a != b {
            let law = Law::Resistance { ohms: resistance.as_ohms(), follows: Vec::new() };
            self.branches.push(Branch { a, b, element: METER.into(), law });
        }
    }

    /// For each node the number of its island: nodes that no branch joins lie on different ones.
    pub(super) fn islands(&self) -> Vec<usize> {
        self.islands_joined_by(|_| true)
    }

    /// The islands as a meter meets them: what only its own resistance joins hangs free, and so does what only an LED
    /// driver joins, which lets next to nothing through until it works.
    pub(super) fn islands_without_instrument(&self) -> Vec<usize> {
        let driver = |branch: &Branch| matches!(branch.law, Law::Load { model: LoadModel::Led { .. }, .. });
        self.islands_joined_by(|branch| &*branch.element != METER && !driver(branch))
    }

    /// The islands, where only some branches join.
    pub(super) fn islands_joined_by(&self, joins: impl Fn(&Branch) -> bool) -> Vec<usize> {
        let mut sets = Sets::new(self.nodes);
        for branch in self.branches.iter().filter(|branch| joins(branch)) {
            sets.join(branch.a, branch.b);
        }
        (0..self.nodes).map(|n| sets.find(n)).collect()
    }
}

/// Sets of nodes that are one.
struct Sets {
    parent: Vec<usize>,
}

impl Sets {
    fn new(size: usize) -> Self {
        Self { parent: (0..size).collect() }
    }

    fn find(&mut self, mut node: usize) -> usize {
        while self.parent[node] != node {
            self.parent[node] = self.parent[self.parent[node]];
            node = self.parent[node];
        }
        node
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b)] = a.min(b);
    }
}

/// A branch before its terminals have become nodes.
struct Draft {
    from: Terminal,
    to: Terminal,
    element: String,
    law: Law,
}

pub(super) struct Builder<'j> {
    job: &'j Job,
    changes: &'j [Change],
    apart: bool,
    state: &'j State,
    purpose: Purpose,
    drafts: Vec<Draft>,
    parameters: Vec<Parameter>,
    same: Vec<(Terminal, Terminal)>,
    /// The temperature of a zone moves all wires in it together: one parameter for each zone.
    zones: Vec<(&'static str, usize)>,
}

/// What the iterations around Newton's have found so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Found {
    /// Relays whose coil holds the armature.
    pub energised: BTreeSet<String>,
    /// Heating of each wire above its surroundings in kelvin; empty before the first solve.
    pub rise: Vec<f64>,
    /// Whether the alternator is at the end of its current.
    pub alternator_at_limit: bool,
}

pub(super) fn build(circuit: Circuit, state: &State, purpose: Purpose, found: &Found) -> Network {
    let job = circuit.job;
    let mut builder = Builder {
        job,
        changes: circuit.changes,
        apart: circuit.apart,
        state,
        purpose,
        drafts: Vec::new(),
        parameters: Vec::new(),
        same: Vec::new(),
        zones: Vec::new(),
    };
    builder.source(found);
    builder.parts(found);
    builder.loads();
    for (index, wire) in job.wires.iter().enumerate() {
        builder.wire(wire, found.rise.get(index).copied().unwrap_or(0.0));
    }
    builder.bridges();
    builder.finish(found)
}

impl<'j> Builder<'j> {
    /// The alternator, while the engine turns it.
    fn alternator(&self) -> Option<&'j Alternator> {
        self.job.alternator.as_ref().filter(|_| self.state.engine == Engine::Running)
    }

    fn parameter<Q: Quantity>(&mut self, name: &str, what: &str, value: &Toleranced<Q>) -> usize {
        let subject = Subject { name: name.to_owned(), what: what.to_owned() };
        self.parameters.push(Parameter { subject, half_width: value.half_width().base() });
        self.parameters.len() - 1
    }

    fn zone(&mut self, zone: &'static str, temperature: &Toleranced<Temperature>) -> usize {
        if let Some((_, parameter)) = self.zones.iter().find(|(name, _)| *name == zone) {
            return *parameter;
        }
        let parameter = self.parameter(zone, "conductor temperature", temperature);
        self.zones.push((zone, parameter));
        parameter
    }

    fn resistor(&mut self, from: Terminal, to: Terminal, element: &str, what: &str, value: &Toleranced<Resistance>) {
        let parameter = self.parameter(element, what, value);
        self.plain(from, to, element, value.nominal.as_ohms(), vec![Dependence { parameter, per_unit: 1.0 }]);
    }

    /// A resistance of nothing makes its ends one node.
    fn plain(&mut self, from: Terminal, to: Terminal, element: &str, ohms: f64, follows: Vec<Dependence>) {
        let ohms = change::changed(self.job, self.changes, self.state, element, ohms);
        let open = self.purpose == Purpose::Ohmmeter && ohms >= OPEN.as_ohms();
        if ohms <= 0.0 && !self.apart {
            self.same.push((from, to));
        } else if !open {
            let ohms = ohms.max(TOUCHING);
            self.drafts.push(Draft { from, to, element: element.to_owned(), law: Law::Resistance { ohms, follows } });
        }
    }

    /// The paths that the job does not have.
    fn bridges(&mut self) {
        for (from, to, ohms) in change::bridges(self.changes) {
            self.plain(from, to, BRIDGE, ohms, Vec::new());
        }
    }

    fn source(&mut self, found: &Found) {
        self.resistor(
            Terminal::chassis(),
            Terminal::battery_minus(),
            "chassis",
            "resistance",
            &self.job.chassis.clone(),
        );
        if self.purpose == Purpose::Ohmmeter || self.state.battery_off {
            return;
        }
        for further in &self.job.further_batteries {
            self.battery(&further.name, &further.battery);
        }
        let battery = &self.job.battery;
        let alternator_holds = self.alternator().is_some() && !found.alternator_at_limit;
        if alternator_holds || self.is_held(battery) {
            return; // `finish` fixes the positive post
        }
        self.battery("battery", battery);
    }

    /// A battery without internal resistance holds its post.
    fn is_held(&self, battery: &Battery) -> bool {
        battery.internal_resistance.nominal.as_ohms() <= 0.0 && !self.apart
    }

    /// A source behind its internal resistance.
    fn battery(&mut self, name: &str, battery: &Battery) {
        let mut rest_voltage = battery.rest_voltage;
        for change in self.changes.iter().filter(|_| name == "battery") {
            if let Change::RestVoltage { times, give_or_take } = change {
                let nominal = battery.rest_voltage.nominal;
                rest_voltage = Toleranced::plus_minus(nominal * *times, nominal * *give_or_take);
            }
        }
        let volts_parameter = self.parameter(name, "rest voltage", &rest_voltage);
        let ohms_parameter = self.parameter(name, "internal resistance", &battery.internal_resistance);
        self.drafts.push(Draft {
            from: Terminal::of(name, "+"),
            to: Terminal::of(name, "-"),
            element: name.to_owned(),
            law: Law::Source {
                volts: rest_voltage.nominal.as_volts(),
                ohms: battery.internal_resistance.nominal.as_ohms().max(TOUCHING),
                volts_parameter,
                ohms_parameter,
            },
        });
    }

    fn parts(&mut self, found: &Found) {
        let job = self.job;
        for fuse in job.fuses.iter().filter(|f| !self.state.pulled.contains(&f.name)) {
            let (from, to) = (Terminal::of(&fuse.name, "in"), Terminal::of(&fuse.name, "out"));
            self.resistor(from, to, &fuse.name, "resistance", &fuse.resistance);
        }
        for switch in job.switches.iter().filter(|s| self.state.on.contains(&s.name)) {
            let (from, to) = (Terminal::of(&switch.name, "in"), Terminal::of(&switch.name, "out"));
            self.resistor(from, to, &switch.name, "contact resistance", &switch.resistance);
        }
        for relay in &job.relays {
            let name = &relay.name;
            let coil = format!("{name} coil");
            self.resistor(Terminal::of(name, "86"), Terminal::of(name, "85"), &coil, "resistance", &relay.coil);
            let to = if found.energised.contains(name) { "87" } else { "87a" };
            let contact = format!("{name} contact");
            let ends = (Terminal::of(name, "30"), Terminal::of(name, to));
            self.resistor(ends.0, ends.1, &contact, "resistance", &relay.contact_resistance);
        }
        for connector in job.connectors.iter().filter(|c| !self.state.unplugged.contains(&c.name)) {
            for cavity in &connector.cavities {
                let element = format!("{}.{cavity}", connector.name);
                let ends = (
                    Terminal::of(&connector.name, &format!("{cavity}.in")),
                    Terminal::of(&connector.name, &format!("{cavity}.out")),
                );
                self.resistor(ends.0, ends.1, &element, "contact resistance", &connector.resistance);
            }
        }
        for ground in &job.grounds {
            let terminal = Terminal::new(&ground.name);
            match &ground.resistance {
                Some(value) => self.resistor(terminal, Terminal::chassis(), &ground.name, "resistance", value),
                None => self.plain(terminal, Terminal::chassis(), &ground.name, 0.0, Vec::new()),
            }
        }
    }

    fn loads(&mut self) {
        let job = self.job;
        for load in &job.loads {
            let (from, to) = (Terminal::of(&load.name, "+"), Terminal::of(&load.name, "-"));
            let times = change::draws(self.changes, &load.name);
            if self.purpose == Purpose::Ohmmeter {
                let seen = match &load.kind {
                    LoadKind::Resistor { resistance } => resistance,
                    LoadKind::Filament { cold, .. } => cold,
                    LoadKind::Motor { winding, .. } => winding,
                    LoadKind::Led { .. } => continue,
                };
                let seen = Toleranced::plus_minus(seen.nominal * (1.0 / times), seen.half_width() * (1.0 / times));
                self.resistor(from, to, &load.name, "resistance", &seen);
                continue;
            }
            let parameter = match &load.kind {
                LoadKind::Resistor { resistance } => self.parameter(&load.name, "resistance", resistance),
                LoadKind::Filament { power, .. } | LoadKind::Led { power, .. } => {
                    self.parameter(&load.name, "power", power)
                }
                LoadKind::Motor { current, .. } => self.parameter(&load.name, "running current", current),
            };
            let dead = self.changes.contains(&Change::Broken { element: load.name.clone() });
            if dead {
                self.plain(from, to, &load.name, OPEN.as_ohms(), Vec::new());
                continue;
            }
            let model = LoadModel::of(&load.kind).times(times);
            // A load of another size is uncertain in proportion.
            self.parameters[parameter].half_width *= model.width_times(times);
            let law = Law::Load { model, parameter };
            self.drafts.push(Draft { from, to, element: load.name.clone(), law });
        }
    }

    fn wire(&mut self, wire: &Wire, rise: f64) {
        let mut follows = Vec::new();
        let conductor_ohms = match &wire.resistance {
            Some(stated) => {
                let parameter = self.parameter(&wire.name, "resistance", stated);
                follows.push(Dependence { parameter, per_unit: 1.0 });
                stated.nominal.as_ohms()
            }
            None => self.conductor(wire, rise, &mut follows),
        };
        let times = change::conductor_times(self.changes, &wire.name);
        let conductor_ohms = conductor_ohms * times;
        for dependence in &mut follows {
            dependence.per_unit *= times;
        }
        let joint = self.job.joint;
        for end in [&wire.from, &wire.to] {
            let parameter = self.parameter(&wire.name, &format!("joint at {end}"), &joint);
            follows.push(Dependence { parameter, per_unit: 1.0 });
        }
        let ammeter = self.state.in_line.as_ref().filter(|(name, _)| *name == wire.name);
        let burden = ammeter.map_or(0.0, |(_, burden)| burden.as_ohms());
        let ohms = conductor_ohms + 2.0 * joint.nominal.as_ohms() + burden;
        let [from, to] = [&wire.from, &wire.to].map(|end| change::placed(self.changes, end));
        self.plain(from, to, &wire.name, ohms, follows);
    }

    fn conductor(&mut self, wire: &Wire, rise: f64, follows: &mut Vec<Dependence>) -> f64 {
        let cold = conductor::resistance_at_20c(wire.size, wire.length.nominal).value.as_ohms();
        let (surroundings, zone) = heat::surroundings(self.job, wire);
        let temperature = Temperature::celsius(surroundings.nominal.as_celsius() + rise);
        let hot = cold * conductor::temperature_factor(temperature);
        let length = self.parameter(&wire.name, "length", &wire.length);
        follows.push(Dependence { parameter: length, per_unit: hot / wire.length.nominal.as_metres() });
        let parameter = self.zone(zone, &surroundings);
        follows.push(Dependence { parameter, per_unit: cold * conductor::temperature_coefficient() });
        hot
    }

    fn finish(mut self, found: &Found) -> Network {
        let mut terminals = self.job.terminals();
        terminals.sort();
        terminals.dedup();
        let index: HashMap<Terminal, usize> = terminals.iter().cloned().zip(0..).collect();
        let at = |terminal: &Terminal| index.get(terminal).copied().unwrap_or(0);
        let mut sets = Sets::new(terminals.len());
        for (a, b) in &self.same {
            sets.join(at(a), at(b));
        }
        let mut numbers: HashMap<usize, usize> = HashMap::new();
        let mut nodes_of = HashMap::new();
        for (terminal, place) in terminals.iter().zip(0..) {
            let root = sets.find(place);
            let next = numbers.len();
            nodes_of.insert(terminal.clone(), *numbers.entry(root).or_insert(next));
        }
        let node = |terminal: &Terminal| nodes_of.get(terminal).copied().unwrap_or(0);
        let branches = std::mem::take(&mut self.drafts)
            .into_iter()
            .map(|d| Branch { a: node(&d.from), b: node(&d.to), element: d.element.into(), law: d.law })
            .filter(|b| b.a != b.b)
            .collect();
        let reference = node(&Terminal::battery_minus());
        let plus = node(&Terminal::battery_plus());
        let (fixed, injections) = self.held_post(plus, found);
        let (nodes_of, parameters) = (Arc::new(nodes_of), self.parameters.into());
        Network { nodes: numbers.len(), branches, parameters, fixed, injections, reference, nodes_of }
    }

    /// What holds the positive post beside the battery's own branch.
    fn held_post(&mut self, plus: usize, found: &Found) -> (Vec<Fixed>, Vec<Injection>) {
        if self.purpose == Purpose::Ohmmeter || self.state.battery_off {
            return (Vec::new(), Vec::new());
        }
        let battery = &self.job.battery;
        let (mut fixed, mut injections) = (Vec::new(), Vec::new());
        match self.alternator() {
            Some(alternator) if !found.alternator_at_limit => {
                let parameter = Some(self.parameter("alternator", "voltage", &alternator.voltage));
                fixed.push(Fixed { node: plus, volts: alternator.voltage.nominal.as_volts(), parameter });
                return (fixed, injections);
            }
            Some(alternator) => {
                let amps = alternator.current.map_or(0.0, |c| c.nominal.as_amps());
                injections.push(Injection { node: plus, amps });
            }
            None => {}
        }
        if self.is_held(battery) {
            let parameter = Some(self.parameter("battery", "rest voltage", &battery.rest_voltage));
            fixed.push(Fixed { node: plus, volts: battery.rest_voltage.nominal.as_volts(), parameter });
        }
        (fixed, injections)
    }
}
