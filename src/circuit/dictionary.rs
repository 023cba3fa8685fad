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
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use super::change::{self, Change, JOINED, OPEN};
use super::load_model::LoadModel;
use super::meter::STRAY;
use super::network::{Branch, Dependence, Found, Law, Network, Purpose, Subject, build};
use super::newton::Linear;
use super::ports::{self, Flow, Line, MORE_THAN_THE_SOURCES, Port, Solved};
use super::solve::{NoOperatingPoint, blows, healthy, relays, source_voltage, voltmeter_input};
use super::{Circuit, State};
use crate::job::{Job, Terminal};
use crate::quantity::{Amount, Current, Dimension, Voltage};

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

/// A point where a probe can be put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Point(usize);

/// A job prepared for many changes.
#[derive(Debug)]
pub struct Dictionary<'j> {
    job: &'j Job,
    input_ohms: f64,
    shared: Vec<Subject>,
    terminals: Vec<Terminal>,
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
    /// The branch of each element.
    elements: Rc<HashMap<String, usize>>,
    /// Each load with the line that stands for it in the matrix.
    loads: Vec<(usize, LoadModel, Line)>,
    /// For each parameter its place among the shared values.
    shared: Rc<[Option<usize>]>,
    /// The same state with other structures, as they are asked for.
    variants: RefCell<Vec<Rc<Base>>>,
    /// The pieces that hang together without any load.
    pieces: Vec<usize>,
    core: Core,
}

/// Volts of every node per ampere in at one node and out at another.
type Response = Rc<[f64]>;

/// What stands where in a network: the branch of each element, and the place of each parameter among the shared values.
type Places = (Rc<HashMap<String, usize>>, Rc<[Option<usize>]>);

/// What follows from the matrix.
#[derive(Debug)]
struct Core {
    linear: Linear,
    /// Node voltages while no port draws.
    still: Vec<f64>,
    /// Volts of every node per ampere between two nodes that were asked for.
    asked: RefCell<HashMap<(usize, usize), Response>>,
}

impl Core {
    fn of(linear: Linear) -> Self {
        Self { still: linear.volts(), linear, asked: RefCell::default() }
    }

    /// Volts of every node per ampere in at the first and out at the second.
    fn response(&self, (a, b): (usize, usize)) -> Rc<[f64]> {
        let new = || self.linear.respond(&[(a, 1.0), (b, -1.0)]).into();
        self.asked.borrow_mut().entry((a, b)).or_insert_with(new).clone()
    }
}

impl Base {
    fn of(job: &Job, shared: &[Subject], state: &State, purpose: Purpose, found: &Found) -> Option<Self> {
        let network = build(Circuit { apart: true, ..Circuit::of(job) }, state, purpose, found);
        let elements =
            network.branches.iter().enumerate().map(|(at, branch)| (branch.element.to_string(), at)).collect();
        let place = |subject: &Subject| shared.iter().position(|shared| shared == subject);
        let shared = network.parameters.iter().map(|parameter| place(&parameter.subject)).collect();
        Self::solved(job, network, (state, purpose, found), &[], (Rc::new(elements), shared))
    }

    /// The same state with another structure.
    fn with(&self, job: &Job, structure: &[Change], found: &Found) -> Option<Rc<Self>> {
        if let Some(known) = self.variants.borrow().iter().find(|base| base.structure == structure) {
            return Some(known.clone());
        }
        let moves_wires = structure.iter().any(|change| matches!(change, Change::Exchange { .. }));
        let network = if moves_wires {
            build(Circuit { apart: true, ..Circuit::of(job).with(structure) }, &self.state, self.purpose, found)
        } else {
            let node = |terminal: &Terminal| self.network.node(terminal);
            self.untied().with_paths(
                change::bridges(structure).filter_map(|(from, to, _)| Some((node(&from)?, node(&to)?, JOINED))),
            )
        };
        // A path comes after all branches of the job: those keep their places, and the parameters are the same.
        let names = (self.elements.clone(), self.shared.clone());
        let base = Rc::new(Self::solved(job, network, (&self.state, self.purpose, found), structure, names)?);
        self.variants.borrow_mut().push(base.clone());
        Some(base)
    }

    fn solved(
        job: &Job,
        mut network: Network,
        (state, purpose, found): (&State, Purpose, &Found),
        structure: &[Change],
        (elements, shared): Places,
    ) -> Option<Self> {
        let pieces = network.islands_joined_by(|branch| !matches!(branch.law, Law::Load { .. }));
        hold_what_floats(&mut network);
        let linear = Linear::of(&network, source_voltage(job, state).as_volts())?;
        let loads = lines(&network, &linear.origin);
        Some(Self {
            state: state.clone(),
            purpose,
            energised: found.energised.clone(),
            structure: structure.to_vec(),
            network,
            elements,
            loads,
            shared,
            variants: RefCell::default(),
            pieces,
            core: Core::of(linear),
        })
    }

