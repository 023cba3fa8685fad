//! How likely a fault makes the readings, its unknown strength averaged out.
//!
//! A bad joint may add 20 mohm or 200 ohm. Between bare grid points of the strength a sharp likelihood falls through to
//! the floor, and the true fault is dismissed. So the strengths are divided until the predictions of neighbours lie close
//! together in terms of the reading's uncertainty, wherever a reading falls between them.

use super::likelihood::likelihood;
use crate::quantity::{Amount, Reading, Resistance};

/// What a fault predicts for a reading.
#[derive(Debug, Clone, PartialEq)]
pub enum Predicted {
    /// A value.
    Value {
        /// What the meter would show.
        mean: Amount,
        /// Standard uncertainty of this reading alone: meter, and tolerances that no other reading shares.
        standard: Amount,
        /// Where a point hangs free, what the meter may pick up there, or not, as a standard uncertainty; else nothing.
        stray: Amount,
        /// Movement by one standard uncertainty of each shared value.
        moves: Vec<Amount>,
    },
    /// Over-range: no path, for an ohmmeter.
    OverRange,
}

/// The wrong point probed, a figure misread: without it, one slip would dismiss the true fault for good.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misreading {
    /// How often, as a share of all readings.
    pub share: f64,
    /// The span over which a misread value may lie anywhere.
    pub span: Amount,
}

impl Misreading {
    /// Density of a slip: anywhere in the span alike.
    pub(super) fn anywhere(self) -> f64 {
        self.share / self.span.base()
    }

    /// Density of a value where this mean is predicted with this standard uncertainty, all in the base unit.
    pub(super) fn density(self, value: f64, mean: f64, standard: f64) -> f64 {
        let z = (value - mean) / standard;
        let normal = (-0.5 * z * z).exp() / (standard * std::f64::consts::TAU.sqrt());
        (1.0 - self.share) * normal + self.anywhere()
    }
}

/// The strengths that a fault may have, each decade as likely as the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strengths {
    /// The weakest worth finding.
    pub least: Resistance,
    /// The strongest that is not an open circuit.
    pub greatest: Resistance,
    /// How far neighbours may lie apart, in standard uncertainties of a reading.
    pub fineness: f64,
}

impl Strengths {
    /// Between two strengths, fine enough for a ranking of faults.
    pub fn between(least: Resistance, greatest: Resistance) -> Self {
        Self { least, greatest, fineness: 0.5 }
    }

    /// So many of them, from the least to the greatest, a same multiple apart.
    pub(super) fn spread(self, count: usize) -> impl Iterator<Item = Resistance> {
        self.logs(count).map(|log| Resistance::ohms(log.exp()))
    }

    /// Their logarithms.
    fn logs(self, count: usize) -> impl Iterator<Item = f64> {
        let (low, high) = (self.least.as_ohms().ln(), self.greatest.as_ohms().ln());
        let step = (high - low) / (count.max(2) - 1) as f64;
        (0..count).map(move |i| low + step * i as f64)
    }
}

/// What the readings say about a fault of unknown strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Marginal {
    /// Logarithm of the likelihood of the readings, averaged over the strengths.
    pub log_evidence: f64,
    /// (share below, strength) in rising order: the distribution of the strength, given the fault.
    distribution: Vec<(f64, f64)>,
}

impl Marginal {
    /// The strength below which this share of its distribution lies, given that the fault is there.
    pub fn quantile(&self, share: f64) -> Resistance {
        let at = self.distribution.partition_point(|(below, _)| *below < share);
        let log = match (at.checked_sub(1).map(|i| self.distribution[i]), self.distribution.get(at)) {
            (Some((low, from)), Some(&(high, to))) if high > low => from + (to - from) * (share - low) / (high - low),
            (Some((_, last)), None) => last,
            (_, Some(&(_, only))) => only,
            (None, None) => f64::NAN,
        };
        Resistance::ohms(log.exp())
    }
}

/// Cells into which the strengths are divided at first.
const CELLS: usize = 25;
/// How often a cell may be halved.
const HALVINGS: usize = 12;
/// Beyond so many standard uncertainties a reading does not fall into a cell.
const FAR: f64 = 6.0;

/// One strength with what it predicts and how likely it makes the readings.
struct Point {
    log: f64,
    predicted: Vec<Predicted>,
    likelihood: f64,
}

/// Averages the likelihood of readings over the strengths of a fault.
///
/// `predict` gives for a strength what each reading must show, in the order of the readings.
pub fn over_strengths(
    strengths: Strengths,
    readings: &[(&Reading, Misreading)],
    mut predict: impl FnMut(Resistance) -> Vec<Predicted>,
) -> Marginal {
    let mut point = |log: f64| {
        let predicted = predict(Resistance::ohms(log.exp()));
        let likelihood = likelihood(readings, &predicted).log;
        Point { log, predicted, likelihood }
    };
    let mut ends = strengths.logs(CELLS + 1);
    let mut from = point(ends.next().unwrap_or_default());
    // (logarithm of the strength, logarithm of the likelihood), in rising order of the strength.
    let mut curve = vec![(from.log, from.likelihood)];
    for end in ends {
        // Depth first, so that the points come in rising order.
        let mut ahead = vec![(point(end), 0)];
        while let Some((to, halvings)) = ahead.pop() {
            if halvings < HALVINGS && too_coarse(&from, &to, readings, strengths.fineness) {
                let middle = point(f64::midpoint(from.log, to.log));
                ahead.push((to, halvings + 1));
                ahead.push((middle, halvings + 1));
                continue;
            }
            curve.push((to.log, to.likelihood));
            from = to;
        }
    }
    integrate(&curve)
}

/// The average over a curve of (logarithm of the strength, logarithm of the likelihood), by trapezia.
fn integrate(curve: &[(f64, f64)]) -> Marginal {
    let largest = curve.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
    let whole = curve[curve.len() - 1].0 - curve[0].0;
    let mut below = 0.0;
    let mut distribution = vec![(0.0, curve[0].0)];
    for pair in curve.windows(2) {
        let height = f64::midpoint((pair[0].1 - largest).exp(), (pair[1].1 - largest).exp());
        below += (pair[1].0 - pair[0].0) / whole * height;
        distribution.push((below, pair[1].0));
    }
    for (share, _) in &mut distribution {
        *share /= below;
    }
    Marginal { log_evidence: largest + below.ln(), distribution }
}

/// Whether a reading falls between two neighbours whose predictions lie far apart.
fn too_coarse(from: &Point, to: &Point, readings: &[(&Reading, Misreading)], fineness: f64) -> bool {
    readings.iter().zip(from.predicted.iter().zip(&to.predicted)).any(|((reading, _), pair)| match pair {
        (
            Predicted::Value { mean: a, standard: sa, moves: ma, .. },
            Predicted::Value { mean: b, standard: sb, moves: mb, .. },
        ) => {
            let spread =
                |own: f64, moves: &[Amount]| moves.iter().fold(own * own, |sum, m| sum + m.base().powi(2)).sqrt();
            let (a, b, sa, sb) = (a.base(), b.base(), sa.base(), sb.base());
            let far = FAR * spread(sa, ma).max(spread(sb, mb));
            let falls_here = reading.value.is_some_and(|y| y > a.min(b) - far && y < a.max(b) + far);
            falls_here && (a - b).abs() > fineness * sa.min(sb)
        }
        (a, b) => matches!(a, Predicted::OverRange) != matches!(b, Predicted::OverRange),
    })
}
