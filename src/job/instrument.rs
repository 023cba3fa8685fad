//! Instruments that the readings of a job are taken with, and the rule by which a reading is accepted.

use super::read_instruments::read_instruments;
use crate::document::Table;
use crate::handbook::meter::{MeterClass, MeterRange, VOLTMETER_INPUT, largest_error};
use crate::quantity::{Amount, Day, Dimension, Resistance};

/// An instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Its name in the job; empty for the generic one that stands in where the job states none.
    pub name: String,
    /// What it is, in words.
    pub description: Option<String>,
    /// The number on it.
    pub serial: Option<String>,
    /// The generic class that it was taken for; `None` where its own accuracy is stated.
    pub class: Option<MeterClass>,
    /// Its ranges.
    pub ranges: Vec<MeterRange>,
    /// What its leads add to a resistance: the most that is left after they were nulled, or all of it.
    pub leads: Resistance,
    /// Resistance between its probes while it reads volts.
    pub input_resistance: Resistance,
    /// Resistance that it puts into a circuit while it reads amperes in line; `None` for a clamp.
    pub burden: Option<Resistance>,
    /// Up to this day its accuracy is assured, as `2027-03-31`; `None` where nobody has calibrated it.
    pub calibration_due: Option<Day>,
}

/// Resistance of test leads that are in order: up to 0.5 ohm, on top of the true value (a meter maker's manual).
const LEADS: Resistance = Resistance::ohms(0.5);

impl Instrument {
    /// The plainest hand-held meter, where a job says nothing.
    pub fn generic() -> Self {
        Self {
            name: String::new(),
            description: None,
            serial: None,
            class: Some(MeterClass::Basic),
            ranges: MeterClass::Basic.ranges().value,
            leads: LEADS,
            input_resistance: VOLTMETER_INPUT,
            burden: None,
            calibration_due: None,
        }
    }

    /// All `[meter.NAME]` tables of a file.
    pub fn read_all(top: &Table) -> Vec<Self> {
        read_instruments(top)
    }

    /// Whether it measures this kind of quantity.
    pub fn measures(&self, dimension: Dimension) -> bool {
        self.ranges.iter().any(|r| r.up_to.dimension() == dimension)
    }

    /// Its largest error at a reading that was written with steps of `resolution`, in the base unit.
    pub fn largest_error(&self, reading: Amount, resolution: f64) -> Option<Amount> {
        largest_error(&self.ranges, reading, resolution)
    }

    /// Its largest error near a value, on the finest range that holds it.
    pub fn least_error_at(&self, value: Amount) -> Option<Amount> {
        self.finest_range(value).map(|range| range.largest_error(value))
    }

    /// One step of the last digit on the finest range that holds a value, in its base unit.
    pub fn digit_at(&self, value: Amount) -> Option<f64> {
        self.finest_range(value).map(|range| range.digit.base())
    }

    fn finest_range(&self, value: Amount) -> Option<&MeterRange> {
        let holds = |range: &&MeterRange| {
            range.up_to.dimension() == value.dimension() && value.base().abs() <= range.up_to.base()
        };
        self.ranges.iter().find(holds)
    }

    /// Whether its calibration was overdue on a day.
    pub fn overdue(&self, day: Day) -> bool {
        self.calibration_due.is_some_and(|due| due < day)
    }

    /// How it is called in a sentence.
    pub fn called(&self) -> String {
        match (&self.description, self.class) {
            (Some(description), _) => format!("{} ({description})", self.name),
            (None, Some(class)) if self.name.is_empty() => {
                format!("a plain hand-held meter (class {}, from memory: the job states no instrument)", class.word())
            }
            _ => self.name.clone(),
        }
    }
}

/// By which rule a reading near a limit is accepted (JCGM 106, ISO 14253-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Acceptance {
    /// The limit itself decides; the meter must be fine enough for it.
    #[default]
    Simple,
    /// The reading keeps the limit by at least its expanded uncertainty.
    Guarded,
}

impl Acceptance {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, Acceptance)] = &[("simple", Self::Simple), ("guarded", Self::Guarded)];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, rule)| *rule == self).map_or("", |(word, _)| word)
    }
}