    /// Its network without what ties its free pieces.
    fn untied(&self) -> Network {
        let mut network = self.network.clone();
        network.branches.retain(|branch| &*branch.element != TIE);
        network
    }

    /// Whether a path would join pieces that nothing else joins. Their nodes move by gigavolts for an ampere, and what
    /// is left of that after a port has closed the path is rounding error: such a path belongs into the matrix.
    fn are_apart(&self, from: &Terminal, to: &Terminal) -> bool {
        let piece = |terminal| self.network.node(terminal).map(|node| self.pieces[node]);
        piece(from) != piece(to)
    }
}

/// What ties a piece that hangs free, as an element.
const TIE: &str = "the tie of a free piece";

/// Ties every piece that hangs free to the reference, by more than a meter can tell.
fn hold_what_floats(network: &mut Network) {
    let mut islands = network.islands();
    let mut held: BTreeSet<usize> = network.fixed.iter().map(|fixed| islands[fixed.node]).collect();
    held.insert(islands[network.reference]);
    for (node, island) in islands.drain(..).enumerate() {
        if held.insert(island) {
            let law = Law::Resistance { ohms: 10.0 * OPEN.as_ohms(), follows: Vec::new() };
            network.branches.push(Branch { a: node, b: network.reference, element: TIE.into(), law });
        }
    }
}

