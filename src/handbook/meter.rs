//! Accuracy of hand-held meters: ±(per cent of the reading + counts of the last digit), range by range.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{ASSUMPTIONS, Cited, Published, load};
use crate::quantity::{Amount, Dimension, Resistance};

/// Input resistance of a voltmeter.
pub const VOLTMETER_INPUT: Resistance = Resistance::ohms(1.0e7);

/// One range of an instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterRange {
    /// The end of the range; what it measures.
    pub up_to: Amount,
    /// One step of its last digit.
    pub digit: Amount,
    /// Part of its largest error, in per cent of the reading.
    pub percent: f64,
    /// Part of its largest error, in per cent of the end of the range.
    pub percent_of_range: f64,
    /// Part of its largest error, in steps of the last digit.
    pub counts: f64,
}

impl MeterRange {
    /// The largest error at a reading: the sum of its parts (the maker's specification, taken as a bound).
    pub fn largest_error(&self, reading: Amount) -> Amount {
        let of_reading = self.percent / 100.0 * reading.base().abs();
        let of_range = self.percent_of_range / 100.0 * self.up_to.base();
        self.up_to.with(of_reading + of_range + self.counts * self.digit.base())
    }
}

/// The largest error of an instrument at a reading that was written with steps of `resolution` (base unit); `None` where
/// it does not measure this kind of quantity.
///
/// The digits tell the range: the one with this last digit. Digits that were left away add half a step. A finer digit
/// than any range has stands for an instrument with that digit and the same per cent and counts.
pub fn largest_error(ranges: &[MeterRange], reading: Amount, resolution: f64) -> Option<Amount> {
    let dimension = reading.dimension();
    let of_kind = || ranges.iter().filter(|r| r.up_to.dimension() == dimension);
    let holds = |range: &&MeterRange| reading.base().abs() <= range.up_to.base();
    let same = |range: &&MeterRange| (range.digit.base() - resolution).abs() < 0.01 * resolution;
    if let Some(range) = of_kind().filter(holds).find(same) {
        return Some(range.largest_error(reading));
    }
    let range = of_kind().find(holds).or_else(|| of_kind().next_back())?;
    if resolution > range.digit.base() {
        let error = range.largest_error(reading);
        return Some(error.with(error.base() + resolution / 2.0));
    }
    let finer = MeterRange { digit: range.digit.with(resolution), ..*range };
    Some(finer.largest_error(reading))
}

#[derive(Debug, Deserialize)]
struct ClassRow {
    /// `voltage`, `current` or `resistance`.
    quantity: String,
    up_to: f64,
    step: f64,
    percent: f64,
    counts: f64,
}

/// A generic class of instrument, for whoever does not know the accuracy of their own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeterClass {
    /// The plainest meters: 2,000 counts.
    Basic,
    /// 6,000 counts.
    Mid,
    /// 20,000 counts.
    Good,
}

impl MeterClass {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, MeterClass)] =
        &[("basic", Self::Basic), ("mid", Self::Mid), ("good", Self::Good)];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, class)| *class == self).map_or("", |(word, _)| word)
    }

    /// Its ranges, finest first for each quantity.
    pub fn ranges(self) -> Cited<Vec<MeterRange>> {
        let table = match self {
            Self::Basic => &BASIC,
            Self::Mid => &MID,
            Self::Good => &GOOD,
        };
        let ranges = table.rows.iter().filter_map(|row| {
            let electrical = [Dimension::Voltage, Dimension::Current, Dimension::Resistance];
            let dimension = electrical.into_iter().find(|d| d.name() == row.quantity)?;
            let amount = |value| Amount::new(value, dimension);
            Some(MeterRange {
                up_to: amount(row.up_to),
                digit: amount(row.step),
                percent: row.percent,
                percent_of_range: 0.0,
                counts: row.counts,
            })
        });
        Cited::new(ranges.collect(), table.source.clone(), table.status)
    }
}

static BASIC: LazyLock<Published<ClassRow>> = LazyLock::new(|| load(ASSUMPTIONS, "basic_meter"));
static MID: LazyLock<Published<ClassRow>> = LazyLock::new(|| load(ASSUMPTIONS, "mid_meter"));
static GOOD: LazyLock<Published<ClassRow>> = LazyLock::new(|| load(ASSUMPTIONS, "good_meter"));

#[cfg(test)]
mod tests {
    use super::*;

    fn error(class: MeterClass, value: f64, resolution: f64, dimension: Dimension) -> f64 {
        largest_error(&class.ranges().value, Amount::new(value, dimension), resolution).unwrap().base()
    }

    #[test]
    fn the_digits_of_a_reading_tell_the_range() {
        let volts = |value, resolution| error(MeterClass::Basic, value, resolution, Dimension::Voltage);
        assert!((volts(12.62, 0.01) - 0.150_96).abs() < 1e-9);
        assert!((volts(0.250, 0.001) - 0.007).abs() < 1e-9);
        assert!((volts(0.25, 0.01) - 0.052).abs() < 1e-9, "read on the 20 V range");
        assert!((volts(12.6, 0.1) - (0.1008 + 0.5)).abs() < 1e-9, "read on the 200 V range");
        assert!((volts(0.0, 1.0) - 0.5005).abs() < 1e-9, "a digit that no range shows was left away");
    }

    #[test]
    fn a_finer_digit_than_the_class_has_stands_for_such_an_instrument() {
        let amps = error(MeterClass::Basic, 0.022, 0.001, Dimension::Current);
        assert!((amps - (0.022 * 0.02 + 5.0 * 0.001)).abs() < 1e-9);
    }

    #[test]
    fn nothing_is_known_of_what_a_meter_does_not_measure() {
        let ranges = MeterClass::Good.ranges().value;
        assert!(largest_error(&ranges, Amount::new(5.0, Dimension::Torque), 0.1).is_none());
    }
}
