//! The same reading without linearisation: at the worst corner of all tolerances, and by sampling. The linear limits
//! of [`Circuit::voltage`] are held against these in the tests.

use super::meter::{Expectation, MeterError};
use super::network::{Law, Network};
use super::newton;
use super::solve::Solution;
use super::{Circuit, State};
use crate::job::Terminal;
use crate::quantity::uncertainty::{Distribution, Sampled, sample};
use crate::quantity::{Amount, Dimension};

impl Network {
    /// The network with each parameter moved by so much from its nominal value.
    pub(super) fn moved(&self, by: &[f64]) -> Network {
        let mut moved = self.clone();
        for branch in &mut moved.branches {
            match &mut branch.law {
                Law::Resistance { ohms, follows } => {
                    let change: f64 = follows.iter().map(|d| d.per_unit * by[d.parameter]).sum();
                    *ohms = (*ohms + change).max(1e-9);
                }
                Law::Source { volts, ohms, volts_parameter, ohms_parameter } => {
                    *volts += by[*volts_parameter];
                    *ohms = (*ohms + by[*ohms_parameter]).max(1e-9);
                }
                Law::Load { model, parameter } => *model = model.moved(by[*parameter]),
            }
        }
        for fixed in &mut moved.fixed {
            if let Some(parameter) = fixed.parameter {
                fixed.volts += by[parameter];
            }
        }
        moved
    }
}

impl Circuit<'_> {
    /// As [`Circuit::voltage`], with low and high from two more solutions: every tolerance at the end that moves the
    /// reading down, and up. Exact where the reading is monotone in every value. Relays stay as they are.
    ///
    /// # Errors
    /// As [`Circuit::voltage`].
    pub fn voltage_at_corners(&self, a: &Terminal, b: &Terminal, state: &State) -> Result<Expectation, MeterError> {
        let (solution, slopes) = self.voltage_slopes(a, b, state)?;
        let mut expectation = self.voltage_of(&solution, &slopes, a, b);
        let corner = |sign: f64| {
            let parameters = solution.network.parameters.iter().zip(&slopes);
            let by: Vec<f64> = parameters.map(|(p, slope)| sign * slope.signum() * p.half_width).collect();
            reading(&solution, &by, a, b)
        };
        let amount = |volts: Option<f64>| volts.map(|v| Amount::new(v, Dimension::Voltage));
        expectation.low = amount(corner(-1.0)).or(expectation.low);
        expectation.high = amount(corner(1.0)).or(expectation.high);
        Ok(expectation)
    }

    /// The reading with every tolerance drawn from a rectangular distribution, `draws` times.
    ///
    /// # Errors
    /// As [`Circuit::voltage`].
    pub fn voltage_sampled(
        &self,
        (a, b): (&Terminal, &Terminal),
        state: &State,
        draws: usize,
        seed: u64,
    ) -> Result<Option<Sampled>, MeterError> {
        let (solution, _) = self.voltage_slopes(a, b, state)?;
        let parameters = &solution.network.parameters;
        let inputs: Vec<Distribution> =
            parameters.iter().map(|p| Distribution::Rectangular { low: -p.half_width, high: p.half_width }).collect();
        Ok(sample(&inputs, draws, seed, |by| reading(&solution, by, a, b)))
    }
}

fn reading(solution: &Solution, by: &[f64], a: &Terminal, b: &Terminal) -> Option<f64> {
    let network = solution.network.moved(by);
    let start = solution.point.volts.iter().copied().fold(0.0, f64::max);
    let point = newton::solve(&network, start).ok()?;
    Some(point.volts[network.node(a)?] - point.volts[network.node(b)?])
}
