//! Reads quantities as people write them: `12.6V`, `12,6 V`, `0.30 m ± 5 %`, `-10..45 °C`, `310 mV`.

use std::ops::Range;

use super::{Amount, Dimension, Quantity, Toleranced};

/// Why a text is not a quantity, and where in the text the trouble sits.
#[derive(Debug, Clone, PartialEq)]
pub struct QuantityError {
    /// The faulty bytes of the text.
    pub at: Range<usize>,
    /// What is wrong, in a few words.
    pub says: String,
    /// What to write instead.
    pub help: String,
}

impl QuantityError {
    pub(crate) fn new(at: Range<usize>, says: impl Into<String>, help: impl Into<String>) -> Self {
        Self { at, says: says.into(), help: help.into() }
    }
}

impl std::fmt::Display for QuantityError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}; {}", self.says, self.help)
    }
}

impl std::error::Error for QuantityError {}

/// A number with its unit, as it stood in a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed {
    /// In the base unit of the dimension.
    pub value: f64,
    /// One step of the last digit typed, in the base unit.
    pub resolution: f64,
}

pub(super) struct Unit {
    pub dimension: Dimension,
    pub factor: f64,
    pub offset: f64,
    /// The first one is shown to people.
    pub names: &'static [&'static str],
}

const fn unit(dimension: Dimension, factor: f64, names: &'static [&'static str]) -> Unit {
    Unit { dimension, factor, offset: 0.0, names }
}

/// Every unit that is understood. Exact definitions of the inch, foot and pound-force: the international
/// yard and pound (0.0254 m, 0.45359237 kg) and standard gravity 9.80665 m/s².
pub(super) const UNITS: &[Unit] = &[
    unit(Dimension::Voltage, 1.0, &["V", "v", "volt", "volts"]),
    unit(Dimension::Voltage, 1e-3, &["mV", "mv", "millivolt", "millivolts"]),
    unit(Dimension::Voltage, 1e-6, &["µV", "μV", "uV"]),
    unit(Dimension::Voltage, 1e3, &["kV"]),
    unit(Dimension::Current, 1.0, &["A", "a", "amp", "amps", "ampere", "amperes"]),
    unit(Dimension::Current, 1e-3, &["mA", "ma"]),
    unit(Dimension::Current, 1e-6, &["µA", "μA", "uA"]),
    unit(Dimension::Resistance, 1.0, &["ohm", "Ω", "Ω", "Ohm", "ohms", "OHM"]),
    unit(Dimension::Resistance, 1e-3, &["mohm", "mΩ", "mΩ", "milliohm", "milliohms"]),
    unit(Dimension::Resistance, 1e-6, &["µohm", "µΩ", "μΩ", "uohm"]),
    unit(Dimension::Resistance, 1e3, &["kohm", "kΩ", "kΩ", "k", "kOhm"]),
    unit(Dimension::Resistance, 1e6, &["Mohm", "MΩ", "MΩ", "M", "megohm", "MOhm"]),
    unit(Dimension::Power, 1.0, &["W", "w", "watt", "watts"]),
    unit(Dimension::Power, 1e-3, &["mW"]),
    unit(Dimension::Power, 1e3, &["kW"]),
    unit(Dimension::Length, 1.0, &["m", "metre", "metres", "meter", "meters"]),
    unit(Dimension::Length, 1e-3, &["mm"]),
    unit(Dimension::Length, 1e-2, &["cm"]),
    unit(Dimension::Length, 0.0254, &["in", "inch", "inches", "\""]),
    unit(Dimension::Length, 0.3048, &["ft", "foot", "feet"]),
    unit(Dimension::Area, 1.0, &["mm²", "mm2", "mm^2", "sqmm"]),
    Unit { dimension: Dimension::Temperature, factor: 1.0, offset: 0.0, names: &["°C", "C", "degC", "℃"] },
    Unit { dimension: Dimension::Temperature, factor: 5.0 / 9.0, offset: -160.0 / 9.0, names: &["°F", "F", "degF"] },
    unit(Dimension::Charge, 1.0, &["Ah", "ah", "A·h"]),
    unit(Dimension::Force, 1.0, &["N", "newton", "newtons"]),
    unit(Dimension::Force, 4.448_221_615_260_5, &["lbf", "lb"]),
    unit(Dimension::Force, 9.806_65, &["kgf", "kg"]),
    unit(Dimension::Torque, 1.0, &["N·m", "Nm", "N m", "N.m"]),
    unit(Dimension::Torque, 0.112_984_829_027_616_7, &["lbf·in", "lbf in", "in-lb", "in·lbf"]),
    unit(Dimension::Torque, 1.355_817_948_331_400_4, &["lbf·ft", "lbf ft", "ft-lb", "ft·lbf"]),
    unit(Dimension::Duration, 1.0, &["s", "sec", "second", "seconds"]),
    unit(Dimension::Duration, 60.0, &["min", "minute", "minutes"]),
    unit(Dimension::Duration, 3600.0, &["h", "hour", "hours"]),
    unit(Dimension::Duration, 86400.0, &["d", "day", "days"]),
    unit(Dimension::Angle, 1.0, &["°", "deg", "degree", "degrees"]),
    unit(Dimension::Illuminance, 1.0, &["lx", "lux"]),
    unit(Dimension::Intensity, 1.0, &["cd", "candela"]),
    unit(Dimension::Count, 1.0, &["pcs", "pieces", "x"]),
];

