//! How likely a set of readings is, where each has its own uncertainty, some tolerances move all of them together, and a
//! reading may be a slip.
//!
//! A battery that stands 0.2 V higher than stated lifts every reading of its vehicle: taken as independent, such
//! readings would seem to prove much more than they do. With the shared values normal and the rest independent, the
//! readings are normal together, and the sums over them have only as many unknowns as there are shared values
//! (Bayesian linear regression; the residual of one reading given the others follows from the same matrix).

use super::evidence::{Misreading, Predicted};
use crate::circuit::eliminate;
use crate::quantity::{Amount, Reading};

/// What readings say of one hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub struct Likelihood {
    /// Natural logarithm of their density (of their probability, for readings without a value).
    pub log: f64,
    /// What the shared values are taken to be.
    pub shared: Shared,
    /// The readings that are slips if this hypothesis holds, by their place.
    pub slips: Vec<usize>,
}

/// What is known of the shared values, in standard uncertainties from nominal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shared {
    /// The values that the readings tell of; the rest is as it was.
    told: Vec<usize>,
    mean: Vec<f64>,
    /// Covariance, row by row.
    covariance: Vec<f64>,
}

impl Shared {
    /// Mean and standard uncertainty of a reading to come, from what is predicted at nominal.
    pub fn predict(&self, mean: Amount, standard: Amount, moves: &[Amount]) -> (Amount, Amount) {
        let (unit, standard) = (mean, standard.base());
        let count = self.told.len();
        let mut mean = mean.base();
        let mut variance = standard * standard;
        let moved = |place: usize| moves.get(place).map_or(0.0, |amount: &Amount| amount.base());
        for place in 0..moves.len() {
            let moved_here = moved(place);
            match self.told.iter().position(|told| *told == place) {
                Some(row) => {
                    mean += moved_here * self.mean[row];
                    for (column, other) in self.told.iter().enumerate() {
                        variance += moved_here * moved(*other) * self.covariance[row * count + column];
                    }
                }
                None => variance += moved_here * moved_here,
            }
        }
        (unit.with(mean), unit.with(variance.max(standard * standard).sqrt()))
    }
}

/// One reading with a value: its distance from what is predicted, in its base unit.
struct Rest<'p> {
    place: usize,
    residual: f64,
    standard: f64,
    moves: &'p [Amount],
    slip: Misreading,
}

/// The shared values that matter, told by some of the readings.
struct Fit {
    told: Vec<usize>,
    /// Inverse of 1 + Σ j·jᵀ/s².
    covariance: Vec<f64>,
    mean: Vec<f64>,
    /// Logarithm of the density of the readings.
    log: f64,
}

/// A movement below this share of the reading's own uncertainty tells nothing of a shared value.
const TELLS: f64 = 0.05;

/// So many readings are few.
const FEW: usize = 12;

fn fit(rests: &[&Rest], told: &[usize]) -> Fit {
    let count = told.len();
    let width = 2 * count;
    let mut matrix = vec![0.0; count * width];
    let mut right = vec![0.0; count];
    let mut log = 0.0;
    for rest in rests {
        let weight = 1.0 / (rest.standard * rest.standard);
        log -= 0.5 * rest.residual * rest.residual * weight + (rest.standard * std::f64::consts::TAU.sqrt()).ln();
        for (row, a) in told.iter().enumerate() {
            right[row] += rest.moves[*a].base() * rest.residual * weight;
            for (column, b) in told.iter().enumerate() {
                matrix[row * width + column] += rest.moves[*a].base() * rest.moves[*b].base() * weight;
            }
        }
    }
    for row in 0..count {
        matrix[row * width + row] += 1.0;
        matrix[row * width + count + row] = 1.0;
    }
    let determinant = eliminate(&mut matrix, count, count);
    let at = |row: usize, column: usize| matrix[row * width + count + column];
    let covariance: Vec<f64> = (0..count).flat_map(|row| (0..count).map(move |column| at(row, column))).collect();
    let mean: Vec<f64> = (0..count).map(|row| (0..count).map(|column| at(row, column) * right[column]).sum()).collect();
    let explained: f64 = mean.iter().zip(&right).map(|(mean, right)| mean * right).sum();
    log += 0.5 * explained - 0.5 * determinant.abs().ln();
    Fit { told: told.to_vec(), covariance, mean, log }
}

