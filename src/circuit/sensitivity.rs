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
    for &(node, weight) in &reading.weights {
        if let Some(row) = point.unknown[node] {
            adjoint[row] += weight;
        }
    }
    point.pattern.solve(&point.factor, &mut adjoint);
    let circuit = Solved {
        network,
        law: |at: usize| &network.branches[at].law,
        volts: |node: usize| point.volts[node],
        adjoint: |node: usize| point.unknown[node].map_or(0.0, |row| adjoint[row]),
    };
    let own = |node| reading.weights.iter().filter(|(of, _)| *of == node).map(|(_, w)| w).sum();
    let mut per_parameter = circuit.per_parameter(own);
    if let Some((branch, per_ohm)) = reading.direct {
        add_direct(&mut per_parameter, &branch.law, per_ohm);
    }
    per_parameter
}

/// A solved network, with the laws that really hold in its branches.
pub(super) struct Solved<'n, L, V, A> {
    pub network: &'n Network,
    /// The law of a branch, by its place.
    pub law: L,
    /// The voltage of a node.
    pub volts: V,
    /// How the reading follows a current pushed into a node.
    pub adjoint: A,
}

impl<'n, L, V, A> Solved<'n, L, V, A>
where
    L: Fn(usize) -> &'n Law,
    V: Fn(usize) -> f64,
    A: Fn(usize) -> f64,
{
    /// Change of the reading per unit of each parameter; `weight` is what the reading takes of a node itself.
    pub(super) fn per_parameter(&self, weight: impl Fn(usize) -> f64) -> Vec<f64> {
        let mut per_parameter = vec![0.0; self.network.parameters.len()];
        for (at, branch) in self.network.branches.iter().enumerate() {
            let share = (self.adjoint)(branch.a) - (self.adjoint)(branch.b);
            match (self.law)(at) {
                Law::Resistance { ohms, follows } if !follows.is_empty() => {
                    let across = self.across(branch);
                    for dependence in follows {
                        per_parameter[dependence.parameter] += share * across / (ohms * ohms) * dependence.per_unit;
                    }
                }
                Law::Resistance { .. } => {}
                Law::Source { volts, ohms, volts_parameter, ohms_parameter } => {
                    per_parameter[*volts_parameter] += share / ohms;
                    per_parameter[*ohms_parameter] += share * (self.across(branch) - volts) / (ohms * ohms);
                }
                Law::Load { model, parameter } => {
                    per_parameter[*parameter] -= share * model.draw(self.across(branch)).per_value;
                }
            }
        }
        for fixed in &self.network.fixed {
            let Some(parameter) = fixed.parameter else { continue };
            per_parameter[parameter] += weight(fixed.node);
            for (at, branch) in self.network.branches.iter().enumerate() {
                if branch.a == fixed.node || branch.b == fixed.node {
                    let other = if branch.a == fixed.node { branch.b } else { branch.a };
                    per_parameter[parameter] += (self.law)(at).draw(self.across(branch)).1 * (self.adjoint)(other);
                }
            }
        }
        per_parameter
    }

    fn across(&self, branch: &Branch) -> f64 {
        (self.volts)(branch.a) - (self.volts)(branch.b)
    }
}

/// Adds what a reading takes of the resistance of a branch itself.
pub(super) fn add_direct(per_parameter: &mut [f64], law: &Law, per_ohm: f64) {
    if let Law::Resistance { follows, .. } = law {
        for dependence in follows {
            per_parameter[dependence.parameter] += per_ohm * dependence.per_unit;
        }
    }
}
