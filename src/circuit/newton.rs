//! Newton's iteration on one network.

use std::rc::Rc;

use super::linear::{Factor, Pattern, Singular};
use super::load_model::LoadModel;
use super::network::{Branch, Law, Network};

/// Why there are no node voltages.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Failure {
    /// The loads ask for more than the lines carry; the share of their power up to which a solution exists.
    NoSolution { share: f64 },
}

/// Node voltages, and the factorised matrix at them for the sensitivities.
#[derive(Debug, Clone)]
pub(super) struct Point {
    pub volts: Vec<f64>,
    pub unknown: Vec<Option<usize>>,
    pub pattern: Pattern,
    pub factor: Factor,
}

/// One branch as Newton's step sees it: rows of its ends and the place of its entry.
struct Slot {
    a: Option<usize>,
    b: Option<usize>,
    entry: Option<usize>,
}

pub(super) struct System<'n> {
    network: &'n Network,
    /// Row of each node; `None` where its voltage is held.
    unknown: Vec<Option<usize>>,
    held: Vec<f64>,
    slots: Vec<Slot>,
    pattern: Pattern,
}

const STEPS: usize = 60;
const CLOSE: f64 = 1e-11;

impl<'n> System<'n> {
    pub(super) fn new(network: &'n Network) -> Self {
        let mut held: Vec<Option<f64>> = vec![None; network.nodes];
        held[network.reference] = Some(0.0);
        for fixed in &network.fixed {
            held[fixed.node] = Some(fixed.volts);
        }
        // An island without any held node floats: its first node becomes its own zero.
        let islands = network.islands();
        let mut anchored = vec![false; network.nodes];
        for (node, volts) in held.iter().enumerate() {
            anchored[islands[node]] |= volts.is_some();
        }
        for (node, volts) in held.iter_mut().enumerate() {
            if !std::mem::replace(&mut anchored[islands[node]], true) {
                *volts = Some(0.0);
            }
        }
        let mut count = 0;
        let unknown: Vec<Option<usize>> = held
            .iter()
            .map(|h| {
                h.is_none().then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect();
        let edges = network.branches.iter().filter_map(|b| Some((unknown[b.a]?, unknown[b.b]?)));
        let pattern = Pattern::new(count, edges);
        let slots = network
            .branches
            .iter()
            .map(|branch| {
                let (a, b) = (unknown[branch.a], unknown[branch.b]);
                let entry = a.zip(b).and_then(|(a, b)| pattern.entry(a, b));
                Slot { a, b, entry }
            })
            .collect();
        Self { network, unknown, held: held.into_iter().map(|h| h.unwrap_or(0.0)).collect(), slots, pattern }
    }

    /// Currents that leave each unknown node in `residual`, their slopes in `matrix`.
    ///
    /// `loads` gives current and slope of a load from its model and voltage.
    fn assemble(
        &self,
        volts: &[f64],
        matrix: &mut Factor,
        residual: &mut [f64],
        loads: impl Fn(LoadModel, f64) -> (f64, f64),
    ) {
        matrix.clear();
        residual.fill(0.0);
        for (branch, slot) in self.network.branches.iter().zip(&self.slots) {
            let across = branch.across(volts);
            let (amps, slope) = match &branch.law {
                Law::Load { model, .. } => loads(*model, across),
                law => law.draw(across),
            };
            if let Some(a) = slot.a {
                residual[a] += amps;
                matrix.add_diagonal(a, slope);
            }
            if let Some(b) = slot.b {
                residual[b] -= amps;
                matrix.add_diagonal(b, slope);
            }
            if let Some(entry) = slot.entry {
                matrix.add_entry(entry, -slope);
            }
        }
        for injection in &self.network.injections {
            if let Some(row) = self.unknown[injection.node] {
                residual[row] -= injection.amps;
            }
        }
    }

    /// One step; the largest change of a node.
    fn step(
        &self,
        volts: &mut [f64],
        matrix: &mut Factor,
        residual: &mut [f64],
        loads: impl Fn(LoadModel, f64) -> (f64, f64),
    ) -> Result<f64, Singular> {
        self.assemble(volts, matrix, residual, loads);
        self.pattern.refactor(matrix)?;
        self.pattern.solve(matrix, residual);
        let mut largest = 0.0f64;
        for (node, row) in self.unknown.iter().enumerate() {
            if let Some(row) = row {
                volts[node] -= residual[*row];
                largest = largest.max(residual[*row].abs());
            }
        }
        if largest.is_finite() { Ok(largest) } else { Err(Singular) }
    }

    /// The loads as resistors that draw about their current at the source's voltage.
    fn start(&self, source_volts: f64) -> Vec<f64> {
        let mut volts = self.held.clone();
        let mut matrix = Factor::zero(&self.pattern);
        let mut residual = vec![0.0; self.pattern.size()];
        let guess = |model: LoadModel, across: f64| {
            let slope = model.first_guess(source_volts);
            (slope * across, slope)
        };
        // A linear network needs one step.
        let _ = self.step(&mut volts, &mut matrix, &mut residual, guess);
        volts
    }

    fn iterate(&self, mut volts: Vec<f64>, share: f64) -> Option<Vec<f64>> {
        let mut matrix = Factor::zero(&self.pattern);
        let mut residual = vec![0.0; self.pattern.size()];
        let loads = |model: LoadModel, across: f64| {
            let draw = model.scaled(share).draw(across);
            (draw.amps, draw.slope)
        };
        let mut previous = f64::INFINITY;
        for step in 0..STEPS {
            let before = volts.clone();
            let change = self.step(&mut volts, &mut matrix, &mut residual, loads).ok()?;
            if change < CLOSE || (step > 4 && change < 1e-9 && change >= previous) {
                return Some(volts);
            }
            // A step across a bend of a load's curve may swing to and fro: halve it.
            if step > 8 && change > 0.5 * previous {
                for (new, old) in volts.iter_mut().zip(&before) {
                    *new = f64::midpoint(*new, *old);
                }
            }
            previous = change;
        }
        None
    }

    fn solve(&self, source_volts: f64) -> Result<Vec<f64>, Failure> {
        let start = self.start(source_volts);
        if let Some(found) = self.iterate(start.clone(), 1.0)
            && !self.impossible(&found)
        {
            return Ok(found);
        }
        // Raise the constant-power loads from nothing to full: this follows the solution next to the battery's
        // voltage until it ends, and tells how far it reaches.
        let mut volts = self.iterate(start, 0.0).ok_or(Failure::NoSolution { share: 0.0 })?;
        let (mut reached, mut stride) = (0.0, 0.25);
        loop {
            let target = f64::min(1.0, reached + stride);
            match self.iterate(volts.clone(), target) {
                Some(found) if !self.impossible(&found) && !self.jumped(&volts, &found) => {
                    if target >= 1.0 {
                        return Ok(found);
                    }
                    (volts, reached) = (found, target);
                }
                _ => {
                    stride /= 2.0;
                    if stride < 1e-4 {
                        return Err(Failure::NoSolution { share: reached });
                    }
                }
            }
        }
    }

    /// A load of constant power whose voltage is cut by half within one stride has left its branch of solutions.
    fn jumped(&self, before: &[f64], after: &[f64]) -> bool {
        self.network.branches.iter().any(|branch| {
            let Law::Load { model: LoadModel::Led { works_from: None, .. }, .. } = &branch.law else { return false };
            branch.across(before) > 1e-3 && branch.across(after) < 0.5 * branch.across(before)
        })
    }

    fn impossible(&self, volts: &[f64]) -> bool {
        self.network.branches.iter().any(|branch| match &branch.law {
            Law::Load { model, .. } => model.impossible(branch.across(volts)),
            _ => false,
        })
    }
}

/// Solves a network; of several solutions the one next to the source's voltage.
pub(super) fn solve(network: &Network, source_volts: f64) -> Result<Point, Failure> {
    let system = System::new(network);
    let volts = system.solve(source_volts)?;
    // The factor of the last step belongs to the point before it: take it at the solution.
    let mut factor = Factor::zero(&system.pattern);
    let mut residual = vec![0.0; system.pattern.size()];
    let loads = |model: LoadModel, across: f64| {
        let draw = model.draw(across);
        (draw.amps, draw.slope)
    };
    system.assemble(&volts, &mut factor, &mut residual, loads);
    if system.pattern.refactor(&mut factor).is_err() {
        return Err(Failure::NoSolution { share: 1.0 });
    }
    Ok(Point { volts, unknown: system.unknown, pattern: system.pattern, factor })
}

/// A network as it is near one point, ready to answer how it follows currents pushed into it.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    unknown: Rc<[Option<usize>]>,
    /// Node voltages of the point.
    pub origin: Rc<[f64]>,
    pattern: Rc<Pattern>,
    /// Slopes at the point.
    matrix: Factor,
    /// Currents that leave each unknown node at the point.
    leaving: Vec<f64>,
    factor: Factor,
}

impl Linear {
    /// Near the operating point; near nothing where there is none. `None` where a part of the network hangs free.
    pub(super) fn of(network: &Network, source_volts: f64) -> Option<Self> {
        let system = System::new(network);
        let origin = system.solve(source_volts).unwrap_or_else(|_| system.held.clone());
        let mut matrix = Factor::zero(&system.pattern);
        let mut leaving = vec![0.0; system.pattern.size()];
        let tangent = |model: LoadModel, across: f64| {
            let draw = model.draw(across);
            (draw.amps, draw.slope)
        };
        system.assemble(&origin, &mut matrix, &mut leaving, tangent);
        let System { unknown, pattern, .. } = system;
        let factor = factored(&pattern, &matrix)?;
        let (unknown, origin, pattern) = (unknown.into(), origin.into(), Rc::new(pattern));
        Some(Self { unknown, origin, pattern, matrix, leaving, factor })
    }

