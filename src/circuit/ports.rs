//! Ports of a network that was solved and linearised: currents between two nodes beside what the network has already.
//!
//! A load is in the network as the straight line that touches its law at the operating point. Its port carries what the
//! law draws beside that line: nothing near the operating point. So only the ports that a fault adds, and the loads that
//! it moves far, are unknowns.

use std::rc::Rc;

use super::change::OPEN;
use super::dense::eliminate;
use super::load_model::LoadModel;

/// A load's law near one voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    /// Volts at which it touches the law.
    pub at: f64,
    /// Amperes there.
    pub amps: f64,
    /// Siemens.
    pub slope: f64,
}

impl Line {
    pub(super) fn touching(model: LoadModel, at: f64) -> Self {
        let draw = model.draw(at);
        Self { at, amps: draw.amps, slope: draw.slope }
    }

    /// The line through the same point and through nothing.
    pub(super) fn through_nothing(self) -> Self {
        let slope = if self.at.abs() > 1e-6 { self.amps / self.at } else { self.slope };
        Self { at: 0.0, amps: 0.0, slope: slope.max(1.0 / OPEN.as_ohms()) }
    }

    /// Its current at no voltage, in amperes.
    pub(super) fn at_nothing(self) -> f64 {
        self.amps - self.slope * self.at
    }

    fn draw(self, across: f64) -> (f64, f64) {
        (self.amps + self.slope * (across - self.at), self.slope)
    }
}

/// What flows through a port.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Flow {
    /// What a load draws beside its line; nothing at all where it is dead.
    Load(Option<LoadModel>, Line),
    /// A path, in siemens; below zero where the network has more than is there.
    Path(f64),
    /// A current that does not depend on the voltage, in amperes.
    Constant(f64),
}

impl Flow {
    /// Current in amperes and slope in siemens; a load draws `share` of its power.
    fn draw(self, across: f64, share: f64) -> (f64, f64) {
        match self {
            Self::Load(model, line) => {
                let (amps, slope) = model.map_or((across / OPEN.as_ohms(), 1.0 / OPEN.as_ohms()), |model| {
                    let draw = model.scaled(share).draw(across);
                    (draw.amps, draw.slope)
                });
                let (already, its_slope) = line.draw(across);
                (amps - already, slope - its_slope)
            }
            Self::Path(siemens) => (siemens * across, siemens),
            Self::Constant(amps) => (amps, 0.0),
        }
    }

    /// The loads as resistors that draw about their current at the source's voltage: where the iteration starts.
    fn first_guess(self, across: f64, source_volts: f64) -> (f64, f64) {
        match self {
            Self::Load(Some(model), line) => {
                let slope = model.first_guess(source_volts);
                let (already, its_slope) = line.draw(across);
                (slope * across - already, slope - its_slope)
            }
            other => other.draw(across, 1.0),
        }
    }
}

/// A port of a network.
#[derive(Debug, Clone)]
pub(super) struct Port {
    pub ends: (usize, usize),
    /// Volts of every node per ampere in at the first end and out at the second.
    pub response: Rc<[f64]>,
    pub flow: Flow,
}

/// The ports that carry something, with the current through each.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    ports: Vec<Port>,
    amps: Vec<f64>,
    /// S·(1 + Z·S)⁻¹ row by row: how the port currents answer to a change of their voltages from outside.
    answer: Vec<f64>,
}

const STEPS: usize = 60;
const CLOSE: f64 = 1e-10;

/// Beyond so many times the voltage of the first source no load can be, a second source included.
pub(super) const MORE_THAN_THE_SOURCES: f64 = 1.5;

/// A load off its line by less is left on it, in amperes: some microvolts in its wires.
const ON_ITS_LINE: f64 = 1e-4;

