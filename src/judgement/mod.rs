//! A reading against its limits: what was computed, what a rule asks, and what the meter itself may be off by.

use serde::{Deserialize, Serialize};

use crate::circuit::Expectation;
use crate::handbook::meter::basic_meter_error;
use crate::plan::Rule;
use crate::quantity::{Amount, Dimension, Reading, show};

/// How a reading stands to its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Within the limits.
    Conforms,
    /// Nothing to judge it by: written down as it is.
    Recorded,
    /// Within the rule, but not what the circuit must show: to be explained before the walk goes on.
    Unexpected,
    /// Outside the limits.
    DoesNotConform,
}

/// A verdict with its grounds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judgement {
    /// The verdict.
    pub verdict: Verdict,
    /// In words: against what.
    pub says: String,
    /// What the meter may be off by at this reading, where a meter took it.
    pub meter: Option<Amount>,
    /// The limits that were applied to the reading, the meter's error included.
    pub limits: Option<(Amount, Amount)>,
}

/// Isolation that counts as open on a dry circuit (common practice).
const OPEN_FROM_OHMS: f64 = 1.0e6;

/// Resistance of test leads that are in order: up to 0.5 ohm, shown on top of the true value.
const LEADS_OHMS: f64 = 0.5;

/// Judges a reading of the circuit.
///
/// The limits are the computed ones, widened by the error of a plain hand-held meter at that reading. A `rule` is
/// applied to the reading as it stands (simple acceptance).
pub fn judge_measurement(reading: &Reading, expectation: &Expectation, rule: Option<&Rule>) -> Judgement {
    let dimension = expectation.dimension;
    let Some(value) = reading.value else { return judge_over_range(expectation) };
    let meter = meter_error(dimension, value, reading.resolution);
    let meter_amount = Some(Amount::new(meter, dimension));
    let judged = |verdict, says: String| Judgement { verdict, says, meter: meter_amount, limits: None };
    if let Some(says) = rule.and_then(|rule| broken(rule, value)) {
        return judged(Verdict::DoesNotConform, format!("{reading}: {says}"));
    }
    let (Some(low), Some(high)) = (expectation.low, expectation.high) else {
        if value >= OPEN_FROM_OHMS {
            return judged(Verdict::Conforms, format!("{reading} counts as open (1 MΩ and more, common practice)"));
        }
        let says = format!("{reading} is a path where none must be: look for a short, or a load still plugged in");
        return judged(Verdict::DoesNotConform, says);
    };
    let leads = if dimension == Dimension::Resistance { LEADS_OHMS } else { 0.0 };
    let least = if dimension == Dimension::Resistance { 0.0 } else { f64::NEG_INFINITY };
    let (low, high) = ((low.base() - meter).max(least), high.base() + meter + leads);
    let limits = (Amount::new(low, dimension), Amount::new(high, dimension));
    let range = limits.0.range_to(limits.1);
    let judged = |verdict, says: String| Judgement { verdict, says, meter: meter_amount, limits: Some(limits) };
    if (low..=high).contains(&value) {
        let says = format!(
            "{reading} lies within {range} (expected {}, meter ±{})",
            expectation.range(),
            show(meter, dimension)
        );
        return judged(Verdict::Conforms, says);
    }
    let verdict = if rule.is_some() { Verdict::Unexpected } else { Verdict::DoesNotConform };
    let side = if value < low { "below" } else { "above" };
    let hint = hint(value, low, high, dimension);
    judged(verdict, format!("{reading} lies {side} {range}{hint}"))
}

fn judge_over_range(expectation: &Expectation) -> Judgement {
    if expectation.is_open() {
        let says = "over-range: no path, as it must be".to_owned();
        return Judgement { verdict: Verdict::Conforms, says, meter: None, limits: None };
    }
    let says = match expectation.dimension {
        Dimension::Resistance => format!("over-range: the path is open where {} is expected", expectation.range()),
        _ => "over-range: choose a higher range of the meter and read again".to_owned(),
    };
    Judgement { verdict: Verdict::DoesNotConform, says, meter: None, limits: None }
}

fn meter_error(dimension: Dimension, value: f64, resolution: f64) -> f64 {
    basic_meter_error(dimension, value).map_or(0.0, |error| error.value).max(resolution / 2.0)
}

/// The limit that a value breaks. A greatest value counts for both polarities.
fn broken(rule: &Rule, value: f64) -> Option<String> {
    if let Some(most) = rule.at_most.filter(|most| value.abs() > most.base()) {
        return Some(format!("more than {most} ({})", rule.because));
    }
    let least = rule.at_least.filter(|least| value < least.base())?;
    Some(format!("less than {least} ({})", rule.because))
}

/// What a reading outside its limits most often means.
fn hint(value: f64, low: f64, high: f64, dimension: Dimension) -> String {
    let inside = |value: f64| (low..=high).contains(&value);
    if value != 0.0 && inside(-value) {
        return "; with the other sign it would fit: are the probes swapped, or the wires crossed?".to_owned();
    }
    for (factor, name) in [(1000.0, "thousandfold"), (0.001, "thousandth")] {
        if value != 0.0 && inside(value * factor) {
            return format!("; the {name} would fit ({}): is it a slip of the unit?", show(value * factor, dimension));
        }
    }
    if matches!(dimension, Dimension::Voltage | Dimension::Current) && low > 0.0 && value.abs() < low / 10.0 {
        return "; hardly anything flows: is the load on, the fuse in, the probe on bare metal?".to_owned();
    }
    String::new()
}

