//! Propagation of distributions through a function: to first order (GUM 5.1.2) and by sampling (GUM-S1).

use rand::SeedableRng;
use rand_distr::{Distribution as _, Normal, Uniform};
use rand_pcg::Pcg64Mcg;

/// What is known of an input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// A mean and a standard deviation.
    Normal {
        /// The mean.
        mean: f64,
        /// The standard deviation, above zero.
        deviation: f64,
    },
    /// Anything between two limits, equally likely.
    Rectangular {
        /// The lower limit.
        low: f64,
        /// The upper limit.
        high: f64,
    },
}

impl Distribution {
    /// The expected value.
    pub fn mean(self) -> f64 {
        match self {
            Self::Normal { mean, .. } => mean,
            Self::Rectangular { low, high } => f64::midpoint(low, high),
        }
    }

    /// The standard uncertainty; half the width over √3 for a rectangular distribution (GUM 4.3.7).
    pub fn standard_uncertainty(self) -> f64 {
        match self {
            Self::Normal { deviation, .. } => deviation,
            Self::Rectangular { low, high } => (high - low) / 12f64.sqrt(),
        }
    }

    fn draw(self, source: &mut Pcg64Mcg) -> f64 {
        match self {
            Self::Normal { mean, deviation } => Normal::new(mean, deviation).map_or(mean, |d| d.sample(source)),
            Self::Rectangular { low, high } => Uniform::new_inclusive(low, high).map_or(low, |d| d.sample(source)),
        }
    }
}

/// The output of a sampled function.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampled {
    /// Mean of the draws.
    pub mean: f64,
    /// Their standard deviation.
    pub deviation: f64,
    /// 2.5 % of the draws lie below.
    pub low: f64,
    /// 2.5 % of the draws lie above.
    pub high: f64,
}

/// Draws the inputs `draws` times (at least 100) and sums the outputs up. The same seed gives the same answer.
///
/// Draws for which the function has no value are left out.
pub fn sample(
    inputs: &[Distribution],
    draws: usize,
    seed: u64,
    mut function: impl FnMut(&[f64]) -> Option<f64>,
) -> Option<Sampled> {
    let mut source = Pcg64Mcg::seed_from_u64(seed);
    let mut values = vec![0.0; inputs.len()];
    let mut outputs = Vec::with_capacity(draws.max(100));
    for _ in 0..draws.max(100) {
        for (value, input) in values.iter_mut().zip(inputs) {
            *value = input.draw(&mut source);
        }
        outputs.extend(function(&values).filter(|output| output.is_finite()));
    }
    if outputs.len() < 2 {
        return None;
    }
    outputs.sort_by(f64::total_cmp);
    let count = outputs.len() as f64;
    let mean = outputs.iter().sum::<f64>() / count;
    let variance = outputs.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (count - 1.0);
    // Index of the order statistic; the count is far below 2^52.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of the count is a place in it")]
    let at = |share: f64| outputs[((share * count) as usize).min(outputs.len() - 1)];
    Some(Sampled { mean, deviation: variance.sqrt(), low: at(0.025), high: at(0.975) })
}

/// Value and standard uncertainty to first order: u² = Σ (∂f/∂x · u(x))², slopes by central differences.
pub fn first_order(inputs: &[Distribution], function: impl Fn(&[f64]) -> f64) -> (f64, f64) {
    let means: Vec<f64> = inputs.iter().map(|i| i.mean()).collect();
    let mut squares = 0.0;
    for (at, input) in inputs.iter().enumerate() {
        let step = input.standard_uncertainty();
        let mut moved = means.clone();
        moved[at] = means[at] + step;
        let up = function(&moved);
        moved[at] = means[at] - step;
        let down = function(&moved);
        squares += ((up - down) / 2.0).powi(2);
    }
    (function(&means), squares.sqrt())
}
