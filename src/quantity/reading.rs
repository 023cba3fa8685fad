use serde::{Deserialize, Serialize};

use super::parse::{QuantityError, parse_plain};
use super::{Amount, Dimension, show};

/// What a person read off an instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// As it was typed; the digits tell the resolution.
    pub typed: String,
    /// What kind of quantity was asked for.
    pub dimension: Dimension,
    /// In the base unit; `None` where the display showed over-range (`OL`).
    pub value: Option<f64>,
    /// One step of the last digit typed, in the base unit.
    pub resolution: f64,
}

impl Reading {
    /// Reads `12.4`, `12.4 V`, `310 mV`, `12,4` or `OL`; a number without a unit is in the base unit.
    ///
    /// # Errors
    /// [`QuantityError`] with the faulty part of the text and the way out.
    pub fn parse(text: &str, dimension: Dimension) -> Result<Self, QuantityError> {
        Self::parse_in(text, dimension, dimension.unit())
    }

    /// As [`Reading::parse`], a number without a unit being in `unit`.
    ///
    /// # Errors
    /// As [`Reading::parse`]; a value below zero where there is none of its kind.
    pub fn parse_in(text: &str, dimension: Dimension, unit: &str) -> Result<Self, QuantityError> {
        let typed = text.trim().to_owned();
        let over_range = ["OL", "0L", "O.L", ".OL", "0.L", "O.L.", "OPEN", "∞"];
        if over_range.iter().any(|word| typed.eq_ignore_ascii_case(word)) {
            return Ok(Self { typed, dimension, value: None, resolution: 0.0 });
        }
        let parsed = parse_plain(text, dimension, Some(unit))?;
        if parsed.value < 0.0 && !dimension.can_be_negative() {
            let says = format!("a {} is never below zero", dimension.name());
            return Err(QuantityError::new(0..text.len(), says, "write it without the minus sign"));
        }
        Ok(Self { typed, dimension, value: Some(parsed.value), resolution: parsed.resolution })
    }

    /// The value with its kind; `None` for over-range.
    pub fn amount(&self) -> Option<Amount> {
        self.value.map(|value| Amount::new(value, self.dimension))
    }
}

impl std::fmt::Display for Reading {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.value {
            Some(value) => f.pad(&show(value, self.dimension)),
            None => f.pad("over-range (OL)"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_keeps_its_digits_and_takes_the_unit_asked_for() {
        let plain = Reading::parse("12.4", Dimension::Voltage).unwrap();
        assert_eq!(plain.value, Some(12.4));
        assert!((plain.resolution - 0.1).abs() < 1e-12);
        let milli = Reading::parse("310 mV", Dimension::Voltage).unwrap();
        assert!((milli.value.unwrap() - 0.31).abs() < 1e-12);
        assert!((milli.resolution - 0.001).abs() < 1e-12);
        assert!(Reading::parse("ol", Dimension::Resistance).unwrap().value.is_none());
        assert!(Reading::parse("310 mA", Dimension::Voltage).is_err());
        assert!(Reading::parse("abc", Dimension::Voltage).is_err());
    }
}
