//! How a reading depends on every value with a tolerance: one more solve with the same matrix.
//!
//! For node currents F(x, p) = 0 and a reading y = c·x + d(p), dy/dp = d' − λ·∂F/∂p with J λ = c (the matrix J of
//! Newton's last step is symmetric).

use super::network::{Branch, Law, Network};
use super::newton::Point;

/// A reading as a sum over node voltages, with what hangs directly on a branch.
pub(super) struct Functional<'n> {
    /// (node, weight).
    pub weights: Vec<(usize, f64)>,
    /// A branch whose own resistance enters the reading, and the reading's change per ohm.
    pub direct: Option<(&'n Branch, f64)>,
}

/// Change of the reading per unit of each parameter.
pub(super) fn of(network: &Network, point: &Point, reading: &Functional) -> Vec<f64> {
    let mut adjoint = vec![0.0; point.pattern.size()];
    let mut per_parameter = vec![0.0; network.parameters.len()];
    for &(node, weight) in &reading.weights {
        if let Some(row) = point.unknown[node] {
            adjoint[row] += weight;
        }
    }
    point.pattern.solve(&point.factor, &mut adjoint);
    let lambda = |node: usize| point.unknown[node].map_or(0.0, |row| adjoint[row]);
    for branch in &network.branches {
        let across = branch.across(&point.volts);
        let weight = lambda(branch.a) - lambda(branch.b);
        match &branch.law {
            Law::Resistance { ohms, follows } => {
                for dependence in follows {
                    per_parameter[dependence.parameter] += weight * across / (ohms * ohms) * dependence.per_unit;
                }
            }
            Law::Source { volts, ohms, volts_parameter, ohms_parameter } => {
                per_parameter[*volts_parameter] += weight / ohms;
                per_parameter[*ohms_parameter] += weight * (across - volts) / (ohms * ohms);
            }
            Law::Load { model, parameter } => {
                per_parameter[*parameter] -= weight * model.draw(across).per_value;
            }
        }
    }
    for fixed in &network.fixed {
        let Some(parameter) = fixed.parameter else { continue };
        let own: f64 = reading.weights.iter().filter(|(node, _)| *node == fixed.node).map(|(_, w)| w).sum();
        per_parameter[parameter] += own;
        for branch in network.branches.iter().filter(|b| b.a == fixed.node || b.b == fixed.node) {
            let other = if branch.a == fixed.node { branch.b } else { branch.a };
            per_parameter[parameter] += branch.law.draw(branch.across(&point.volts)).1 * lambda(other);
        }
    }
    if let Some((branch, per_ohm)) = reading.direct
        && let Law::Resistance { follows, .. } = &branch.law
    {
        for dependence in follows {
            per_parameter[dependence.parameter] += per_ohm * dependence.per_unit;
        }
    }
    per_parameter
}
