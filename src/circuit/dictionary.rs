//! The fault dictionary: what a meter shows in many circuits that differ from one job in one thing each.
//!
//! The network without its loads is factorised once for a state. A load, and a path that a fault adds or weakens, is
//! then a port: a current between two nodes that depends on the voltage there. With v₀ the port voltages while no port
//! draws and Z what an ampere at one port moves at another, v + Z·i(v) = v₀ has as many unknowns as there are ports,
//! whatever the size of the network (Sherman, Morrison and Woodbury's formula, with a law at each port). Every node
//! follows from the port currents, and so does every sensitivity.
//!
//! Where a path breaks or wires change places, the matrix is factorised anew: taking a conductance off a matrix leaves
//! rounding error where a node then hangs on nothing else. Wires keep the temperature that they have as designed.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::rc::Rc;

use super::change::{self, Change, JOINED, OPEN};
use super::load_model::LoadModel;
use super::meter::STRAY;
use super::network::{Branch, Dependence, Found, Law, Network, Purpose, Subject, build};
use super::newton::Linear;
use super::ports::{Flow, Ports, Solved};
use super::solve::{NoOperatingPoint, blows, healthy, relays, source_voltage, voltmeter_input};
use super::{Circuit, State};
use crate::job::{Job, Terminal};
use crate::quantity::{Amount, Current, Dimension};

/// What a meter shows, and how far the tolerances of the job move it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// With every value at its nominal; `None` where an ohmmeter finds no path.
    pub nominal: Option<Amount>,
    /// Standard uncertainty by the values that this reading does not share with others.
    pub own: Amount,
    /// Where a point hangs free, what the meter may pick up there, or not, as a standard uncertainty; else nothing.
    pub stray: Amount,
    /// Change of the reading for one standard uncertainty of each shared value, in the order of
    /// [`Dictionary::shared`]: the battery's voltage moves all readings of a vehicle together.
    pub shared: Vec<Amount>,
}

/// A job prepared for many changes.
#[derive(Debug)]
pub struct Dictionary<'j> {
    job: &'j Job,
    input_ohms: f64,
    shared: Vec<Subject>,
    bases: RefCell<Vec<Rc<Base>>>,
    found: RefCell<Vec<(State, Result<Found, NoOperatingPoint>)>>,
}

/// A state with its relays, factorised.
#[derive(Debug)]
struct Base {
    state: State,
    purpose: Purpose,
    energised: BTreeSet<String>,
    /// What is different in it already: wires that change places, paths between pieces that nothing else joins.
    structure: Vec<Change>,
    network: Network,
    /// The pieces that hang together without any load.
    pieces: Vec<usize>,
    core: Core,
}

/// What follows from the matrix.
#[derive(Debug)]
struct Core {
    linear: Linear,
    /// Node voltages while no port draws.
    still: Vec<f64>,
    /// (branch, model) of each load.
    loads: Vec<(usize, LoadModel)>,
    /// Volts of every node per ampere through each load.
    responses: Vec<Rc<[f64]>>,
    /// Volts of every node per ampere between two nodes that were asked for.
    asked: RefCell<Vec<((usize, usize), Rc<[f64]>)>>,
}

impl Core {
    fn of(network: &Network, linear: Linear) -> Self {
        let loads: Vec<(usize, LoadModel)> = network
            .branches
            .iter()
            .enumerate()
            .filter_map(|(at, branch)| match branch.law {
                Law::Load { model, .. } => Some((at, model)),
                _ => None,
            })
            .collect();
        let response = |branch: &Branch| linear.respond(&[(branch.a, 1.0), (branch.b, -1.0)]).into();
        let responses = loads.iter().map(|(at, _)| response(&network.branches[*at])).collect();
        Self { still: linear.volts(), linear, loads, responses, asked: RefCell::default() }
    }

    /// Volts of every node per ampere in at `a` and out at `b`.
    fn response(&self, a: usize, b: usize) -> Rc<[f64]> {
        if let Some((_, response)) = self.asked.borrow().iter().find(|(ends, _)| *ends == (a, b)) {
            return response.clone();
        }
        let response: Rc<[f64]> = self.linear.respond(&[(a, 1.0), (b, -1.0)]).into();
        self.asked.borrow_mut().push(((a, b), response.clone()));
        response
    }
}