    /// The same network with more flowing in some of its branches: for each the slope in siemens and the current at no
    /// voltage in amperes.
    pub(super) fn with(&self, more: &[(&Branch, f64, f64)]) -> Option<Self> {
        let mut changed = self.clone();
        for (branch, slope, amps) in more {
            let (a, b) = (self.unknown[branch.a], self.unknown[branch.b]);
            let amps = branch.across(&self.origin) * slope + amps;
            for (row, sign) in [(a, 1.0), (b, -1.0)] {
                if let Some(row) = row {
                    changed.matrix.add_diagonal(row, *slope);
                    changed.leaving[row] += sign * amps;
                }
            }
            if let Some(entry) = a.zip(b).and_then(|(a, b)| self.pattern.entry(a, b)) {
                changed.matrix.add_entry(entry, -slope);
            }
        }
        changed.factor = factored(&self.pattern, &changed.matrix)?;
        Some(changed)
    }

    /// Its node voltages.
    pub(super) fn volts(&self) -> Vec<f64> {
        let mut rows = self.leaving.clone();
        self.pattern.solve(&self.factor, &mut rows);
        let moved = |(row, origin): (&Option<usize>, &f64)| origin - row.map_or(0.0, |row| rows[row]);
        self.unknown.iter().zip(self.origin.iter()).map(moved).collect()
    }

    /// How far each node moves for currents pushed into nodes.
    pub(super) fn respond(&self, into: &[(usize, f64)]) -> Vec<f64> {
        let mut rows = vec![0.0; self.pattern.size()];
        for (node, amps) in into {
            if let Some(row) = self.unknown[*node] {
                rows[row] += amps;
            }
        }
        self.pattern.solve(&self.factor, &mut rows);
        self.unknown.iter().map(|row| row.map_or(0.0, |row| rows[row])).collect()
    }
}

fn factored(pattern: &Pattern, matrix: &Factor) -> Option<Factor> {
    let mut factor = matrix.clone();
    pattern.refactor(&mut factor).ok().map(|()| factor)
}
