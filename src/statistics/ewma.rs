use super::series::Series;
use crate::quantity::Amount;

/// Exponentially weighted moving average (NIST/SEMATECH e-Handbook 6.3.2.4): it finds a slow drift, such as that of a crimp
/// tool that wears, sooner than a chart of single readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Ewma {
    /// The average after each reading.
    pub averages: Vec<Amount>,
    /// Lower limit in the long run.
    pub low: Amount,
    /// Upper limit in the long run.
    pub high: Amount,
}

impl Ewma {
    /// Share of the newest reading in the average, as in the example of the e-Handbook.
    pub const WEIGHT: f64 = 0.3;

    /// Over a series, from the target and the standard deviation of a steady process. The limits are
    /// target ± 3 s √(λ/(2 - λ)), with λ = [`Self::WEIGHT`].
    pub fn of(series: &Series, target: Amount, deviation: Amount) -> Self {
        let mut average = target.base();
        let averages = series.values().iter().map(|x| {
            average = Self::WEIGHT * x + (1.0 - Self::WEIGHT) * average;
            series.amount(average)
        });
        let averages = averages.collect();
        let room = 3.0 * deviation.base() * (Self::WEIGHT / (2.0 - Self::WEIGHT)).sqrt();
        Self { averages, low: target.with(target.base() - room), high: target.with(target.base() + room) }
    }

    /// The first reading at which the average lies outside its limits, counted from 0.
    pub fn first_outside(&self) -> Option<usize> {
        self.averages.iter().position(|a| a.base() < self.low.base() || a.base() > self.high.base())
    }
}