impl Fit {
    /// Logarithm of the density of one of its readings, given the others.
    fn given_the_others(&self, rest: &Rest) -> f64 {
        let count = self.told.len();
        let moves: Vec<f64> = self.told.iter().map(|place| rest.moves[*place].base()).collect();
        let expected: f64 = moves.iter().zip(&self.mean).map(|(moved, mean)| moved * mean).sum();
        let mut held = 0.0;
        for (row, a) in moves.iter().enumerate() {
            for (column, b) in moves.iter().enumerate() {
                held += a * b * self.covariance[row * count + column];
            }
        }
        let free = (1.0 - held / (rest.standard * rest.standard)).max(1e-12);
        let deviation = rest.standard / free.sqrt();
        let z = (rest.residual - expected) / free / deviation;
        -0.5 * z * z - (deviation * std::f64::consts::TAU.sqrt()).ln()
    }
}

/// How likely the readings are for what is predicted.
///
/// Slips: all readings good; each one of them a slip; then those that fit worst, one after the other.
pub fn likelihood(readings: &[(&Reading, Misreading)], predicted: &[Predicted]) -> Likelihood {
    let mut free = 0.0;
    let mut rests = Vec::new();
    let mut slips = Vec::new();
    for (place, ((reading, slip), predicted)) in readings.iter().zip(predicted).enumerate() {
        match (reading.value, predicted) {
            (Some(value), Predicted::Value { mean, standard, stray, moves }) => {
                let residual = value - mean.base();
                let mut standard = standard.base();
                if stray.base() > 0.0 {
                    // A free point shows what hangs on it or what it picks up, one as often as the other.
                    free += 0.5f64.ln();
                    let wide = standard.hypot(stray.base());
                    let density = |s: f64| -0.5 * (residual / s).powi(2) - s.ln();
                    standard = if density(wide) > density(standard) { wide } else { standard };
                }
                rests.push(Rest { place, residual, standard, moves, slip: *slip });
            }
            (None, Predicted::OverRange) => free += (1.0 - slip.share).ln(),
            (Some(_), Predicted::OverRange) => {
                free += slip.anywhere().ln();
                slips.push(place);
            }
            (None, Predicted::Value { .. }) => {
                free += slip.share.ln();
                slips.push(place);
            }
        }
    }
    let places = rests.iter().map(|rest| rest.moves.len()).max().unwrap_or(0);
    let moved = |rest: &Rest, place: usize| rest.moves.get(place).map_or(0.0, |moved| moved.base().abs());
    let telling = |place: usize| rests.iter().filter(|rest| moved(rest, place) > TELLS * rest.standard).count();
    // Of many readings, what a single one tells of is its own affair; a few keep what they tell for the next.
    let keeps = |place: usize| telling(place) > usize::from(rests.len() > FEW);
    let told: Vec<usize> = (0..places).filter(|place| keeps(*place)).collect();
    let alone: Vec<usize> = (0..places).filter(|place| telling(*place) > 0 && !keeps(*place)).collect();
    for rest in &mut rests {
        rest.standard = alone.iter().fold(rest.standard, |sum, place| sum.hypot(moved(rest, *place)));
    }
    let mut good: Vec<&Rest> = rests.iter().collect();
    let mut slipped = 0.0;
    let mut terms: Vec<f64> = Vec::new();
    let mut best: Option<(f64, Fit, Vec<usize>)> = None;
    let mut removed = slips;
    loop {
        let fit = fit(&good, &told);
        let sound: f64 = good.iter().map(|rest| (1.0 - rest.slip.share).ln()).sum();
        let here = slipped + sound + fit.log;
        terms.push(here);
        // By how much each reading fits better as a slip.
        let gains: Vec<f64> = good
            .iter()
            .map(|rest| rest.slip.anywhere().ln() - (1.0 - rest.slip.share).ln() - fit.given_the_others(rest))
            .collect();
        if best.as_ref().is_none_or(|(most, ..)| here > *most) {
            best = Some((here, fit, removed.clone()));
        }
        let worst = gains.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map(|(at, gain)| (at, *gain));
        let Some((at, gain)) = worst else { break };
        if gain <= 0.0 {
            terms.extend(gains.iter().map(|gain| here + gain));
            break;
        }
        let slip = good.remove(at);
        slipped += slip.slip.anywhere().ln();
        removed.push(slip.place);
    }
    let log = free + log_sum(&terms);
    match best {
        Some((_, Fit { told, mean, covariance, .. }, slips)) => {
            Likelihood { log, shared: Shared { told, mean, covariance }, slips }
        }
        None => Likelihood { log, shared: Shared::default(), slips: removed },
    }
}

