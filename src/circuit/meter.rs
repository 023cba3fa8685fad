//! The virtual meter: what a voltmeter, a clamp or an ohmmeter must show between two points in a state.

use std::collections::{BTreeSet, VecDeque};

use super::network::{Branch, Found, Injection, Law, METER, Network, Purpose, Subject, build};
use super::newton::{self, Point};
use super::sensitivity::{self, Functional};
use super::solve::{NoOperatingPoint, Notice, Solution};
use super::state::State;
use super::{Circuit, change};
use crate::job::{Job, Terminal};
use crate::quantity::{Amount, Current, Dimension, Resistance, show};

/// One element on the way between the probes and what it contributes to the reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Name of the element.
    pub element: String,
    /// Its contribution, in the unit of the reading.
    pub value: Amount,
    /// In words.
    pub says: String,
}

/// A stated tolerance and how far it can move the reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Variation {
    /// Whose tolerance it is.
    pub subject: Subject,
    /// Largest movement of the reading, as a size.
    pub share: Amount,
}

/// What a meter must show.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// What is measured.
    pub dimension: Dimension,
    /// With every value at its nominal; `None` where an ohmmeter finds no path.
    pub nominal: Option<Amount>,
    /// With every tolerance at its worst downwards.
    pub low: Option<Amount>,
    /// With every tolerance at its worst upwards.
    pub high: Option<Amount>,
    /// What each element between the probes contributes.
    pub because: Vec<Step>,
    /// The tolerances that matter, largest first.
    pub varies: Vec<Variation>,
    /// What a person should know about the solved state.
    pub notices: Vec<Notice>,
}

impl Expectation {
    /// Whether no path conducts between the probes.
    pub fn is_open(&self) -> bool {
        self.nominal.is_none()
    }

    /// Standard uncertainty of the expectation: each tolerance taken as a rectangular distribution, added as the
    /// root of squares (GUM 4.3.7, 5.1.2).
    pub fn standard_uncertainty(&self) -> Option<Amount> {
        let squares: f64 = self.varies.iter().map(|v| v.share.base().powi(2) / 3.0).sum();
        self.nominal.map(|n| n.with(squares.sqrt()))
    }

    /// The expected range in words: `250 to 341 mV`, `open (OL)`.
    pub fn range(&self) -> String {
        match (self.low, self.high) {
            (Some(low), Some(high)) if low == high => format!("about {low}"),
            (Some(low), Some(high)) => low.range_to(high),
            _ => "over-range (OL): no path".to_owned(),
        }
    }
}

/// Why there is no expectation.
#[derive(Debug, Clone, PartialEq)]
pub enum MeterError {
    /// The job has no such wire, or the wire does not exist in this state.
    NoSuchWire {
        /// As it was asked for.
        wire: String,
    },
    /// The circuit has no steady state.
    NoOperatingPoint(NoOperatingPoint),
}

impl std::fmt::Display for MeterError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoSuchWire { wire } => write!(f, "no wire is called `{wire}`"),
            Self::NoOperatingPoint(none) => none.fmt(f),
        }
    }
}

impl std::error::Error for MeterError {}

impl From<NoOperatingPoint> for MeterError {
    fn from(none: NoOperatingPoint) -> Self {
        Self::NoOperatingPoint(none)
    }
}

/// What a meter of high resistance picks up on a wire that hangs free, in volts (common practice).
pub(super) const STRAY: f64 = 0.1;

/// Contributions below this share of the largest are left out of the lists.
const WORTH_A_LINE: f64 = 1e-3;