impl Base {
    fn of(job: &Job, structure: &[Change], state: &State, purpose: Purpose, found: &Found) -> Option<Self> {
        let circuit = Circuit { apart: true, ..Circuit::of(job).with(structure) };
        let mut network = build(circuit, state, purpose, found);
        let pieces = network.islands_joined_by(|branch| !matches!(branch.law, Law::Load { .. }));
        hold_what_floats(&mut network);
        let linear = Linear::of(&without_loads(&network))?;
        let core = Core::of(&network, linear);
        let energised = found.energised.clone();
        Some(Self { state: state.clone(), purpose, energised, structure: structure.to_vec(), network, pieces, core })
    }

    /// Whether a path would join pieces that nothing else joins. Their nodes move by gigavolts for an ampere, and what
    /// is left of that after a port has closed the path is rounding error: such a path belongs into the matrix.
    fn are_apart(&self, from: &Terminal, to: &Terminal) -> bool {
        let piece = |terminal| self.network.node(terminal).map(|node| self.pieces[node]);
        piece(from) != piece(to)
    }
}

/// Ties every piece that hangs free to the reference, by more than a meter can tell.
fn hold_what_floats(network: &mut Network) {
    let mut islands = network.islands();
    let mut held: BTreeSet<usize> = network.fixed.iter().map(|fixed| islands[fixed.node]).collect();
    held.insert(islands[network.reference]);
    for (node, island) in islands.drain(..).enumerate() {
        if held.insert(island) {
            let law = Law::Resistance { ohms: 10.0 * OPEN.as_ohms(), follows: Vec::new() };
            network.branches.push(Branch { a: node, b: network.reference, element: "leak".into(), law });
        }
    }
}

/// Each load as an open path, so that the matrix has its place.
fn without_loads(network: &Network) -> Network {
    let mut linear = network.clone();
    for branch in &mut linear.branches {
        if matches!(branch.law, Law::Load { .. }) {
            branch.law = Law::Resistance { ohms: OPEN.as_ohms(), follows: Vec::new() };
        }
    }
    linear
}

impl<'j> Dictionary<'j> {
    /// For a job.
    pub fn of(job: &'j Job) -> Self {
        let subject = |name: &str, what: &str| Subject { name: name.to_owned(), what: what.to_owned() };
        let mut shared = vec![subject("battery", "rest voltage"), subject("alternator", "voltage")];
        for load in &job.loads {
            let what = match load.kind.word() {
                "motor" => "running current",
                "resistor" => "resistance",
                _ => "power",
            };
            shared.push(subject(&load.name, what));
        }
        let input_ohms = voltmeter_input(job).as_ohms();
        Self { job, input_ohms, shared, bases: RefCell::default(), found: RefCell::default() }
    }

    /// The values whose tolerances move several readings together.
    pub fn shared(&self) -> &[Subject] {
        &self.shared
    }

