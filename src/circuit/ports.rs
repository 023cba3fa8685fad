//! Ports of a linear network: currents between two nodes that depend on the voltage there.

use std::rc::Rc;

use super::change::OPEN;
use super::dense::eliminate;
use super::load_model::LoadModel;

/// What flows through a port.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Flow {
    /// Nothing.
    None,
    /// What a load draws.
    Load(LoadModel),
    /// A path, in siemens; below zero where the network has more than is there.
    Path(f64),
    /// A current that does not depend on the voltage, in amperes.
    Constant(f64),
}

impl Flow {
    /// Current in amperes and slope in siemens; a load draws `share` of its power.
    fn draw(self, across: f64, share: f64) -> (f64, f64) {
        match self {
            Self::None => (0.0, 0.0),
            Self::Load(model) => {
                let draw = model.scaled(share).draw(across);
                // The network has the load as an open path already.
                (draw.amps - across / OPEN.as_ohms(), draw.slope - 1.0 / OPEN.as_ohms())
            }
            Self::Path(siemens) => (siemens * across, siemens),
            Self::Constant(amps) => (amps, 0.0),
        }
    }
}

/// The ports of a network.
#[derive(Debug, Clone, Default)]
pub(super) struct Ports {
    ends: Vec<(usize, usize)>,
    /// Volts of every node per ampere in at the first end and out at the second.
    responses: Vec<Rc<[f64]>>,
    flows: Vec<Flow>,
}

/// The ports with the current through each.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    ports: Ports,
    across: Vec<f64>,
    amps: Vec<f64>,
    slopes: Vec<f64>,
    /// S·(1 + Z·S)⁻¹ row by row: how the port currents answer to a change of their voltages from outside.
    answer: Vec<f64>,
}

const STEPS: usize = 60;
const CLOSE: f64 = 1e-10;

impl Ports {
    pub(super) fn add(&mut self, ends: (usize, usize), response: Rc<[f64]>, flow: Flow) {
        self.ends.push(ends);
        self.responses.push(response);
        self.flows.push(flow);
    }

    fn count(&self) -> usize {
        self.ends.len()
    }

    /// What an ampere through each port moves at each other, row by row.
    fn coupling(&self) -> Vec<f64> {
        let at = |(a, b): &(usize, usize)| {
            let (a, b) = (*a, *b);
            self.responses.iter().map(move |response| response[a] - response[b])
        };
        self.ends.iter().flat_map(at).collect()
    }

    /// The currents where every port draws what its voltage asks for; `still` are the node voltages while none draws.
    /// Of several solutions the one next to the source's voltage. `None` where there is none.
    pub(super) fn solve(self, still: &[f64], source_volts: f64) -> Option<Solved> {
        let z = self.coupling();
        let open: Vec<f64> = self.ends.iter().map(|(a, b)| still[*a] - still[*b]).collect();
        let guess = |flow: Flow, across: f64| match flow {
            Flow::Load(model) => {
                let slope = model.first_guess(source_volts);
                (slope * across, slope)
            }
            other => other.draw(across, 1.0),
        };
        let start = self.step(&z, &open, open.clone(), guess).0;
        let across = self.iterate(&z, &open, start.clone(), 1.0).or_else(|| self.raise(&z, &open, start))?;
        let (amps, slopes): (Vec<f64>, Vec<f64>) =
            self.flows.iter().zip(&across).map(|(flow, volts)| flow.draw(*volts, 1.0)).unzip();
        let answer = answer(&z, &slopes);
        Some(Solved { ports: self, across, amps, slopes, answer })
    }

    /// Raises loads of constant power from nothing to full, which follows the solution next to the source's voltage.
    fn raise(&self, z: &[f64], open: &[f64], start: Vec<f64>) -> Option<Vec<f64>> {
        let mut across = self.iterate(z, open, start, 0.0)?;
        let (mut reached, mut stride) = (0.0, 0.25);
        while reached < 1.0 {
            let target = f64::min(1.0, reached + stride);
            match self.iterate(z, open, across.clone(), target) {
                Some(found) => (across, reached) = (found, target),
                None => stride /= 2.0,
            }
            if stride < 1e-3 {
                return None;
            }
        }
        Some(across)
    }

