//! Many operating points of one circuit: the linear part is reduced once to what the loads see, and each point then
//! only iterates over the loads.
//!
//! Between its poles a load sees v = s·e − Σ z·i: the source seen through the wiring, less what all load currents
//! drop in it (superposition over the linear network). With k loads a point costs a few k × k steps, whatever the
//! number of wires.

use super::dense::eliminate;
use super::load_model::LoadModel;
use super::network::{Law, Network};
use super::newton::Linear;
use super::solve::NoOperatingPoint;
use super::{Circuit, State};
use crate::job::Terminal;
use crate::quantity::Voltage;

/// A circuit prepared for many operating points over its source voltage. Relays stay as they are at the nominal one.
#[derive(Debug, Clone)]
pub struct Bulk {
    loads: Vec<LoadModel>,
    /// Voltage of each load per volt of the source, no load drawing.
    open: Vec<f64>,
    /// Drop at load j per ampere of load k, row by row.
    coupling: Vec<f64>,
    /// For each watched terminal: volts per volt of the source, then per ampere of each load.
    watched: Vec<(f64, Vec<f64>)>,
    across: Vec<f64>,
    amps: Vec<f64>,
    slopes: Vec<f64>,
    matrix: Vec<f64>,
    readings: Vec<Voltage>,
}

impl Circuit<'_> {
    /// Prepares a state for many source voltages; `watch` are the terminals whose voltage each point gives.
    ///
    /// # Errors
    /// [`NoOperatingPoint`] where the state has none at the nominal source voltage, or its source is held by the engine.
    pub fn bulk(&self, state: &State, watch: &[Terminal]) -> Result<Bulk, NoOperatingPoint> {
        let solution = self.solve(state)?;
        let network = &solution.network;
        let source = network.branches.iter().find_map(|b| match &b.law {
            Law::Source { ohms, .. } => Some((b.a, b.b, *ohms)),
            _ => None,
        });
        let Some((plus, minus, ohms)) = source else {
            return Err(NoOperatingPoint { says: "a bulk run needs the battery as its source".to_owned() });
        };
        let loads: Vec<(usize, usize, LoadModel)> = network
            .branches
            .iter()
            .filter_map(|b| match &b.law {
                Law::Load { model, .. } => Some((b.a, b.b, *model)),
                _ => None,
            })
            .collect();
        let linear = without_loads(network);
        let reduced =
            Linear::of(&linear, 0.0).ok_or_else(|| NoOperatingPoint { says: "a part of the circuit floats".into() })?;
        // Volts of every node per volt of the source, then per ampere drawn by each load.
        let by_source = reduced.respond(&[(plus, 1.0 / ohms), (minus, -1.0 / ohms)]);
        let by_load: Vec<Vec<f64>> = loads.iter().map(|(a, b, _)| reduced.respond(&[(*a, -1.0), (*b, 1.0)])).collect();
        let count = loads.len();
        let open = loads.iter().map(|(a, b, _)| by_source[*a] - by_source[*b]).collect();
        let coupling = loads
            .iter()
            .flat_map(|(a, b, _)| by_load.iter().map(move |response| response[*a] - response[*b]))
            .collect();
        let watched = watch
            .iter()
            .filter_map(|terminal| linear.node(terminal))
            .map(|node| (by_source[node], by_load.iter().map(|response| response[node]).collect()))
            .collect();
        let across = loads.iter().map(|(a, b, _)| solution.point.volts[*a] - solution.point.volts[*b]).collect();
        Ok(Bulk {
            loads: loads.into_iter().map(|(_, _, model)| model).collect(),
            open,
            coupling,
            watched,
            across,
            amps: vec![0.0; count],
            slopes: vec![0.0; count],
            matrix: vec![0.0; count * (count + 1)],
            readings: vec![Voltage::volts(0.0); watch.len()],
        })
    }
}

/// The network with its loads taken out and its source at zero volts.
fn without_loads(network: &Network) -> Network {
    let mut linear = network.clone();
    for branch in &mut linear.branches {
        match &mut branch.law {
            Law::Load { .. } => branch.law = Law::Resistance { ohms: 1e12, follows: Vec::new() },
            Law::Source { volts, .. } => *volts = 0.0,
            Law::Resistance { .. } => {}
        }
    }
    linear
}

/// Steps of Newton's iteration at one point; it starts from the point before.
const STEPS: usize = 40;
/// Volts by which a load may still move.
const CLOSE: f64 = 1e-9;

impl Bulk {
    /// The watched voltages at a source voltage, in the order in which they were asked for.
    ///
    /// # Errors
    /// [`NoOperatingPoint`] where the loads ask for more than the wires carry.
    pub fn at(&mut self, source: Voltage) -> Result<&[Voltage], NoOperatingPoint> {
        let volts = source.as_volts();
        let count = self.loads.len();
        for _ in 0..STEPS {
            for load in 0..count {
                let draw = self.loads[load].draw(self.across[load]);
                self.amps[load] = draw.amps;
                self.slopes[load] = draw.slope;
            }
            let moved = self.step(volts);
            if moved < CLOSE {
                for (reading, (per_volt, per_amp)) in self.readings.iter_mut().zip(&self.watched) {
                    let drops: f64 = per_amp.iter().zip(&self.amps).map(|(z, i)| z * i).sum();
                    *reading = Voltage::volts(per_volt * volts + drops);
                }
                return Ok(&self.readings);
            }
        }
        Err(NoOperatingPoint { says: format!("no operating point at {source}") })
    }

    /// One step of Newton's iteration on v − s·e − Z·i(v) = 0; the largest move.
    fn step(&mut self, volts: f64) -> f64 {
        let count = self.loads.len();
        let width = count + 1;
        for row in 0..count {
            let z = &self.coupling[row * count..(row + 1) * count];
            let mut rest = self.across[row] - self.open[row] * volts;
            for (load, z) in z.iter().enumerate() {
                rest -= z * self.amps[load];
                let own = if row == load { 1.0 } else { 0.0 };
                self.matrix[row * width + load] = own - z * self.slopes[load];
            }
            self.matrix[row * width + count] = rest;
        }
        eliminate(&mut self.matrix, count, 1);
        let mut moved = 0.0f64;
        for row in 0..count {
            let change = self.matrix[row * width + count];
            self.across[row] -= change;
            moved = moved.max(change.abs());
        }
        if moved.is_finite() { moved } else { f64::INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Source;
    use crate::job::Job;

    #[test]
    fn every_point_of_a_bulk_run_is_that_of_a_single_solve() {
        let text = include_str!("../../reports/orchard-flatbed/job.toml");
        let job = Job::read(&Source::new("job.toml", text)).unwrap();
        let state = State::all_on(&job);
        let watch = ["pump.+", "lamp-left.+", "lamp-right.-"].map(|t| job.terminal(t).unwrap());
        let mut bulk = Circuit::of(&job).bulk(&state, &watch).unwrap();
        for step in 0..40 {
            let volts = 11.0 + 0.1 * f64::from(step);
            let mut other = job.clone();
            other.battery.rest_voltage = crate::quantity::Toleranced::exact(Voltage::volts(volts));
            let single = Circuit::of(&other).solve(&state).unwrap();
            let readings = bulk.at(Voltage::volts(volts)).unwrap();
            for (terminal, reading) in watch.iter().zip(readings) {
                let difference = (single.voltage(terminal).unwrap() - *reading).as_volts().abs();
                assert!(difference < 1e-8, "{terminal} at {volts} V: {difference}");
            }
        }
    }
}
