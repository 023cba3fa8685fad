//! The fault dictionary: what a meter shows in many circuits that differ from one job in one thing each.
//!
//! The network of a state is solved and factorised once, each load standing in the matrix as the line that touches its
//! law there. A path that a fault adds or weakens, and a load that it moves off its line, is then a port: a current
//! between two nodes beside what the matrix has. With v₀ the port voltages while no port draws and Z what an ampere at
//! one port moves at another, v + Z·i(v) = v₀ has as many unknowns as there are ports, whatever the size of the network
//! (Sherman, Morrison and Woodbury's formula, with a law at each port). Every node follows from the port currents, and so
//! does every sensitivity.
//!
//! Where a path breaks or wires change places, the matrix is factorised anew: taking a conductance off a matrix leaves
//! rounding error where a node then hangs on nothing else. Wires keep the temperature that they have as designed.
//!
//! Here are the states as they are prepared; `altered.rs` has a circuit solved with its changes.

use std::cell::RefCell;
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;

use super::altered::{Altered, Point};
use super::change::{self, Change, JOINED, OPEN};
use super::load_model::LoadModel;
use super::network::{Branch, Found, Law, Network, Purpose, Subject, build};
use super::newton::Linear;
use super::ports::Line;
use super::solve::{NoOperatingPoint, blows, healthy, relays, source_voltage, voltmeter_input};
use super::{Circuit, State};
use crate::job::{Job, Terminal};

/// A job prepared for many changes.
#[derive(Debug)]
pub struct Dictionary<'j> {
    pub(super) job: &'j Job,
    pub(super) input_ohms: f64,
    shared: Vec<Subject>,
    terminals: Vec<Terminal>,
    bases: RefCell<Vec<Rc<Base>>>,
    found: RefCell<Vec<(State, Result<Found, NoOperatingPoint>)>>,
}

/// A state with its relays, factorised.
#[derive(Debug)]
pub(super) struct Base {
    pub state: State,
    pub purpose: Purpose,
    pub energised: BTreeSet<String>,
    /// What is different in it already: wires that change places, paths between pieces that nothing else joins.
    pub structure: Vec<Change>,
    pub network: Network,
    /// The branch of each element.
    pub elements: Rc<HashMap<String, usize>>,
    /// Each load with the line that stands for it in the matrix.
    pub loads: Vec<(usize, LoadModel, Line)>,
    /// For each parameter its place among the shared values.
    pub shared: Rc<[Option<usize>]>,
    /// The same state with other structures, as they are asked for.
    pub variants: RefCell<Vec<Rc<Base>>>,
    /// The pieces that hang together without any load.
    pub pieces: Vec<usize>,
    pub core: Core,
}

/// Volts of every node per ampere in at one node and out at another.
pub(super) type Response = Rc<[f64]>;

/// What stands where in a network: the branch of each element, and the place of each parameter among the shared values.
type Places = (Rc<HashMap<String, usize>>, Rc<[Option<usize>]>);

/// What follows from the matrix.
#[derive(Debug)]
pub(super) struct Core {
    pub linear: Linear,
    /// Node voltages while no port draws.
    pub still: Vec<f64>,
    /// Volts of every node per ampere between two nodes that were asked for.
    pub asked: RefCell<HashMap<(usize, usize), Response>>,
}

impl Core {
    pub fn of(linear: Linear) -> Self {
        Self { still: linear.volts(), linear, asked: RefCell::default() }
    }

    /// Volts of every node per ampere in at the first and out at the second.
    pub fn response(&self, (a, b): (usize, usize)) -> Response {
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

pub(super) fn floats() -> NoOperatingPoint {
    NoOperatingPoint { says: "a part of the circuit floats".to_owned() }
}