/// The currents where every port draws what its voltage asks for; `still` are the node voltages while none draws.
///
/// `ports` are unknowns in any case, `loads` (their ends and flows) where they leave their line; `respond` gives the
/// response of the network to an ampere between two nodes. Of several solutions the one next to the source's voltage.
/// `None` where there is none.
pub(super) fn solve(
    mut ports: Vec<Port>,
    mut loads: Vec<((usize, usize), Flow)>,
    respond: impl Fn((usize, usize)) -> Rc<[f64]>,
    still: &[f64],
    source_volts: f64,
) -> Option<Solved> {
    loop {
        let system = System::of(&ports, still);
        let across = system.solve(source_volts)?;
        let (amps, slopes): (Vec<f64>, Vec<f64>) =
            ports.iter().zip(&across).map(|(port, volts)| port.flow.draw(*volts, 1.0)).unzip();
        let moved = |node: usize| {
            let drops = ports.iter().zip(&amps).map(|(port, amps)| port.response[node] * amps);
            still[node] - drops.sum::<f64>()
        };
        let off_its_line =
            |((a, b), flow): &((usize, usize), Flow)| flow.draw(moved(*a) - moved(*b), 1.0).0.abs() > ON_ITS_LINE;
        let (off, on): (Vec<_>, Vec<_>) = loads.into_iter().partition(off_its_line);
        if off.is_empty() {
            let answer = system.answer(&slopes);
            return Some(Solved { ports, amps, answer });
        }
        ports.extend(off.into_iter().map(|(ends, flow)| Port { ends, response: respond(ends), flow }));
        loads = on;
    }
}

/// The ports that are unknowns.
struct System<'p> {
    ports: &'p [Port],
    /// What an ampere through each port moves at each other, row by row.
    coupling: Vec<f64>,
    /// Voltage of each while none draws.
    open: Vec<f64>,
}

impl<'p> System<'p> {
    fn of(ports: &'p [Port], still: &[f64]) -> Self {
        let at = |port: &Port| {
            let (a, b) = port.ends;
            ports.iter().map(move |other| other.response[a] - other.response[b])
        };
        let coupling = ports.iter().flat_map(at).collect();
        let open = ports.iter().map(|port| still[port.ends.0] - still[port.ends.1]).collect();
        Self { ports, coupling, open }
    }

    fn solve(&self, source_volts: f64) -> Option<Vec<f64>> {
        let start = self.step(self.open.clone(), |flow, volts| flow.first_guess(volts, source_volts)).0;
        let found = self.iterate(start.clone(), source_volts, 1.0).or_else(|| self.raise(start, source_volts))?;
        if self.is_stable(&found) {
            return Some(found);
        }
        // A load of constant power has a second point, at which less voltage would draw it further down: no circuit
        // stays there. It goes down to where the load gives up.
        let from_nothing = self.iterate(vec![0.0; self.ports.len()], source_volts, 1.0);
        from_nothing.filter(|other| self.is_stable(other)).or(Some(found))
    }

    /// Whether a circuit stays at a point: a push is answered in its own direction.
    fn is_stable(&self, across: &[f64]) -> bool {
        let count = self.ports.len();
        let mut matrix = vec![0.0; count * count];
        for (column, (port, volts)) in self.ports.iter().zip(across).enumerate() {
            let slope = port.flow.draw(*volts, 1.0).1;
            for row in 0..count {
                let one = if row == column { 1.0 } else { 0.0 };
                matrix[row * count + column] = one + self.coupling[row * count + column] * slope;
            }
        }
        eliminate(&mut matrix, count, 0) > 0.0
    }

    /// Raises loads of constant power from nothing to full, which follows the solution next to the source's voltage.
    fn raise(&self, start: Vec<f64>, source_volts: f64) -> Option<Vec<f64>> {
        let mut across = self.iterate(start, source_volts, 0.0)?;
        let (mut reached, mut stride) = (0.0, 0.25);
        while reached < 1.0 {
            let target = f64::min(1.0, reached + stride);
            match self.iterate(across.clone(), source_volts, target) {
                Some(found) => (across, reached) = (found, target),
                None => stride /= 2.0,
            }
            if stride < 1e-3 {
                return None;
            }
        }
        Some(across)
    }