impl Circuit<'_> {
    /// What a voltmeter shows with its red probe on `a` and its black probe on `b`. The meter's own 10 Mohm is part
    /// of the circuit.
    ///
    /// # Errors
    /// [`MeterError::NoOperatingPoint`].
    pub fn voltage(&self, a: &Terminal, b: &Terminal, state: &State) -> Result<Expectation, MeterError> {
        let (solution, per_unit) = self.voltage_slopes(a, b, state)?;
        Ok(self.voltage_of(&solution, &per_unit, a, b))
    }

    /// The voltmeter's reading in a circuit that was solved with it in place.
    pub(super) fn voltage_of(self, solution: &Solution, per_unit: &[f64], a: &Terminal, b: &Terminal) -> Expectation {
        let network = &solution.network;
        let (Some(na), Some(nb)) = (network.node(a), network.node(b)) else {
            return open(Dimension::Voltage);
        };
        let nominal = solution.point.volts[na] - solution.point.volts[nb];
        let because = steps(self.job(), network, &solution.point, (na, nb), Dimension::Voltage);
        let mut expected =
            expectation(Dimension::Voltage, nominal, network, per_unit, because, solution.notices.clone());
        let islands = network.islands_without_instrument();
        if islands[na] != islands[nb] {
            let moved = |amount: Option<Amount>, by: f64| amount.map(|a| a.with(a.base() + by));
            expected.low = moved(expected.low, -STRAY);
            expected.high = moved(expected.high, STRAY);
            let says =
                "one of the points hangs free: a meter shows up to 0.1 V there that it picks up (common practice)";
            expected.notices.push(Notice { subject: "meter".to_owned(), says: says.to_owned() });
        }
        expected
    }

    /// The solved circuit with the voltmeter in it, and how its reading follows each parameter.
    pub(super) fn voltage_slopes(
        self,
        a: &Terminal,
        b: &Terminal,
        state: &State,
    ) -> Result<(Solution, Vec<f64>), MeterError> {
        let solution = self.solve_with(state, &BTreeSet::new(), Some((a, b)))?;
        let nodes = solution.network.node(a).zip(solution.network.node(b));
        let weights = match nodes {
            Some((a, b)) if a != b => vec![(a, 1.0), (b, -1.0)],
            _ => Vec::new(),
        };
        let functional = Functional { weights, direct: None };
        let slopes = sensitivity::of(&solution.network, &solution.point, &functional);
        Ok((solution, slopes))
    }

    /// The current in a wire, positive from its `from` to its `to`.
    ///
    /// # Errors
    /// [`MeterError::NoSuchWire`], [`MeterError::NoOperatingPoint`].
    pub fn current(&self, wire: &str, state: &State) -> Result<Expectation, MeterError> {
        let solution = self.solve(state)?;
        let network = &solution.network;
        let Some(branch) = network.branch(wire).filter(|_| self.job().wire(wire).is_some()) else {
            return Err(MeterError::NoSuchWire { wire: wire.to_owned() });
        };
        let ohms = branch.ohms().unwrap_or(f64::INFINITY);
        let nominal = solution.branch_current(branch);
        let weights = vec![(branch.a, 1.0 / ohms), (branch.b, -1.0 / ohms)];
        let functional = Functional { weights, direct: Some((branch, -nominal / ohms)) };
        let per_unit = sensitivity::of(network, &solution.point, &functional);
        let because = self.draws(&solution);
        Ok(expectation(Dimension::Current, nominal, network, &per_unit, because, solution.notices.clone()))
    }

    /// What an ohmmeter shows between two points. It reads with the battery disconnected, and sees every parallel
    /// path; an LED driver is open to it, a filament cold, a motor its winding.
    ///
    /// # Errors
    /// None in practice: a passive network always has a solution.
    pub fn resistance(&self, a: &Terminal, b: &Terminal, state: &State) -> Result<Expectation, MeterError> {
        let energised = change::held_without_current(self.job(), self.changes);
        let mut network = build(*self, state, Purpose::Ohmmeter, &Found { energised, ..Found::default() });
        let (Some(na), Some(nb)) = (network.node(a), network.node(b)) else {
            return Ok(open(Dimension::Resistance));
        };
        if na == nb {
            let zero = Amount::new(0.0, Dimension::Resistance);
            let mut none = open(Dimension::Resistance);
            (none.nominal, none.low, none.high) = (Some(zero), Some(zero), Some(zero));
            return Ok(none);
        }
        let islands = network.islands();
        if islands[na] != islands[nb] {
            return Ok(open(Dimension::Resistance));
        }
        // One ampere in at the red probe and out at the black one: the volts are the ohms.
        network.injections = vec![Injection { node: na, amps: 1.0 }, Injection { node: nb, amps: -1.0 }];
        network.reference = nb;
        let point = newton::solve(&network, 1.0)
            .map_err(|_| NoOperatingPoint { says: "the passive network could not be solved".into() })?;
        let nominal = point.volts[na] - point.volts[nb];
        let functional = Functional { weights: vec![(na, 1.0), (nb, -1.0)], direct: None };
        let per_unit = sensitivity::of(&network, &point, &functional);
        let because = steps(self.job(), &network, &point, (na, nb), Dimension::Resistance);
        Ok(expectation(Dimension::Resistance, nominal, &network, &per_unit, because, Vec::new()))
    }

    /// The piece of the circuit that a terminal belongs to in a state: between two of one piece an ohmmeter finds a path.
    pub fn pieces(&self, state: &State) -> impl Fn(&Terminal) -> Option<usize> + use<> {
        let network = build(*self, state, Purpose::Ohmmeter, &Found::default());
        let islands = network.islands();
        move |terminal| network.node(terminal).map(|node| islands[node])
    }

    /// The loads that draw current in a solved state.
    fn draws(self, solution: &Solution) -> Vec<Step> {
        let loads = self.job().loads.iter().filter_map(|load| {
            let current = solution.current(&load.name)?;
            let volts = solution.load_voltage(&load.name)?;
            if current.abs() < Current::amps(1e-6) {
                return None;
            }
            let says = format!("{} draws {current} at {volts}", load.name);
            Some(Step { element: load.name.clone(), value: Amount::of(current), says })
        });
        loads.collect()
    }
}