/// Reads a quantity with its unit and, where given, its tolerance (`± 5 %`, `+/- 0.2 V`) or range (`a..b`).
///
/// # Errors
/// [`QuantityError`] names the faulty part of `text`: not a number, no unit, a unit of another dimension,
/// a comma that may mean thousands, a number too large to hold.
pub fn parse_toleranced<Q: Quantity>(text: &str) -> Result<Toleranced<Q>, QuantityError> {
    let span = parse_span(text, Q::DIMENSION)?;
    if let (Some(nominal), Some(allowance)) = (span.nominal, span.allowance) {
        return Ok(Toleranced::plus_minus(Q::from_base(nominal), Q::from_base(allowance)));
    }
    Ok(Toleranced::between(Q::from_base(span.low), Q::from_base(span.high)))
}

/// As [`parse_toleranced`] for a kind of quantity that is known only at run time: the two ends.
///
/// # Errors
/// As [`parse_toleranced`].
pub fn parse_any(text: &str, dimension: Dimension) -> Result<(Amount, Amount), QuantityError> {
    let span = parse_span(text, dimension)?;
    Ok((Amount::new(span.low, dimension), Amount::new(span.high, dimension)))
}

/// What a text states: a range, or a nominal value with its allowance.
struct Span {
    low: f64,
    high: f64,
    nominal: Option<f64>,
    allowance: Option<f64>,
}

impl Span {
    fn around(nominal: f64, allowance: f64) -> Self {
        Self { low: nominal - allowance, high: nominal + allowance, nominal: Some(nominal), allowance: Some(allowance) }
    }
}