/// Judges a value that the circuit does not determine: a torque, a length, a force.
///
/// An `explainable` value outside what is expected may be explained: a routed length is what it is.
pub fn judge_value(
    reading: &Reading,
    expected: Option<(Amount, Amount)>,
    rule: Option<&Rule>,
    explainable: bool,
) -> Judgement {
    let judged = |verdict, says| Judgement { verdict, says, meter: None, limits: None };
    let Some(value) = reading.value else {
        return match rule.filter(|r| expected.is_none() && r.at_most.is_none()).and_then(|r| r.at_least) {
            Some(least) => judged(Verdict::Conforms, format!("over-range: more than {least}, as it must be")),
            None => judged(Verdict::DoesNotConform, "over-range is no value here".to_owned()),
        };
    };
    if let Some(says) = rule.and_then(|rule| broken(rule, value)) {
        return judged(Verdict::DoesNotConform, format!("{reading}: {says}"));
    }
    let Some((low, high)) = expected else {
        return match rule {
            Some(rule) => judged(Verdict::Conforms, format!("{reading} keeps the rule ({})", rule.because)),
            None => judged(Verdict::Recorded, format!("{reading}, recorded")),
        };
    };
    let range = low.range_to(high);
    // A value at the very end of the range conforms, whatever the last bit of the arithmetic says.
    let grain = 1e-9 * high.base().abs().max(low.base().abs());
    if (low.base() - grain..=high.base() + grain).contains(&value) {
        return judged(Verdict::Conforms, format!("{reading} lies within {range}"));
    }
    let verdict = if explainable { Verdict::Unexpected } else { Verdict::DoesNotConform };
    judged(verdict, format!("{reading} lies outside {range}"))
}

/// Judges a text that was read off a part.
pub fn judge_text(typed: &str, expect: Option<&str>) -> Judgement {
    let judged = |verdict, says| Judgement { verdict, says, meter: None, limits: None };
    let Some(expect) = expect else {
        return judged(Verdict::Recorded, "recorded".to_owned());
    };
    let plain = |text: &str| text.to_lowercase().split_whitespace().collect::<String>().replace(',', ".");
    let (typed_plain, expect_plain) = (plain(typed), plain(expect));
    let without_unit = expect_plain.trim_end_matches(|c: char| c.is_alphabetic());
    if typed_plain == expect_plain || (!without_unit.is_empty() && typed_plain == without_unit) {
        return judged(Verdict::Conforms, format!("`{}` is what must be printed there", typed.trim()));
    }
    judged(Verdict::DoesNotConform, format!("`{}` was read where `{expect}` must be printed", typed.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn expectation(low: f64, high: f64) -> Expectation {
        let amount = |value| Some(Amount::new(value, Dimension::Voltage));
        Expectation {
            dimension: Dimension::Voltage,
            nominal: amount(f64::midpoint(low, high)),
            low: amount(low),
            high: amount(high),
            because: Vec::new(),
            varies: Vec::new(),
            notices: Vec::new(),
        }
    }

    fn verdict(typed: &str, rule: Option<&Rule>) -> (Verdict, String) {
        let reading = Reading::parse(typed, Dimension::Voltage).unwrap();
        let judged = judge_measurement(&reading, &expectation(0.25, 0.34), rule);
        (judged.verdict, judged.says)
    }

    #[test]
    fn a_reading_within_the_computed_limits_conforms() {
        assert_eq!(verdict("310 mV", None).0, Verdict::Conforms);
        assert_eq!(verdict("0.345 V", None).0, Verdict::Conforms, "the meter may be off by 8 mV");
    }

    #[test]
    fn a_reading_inside_the_rule_but_not_as_computed_is_asked_about() {
        let rule = Rule {
            at_least: None,
            at_most: Some(Amount::new(0.5, Dimension::Voltage)),
            because: "common practice".into(),
        };
        let (verdict_low, says) = verdict("0.00 V", Some(&rule));
        assert_eq!(verdict_low, Verdict::Unexpected);
        assert!(says.contains("hardly anything flows"), "{says}");
        assert_eq!(verdict("0.6 V", Some(&rule)).0, Verdict::DoesNotConform);
    }

    #[test]
    fn a_slip_of_unit_or_sign_is_named() {
        assert!(verdict("310 V", None).1.contains("slip of the unit"));
        assert!(verdict("-0.31 V", None).1.contains("other sign"));
    }

    #[test]
    fn a_printed_rating_is_compared_as_a_person_would() {
        for typed in ["15 A", "15A", "15", " 15 a "] {
            assert_eq!(judge_text(typed, Some("15 A")).verdict, Verdict::Conforms, "{typed}");
        }
        assert_eq!(judge_text("20", Some("15 A")).verdict, Verdict::DoesNotConform);
        assert_eq!(judge_text("7,5", Some("7.5 A")).verdict, Verdict::Conforms);
    }
}
