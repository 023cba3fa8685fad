use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::series::Series;
use crate::quantity::Amount;

/// z of a two-sided interval of 95 %.
const Z_95: f64 = 1.959_963_984_540_054;

/// An interval that holds a figure with 95 % confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// How the spread of a process compares with its limits (NIST/SEMATECH e-Handbook 6.1.6). Figures without unit. They hold
/// for a steady process with a normal distribution, and from few readings they say little: read the interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capability {
    /// How many readings made it.
    pub count: usize,
    /// Distance of the limits over six deviations; `None` where one side is open, as with a pull force.
    pub cp: Option<f64>,
    /// Distance of the mean from the upper limit over three deviations.
    pub upper: Option<f64>,
    /// Distance of the mean from the lower limit over three deviations.
    pub lower: Option<f64>,
    /// The smaller of the two.
    pub cpk: f64,
}

impl Capability {
    /// Of readings against limits of the same kind. `None` with fewer than two readings, without a limit, or without spread.
    pub fn of(series: &Series, low: Option<Amount>, high: Option<Amount>) -> Option<Self> {
        Self::from_moments(series.count(), series.mean(), series.deviation()?, low, high)
    }

    /// The same from mean and standard deviation.
    pub fn from_moments(
        count: usize,
        mean: Amount,
        deviation: Amount,
        low: Option<Amount>,
        high: Option<Amount>,
    ) -> Option<Self> {
        let three = 3.0 * deviation.base();
        if three <= 0.0 {
            return None;
        }
        let upper = high.map(|high| (high.base() - mean.base()) / three);
        let lower = low.map(|low| (mean.base() - low.base()) / three);
        let cpk = [upper, lower].into_iter().flatten().min_by(f64::total_cmp)?;
        let cp = low.zip(high).map(|(low, high)| (high.base() - low.base()) / (2.0 * three));
        Some(Self { count, cp, upper, lower, cpk })
    }

    /// 95 % interval of Cpk: Cpk ± z √(1/(9n) + Cpk²/(2(n - 1))) (Bissell 1990, from memory), an approximation.
    pub fn cpk_interval(&self) -> Option<Interval> {
        let n = self.count as f64;
        let half = Z_95 * (1.0 / (9.0 * n) + self.cpk.powi(2) / (2.0 * (n - 1.0))).sqrt();
        (self.count > 1).then_some(Interval { low: self.cpk - half, high: self.cpk + half })
    }

    /// 95 % interval of Cp: Cp √(χ²/(n - 1)) at 2.5 % and 97.5 %, exact for a normal distribution.
    pub fn cp_interval(&self) -> Option<Interval> {
        let free = self.count.checked_sub(1)? as f64;
        let chi = ChiSquared::new(free).ok()?;
        let end = |p: f64, cp: f64| cp * (chi.inverse_cdf(p) / free).sqrt();
        self.cp.map(|cp| Interval { low: end(0.025, cp), high: end(0.975, cp) })
    }
}