fn parse_span(text: &str, dimension: Dimension) -> Result<Span, QuantityError> {
    let whole = Cursor::new(text);
    if let Some((at, width)) = find_tolerance_sign(text) {
        // `12.6 ± 0.2 V`: the unit at the end serves both.
        let unit_at_end = unit_text(text, at + width..text.len()).trim_start_matches('%').trim();
        let shared = (!unit_at_end.is_empty()).then_some(unit_at_end);
        let nominal = parse_single(whole.part(0..at), dimension, shared)?;
        let allowance = whole.part(at + width..text.len());
        let allowance = match allowance.text.trim().strip_suffix('%') {
            Some(_) => {
                let number = allowance.without_suffix('%');
                let (percent, _, rest) = scan_number(number)?;
                rest.expect_blank("a tolerance in per cent is a number and %", "write it as ± 5 %")?;
                nominal.value.abs() * percent / 100.0
            }
            None => parse_difference(allowance, dimension, unit_text(text, 0..at))?,
        };
        if allowance < 0.0 {
            return Err(QuantityError::new(at..text.len(), "a tolerance is never negative", "write it as ± 0.2 V"));
        }
        return Ok(Span::around(nominal.value, allowance));
    }
    if let Some(at) = text.find("..") {
        let right = parse_single(whole.part(at + 2..text.len()), dimension, None)?;
        let left = parse_single(whole.part(0..at), dimension, Some(unit_text(text, at + 2..text.len())))?;
        if left.value > right.value {
            return Err(QuantityError::new(0..text.len(), "the range runs backwards", "write the lower end first"));
        }
        return Ok(Span { low: left.value, high: right.value, nominal: None, allowance: None });
    }
    Ok(Span::around(parse_single(whole, dimension, None)?.value, 0.0))
}

/// Reads one number of the given dimension; `default_unit` stands in where the text names none.
pub(super) fn parse_plain(
    text: &str,
    dimension: Dimension,
    default_unit: Option<&str>,
) -> Result<Parsed, QuantityError> {
    parse_single(Cursor::new(text), dimension, default_unit)
}

/// A piece of a text that remembers where it stood.
#[derive(Clone, Copy)]
struct Cursor<'a> {
    text: &'a str,
    start: usize,
}

impl<'a> Cursor<'a> {
    fn new(text: &'a str) -> Self {
        Self { text, start: 0 }
    }

    fn part(self, range: Range<usize>) -> Self {
        Self { text: &self.text[range.clone()], start: self.start + range.start }
    }

    fn trimmed(self) -> Self {
        let lead = self.text.len() - self.text.trim_start().len();
        let text = self.text.trim();
        Self { text, start: self.start + lead }
    }

    fn without_suffix(self, suffix: char) -> Self {
        let cut = self.text.trim_end();
        let cut = cut.strip_suffix(suffix).unwrap_or(cut);
        Self { text: cut, start: self.start }
    }

    fn at(self) -> Range<usize> {
        let t = self.trimmed();
        if t.text.is_empty() { self.start..self.start + self.text.len() } else { t.start..t.start + t.text.len() }
    }

    fn expect_blank(self, says: &str, help: &str) -> Result<(), QuantityError> {
        if self.text.trim().is_empty() { Ok(()) } else { Err(QuantityError::new(self.at(), says, help)) }
    }
}

fn find_tolerance_sign(text: &str) -> Option<(usize, usize)> {
    ["±", "+/-", "+-"].iter().find_map(|sign| text.find(sign).map(|at| (at, sign.len())))
}

/// The unit words at the end of a part of the text, without the number.
fn unit_text(text: &str, range: Range<usize>) -> &str {
    let part = text[range].trim();
    let from = part.find(|c: char| !(c.is_ascii_digit() || "+-−.,eE ".contains(c))).unwrap_or(part.len());
    part[from..].trim()
}

fn parse_single(text: Cursor, dimension: Dimension, default_unit: Option<&str>) -> Result<Parsed, QuantityError> {
    let (number, step, rest) = scan_number(text)?;
    let unit = find_unit(rest, dimension, default_unit)?;
    finite(Parsed { value: number * unit.factor + unit.offset, resolution: step * unit.factor }, text)
}

/// A difference: a tolerance of ± 5 °F is 2.8 K, the offset of the scale has no say.
fn parse_difference(text: Cursor, dimension: Dimension, nominal_unit: &str) -> Result<f64, QuantityError> {
    let (number, step, rest) = scan_number(text)?;
    let default = if nominal_unit.is_empty() { None } else { Some(nominal_unit) };
    let unit = find_unit(rest, dimension, default)?;
    finite(Parsed { value: number * unit.factor, resolution: step }, text).map(|p| p.value)
}