/// Logarithm of a sum of exponentials.
pub(super) fn log_sum(logs: &[f64]) -> f64 {
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return largest;
    }
    largest + logs.iter().map(|log| (log - largest).exp()).sum::<f64>().ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Dimension;

    fn reading(volts: f64) -> Reading {
        Reading::parse(&format!("{volts} V"), Dimension::Voltage).unwrap()
    }

    fn amount(volts: f64) -> Amount {
        Amount::new(volts, Dimension::Voltage)
    }

    fn volts(mean: f64, standard: f64, moves: &[f64]) -> Predicted {
        let moves = moves.iter().map(|moved| amount(*moved)).collect();
        Predicted::Value { mean: amount(mean), standard: amount(standard), stray: amount(0.0), moves }
    }

    const NEVER: f64 = 1e-12;

    fn slip(share: f64) -> Misreading {
        Misreading { share, span: Amount::new(24.0, Dimension::Voltage) }
    }

    /// Density of a normal distribution in two dimensions by its definition, written out.
    fn both(x: f64, y: f64, (vx, vy, c): (f64, f64, f64)) -> f64 {
        let det = vx * vy - c * c;
        (-(vy * x * x - 2.0 * c * x * y + vx * y * y) / (2.0 * det)).exp() / (std::f64::consts::TAU * det.sqrt())
    }

    #[test]
    fn two_readings_of_one_battery_are_normal_together() {
        let (a, b) = (reading(12.4), reading(11.9));
        let readings = [(&a, slip(NEVER)), (&b, slip(NEVER))];
        let predicted = [volts(12.6, 0.05, &[0.2, 0.0]), volts(12.0, 0.03, &[0.19, 0.04])];
        let covariance = (0.05f64.powi(2) + 0.04, 0.03f64.powi(2) + 0.19 * 0.19 + 0.04 * 0.04, 0.2 * 0.19);
        let expected = both(-0.2, -0.1, covariance).ln();
        let found = likelihood(&readings, &predicted).log;
        assert!((found - expected).abs() < 1e-6, "{found} {expected}");
    }

    #[test]
    fn without_shared_values_the_readings_are_independent_and_a_slip_is_a_share_of_each() {
        let (a, b) = (reading(12.4), reading(3.0));
        let readings = [(&a, slip(0.01)), (&b, slip(0.01))];
        let predicted = [volts(12.3, 0.1, &[]), volts(11.9, 0.1, &[])];
        let one = |z: f64| 0.99 * (-0.5 * z * z).exp() / (0.1 * std::f64::consts::TAU.sqrt()) + 0.01 / 24.0;
        let expected = (one(1.0) * one(89.0)).ln();
        let found = likelihood(&readings, &predicted).log;
        assert!((found - expected).abs() < 1e-3, "{found} {expected}");
    }

    #[test]
    fn what_a_reading_tells_of_the_battery_narrows_the_next() {
        let a = reading(12.8);
        let readings = [(&a, slip(NEVER))];
        let shared = likelihood(&readings, &[volts(12.6, 0.01, &[0.2])]).shared;
        let (mean, standard) = shared.predict(amount(12.0), amount(0.01), &[amount(0.19)]);
        assert!((mean.base() - 12.19).abs() < 0.002, "{mean}");
        assert!(standard.base() < 0.015, "{standard}");
        let (mean, standard) = Shared::default().predict(amount(12.0), amount(0.03), &[amount(0.04)]);
        assert!((mean.base() - 12.0).abs() < 1e-12 && (standard.base() - 0.05).abs() < 1e-12);
    }

    proptest::proptest! {
        #[test]
        fn the_order_of_the_readings_changes_nothing(values in proptest::collection::vec((0.0f64..14.0, -0.3f64..0.3), 2..6)) {
            let readings: Vec<Reading> = values.iter().map(|(v, _)| reading((v * 100.0).round() / 100.0)).collect();
            let of = |order: Vec<usize>| {
                let taken: Vec<(&Reading, Misreading)> = order.iter().map(|i| (&readings[*i], slip(0.01))).collect();
                let predicted: Vec<Predicted> =
                    order.iter().map(|i| volts(values[*i].0 + values[*i].1, 0.1, &[0.2, values[*i].1])).collect();
                likelihood(&taken, &predicted).log
            };
            let there = of((0..values.len()).collect());
            let back = of((0..values.len()).rev().collect());
            proptest::prop_assert!((there - back).abs() < 1e-9, "{there} {back}");
        }
    }
}