    /// The live circuit in a state, with some things different from the job.
    ///
    /// # Errors
    /// [`NoOperatingPoint`] as [`Circuit::solve`].
    pub fn in_state(&self, state: &State, changes: &[Change]) -> Result<Altered<'_>, NoOperatingPoint> {
        let mut state = state.clone();
        loop {
            let altered = self.settled(&state, changes)?;
            if changes.is_empty() {
                return Ok(altered);
            }
            match blows(self.job, |fuse| altered.current_of(fuse)) {
                Some(fuse) => state.pulled.insert(fuse.to_owned()),
                None => return Ok(altered),
            };
        }
    }

    /// The circuit as an ohmmeter meets it: the battery off, every load at its cold resistance.
    ///
    /// # Errors
    /// None in practice: a passive network always has a solution.
    pub fn passive(&self, state: &State, changes: &[Change]) -> Result<Altered<'_>, NoOperatingPoint> {
        self.altered(state, Purpose::Ohmmeter, &Found::default(), changes)
    }

    /// With the relays where their coils put them, as [`Circuit::solve`] finds them.
    fn settled(&self, state: &State, changes: &[Change]) -> Result<Altered<'_>, NoOperatingPoint> {
        let mut found = Found { energised: BTreeSet::new(), ..self.as_designed(state)? };
        for _ in 0..=2 * self.job.relays.len() + 2 {
            let altered = self.altered(state, Purpose::Live, &found, changes)?;
            let energised = relays(self.job, changes, &found.energised, |coil| altered.current_of(coil));
            if energised == found.energised {
                return Ok(altered);
            }
            found.energised = energised;
        }
        Err(NoOperatingPoint { says: "a relay chatters".to_owned() })
    }

    /// Heat and alternator of a state as designed.
    fn as_designed(&self, state: &State) -> Result<Found, NoOperatingPoint> {
        if let Some((_, found)) = self.found.borrow().iter().find(|(own, _)| own == state) {
            return found.clone();
        }
        let found = healthy(self.job, state);
        self.found.borrow_mut().push((state.clone(), found.clone()));
        found
    }

    fn base(
        &self,
        structure: &[Change],
        state: &State,
        purpose: Purpose,
        found: &Found,
    ) -> Result<Rc<Base>, NoOperatingPoint> {
        let fits = |base: &&Rc<Base>| {
            base.purpose == purpose
                && base.energised == found.energised
                && base.structure == structure
                && base.state == *state
        };
        if let Some(base) = self.bases.borrow().iter().rev().find(fits) {
            return Ok(base.clone());
        }
        let base = Rc::new(Base::of(self.job, structure, state, purpose, found).ok_or_else(floats)?);
        self.bases.borrow_mut().push(base.clone());
        Ok(base)
    }

    /// The circuit with its changes, for relays as they are.
    fn altered(
        &self,
        state: &State,
        purpose: Purpose,
        found: &Found,
        changes: &[Change],
    ) -> Result<Altered<'_>, NoOperatingPoint> {
        let plain = self.base(&[], state, purpose, found)?;
        let structural = |change: &Change| match change {
            Change::Exchange { .. } => Some(change.clone()),
            Change::Bridge { from, to, .. } => plain.are_apart(from, to).then(|| Change::Bridge {
                from: from.clone(),
                to: to.clone(),
                resistance: JOINED,
            }),
            Change::SwitchMoved { switch, .. } => {
                let (from, to) = (Terminal::of(switch, "in"), Terminal::of(switch, "out"));
                plain.are_apart(&from, &to).then_some(Change::Bridge { from, to, resistance: JOINED })
            }
            _ => None,
        };
        let structure: Vec<Change> = changes.iter().filter_map(structural).collect();
        let base = if structure.is_empty() { plain } else { self.base(&structure, state, purpose, found)? };
        Altered::of(self, base, changes)
    }
}

fn floats() -> NoOperatingPoint {
    NoOperatingPoint { says: "a part of the circuit floats".to_owned() }
}

/// A circuit that differs from its job, solved.
#[derive(Debug)]
pub struct Altered<'d> {
    dictionary: &'d Dictionary<'d>,
    base: Rc<Base>,
    /// The matrix of its own, where a path is broken.
    broken: Option<Core>,
    /// Branches whose resistance is not that of the base: (branch, ohms).
    ohms: Vec<(usize, f64)>,
    /// Wires whose conductor has a multiple of its resistance: (branch, multiple).
    conductors: Vec<(usize, f64)>,
    /// For each load the multiple of its own tolerance: a load of another size is uncertain in proportion.
    widths: Vec<f64>,
    /// How far the rest voltage may lie from its nominal value, where that is not the tolerance of the job.
    rest_voltage: Option<f64>,
    solved: Solved,
}

/// A change of conductance beyond which the matrix is factorised anew: taking so much of a branch away loses as many
/// digits.
const BROKEN_FROM: f64 = 1e6;

fn is_broken(own_ohms: f64, new_ohms: f64) -> bool {
    new_ohms > BROKEN_FROM * own_ohms
}