fn finite(parsed: Parsed, text: Cursor) -> Result<Parsed, QuantityError> {
    if parsed.value.is_finite() {
        Ok(parsed)
    } else {
        Err(QuantityError::new(text.at(), "this number is too large", "write a number that a circuit can have"))
    }
}

/// Number, step of its last digit, and what follows it.
fn scan_number(text: Cursor<'_>) -> Result<(f64, f64, Cursor<'_>), QuantityError> {
    let part = text.trimmed();
    let mut digits = String::new();
    let mut decimals = 0i32;
    let mut whole_digits = 0usize;
    let mut seen_mark: Option<char> = None;
    let mut end = 0;
    let mut chars = part.text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let next_is_digit = chars.peek().is_some_and(|(_, n)| n.is_ascii_digit());
        match c {
            '+' | '-' | '−' if at == 0 => {
                if c != '+' {
                    digits.push('-');
                }
            }
            '0'..='9' => {
                digits.push(c);
                if seen_mark.is_some() { decimals += 1 } else { whole_digits += 1 }
            }
            '.' | ',' if seen_mark.is_none() && next_is_digit => {
                seen_mark = Some(c);
                digits.push('.');
            }
            '.' | ',' if next_is_digit => {
                return Err(QuantityError::new(
                    part.start + at..part.start + at + 1,
                    "a second decimal mark",
                    "write one number with one decimal point, such as 12.4",
                ));
            }
            _ => break,
        }
        end = at + c.len_utf8();
    }
    if whole_digits == 0 && decimals == 0 {
        let says = if part.text.is_empty() { "a number is missing here" } else { "this is not a number" };
        return Err(QuantityError::new(part.at(), says, "write a number; its unit may follow"));
    }
    let ambiguous = seen_mark == Some(',') && decimals == 3 && (1..=3).contains(&whole_digits);
    if ambiguous && !digits.trim_start_matches('-').starts_with('0') {
        return Err(QuantityError::new(
            part.start..part.start + end,
            "the comma may stand for thousands or for the decimal point",
            format!("write {} or {}", part.text[..end].replace(',', "."), part.text[..end].replace(',', "")),
        ));
    }
    let (exponent, length) = scan_exponent(&part.text[end..]);
    let end = end + length;
    let value: f64 = format!("{digits}e{exponent}").parse().unwrap_or(f64::NAN);
    let step = 10f64.powi(exponent.saturating_sub(decimals));
    Ok((value, step, part.part(end..part.text.len())))
}

/// `e-3` after a number, but not the `e` of a unit.
fn scan_exponent(rest: &str) -> (i32, usize) {
    let Some(tail) = rest.strip_prefix(['e', 'E']) else { return (0, 0) };
    let sign = usize::from(tail.starts_with(['+', '-']));
    let count = tail[sign..].bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 || count > 3 {
        return (0, 0);
    }
    (tail[..sign + count].trim_start_matches('+').parse().unwrap_or(0), 1 + sign + count)
}

fn find_unit(rest: Cursor, dimension: Dimension, default_unit: Option<&str>) -> Result<&'static Unit, QuantityError> {
    let named = rest.trimmed();
    let word = if named.text.is_empty() { default_unit.unwrap_or("") } else { named.text };
    let allowed = || {
        let names: Vec<_> = UNITS.iter().filter(|u| u.dimension == dimension).map(|u| u.names[0]).collect();
        format!("a {} is written in {}", dimension.name(), names.join(", "))
    };
    if word.is_empty() {
        if dimension == Dimension::Count {
            return Ok(&UNITS[UNITS.len() - 1]);
        }
        let at = rest.start..rest.start + rest.text.len();
        return Err(QuantityError::new(at, "the unit is missing", allowed()));
    }
    let matching = |u: &&Unit| u.names.contains(&word);
    if let Some(unit) = UNITS.iter().filter(|u| u.dimension == dimension).find(matching) {
        return Ok(unit);
    }
    let says = match UNITS.iter().find(matching) {
        Some(other) => format!("{word} is a unit of {}, not of {}", other.dimension.name(), dimension.name()),
        None => format!("{word} is not a unit that is understood here"),
    };
    Err(QuantityError::new(named.at(), says, allowed()))
}