    fn iterate(&self, mut across: Vec<f64>, source_volts: f64, share: f64) -> Option<Vec<f64>> {
        let mut previous = f64::INFINITY;
        for step in 0..STEPS {
            let (mut next, moved) = self.step(across.clone(), |flow, volts| flow.draw(volts, share));
            if !moved.is_finite() {
                return None;
            }
            // No load gets more than the sources give: a load whose current does not follow its voltage would else swing
            // to and fro between far away points.
            let most = MORE_THAN_THE_SOURCES * source_volts;
            for (volts, port) in next.iter_mut().zip(self.ports) {
                if matches!(port.flow, Flow::Load(Some(_), _)) {
                    *volts = volts.clamp(-most, most);
                }
            }
            let moved = next.iter().zip(&across).fold(0.0f64, |all, (new, old)| all.max((new - old).abs()));
            let largest = next.iter().fold(1.0f64, |all, volts| all.max(volts.abs()));
            if moved < CLOSE * largest || (step > 4 && moved < 1e-8 * largest && moved >= previous) {
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
    fn step(&self, mut across: Vec<f64>, flow: impl Fn(Flow, f64) -> (f64, f64)) -> (Vec<f64>, f64) {
        let count = self.ports.len();
        let width = count + 1;
        let drawn: Vec<(f64, f64)> = self.ports.iter().zip(&across).map(|(port, v)| flow(port.flow, *v)).collect();
        let mut matrix = vec![0.0; count * width];
        for row in 0..count {
            let mut rest = across[row] - self.open[row];
            for (port, (amps, slope)) in drawn.iter().enumerate() {
                let z = self.coupling[row * count + port];
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
        self.ports.iter().zip(across).any(|(port, volts)| match port.flow {
            Flow::Load(Some(model), _) => model.impossible(*volts),
            _ => false,
        })
    }

    /// S·(1 + Z·S)⁻¹, row by row.
    fn answer(&self, slopes: &[f64]) -> Vec<f64> {
        let count = slopes.len();
        let width = 2 * count;
        let mut matrix = vec![0.0; count * width];
        for row in 0..count {
            for column in 0..count {
                let one = if row == column { 1.0 } else { 0.0 };
                matrix[row * width + column] = one + self.coupling[row * count + column] * slopes[column];
                matrix[row * width + count + column] = one;
            }
        }
        eliminate(&mut matrix, count, count);
        let at = |row: usize, column: usize| slopes[row] * matrix[row * width + count + column];
        (0..count).flat_map(|row| (0..count).map(move |column| at(row, column))).collect()
    }
}

impl Solved {
    /// The voltage of a node, from the one it has while no port draws.
    pub(super) fn at(&self, node: usize, still: f64) -> f64 {
        let drops = self.ports.iter().zip(&self.amps).map(|(port, amps)| port.response[node] * amps);
        still - drops.sum::<f64>()
    }

    /// From how the network without its ports follows a current to how it follows with them.
    pub(super) fn take_off(&self, adjoint: &mut [f64]) {
        let count = self.ports.len();
        let at_ports: Vec<f64> = self.ports.iter().map(|port| adjoint[port.ends.0] - adjoint[port.ends.1]).collect();
        for (row, port) in self.ports.iter().enumerate() {
            let answers = &self.answer[row * count..(row + 1) * count];
            let weight: f64 = answers.iter().zip(&at_ports).map(|(answer, volts)| answer * volts).sum();
            if weight != 0.0 {
                adjoint.iter_mut().zip(port.response.iter()).for_each(|(own, moved)| *own -= weight * moved);
            }
        }
    }

    /// How two nodes see the network with its ports, in ohms, from how they see it without them.
    pub(super) fn seen(&self, response: &[f64], ends: (usize, usize)) -> f64 {
        let count = self.ports.len();
        let mut seen = response[ends.0] - response[ends.1];
        for (row, port) in self.ports.iter().enumerate() {
            let back = port.response[ends.0] - port.response[ends.1];
            for (column, other) in self.ports.iter().enumerate() {
                let at = response[other.ends.0] - response[other.ends.1];
                seen -= back * self.answer[row * count + column] * at;
            }
        }
        seen
    }
}
