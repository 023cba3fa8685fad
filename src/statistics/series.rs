use crate::quantity::{Amount, Dimension};

/// Readings of one kind in the order in which they were taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    dimension: Dimension,
    values: Vec<f64>,
}

/// Readings of several kinds, or none at all, are no series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mixed;

impl std::fmt::Display for Mixed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("these readings are not of one kind")
    }
}

impl std::error::Error for Mixed {}

impl Series {
    /// From readings in their order.
    ///
    /// # Errors
    /// [`Mixed`] where there is none, where they are of several dimensions, or where one is not finite.
    pub fn of(readings: &[Amount]) -> Result<Self, Mixed> {
        let dimension = readings.first().ok_or(Mixed)?.dimension();
        if readings.iter().any(|r| r.dimension() != dimension || !r.base().is_finite()) {
            return Err(Mixed);
        }
        Ok(Self { dimension, values: readings.iter().map(|r| r.base()).collect() })
    }

    /// How many there are; one at least.
    pub fn count(&self) -> usize {
        self.values.len()
    }

    /// Their mean.
    pub fn mean(&self) -> Amount {
        self.amount(mean(&self.values))
    }

    /// Their standard deviation with n - 1; `None` with a single reading.
    pub fn deviation(&self) -> Option<Amount> {
        let (n, mean) = (self.values.len(), mean(&self.values));
        let squares: f64 = self.values.iter().map(|x| (x - mean).powi(2)).sum();
        (n > 1).then(|| self.amount((squares / (n - 1) as f64).sqrt()))
    }

    /// The distance of each reading from the one before it.
    pub fn moving_ranges(&self) -> Vec<Amount> {
        self.values.windows(2).map(|pair| self.amount((pair[1] - pair[0]).abs())).collect()
    }

    pub(super) fn values(&self) -> &[f64] {
        &self.values
    }

    pub(super) fn amount(&self, value: f64) -> Amount {
        Amount::new(value, self.dimension)
    }
}

/// Arithmetic mean of one or more values.
pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}