#[cfg(test)]
mod tests {
    use super::super::{Length, Resistance, Temperature, Torque, Voltage};
    use super::*;

    fn volts(text: &str) -> Toleranced<Voltage> {
        parse_toleranced(text).expect(text)
    }

    #[test]
    fn the_ways_people_write_a_voltage_are_understood() {
        for text in ["12.6 V", "12.6V", " 12,6 V ", "12600 mV", "1.26e1 V", "+12.6 v"] {
            assert!((volts(text).nominal.as_volts() - 12.6).abs() < 1e-12, "{text}");
        }
        assert!((volts("-0.31 V").nominal.as_volts() + 0.31).abs() < 1e-12);
        assert!((volts("−310 mV").nominal.as_volts() + 0.31).abs() < 1e-12);
    }

    #[test]
    fn tolerances_are_absolute_or_in_per_cent() {
        let absolute = volts("12.6 V ± 0.2 V");
        assert!((absolute.low().as_volts() - 12.4).abs() < 1e-12);
        assert!((volts("12.6 V +/- 200 mV").high().as_volts() - 12.8).abs() < 1e-12);
        assert!((volts("12.6 V ± 0.2").high().as_volts() - 12.8).abs() < 1e-12);
        assert!((volts("12.6 ± 0.2 V").low().as_volts() - 12.4).abs() < 1e-12);
        let length: Toleranced<Length> = parse_toleranced("0.30 m ± 5 %").unwrap();
        assert!((length.low().as_metres() - 0.285).abs() < 1e-12);
        let joint: Toleranced<Resistance> = parse_toleranced("2 mohm ± 1 mohm").unwrap();
        assert!((joint.high().as_ohms() - 0.003).abs() < 1e-15);
    }

    #[test]
    fn a_range_shares_the_unit_at_its_end() {
        let ambient: Toleranced<Temperature> = parse_toleranced("-10..45 °C").unwrap();
        assert!((ambient.low().as_celsius() + 10.0).abs() < 1e-9);
        assert!((ambient.high().as_celsius() - 45.0).abs() < 1e-9);
        let fahrenheit: Toleranced<Temperature> = parse_toleranced("212 °F ± 9 °F").unwrap();
        assert!((fahrenheit.nominal.as_celsius() - 100.0).abs() < 1e-9);
        assert!((fahrenheit.high().as_celsius() - 105.0).abs() < 1e-9);
        let torque: Toleranced<Torque> = parse_toleranced("5.3 N·m ± 10 %").unwrap();
        assert!((torque.low().as_newton_metres() - 4.77).abs() < 1e-9);
    }

    #[test]
    fn what_is_not_a_quantity_is_refused_with_its_place() {
        let cases = [
            ("", "missing"),
            ("V", "not a number"),
            ("12.6", "unit is missing"),
            ("12.6 A", "unit of current"),
            ("12.6 volst", "not a unit"),
            ("nan V", "not a number"),
            ("inf V", "not a number"),
            ("1e999 V", "too large"),
            ("12.6.1 V", "second decimal"),
            ("1,000 V", "thousands"),
            ("14..12 V", "backwards"),
            ("12 V ± -1 V", "never negative"),
            ("12 V ± 5 % 3", "not a unit"),
        ];
        for (text, expected) in cases {
            let error = parse_toleranced::<Voltage>(text).expect_err(text);
            assert!(error.says.contains(expected), "{text}: {}", error.says);
            assert!(error.at.end <= text.len(), "{text}: {:?}", error.at);
        }
    }

    #[test]
    fn three_decimals_after_a_leading_zero_are_no_thousands() {
        assert!((volts("0,310 V").nominal.as_volts() - 0.31).abs() < 1e-12);
    }
}