fn open(dimension: Dimension) -> Expectation {
    Expectation {
        dimension,
        nominal: None,
        low: None,
        high: None,
        because: Vec::new(),
        varies: Vec::new(),
        notices: Vec::new(),
    }
}

fn expectation(
    dimension: Dimension,
    nominal: f64,
    network: &Network,
    per_unit: &[f64],
    because: Vec<Step>,
    notices: Vec<Notice>,
) -> Expectation {
    let mut varies: Vec<Variation> = network
        .parameters
        .iter()
        .zip(per_unit)
        .map(|(parameter, per_unit)| Variation {
            subject: parameter.subject.clone(),
            share: Amount::new((per_unit * parameter.half_width).abs(), dimension),
        })
        .collect();
    let total: f64 = varies.iter().map(|v| v.share.base()).sum();
    varies.sort_by(|a, b| b.share.base().total_cmp(&a.share.base()));
    varies.retain(|v| v.share.base() > 0.0 && v.share.base() > total * 1e-6);
    let amount = |value: f64| Some(Amount::new(value, dimension));
    let low = if dimension == Dimension::Resistance { (nominal - total).max(0.0) } else { nominal - total };
    Expectation {
        dimension,
        nominal: amount(nominal),
        low: amount(low),
        high: amount(nominal + total),
        because,
        varies,
        notices,
    }
}

/// What lies between the probes along the shortest conducting way, with the drop of each element.
fn steps(job: &Job, network: &Network, point: &Point, ends: (usize, usize), dimension: Dimension) -> Vec<Step> {
    // The way along the wiring, not through the battery, a load or a coil, where there is one.
    let wiring = |branch: &Branch| matches!(branch.law, Law::Resistance { .. }) && !branch.is_coil();
    let Some(path) = shortest_path(network, ends, wiring).or_else(|| shortest_path(network, ends, |_| true)) else {
        return Vec::new();
    };
    let drop = |branch: &Branch| branch.across(&point.volts);
    let largest = path.iter().map(|(b, _)| drop(b).abs()).fold(0.0, f64::max);
    path.into_iter()
        .map(|(branch, sign)| (branch, sign * drop(branch)))
        .filter(|(_, value)| value.abs() >= largest * WORTH_A_LINE && value.abs() > 1e-9)
        .map(|(branch, value)| Step {
            element: branch.element.to_string(),
            value: Amount::new(value, dimension),
            says: format!("{}: {}", describe(job, branch), show(value, dimension)),
        })
        .collect()
}

fn shortest_path(
    network: &Network,
    (from, to): (usize, usize),
    allowed: impl Fn(&Branch) -> bool,
) -> Option<Vec<(&Branch, f64)>> {
    let mut near: Vec<Vec<usize>> = vec![Vec::new(); network.nodes];
    for (index, branch) in network.branches.iter().enumerate().filter(|(_, b)| &*b.element != METER && allowed(b)) {
        near[branch.a].push(index);
        near[branch.b].push(index);
    }
    let mut came_by: Vec<Option<usize>> = vec![None; network.nodes];
    let mut seen = vec![false; network.nodes];
    seen[from] = true;
    let mut queue = VecDeque::from([from]);
    while let Some(node) = queue.pop_front() {
        if node == to {
            break;
        }
        for &index in &near[node] {
            let branch = &network.branches[index];
            let next = if branch.a == node { branch.b } else { branch.a };
            if !seen[next] {
                seen[next] = true;
                came_by[next] = Some(index);
                queue.push_back(next);
            }
        }
    }
    let mut path = Vec::new();
    let mut node = to;
    while node != from {
        let branch = &network.branches[came_by[node]?];
        let forward = branch.b == node;
        path.push((branch, if forward { 1.0 } else { -1.0 }));
        node = if forward { branch.a } else { branch.b };
    }
    path.reverse();
    Some(path)
}

/// An element as a person knows it: `w3, 0.40 m of 2.5 mm² red`.
fn describe(job: &Job, branch: &Branch) -> String {
    let element = &*branch.element;
    if let Some(wire) = job.wire(element) {
        let colour = wire.colour.as_deref().map_or(String::new(), |c| format!(" {c}"));
        return format!("{element}, {} of {}{colour}, both joints", wire.length.nominal, wire.size);
    }
    match &branch.law {
        Law::Source { .. } => format!("{element}, under this load"),
        Law::Load { .. } => format!("{element}, the load itself"),
        Law::Resistance { ohms, .. } => format!("{element}, {}", Resistance::ohms(*ohms)),
    }
}
