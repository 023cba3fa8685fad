//! Statistics of a reading that repeats: the pull of sample crimps, the drop of a joint, the current of a lamp.
//!
//! A chart needs an order in time and one process: one tool, one kind of wire, one meter. Whoever calls keeps apart what is
//! not one process.

mod capability;
mod chart;
mod ewma;
mod lot;
mod proportion;
mod series;
mod signals;
mod tolerance;

pub use capability::{Capability, Interval};
pub use chart::{Individuals, Sigma};
pub use ewma::Ewma;
pub use lot::lot_passes;
pub use proportion::proportion_interval;
pub use series::{Mixed, Series};
pub use signals::{Rule, Signal, signals};
pub use tolerance::{one_sided_factor, one_sided_factor_natrella, two_sided_factor};

/// With fewer readings than this, limits are provisional (at least 20 points before limits are shown: common practice).
pub const FEW: usize = 20;

/// Steps of an integration; an even number.
const STEPS: usize = 20_000;

/// Integral of a smooth function by Simpson's rule.
pub fn simpson(from: f64, to: f64, function: impl Fn(f64) -> f64) -> f64 {
    let step = (to - from) / STEPS as f64;
    let inner = (1..STEPS).map(|n| function(from + step * n as f64) * if n % 2 == 1 { 4.0 } else { 2.0 });
    (function(from) + inner.sum::<f64>() + function(to)) * step / 3.0
}

/// The share of a normal distribution that lies below a point, by its distance in standard deviations.
pub fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}
