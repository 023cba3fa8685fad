//! Reads instruments: a generic class, or the accuracy by range as the manual prints it.

use super::instrument::{Acceptance, Instrument};
use crate::document::{Problem, Table};
use crate::handbook::meter::{MeterClass, MeterRange};
use crate::quantity::{Day, Dimension, Resistance, parse_any};

/// What an instrument may measure, by its key.
const MEASURED: [(&str, Dimension); 10] = [
    ("voltage", Dimension::Voltage),
    ("current", Dimension::Current),
    ("resistance", Dimension::Resistance),
    ("torque", Dimension::Torque),
    ("force", Dimension::Force),
    ("length", Dimension::Length),
    ("temperature", Dimension::Temperature),
    ("angle", Dimension::Angle),
    ("illuminance", Dimension::Illuminance),
    ("time", Dimension::Duration),
];

pub(super) fn read_acceptance(top: &Table) -> Acceptance {
    let Some(table) = top.table("acceptance") else { return Acceptance::default() };
    let rule = table.required_choice("rule", Acceptance::WORDS).unwrap_or_default();
    table.finish();
    rule
}

pub(super) fn read_instruments(top: &Table) -> Vec<Instrument> {
    top.named_tables("meter").into_iter().map(|(name, table)| read_instrument(name, &table)).collect()
}

fn read_instrument(name: String, table: &Table) -> Instrument {
    let class = table.choice("class", MeterClass::WORDS);
    let description = table.text("description");
    let serial = table.text("serial");
    let mut ranges = Vec::new();
    for (key, dimension) in MEASURED {
        let own: Vec<MeterRange> =
            table.list_of_tables(key).into_iter().filter_map(|range| read_range(range, dimension)).collect();
        if own.is_empty()
            && let Some(class) = class
        {
            ranges.extend(class.ranges().value.into_iter().filter(|r| r.up_to.dimension() == dimension));
        }
        ranges.extend(own);
    }
    if ranges.is_empty() && class.is_none() && !table.has("class") {
        table.missing("class", "basic, mid or good; or the accuracy by range: voltage = [{ ... }]");
    }
    ranges.sort_by(|a, b| a.up_to.base().total_cmp(&b.up_to.base()));
    let generic = Instrument::generic();
    let leads = table.not_negative::<Resistance>("leads").map_or(generic.leads, |leads| leads.high());
    let input_resistance =
        table.positive::<Resistance>("input_resistance").map_or(generic.input_resistance, |r| r.nominal);
    let burden = table.positive::<Resistance>("burden").map(|r| r.nominal);
    let calibration_due = table.text("calibration_due").and_then(|text| {
        let day = Day::parse(&text);
        if day.is_none() {
            let place = table.place_of("calibration_due");
            table.problem(Problem::at(place, format!("`{text}` is no day"), "write it as \"2027-03-31\""));
        }
        day
    });
    table.note_unknown_keys();
    Instrument { name, description, serial, class, ranges, leads, input_resistance, burden, calibration_due }
}

/// One range: `{ range = "2 V", accuracy = "0.5 % + 2", digit = "1 mV" }`.
fn read_range(table: Table, dimension: Dimension) -> Option<MeterRange> {
    let amount = |key: &str| {
        let text = table.required_text(key)?;
        match parse_any(&text, dimension) {
            Ok((low, high)) if low == high && low.base() > 0.0 => Some(low),
            Ok(_) => {
                let label = format!("one {} above zero", dimension.name());
                table.problem(Problem::at(table.place_of(key), format!("`{key}` is no single value"), label));
                None
            }
            Err(error) => {
                let problem = Problem::at(table.place_of(key), format!("`{key}`: {}", error.says), "here");
                table.problem(problem.help(error.help));
                None
            }
        }
    };
    let (up_to, digit) = (amount("range"), amount("digit"));
    let accuracy = table.required_text("accuracy").and_then(|text| {
        let read = accuracy(&text);
        if read.is_none() {
            let title = format!("`{text}` is no accuracy");
            let problem = Problem::at(table.place_of("accuracy"), title, "per cent of the reading, then counts");
            table.problem(problem.help("as the manual prints it: \"0.5 % + 2\", \"0.02 % + 0.005 % of range + 5\""));
        }
        read
    });
    table.finish();
    let (percent, percent_of_range, counts) = accuracy?;
    Some(MeterRange { up_to: up_to?, digit: digit?, percent, percent_of_range, counts })
}

/// `0.5 % + 2`, `4 %`, `0.02 % + 0.005 % of range + 5`: per cent of the reading, per cent of the range, counts.
fn accuracy(text: &str) -> Option<(f64, f64, f64)> {
    let (mut percent, mut of_range, mut counts) = (None, 0.0, 0.0);
    for part in text.trim().trim_start_matches(['±', '(']).trim_end_matches(')').split('+') {
        let part = part.trim();
        let number = |text: &str| {
            let value: f64 = text.trim().replace(',', ".").parse().ok()?;
            (0.0..=100.0).contains(&value).then_some(value)
        };
        match part.split_once('%') {
            Some((value, rest)) if rest.trim().is_empty() && percent.is_none() => percent = Some(number(value)?),
            Some((value, rest)) if rest.trim() == "of range" => of_range = number(value)?,
            Some(_) => return None,
            None => counts = number(part.trim_end_matches(|c: char| c.is_alphabetic() || c == ' '))?,
        }
    }
    percent.map(|percent| (percent, of_range, counts))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_accuracy_is_read_as_a_manual_prints_it() {
        assert_eq!(accuracy("0.5 % + 2"), Some((0.5, 0.0, 2.0)));
        assert_eq!(accuracy("±(0,8% + 5 digits)"), Some((0.8, 0.0, 5.0)));
        assert_eq!(accuracy("0.02 % + 0.005 % of range + 5"), Some((0.02, 0.005, 5.0)));
        assert_eq!(accuracy("4 %"), Some((4.0, 0.0, 0.0)));
        for wrong in ["", "5", "0.5 + 2", "0.5 % + 2 % + 3", "-1 %", "good", "1000 %"] {
            assert_eq!(accuracy(wrong), None, "{wrong}");
        }
    }
}