impl<'d> Altered<'d> {
    fn of(dictionary: &'d Dictionary<'d>, base: Rc<Base>, changes: &[Change]) -> Result<Self, NoOperatingPoint> {
        let job = dictionary.job;
        let network = &base.network;
        let mut ohms = Vec::new();
        let mut conductors = Vec::new();
        let mut broken: Option<Core> = None;
        let mut dead = Vec::new();
        for (at, branch) in network.branches.iter().enumerate() {
            let touched = |change: &Change| match change {
                Change::InSeries { element, .. } | Change::Broken { element } | Change::Resists { element, .. } => {
                    *element == branch.element
                }
                Change::SwitchMoved { wire, .. } => *wire == branch.element,
                _ => false,
            };
            if !changes.iter().any(touched) {
                continue;
            }
            let Some(own) = branch.ohms() else {
                dead.push(at);
                continue;
            };
            let new = new_ohms(job, changes, &base.state, branch, own);
            if is_broken(own, new) {
                let from = broken.as_ref().map_or(&base.core.linear, |core| &core.linear);
                let linear = from.with(branch, own, new).ok_or_else(floats)?;
                broken = Some(Core::of(network, linear));
            }
            ohms.push((at, new));
            let times = change::conductor_times(changes, &branch.element);
            if times != 1.0 && job.wire(&branch.element).is_some() {
                conductors.push((at, times));
            }
        }
        let core = broken.as_ref().unwrap_or(&base.core);
        let mut ports = Ports::default();
        let mut widths = Vec::new();
        for ((at, model), response) in core.loads.iter().zip(&core.responses) {
            let branch = &network.branches[*at];
            let times = change::draws(changes, &branch.element);
            widths.push(model.width_times(times));
            let flow = if dead.contains(at) { Flow::None } else { Flow::Load(model.times(times)) };
            ports.add((branch.a, branch.b), response.clone(), flow);
        }
        for (at, new) in &ohms {
            let branch = &network.branches[*at];
            let own = branch.ohms().unwrap_or(*new);
            if !is_broken(own, *new) {
                let response = core.response(branch.a, branch.b);
                ports.add((branch.a, branch.b), response, Flow::Path(1.0 / new - 1.0 / own));
            }
        }
        let already = if change::bridges(&base.structure).next().is_some() { 1.0 / JOINED.as_ohms() } else { 0.0 };
        for (from, to, bridge) in change::bridges(changes) {
            if let (Some(a), Some(b)) = (network.node(&from), network.node(&to))
                && a != b
            {
                ports.add((a, b), core.response(a, b), Flow::Path(1.0 / bridge - already));
            }
        }
        let mut rest_voltage = None;
        for change in changes {
            let Change::RestVoltage { times, give_or_take } = change else { continue };
            let Some(branch) = network.branch("battery") else { continue };
            if let Law::Source { volts, ohms, .. } = branch.law {
                rest_voltage = Some(volts * give_or_take);
                let response = core.response(branch.a, branch.b);
                ports.add((branch.a, branch.b), response, Flow::Constant(-volts * (times - 1.0) / ohms));
            }
        }
        let solved = ports
            .solve(&core.still, source_voltage(job, &base.state).as_volts())
            .ok_or_else(|| NoOperatingPoint { says: "the loads ask for more than the wires carry".to_owned() })?;
        Ok(Self { dictionary, base, broken, ohms, conductors, widths, rest_voltage, solved })
    }

    fn core(&self) -> &Core {
        self.broken.as_ref().unwrap_or(&self.base.core)
    }

    fn volts(&self, node: usize) -> f64 {
        self.solved.at(node, self.core().still[node])
    }

    fn ohms(&self, at: usize) -> Option<f64> {
        let own = || self.base.network.branches[at].ohms();
        self.ohms.iter().find(|(branch, _)| *branch == at).map(|(_, ohms)| *ohms).or_else(own)
    }

