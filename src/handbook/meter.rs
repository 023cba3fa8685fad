//! Accuracy of hand-held meters.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{ASSUMPTIONS, Cited, Published, load};
use crate::quantity::{Dimension, Resistance};

/// Input resistance of a voltmeter.
pub const VOLTMETER_INPUT: Resistance = Resistance::ohms(1.0e7);

/// One range of a meter: its error is `percent` of the reading plus `counts` steps of the last digit.
#[derive(Debug, Clone, Deserialize)]
pub struct MeterRange {
    /// `voltage`, `current` or `resistance`.
    quantity: String,
    /// The end of the range, in the base unit.
    up_to: f64,
    /// One step of the last digit, in the base unit.
    step: f64,
    percent: f64,
    counts: f64,
}

static BASIC: LazyLock<Published<MeterRange>> = LazyLock::new(|| load(ASSUMPTIONS, "basic_meter"));

/// Largest error of a plain hand-held meter at a reading, in the base unit of the quantity; `None` where no such
/// meter measures the quantity.
pub fn basic_meter_error(dimension: Dimension, reading: f64) -> Option<Cited<f64>> {
    let name = dimension.name();
    let ranges = || BASIC.rows.iter().filter(|r| r.quantity == name);
    let range = ranges().find(|r| reading.abs() < r.up_to).or_else(|| ranges().next_back())?;
    let error = range.percent / 100.0 * reading.abs() + range.counts * range.step;
    Some(Cited::new(error, BASIC.source.clone(), BASIC.status))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_error_of_a_plain_meter_follows_its_range() {
        let error = |value| basic_meter_error(Dimension::Voltage, value).unwrap().value;
        assert!((error(12.62) - 0.150_96).abs() < 1e-9);
        assert!((error(0.250) - 0.007).abs() < 1e-9);
        assert!(basic_meter_error(Dimension::Torque, 5.0).is_none());
    }
}
