//! Prints quantities as the trade writes them: `310 mV`, `12.60 V`, `4.2 mΩ`.

use super::Dimension;

/// A number with the unit that suits its size.
pub fn show(value: f64, dimension: Dimension) -> String {
    let (factor, unit) = scale(value.abs(), dimension);
    let shown = number(value / factor, decimals(value / factor, dimension));
    // A time is said in whole minutes where it is one: nobody reads it off a display.
    let whole = dimension == Dimension::Duration && shown.contains('.');
    join(if whole { shown.trim_end_matches('0').trim_end_matches('.').to_owned() } else { shown }, unit)
}

/// `value ± allowance` in one unit; without the allowance where there is none.
pub fn show_with_sign(value: f64, allowance: f64, dimension: Dimension) -> String {
    if allowance == 0.0 {
        return show(value, dimension);
    }
    let (factor, unit) = scale(value.abs().max(allowance), dimension);
    // The allowance keeps two significant digits, and the value as many decimals as it has.
    let mut places = decimals(value / factor, dimension);
    while places < 7 && 10f64.powf(1.0 - places as f64) > allowance / factor {
        places += 1;
    }
    let shown = format!("{} ± {}", number(value / factor, places), number(allowance / factor, places));
    join(shown, unit)
}

/// `low to high` in one unit.
pub fn show_range(low: f64, high: f64, dimension: Dimension) -> String {
    let (factor, unit) = scale(low.abs().max(high.abs()), dimension);
    let mut places = decimals(high / factor, dimension);
    while places < 4 && number(low / factor, places) == number(high / factor, places) && low != high {
        places += 1;
    }
    join(format!("{} to {}", number(low / factor, places), number(high / factor, places)), unit)
}

/// As it is printed on a part, without zeros at the end: `15 A`, `7.5 A`, `24 W`.
pub fn show_rating(value: f64, dimension: Dimension) -> String {
    let shown = show(value, dimension);
    match shown.split_once(' ') {
        Some((number, unit)) if number.contains('.') => {
            format!("{} {unit}", number.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => shown,
    }
}

fn join(number: String, unit: &str) -> String {
    match unit {
        "" => number,
        "°" => number + unit,
        _ => format!("{number} {unit}"),
    }
}

/// Without `-0`.
fn number(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

fn scale(size: f64, dimension: Dimension) -> (f64, &'static str) {
    match dimension {
        Dimension::Voltage if size < 0.9995 => (1e-3, "mV"),
        Dimension::Current if size < 0.9995 => (1e-3, "mA"),
        Dimension::Resistance if size < 0.9995 => (1e-3, "mΩ"),
        Dimension::Resistance if size < 999.5 => (1.0, "Ω"),
        Dimension::Resistance if size < 999_500.0 => (1e3, "kΩ"),
        Dimension::Resistance => (1e6, "MΩ"),
        Dimension::Length if size < 0.9995 => (1e-3, "mm"),
        Dimension::Duration if size >= 7200.0 => (3600.0, "h"),
        Dimension::Duration if size >= 90.0 => (60.0, "min"),
        Dimension::Count => (1.0, ""),
        other => (1.0, other.unit()),
    }
}

/// Three significant digits or what a good hand-held meter shows.
fn decimals(scaled: f64, dimension: Dimension) -> usize {
    match (dimension, scaled.abs()) {
        (Dimension::Count, _) => 0,
        // Millimetres count where a length has them: 1.016 m, and 1.84 m.
        (Dimension::Length, size) if size < 10.0 && (size * 1000.0).round() % 10.0 != 0.0 => 3,
        (Dimension::Voltage | Dimension::Current | Dimension::Length, size) if (1.0..100.0).contains(&size) => 2,
        (_, size) if size >= 100.0 || size == 0.0 => 0,
        (_, size) if size >= 10.0 => 1,
        // Below what a hand-held meter resolves in its smallest unit, digits would only be noise.
        (Dimension::Voltage | Dimension::Current | Dimension::Resistance | Dimension::Length, _) => 2,
        (_, size) if size < 1.0 => 3 + (1..7).take_while(|&zeros| size < 0.1f64.powi(zeros)).count(),
        _ => 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_shown_in_the_unit_of_their_size() {
        assert_eq!(show(12.6, Dimension::Voltage), "12.60 V");
        assert_eq!(show(0.31, Dimension::Voltage), "310 mV");
        assert_eq!(show(0.0042, Dimension::Resistance), "4.20 mΩ");
        assert_eq!(show(0.9999, Dimension::Voltage), "1.00 V");
        assert_eq!(show(1.0e7, Dimension::Resistance), "10.0 MΩ");
        assert_eq!(show(-0.000_000_1, Dimension::Voltage), "0.00 mV");
        assert_eq!(show(0.7552, Dimension::Torque), "0.755 N·m");
        assert_eq!(show(0.000_2, Dimension::Torque), "0.000200 N·m");
        assert_eq!(show(900.0, Dimension::Duration), "15 min");
        assert_eq!(show_with_sign(12.6, 0.2, Dimension::Voltage), "12.60 ± 0.20 V");
        assert_eq!(show_with_sign(0.15, 0.0075, Dimension::Length), "150.0 ± 7.5 mm");
        assert_eq!(show_range(0.25, 0.341, Dimension::Voltage), "250 to 341 mV");
        assert_eq!(show_range(12.4, 12.8, Dimension::Voltage), "12.40 to 12.80 V");
    }
}