/// Each load with the line that touches its law where the network is taken as linear.
fn lines(network: &Network, volts: &[f64]) -> Vec<(usize, LoadModel, Line)> {
    let loads = network.branches.iter().enumerate();
    let line = |(at, branch): (usize, &Branch)| match branch.law {
        Law::Load { model, .. } => Some((at, model, Line::touching(model, branch.across(volts)))),
        _ => None,
    };
    loads.filter_map(line).collect()
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
        let mut terminals = job.terminals();
        terminals.sort();
        terminals.dedup();
        Self { job, input_ohms, shared, terminals, bases: RefCell::default(), found: RefCell::default() }
    }

    /// The point of a terminal; `None` for one that the job does not have.
    pub fn point(&self, terminal: &Terminal) -> Option<Point> {
        // Nothing is joined in the networks of a dictionary, so a node has the place of its terminal in all of them.
        self.terminals.binary_search(terminal).ok().map(Point)
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
        let energised = change::held_without_current(self.job, changes);
        self.altered(state, Purpose::Ohmmeter, &Found { energised, ..Found::default() }, changes)
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

    fn base(&self, state: &State, purpose: Purpose, found: &Found) -> Result<Rc<Base>, NoOperatingPoint> {
        let fits =
            |base: &&Rc<Base>| base.purpose == purpose && base.energised == found.energised && base.state == *state;
        if let Some(base) = self.bases.borrow().iter().find(fits) {
            return Ok(base.clone());
        }
        let base = Rc::new(Base::of(self.job, &self.shared, state, purpose, found).ok_or_else(floats)?);
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
        let plain = self.base(state, purpose, found)?;
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
        let base =
            if structure.is_empty() { plain } else { plain.with(self.job, &structure, found).ok_or_else(floats)? };
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
    /// Wires whose conductor, and loads to an ohmmeter, that have a multiple of their resistance: (branch, multiple,
    /// how many of the last parameters are joints that do not).
    multiples: Vec<(usize, f64, usize)>,
    /// The line that stands for each load in the matrix.
    lines: Vec<Line>,
    /// Each load as it is, `None` where it is dead, with the multiple of its own tolerance: a load of another size is
    /// uncertain in proportion.
    models: Vec<(Option<LoadModel>, f64)>,
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
        let mut multiples = Vec::new();
        let mut breaks = Vec::new();
        let mut dead = Vec::new();
        let mut touched: Vec<usize> = changes
            .iter()
            .filter_map(|change| match change {
                Change::InSeries { element, .. } | Change::Broken { element } | Change::Resists { element, .. } => {
                    base.elements.get(element)
                }
                Change::SwitchMoved { wire, .. } => base.elements.get(wire),
                // To an ohmmeter a load is a plain resistance.
                Change::Draws { load, .. } if base.purpose == Purpose::Ohmmeter => base.elements.get(load),
                _ => None,
            })
            .copied()
            .collect();
        touched.sort_unstable();
        touched.dedup();
        for at in touched {
            let branch = &network.branches[at];
            let Some(own) = branch.ohms() else {
                dead.push(at);
                continue;
            };
            let new = new_ohms(job, changes, &base.state, branch, own);
            if is_broken(own, new) {
                breaks.push((branch, 1.0 / new - 1.0 / own, 0.0));
            }
            ohms.push((at, new));
            let times = change::conductor_times(changes, &branch.element);
            if times != 1.0 && job.wire(&branch.element).is_some() {
                multiples.push((at, times, 2));
            }
            let draws = change::draws(changes, &branch.element);
            if draws != 1.0 {
                multiples.push((at, 1.0 / draws, 0));
            }
        }
        let source_volts = source_voltage(job, &base.state).as_volts();
        let mut lines: Vec<Line> = base.loads.iter().map(|(.., line)| *line).collect();
        let broken = if breaks.is_empty() { None } else { Some(break_up(&base, breaks, &mut lines, source_volts)?) };
        let core = broken.as_ref().unwrap_or(&base.core);
        let port = |ends: (usize, usize), flow: Flow| Port { ends, response: core.response(ends), flow };
        let draws_more = changes.iter().any(|change| matches!(change, Change::Draws { .. }));
        let mut ports = Vec::new();
        let mut loads = Vec::new();
        let mut models = Vec::new();
        for ((at, model, _), line) in base.loads.iter().zip(&lines) {
            let branch = &network.branches[*at];
            let times = if draws_more { change::draws(changes, &branch.element) } else { 1.0 };
            let is_dead = dead.contains(at);
            let model = (!is_dead).then(|| model.times(times));
            models.push((model, model.map_or(1.0, |model| model.width_times(times))));
            let (ends, flow) = ((branch.a, branch.b), Flow::Load(model, *line));
            if is_dead || times != 1.0 {
                ports.push(port(ends, flow));
            } else {
                loads.push((ends, flow));
            }
        }
        for (at, new) in &ohms {
            let branch = &network.branches[*at];
            let own = branch.ohms().unwrap_or(*new);
            if !is_broken(own, *new) {
                ports.push(port((branch.a, branch.b), Flow::Path(1.0 / new - 1.0 / own)));
            }
        }
        let already = if change::bridges(&base.structure).next().is_some() { 1.0 / JOINED.as_ohms() } else { 0.0 };
        for (from, to, bridge) in change::bridges(changes) {
            if let (Some(a), Some(b)) = (network.node(&from), network.node(&to))
                && a != b
            {
                ports.push(port((a, b), Flow::Path(1.0 / bridge - already)));
            }
        }
        let mut rest_voltage = None;
        for change in changes {
            let Change::RestVoltage { times, give_or_take } = change else { continue };
            let Some(branch) = network.branch("battery") else { continue };
            if let Law::Source { volts, ohms, .. } = branch.law {
                rest_voltage = Some(volts * give_or_take);
                ports.push(port((branch.a, branch.b), Flow::Constant(-volts * (times - 1.0) / ohms)));
            }
        }
        let solved = ports::solve(ports, loads, |ends| core.response(ends), &core.still, source_volts)
            .ok_or_else(|| NoOperatingPoint { says: "the loads ask for more than the wires carry".to_owned() })?;
        Ok(Self { dictionary, base, broken, ohms, multiples, lines, models, rest_voltage, solved })
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
        let multiple = self.multiples.iter().find(|(branch, ..)| *branch == at);
        let (times, joints) = multiple.map_or((1.0, 0), |(_, times, joints)| (*times, *joints));
        let conductor = follows.len().saturating_sub(joints);
        let own = move |place: usize| if place < conductor { times } else { 1.0 };
        follows.iter().enumerate().map(move |(place, d)| (d.parameter, d.per_unit * own(place)))
    }

    /// Current through a plain element.
    fn current_of(&self, element: &str) -> Option<Current> {
        let at = *self.base.elements.get(element)?;
        let branch = &self.base.network.branches[at];
        Some(Current::amps((self.volts(branch.a) - self.volts(branch.b)) / self.ohms(at)?))
    }

    /// What a voltmeter shows, without how the tolerances move it; its own resistance is part of the circuit.
    pub fn volts_between(&self, (red, black): (Point, Point)) -> Voltage {
        let response = self.core().response((red.0, black.0));
        let seen = self.solved.seen(&response, (red.0, black.0));
        Voltage::volts((self.volts(red.0) - self.volts(black.0)) * self.loaded(seen))
    }

    /// The source behind the probes, loaded by the meter.
    fn loaded(&self, seen_ohms: f64) -> f64 {
        1.0 / (1.0 + seen_ohms / self.dictionary.input_ohms)
    }

    /// What a voltmeter shows; its own resistance is part of the circuit.
    pub fn voltage(&self, (red, black): (Point, Point)) -> Shown {
        let (a, b) = (red.0, black.0);
        let (adjoint, seen) = self.follows((a, b));
        let loaded = self.loaded(seen);
        let stray = if seen > self.dictionary.input_ohms { STRAY } else { 0.0 };
        let nominal = (self.volts(a) - self.volts(b)) * loaded;
        let moves = self.moves(&adjoint, |node| match node {
            _ if node == a => 1.0,
            _ if node == b => -1.0,
            _ => 0.0,
        });
        self.shown(nominal, &moves, loaded, stray, Dimension::Voltage)
    }

    /// The current in a wire, from its `from` to its `to`. `None` for a wire that is not there.
    pub fn current(&self, wire: &str) -> Option<Shown> {
        let at = *self.base.elements.get(wire)?;
        let branch = &self.base.network.branches[at];
        let ohms = self.ohms(at)?;
        let nominal = (self.volts(branch.a) - self.volts(branch.b)) / ohms;
        let (mut adjoint, _) = self.follows((branch.a, branch.b));
        for weight in &mut adjoint {
            *weight /= ohms;
        }
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

    /// What an ohmmeter shows, in a circuit from [`Dictionary::passive`].
    pub fn resistance(&self, (red, black): (Point, Point)) -> Shown {
        let network = &self.base.network;
        let (adjoint, seen) = self.follows((red.0, black.0));
        // What nothing but the ties of free pieces joins is no path.
        if seen > OPEN.as_ohms() / 10.0 {
            let zero = Amount::new(0.0, Dimension::Resistance);
            return Shown { nominal: None, own: zero, stray: zero, shared: vec![zero; self.dictionary.shared.len()] };
        }
        let mut moves = vec![0.0; network.parameters.len()];
        for (at, branch) in network.branches.iter().enumerate() {
            let (Law::Resistance { follows, .. }, Some(ohms)) = (&branch.law, self.ohms(at)) else { continue };
            let share = (adjoint[branch.a] - adjoint[branch.b]) / ohms;
            self.dependences(at, follows)
                .for_each(|(parameter, per_unit)| moves[parameter] += share * share * per_unit);
        }
        self.shown(seen, &moves, 1.0, 0.0, Dimension::Resistance)
    }

    /// How the difference of two nodes follows a current pushed into each node, and how they see the network, in ohms.
    fn follows(&self, ends: (usize, usize)) -> (Vec<f64>, f64) {
        let mut adjoint = self.core().response(ends).to_vec();
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
                    let (model, width) = self.models[load];
                    let across = self.volts(branch.a) - self.volts(branch.b);
                    moves[*parameter] -= weight * model.map_or(0.0, |model| model.draw(across).per_value) * width;
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
                let line = || {
                    let place = self.base.loads.iter().position(|(load, ..)| *load == at);
                    place.map_or(0.0, |place| self.lines[place].slope)
                };
                let slope = match branch.law {
                    Law::Source { ohms, .. } => 1.0 / ohms,
                    Law::Load { .. } => line(),
                    Law::Resistance { ohms: own, .. } => {
                        1.0 / self.ohms(at).filter(|new| is_broken(own, *new)).unwrap_or(own)
                    }
                };
                moves[parameter] += adjoint[other] * slope;
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
        let parameters = self.base.network.parameters.iter().zip(self.base.shared.iter());
        for ((parameter, place), per_unit) in parameters.zip(moves) {
            let place = *place;
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

/// The matrix of a base with branches broken: (branch, siemens more, 0). A load that hangs free behind the break asks for
/// its whole current through it, gigavolts: it stands in the matrix as the line through nothing instead.
fn break_up(
    base: &Base,
    breaks: Vec<(&Branch, f64, f64)>,
    lines: &mut [Line],
    source_volts: f64,
) -> Result<Core, NoOperatingPoint> {
    let core = Core::of(base.core.linear.with(&breaks).ok_or_else(floats)?);
    let breaks_alone = breaks.len();
    let mut more = breaks;
    for ((at, ..), line) in base.loads.iter().zip(lines) {
        let branch = &base.network.branches[*at];
        if branch.across(&core.still).abs() > MORE_THAN_THE_SOURCES * source_volts {
            let other = line.through_nothing();
            more.push((branch, other.slope - line.slope, other.at_nothing() - line.at_nothing()));
            *line = other;
        }
    }
    if more.len() == breaks_alone {
        return Ok(core);
    }
    Ok(Core::of(base.core.linear.with(&more).ok_or_else(floats)?))
}

/// The resistance of a branch with its changes.
fn new_ohms(job: &Job, changes: &[Change], state: &State, branch: &Branch, own: f64) -> f64 {
    let conductor = job.wire(&branch.element).map_or(0.0, |wire| {
        let ammeter = state.in_line.as_ref().filter(|(name, _)| *name == wire.name);
        own - 2.0 * job.joint.nominal.as_ohms() - ammeter.map_or(0.0, |(_, burden)| burden.as_ohms())
    });
    let times = change::conductor_times(changes, &branch.element);
    let own = own / change::draws(changes, &branch.element);
    change::changed(job, changes, state, &branch.element, own + conductor * (times - 1.0))
}
