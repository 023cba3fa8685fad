//! A reading against its limits: what was computed, what a rule asks, and what the meter itself may be off by.

mod decision;
pub mod risk;

pub use decision::{Decision, How, Measured, agreement, can_decide, decide, probability_within};

use serde::{Deserialize, Serialize};

use crate::circuit::Expectation;
use crate::job::Instrument;
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
    /// Too near to a limit for this meter: a finer range, a better meter or another method decides.
    Undecided,
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
    /// What the meter may be off by at this reading, where a meter took it: its largest error.
    pub meter: Option<Amount>,
    /// Expanded uncertainty of the reading (k = 2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Amount>,
    /// Probability that the true value keeps the limits that decided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
    /// The instrument, where the job names it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// The limits that were applied to the reading, the meter's uncertainty included.
    pub limits: Option<(Amount, Amount)>,
}

impl Judgement {
    /// A verdict without a meter.
    fn plain(verdict: Verdict, says: String) -> Self {
        Self { verdict, says, meter: None, uncertainty: None, probability: None, instrument: None, limits: None }
    }
}

/// What a reading is judged with: the instrument, and how one near a limit is decided.
#[derive(Debug, Clone, Copy)]
pub struct Yardstick<'j> {
    /// The instrument; `None` where nobody knows what took the reading.
    pub instrument: Option<&'j Instrument>,
    /// How a reading near a limit is decided.
    pub how: How,
}

impl Yardstick<'_> {
    fn measured(self, reading: &Reading, value: f64) -> Option<Measured> {
        let value = Amount::new(value, reading.dimension);
        let largest_error = self.instrument?.largest_error(value, reading.resolution)?;
        Some(Measured { value, largest_error })
    }

    fn judgement(self, measured: Option<Measured>, verdict: Verdict, says: String) -> Judgement {
        Judgement {
            meter: measured.map(|m| m.largest_error),
            uncertainty: measured.map(Measured::expanded_uncertainty),
            instrument: self.instrument.map(|i| i.name.clone()).filter(|name| !name.is_empty()),
            ..Judgement::plain(verdict, says)
        }
    }
}

/// No length of a job is shorter, in metres.
const HAIR: f64 = 0.000_5;

/// Isolation that counts as open on a dry circuit (common practice).
const OPEN_FROM_OHMS: f64 = 1.0e6;

/// Judges a reading of the circuit.
///
/// Two questions are answered: whether it keeps the `rule`, decided with its uncertainty; and whether it agrees with what
/// the circuit must show, whose limits are widened by that uncertainty.
pub fn judge_measurement(
    reading: &Reading,
    expectation: &Expectation,
    rule: Option<&Rule>,
    yardstick: Yardstick,
) -> Judgement {
    let dimension = expectation.dimension;
    let Some(value) = reading.value else { return judge_over_range(expectation) };
    let measured = yardstick.measured(reading, value);
    let expanded = measured.map_or(0.0, |m| m.expanded_uncertainty().base());
    let judged = |verdict, says: String| yardstick.judgement(measured, verdict, says);
    let nominal = expectation.nominal;
    let ruled = rule.map(|rule| by_rule(reading, measured, rule, yardstick.how, nominal));
    if let Some((Decision::Reject | Decision::Undecided, judgement)) = ruled {
        return Judgement { instrument: judged(judgement.verdict, String::new()).instrument, ..judgement };
    }
    let probability = ruled.and_then(|(_, judgement)| judgement.probability);
    let (Some(low), Some(high)) = (expectation.low, expectation.high) else {
        if value >= OPEN_FROM_OHMS {
            return judged(Verdict::Conforms, format!("{reading} counts as open (1 MΩ and more, common practice)"));
        }
        let says = format!("{reading} is a path where none must be: look for a short, or a load still plugged in");
        return judged(Verdict::DoesNotConform, says);
    };
    let ohms = dimension == Dimension::Resistance;
    let leads = yardstick.instrument.filter(|_| ohms).map_or(0.0, |i| i.leads.as_ohms());
    let least = if ohms { 0.0 } else { f64::NEG_INFINITY };
    let within = measured.map(|m| m.probability_within(Some(low), Some(high.with(high.base() + leads))));
    let (low, high) = ((low.base() - expanded).max(least), high.base() + expanded + leads);
    let limits = (Amount::new(low, dimension), Amount::new(high, dimension));
    let range = limits.0.range_to(limits.1);
    let judged = |verdict, says: String| Judgement {
        limits: Some(limits),
        probability: probability.or(within),
        ..yardstick.judgement(measured, verdict, says)
    };
    if (low..=high).contains(&value) {
        let says =
            format!("{reading} ± {} lies within {range} (expected {})", show(expanded, dimension), expectation.range());
        return judged(Verdict::Conforms, says);
    }
    let verdict = if rule.is_some() { Verdict::Unexpected } else { Verdict::DoesNotConform };
    let side = if value < low { "below" } else { "above" };
    // Whether another unit would fit is a question at the size expected, where the meter may be much finer.
    let there = nominal.and_then(|nominal| {
        let largest_error = yardstick.instrument?.least_error_at(nominal)?;
        Some(Measured { value: nominal, largest_error }.expanded_uncertainty().base())
    });
    let hint = hint(value, (low, high), there.unwrap_or(0.0), dimension);
    judged(verdict, format!("{reading} lies {side} {range}{hint}"))
}

