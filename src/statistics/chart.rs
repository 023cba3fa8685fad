use super::FEW;
use super::series::{Series, mean};
use crate::quantity::Amount;

/// By which constant a mean moving range becomes a standard deviation. Both are in use; a chart names its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sigma {
    /// 1.128, three decimals of 2/√π, as the tables of the e-Handbook have it (NIST/SEMATECH e-Handbook 6.3.2.2).
    #[default]
    Tabled,
    /// 2/√π itself.
    Exact,
}

impl Sigma {
    fn d2(self) -> f64 {
        match self {
            Self::Tabled => 1.128,
            Self::Exact => std::f64::consts::FRAC_2_SQRT_PI,
        }
    }

    /// Upper limit of a moving range over the mean moving range, 1 + 3 d3/d2 with d3 = √(2 - 4/π): 3.267.
    fn d4(self) -> f64 {
        match self {
            Self::Tabled => 3.267,
            Self::Exact => 1.0 + 3.0 * (2.0 - 4.0 / std::f64::consts::PI).sqrt() / self.d2(),
        }
    }
}

/// Chart of individuals and moving ranges (NIST/SEMATECH e-Handbook 6.3.2.2): what a steady process stays within.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// How many readings made it.
    pub count: usize,
    /// Mean of the readings.
    pub centre: Amount,
    /// Mean moving range.
    pub mean_range: Amount,
    /// Standard deviation from reading to reading: mean moving range over d2.
    pub sigma: Amount,
    /// Centre less three sigma.
    pub low: Amount,
    /// Centre and three sigma.
    pub high: Amount,
    /// Upper limit of a moving range.
    pub range_high: Amount,
}

impl Individuals {
    /// From the readings of a process that is taken to be steady; `None` with fewer than two.
    pub fn of(series: &Series, sigma: Sigma) -> Option<Self> {
        let ranges: Vec<f64> = series.moving_ranges().iter().map(|r| r.base()).collect();
        if ranges.is_empty() {
            return None;
        }
        let (centre, mean_range) = (series.mean().base(), mean(&ranges));
        let deviation = mean_range / sigma.d2();
        Some(Self {
            count: series.count(),
            centre: series.amount(centre),
            mean_range: series.amount(mean_range),
            sigma: series.amount(deviation),
            low: series.amount(centre - 3.0 * deviation),
            high: series.amount(centre + 3.0 * deviation),
            range_high: series.amount(sigma.d4() * mean_range),
        })
    }

    /// Whether too few readings made it for its limits to be more than provisional.
    pub fn provisional(&self) -> bool {
        self.count < FEW
    }

    /// Whether the readings move by less than two steps of the last digit that was read: the chart then shows the rounding
    /// of the meter, and not the process.
    pub fn is_rounding(&self, digit: Amount) -> bool {
        digit.base() > 0.0 && self.mean_range.base() < 2.0 * digit.base()
    }

    /// The distance of a reading from the centre, in sigma; 0 on the centre of a chart without any spread, else infinite.
    pub fn distance(&self, reading: Amount) -> f64 {
        let away = reading.base() - self.centre.base();
        if away == 0.0 { 0.0 } else { away / self.sigma.base() }
    }
}