    /// The parameters that a branch follows, with its change in ohms per unit of each.
    fn dependences<'f>(&self, at: usize, follows: &'f [Dependence]) -> impl Iterator<Item = (usize, f64)> + use<'f> {
        let times = self.conductors.iter().find(|(branch, _)| *branch == at).map_or(1.0, |(_, times)| *times);
        // Of a wire the last two are its joints, the rest is its conductor.
        let conductor = if times == 1.0 { 0 } else { follows.len().saturating_sub(2) };
        let own = move |place: usize| if place < conductor { times } else { 1.0 };
        follows.iter().enumerate().map(move |(place, d)| (d.parameter, d.per_unit * own(place)))
    }

    /// Current through a plain element.
    fn current_of(&self, element: &str) -> Option<Current> {
        let network = &self.base.network;
        let at = network.branches.iter().position(|branch| branch.element == element)?;
        let branch = &network.branches[at];
        Some(Current::amps((self.volts(branch.a) - self.volts(branch.b)) / self.ohms(at)?))
    }

    /// What a voltmeter shows; its own resistance is part of the circuit. `None` for a terminal that is not there.
    pub fn voltage(&self, red: &Terminal, black: &Terminal) -> Option<Shown> {
        let network = &self.base.network;
        let (a, b) = (network.node(red)?, network.node(black)?);
        let (adjoint, seen) = self.follows(&[(a, 1.0), (b, -1.0)], (a, b));
        // The source behind the probes, loaded by the meter.
        let loaded = 1.0 / (1.0 + seen / self.dictionary.input_ohms);
        let stray = if seen > self.dictionary.input_ohms { STRAY } else { 0.0 };
        let nominal = (self.volts(a) - self.volts(b)) * loaded;
        let moves = self.moves(&adjoint, |node| match node {
            _ if node == a => 1.0,
            _ if node == b => -1.0,
            _ => 0.0,
        });
        Some(self.shown(nominal, &moves, loaded, stray, Dimension::Voltage))
    }

    /// The current in a wire, from its `from` to its `to`. `None` for a wire that is not there.
    pub fn current(&self, wire: &str) -> Option<Shown> {
        let network = &self.base.network;
        let at = network.branches.iter().position(|branch| branch.element == wire)?;
        let branch = &network.branches[at];
        let ohms = self.ohms(at)?;
        let nominal = (self.volts(branch.a) - self.volts(branch.b)) / ohms;
        let (mut adjoint, _) = self.follows(&[(branch.a, 1.0), (branch.b, -1.0)], (branch.a, branch.b));
        adjoint.iter_mut().for_each(|weight| *weight /= ohms);
        let ends = (branch.a, branch.b);
        let mut moves = self.moves(&adjoint, |node| match node {
            _ if node == ends.0 => 1.0 / ohms,
            _ if node == ends.1 => -1.0 / ohms,
            _ => 0.0,
        });
        if let Law::Resistance { follows, .. } = &branch.law {
            for (parameter, per_unit) in self.dependences(at, follows) {
                moves[parameter] -= nominal / ohms * per_unit;
            }
        }
        Some(self.shown(nominal, &moves, 1.0, 0.0, Dimension::Current))
    }

    /// What an ohmmeter shows, in a circuit from [`Dictionary::passive`]. `None` for a terminal that is not there.
    pub fn resistance(&self, red: &Terminal, black: &Terminal) -> Option<Shown> {
        let network = &self.base.network;
        let (a, b) = (network.node(red)?, network.node(black)?);
        let (adjoint, seen) = self.follows(&[(a, 1.0), (b, -1.0)], (a, b));
        // What nothing but the ties of free pieces joins is no path.
        if seen > OPEN.as_ohms() / 10.0 {
            let zero = Amount::new(0.0, Dimension::Resistance);
            return Some(Shown {
                nominal: None,
                own: zero,
                stray: zero,
                shared: vec![zero; self.dictionary.shared.len()],
            });
        }
        let mut moves = vec![0.0; network.parameters.len()];
        for (at, branch) in network.branches.iter().enumerate() {
            let (Law::Resistance { follows, .. }, Some(ohms)) = (&branch.law, self.ohms(at)) else { continue };
            let share = (adjoint[branch.a] - adjoint[branch.b]) / ohms;
            self.dependences(at, follows)
                .for_each(|(parameter, per_unit)| moves[parameter] += share * share * per_unit);
        }
        Some(self.shown(seen, &moves, 1.0, 0.0, Dimension::Resistance))
    }

    /// How a sum over node voltages follows a current pushed into each node, and how the ends see it (as ohms, for a
    /// difference of two nodes).
    fn follows(&self, weights: &[(usize, f64); 2], ends: (usize, usize)) -> (Vec<f64>, f64) {
        let response = self.core().response(weights[0].0, weights[1].0);
        let mut adjoint = response.to_vec();
        self.solved.take_off(&mut adjoint);
        let seen = adjoint[ends.0] - adjoint[ends.1];
        (adjoint, seen)
    }

    /// Change of a reading per unit of each parameter, as in [`super::sensitivity`].
    fn moves(&self, adjoint: &[f64], weight_of: impl Fn(usize) -> f64) -> Vec<f64> {
        let network = &self.base.network;
        let mut moves = vec![0.0; network.parameters.len()];
        let mut load = 0;
        for (at, branch) in network.branches.iter().enumerate() {
            let weight = adjoint[branch.a] - adjoint[branch.b];
            match &branch.law {
                Law::Resistance { follows, ohms } => {
                    if follows.is_empty() {
                        continue;
                    }
                    let ohms = if self.ohms.is_empty() { *ohms } else { self.ohms(at).unwrap_or(*ohms) };
                    let share = weight * (self.volts(branch.a) - self.volts(branch.b)) / (ohms * ohms);
                    self.dependences(at, follows)
                        .for_each(|(parameter, per_unit)| moves[parameter] += share * per_unit);
                }
                Law::Source { volts, ohms, volts_parameter, ohms_parameter } => {
                    let across = self.volts(branch.a) - self.volts(branch.b);
                    moves[*volts_parameter] += weight / ohms;
                    moves[*ohms_parameter] += weight * (across - volts) / (ohms * ohms);
                }
                Law::Load { parameter, .. } => {
                    moves[*parameter] -= weight * self.solved.per_value(load) * self.widths[load];
                    load += 1;
                }
            }
        }
        for fixed in &network.fixed {
            let Some(parameter) = fixed.parameter else { continue };
            moves[parameter] += weight_of(fixed.node);
            for (at, branch) in network.branches.iter().enumerate() {
                let other = match fixed.node {
                    node if node == branch.a => branch.b,
                    node if node == branch.b => branch.a,
                    _ => continue,
                };
                // As the matrix has it; the ports are added below.
                let ohms = match branch.law {
                    Law::Source { ohms, .. } => Some(ohms),
                    _ => branch.ohms().map(|own| self.ohms(at).filter(|new| is_broken(own, *new)).unwrap_or(own)),
                };
                moves[parameter] += ohms.map_or(0.0, |ohms| adjoint[other] / ohms);
            }
            moves[parameter] +=
                self.solved.slopes_at(fixed.node).map(|(other, slope)| adjoint[other] * slope).sum::<f64>();
        }
        moves
    }

    fn shown(&self, nominal: f64, moves: &[f64], times: f64, stray: f64, dimension: Dimension) -> Shown {
        let root = 3.0f64.sqrt();
        let mut shared = vec![Amount::new(0.0, dimension); self.dictionary.shared.len()];
        let mut squares = 0.0;
        for (parameter, per_unit) in self.base.network.parameters.iter().zip(moves) {
            let place = self.dictionary.shared.iter().position(|subject| *subject == parameter.subject);
            let half_width = self.rest_voltage.filter(|_| place == Some(0)).unwrap_or(parameter.half_width);
            let standard = per_unit * half_width * times / root;
            match place {
                Some(place) => shared[place] = Amount::new(standard, dimension),
                None => squares += standard * standard,
            }
        }
        let amount = |value: f64| Amount::new(value, dimension);
        Shown { nominal: Some(amount(nominal)), own: amount(squares.sqrt()), stray: amount(stray / root), shared }
    }
}

/// The resistance of a branch with its changes.
fn new_ohms(job: &Job, changes: &[Change], state: &State, branch: &Branch, own: f64) -> f64 {
    let conductor = job.wire(&branch.element).map_or(0.0, |wire| {
        let ammeter = state.in_line.as_ref().filter(|(name, _)| *name == wire.name);
        own - 2.0 * job.joint.nominal.as_ohms() - ammeter.map_or(0.0, |(_, burden)| burden.as_ohms())
    });
    let times = change::conductor_times(changes, &branch.element);
    change::changed(job, changes, state, &branch.element, own + conductor * (times - 1.0))
}