    fn iterate(&self, z: &[f64], open: &[f64], mut across: Vec<f64>, share: f64) -> Option<Vec<f64>> {
        let mut previous = f64::INFINITY;
        for step in 0..STEPS {
            let (mut next, moved) = self.step(z, open, across.clone(), |flow, volts| flow.draw(volts, share));
            if !moved.is_finite() {
                return None;
            }
            if moved < CLOSE || (step > 4 && moved < 1e-8 && moved >= previous) {
                return (!self.impossible(&next)).then_some(next);
            }
            // A step across a bend of a load's curve may swing to and fro: halve it.
            if step > 8 && moved > 0.5 * previous {
                next.iter_mut().zip(&across).for_each(|(new, old)| *new = f64::midpoint(*new, *old));
            }
            (across, previous) = (next, moved);
        }
        None
    }

    /// One step of Newton's iteration on v − v₀ + Z·i(v) = 0, and the largest move.
    fn step(
        &self,
        z: &[f64],
        open: &[f64],
        mut across: Vec<f64>,
        flow: impl Fn(Flow, f64) -> (f64, f64),
    ) -> (Vec<f64>, f64) {
        let count = self.count();
        let width = count + 1;
        let drawn: Vec<(f64, f64)> = self.flows.iter().zip(&across).map(|(own, volts)| flow(*own, *volts)).collect();
        let mut matrix = vec![0.0; count * width];
        for row in 0..count {
            let mut rest = across[row] - open[row];
            for (port, (amps, slope)) in drawn.iter().enumerate() {
                let z = z[row * count + port];
                rest += z * amps;
                matrix[row * width + port] = z * slope + if row == port { 1.0 } else { 0.0 };
            }
            matrix[row * width + count] = rest;
        }
        eliminate(&mut matrix, count, 1);
        let mut moved = 0.0f64;
        for (row, volts) in across.iter_mut().enumerate() {
            let change = matrix[row * width + count];
            *volts -= change;
            moved = if change.is_finite() { moved.max(change.abs()) } else { f64::INFINITY };
        }
        (across, moved)
    }

    fn impossible(&self, across: &[f64]) -> bool {
        self.flows.iter().zip(across).any(|(flow, volts)| match flow {
            Flow::Load(model) => model.impossible(*volts),
            _ => false,
        })
    }
}

/// S·(1 + Z·S)⁻¹, row by row.
fn answer(z: &[f64], slopes: &[f64]) -> Vec<f64> {
    let count = slopes.len();
    let width = 2 * count;
    let mut matrix = vec![0.0; count * width];
    for row in 0..count {
        for column in 0..count {
            let one = if row == column { 1.0 } else { 0.0 };
            matrix[row * width + column] = one + z[row * count + column] * slopes[column];
            matrix[row * width + count + column] = one;
        }
    }
    eliminate(&mut matrix, count, count);
    let at = |row: usize, column: usize| slopes[row] * matrix[row * width + count + column];
    (0..count).flat_map(|row| (0..count).map(move |column| at(row, column))).collect()
}

impl Solved {
    /// The voltage of a node, from the one it has while no port draws.
    pub(super) fn at(&self, node: usize, still: f64) -> f64 {
        let drops = self.ports.responses.iter().zip(&self.amps).map(|(response, amps)| response[node] * amps);
        still - drops.sum::<f64>()
    }

    /// From how the network without its ports follows a current to how it follows with them.
    pub(super) fn take_off(&self, adjoint: &mut [f64]) {
        let count = self.amps.len();
        let at_ports: Vec<f64> = self.ports.ends.iter().map(|(a, b)| adjoint[*a] - adjoint[*b]).collect();
        for (row, response) in self.ports.responses.iter().enumerate() {
            let answers = &self.answer[row * count..(row + 1) * count];
            let weight: f64 = answers.iter().zip(&at_ports).map(|(answer, volts)| answer * volts).sum();
            if weight != 0.0 {
                adjoint.iter_mut().zip(response.iter()).for_each(|(own, moved)| *own -= weight * moved);
            }
        }
    }

    /// Change of a load's current with its own value; the loads are the first ports.
    pub(super) fn per_value(&self, load: usize) -> f64 {
        match self.ports.flows[load] {
            Flow::Load(model) => model.draw(self.across[load]).per_value,
            _ => 0.0,
        }
    }

    /// The ports at a node: the other end and the slope of each.
    pub(super) fn slopes_at(&self, node: usize) -> impl Iterator<Item = (usize, f64)> {
        self.ports.ends.iter().zip(&self.slopes).filter_map(move |((a, b), slope)| match node {
            _ if node == *a => Some((*b, *slope)),
            _ if node == *b => Some((*a, *slope)),
            _ => None,
        })
    }
}