/// How sure it is that a value keeps its limits, where that is in any doubt.
fn sure(probability: Option<f64>) -> String {
    match probability {
        Some(share) if share < 0.999 => format!("; {:.0} % that the true value keeps it", 100.0 * share),
        _ => String::new(),
    }
}

/// What a rule says of a reading, decided with the uncertainty of the instrument.
fn by_rule(
    reading: &Reading,
    measured: Option<Measured>,
    rule: &Rule,
    how: How,
    expected: Option<Amount>,
) -> (Decision, Judgement) {
    let value = reading.value.unwrap_or_default();
    // A greatest value counts for both polarities.
    let signed = if rule.at_least.is_none() { value.abs() } else { value };
    let amount = Amount::new(signed, reading.dimension);
    let expanded = measured.map_or(amount.with(0.0), Measured::expanded_uncertainty);
    let room = room(rule, expected.map(|e| if rule.at_least.is_none() { e.with(e.base().abs()) } else { e }));
    let decision = decide(amount, expanded, (rule.at_least, rule.at_most), how, room);
    let probability = measured.map(|m| Measured { value: amount, ..m }.probability_within(rule.at_least, rule.at_most));
    let broken = broken(rule, value);
    let (verdict, says) = match decision {
        Decision::Accept => {
            (Verdict::Conforms, format!("{reading} keeps the rule ({}){}", rule.because, sure(probability)))
        }
        Decision::Reject => {
            let says = broken.unwrap_or_else(|| format!("outside {}", rule.limits()));
            (Verdict::DoesNotConform, format!("{reading}: {says}"))
        }
        Decision::Undecided => {
            let side = if broken.is_some() { "beyond" } else { "within" };
            let says = format!(
                "{reading} ± {} lies {side} the limit ({}), but too near to it for this meter on this range{}: read all \
                 digits on the lowest range that holds it, or take a finer meter",
                show(expanded.base(), reading.dimension),
                rule.limits(),
                sure(probability)
            );
            (Verdict::Undecided, says)
        }
    };
    let mut judgement = Judgement::plain(verdict, says);
    judgement.meter = measured.map(|m| m.largest_error);
    judgement.uncertainty = measured.map(Measured::expanded_uncertainty);
    judgement.probability = probability;
    (decision, judgement)
}

/// The distance from what is expected to the limit, at most half of the width of two limits; the limit's own size where
/// nothing is expected.
fn room(rule: &Rule, expected: Option<Amount>) -> Amount {
    match (rule.at_least, rule.at_most) {
        (Some(least), Some(most)) => least.with((most.base() - least.base()).abs() / 2.0),
        (Some(limit), None) | (None, Some(limit)) => {
            let own = limit.base().abs();
            limit.with(expected.map_or(own, |expected| (limit.base() - expected.base()).abs().min(own)))
        }
        (None, None) => Amount::new(f64::INFINITY, Dimension::Count),
    }
}

/// Whether an instrument can decide a step where everything is as it must be; else why not, and what can.
pub fn cannot_decide(
    expectation: &Expectation,
    rule: Option<&Rule>,
    instrument: &Instrument,
    how: How,
) -> Option<String> {
    let nominal = expectation.nominal?;
    let error = instrument.least_error_at(nominal)?;
    let measured = Measured { value: nominal, largest_error: error };
    let expanded = measured.expanded_uncertainty();
    if nominal.dimension() == Dimension::Resistance {
        let high = expectation.high?.base();
        let leads = instrument.leads.as_ohms();
        if expanded.base() + leads <= 0.5 * high {
            return None;
        }
        return Some(format!(
            "{} reads to ± {expanded}, leads apart: it shows that a path is there and not how good it is; the voltage \
             drop under load decides that",
            instrument.called()
        ));
    }
    let rule = rule?;
    if can_decide(expanded, room(rule, Some(nominal))) {
        return None;
    }
    let then = match how {
        How::Simple => "the limit itself decides, and the report says how sure that is",
        How::Strict | How::Guarded => "a reading near the limit will stay undecided",
    };
    Some(format!("{} reads to ± {expanded} here, coarse for {}: {then}", instrument.called(), rule.limits()))
}

fn judge_over_range(expectation: &Expectation) -> Judgement {
    if expectation.is_open() {
        return Judgement::plain(Verdict::Conforms, "over-range: no path, as it must be".to_owned());
    }
    let says = match expectation.dimension {
        Dimension::Resistance => format!("over-range: the path is open where {} is expected", expectation.range()),
        _ => "over-range: choose a higher range of the meter and read again".to_owned(),
    };
    Judgement::plain(Verdict::DoesNotConform, says)
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
fn hint(value: f64, (low, high): (f64, f64), least: f64, dimension: Dimension) -> String {
    let inside = |value: f64| (low..=high).contains(&value);
    if value != 0.0 && inside(-value) {
        return "; with the other sign it would fit: are the probes swapped, or the wires crossed?".to_owned();
    }
    for (factor, name) in [(1000.0, "thousandfold"), (0.001, "thousandth")] {
        // What the meter cannot tell from nothing is no sign of a slip.
        if inside(value * factor) && (value * factor).abs() > 2.0 * least {
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
    yardstick: Yardstick,
) -> Judgement {
    let Some(value) = reading.value else {
        return match rule.filter(|r| expected.is_none() && r.at_most.is_none()).and_then(|r| r.at_least) {
            Some(least) => Judgement::plain(Verdict::Conforms, format!("over-range: more than {least}, as it must be")),
            None => Judgement::plain(Verdict::DoesNotConform, "over-range is no value here".to_owned()),
        };
    };
    let measured = yardstick.measured(reading, value);
    let judged = |verdict, says| yardstick.judgement(measured, verdict, says);
    // A number in the wrong unit keeps every greatest value.
    if reading.dimension == Dimension::Length && value > 0.0 && value < HAIR {
        let says = format!("{reading} is as thin as a hair: is it a slip of the unit, m for mm?");
        return judged(Verdict::Unexpected, says);
    }
    if let Some(rule) = rule {
        let (decision, ruled) = by_rule(reading, measured, rule, yardstick.how, None);
        if decision != Decision::Accept || expected.is_none() {
            return Judgement { probability: ruled.probability, ..judged(ruled.verdict, ruled.says) };
        }
    }
    let Some((low, high)) = expected else {
        return judged(Verdict::Recorded, format!("{reading}, recorded"));
    };
    let range = low.range_to(high);
    // A value at the very end of the range conforms, whatever the last bit of the arithmetic says.
    let grain = 1e-9 * high.base().abs().max(low.base().abs());
    let limits = (Some(low.with(low.base() - grain)), Some(high.with(high.base() + grain)));
    let amount = low.with(value);
    let expanded = measured.map_or(amount.with(0.0), Measured::expanded_uncertainty);
    let room = low.with((high.base() - low.base()).abs() / 2.0);
    let probability = measured.map(|m| m.probability_within(limits.0, limits.1));
    let judged = |verdict, says| Judgement { probability, ..judged(verdict, says) };
    match decide(amount, expanded, limits, yardstick.how, room) {
        Decision::Accept => judged(Verdict::Conforms, format!("{reading} lies within {range}{}", sure(probability))),
        Decision::Undecided => {
            let says = format!("{reading} ± {expanded} lies too near to the end of {range} for this instrument");
            judged(Verdict::Undecided, format!("{says}{}: take a finer one", sure(probability)))
        }
        Decision::Reject if explainable => judged(Verdict::Unexpected, format!("{reading} lies outside {range}")),
        Decision::Reject => judged(Verdict::DoesNotConform, format!("{reading} lies outside {range}")),
    }
}

/// Judges a text that was read off a part.
pub fn judge_text(typed: &str, expect: Option<&str>) -> Judgement {
    let judged = Judgement::plain;
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

    fn plain(instrument: &Instrument) -> Yardstick<'_> {
        Yardstick { instrument: Some(instrument), how: How::Simple }
    }

    fn verdict(typed: &str, rule: Option<&Rule>) -> (Verdict, String) {
        let reading = Reading::parse(typed, Dimension::Voltage).unwrap();
        let judged = judge_measurement(&reading, &expectation(0.25, 0.34), rule, plain(&Instrument::generic()));
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
        assert_eq!(verdict("0.600 V", Some(&rule)).0, Verdict::DoesNotConform);
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
