//! The readings as a table for other programs: CSV by RFC 4180.

use super::view::View;
use crate::document::harmless;

const HEAD: [&str; 18] = [
    "phase",
    "step",
    "what",
    "state",
    "unit",
    "expected_low",
    "expected_high",
    "reading",
    "typed",
    "uncertainty",
    "verdict",
    "probability_of_conformity",
    "instrument",
    "rule",
    "by",
    "at",
    "attempted_before",
    "says",
];

/// One line for each reading that stands, numbers in SI units.
pub(super) fn readings(view: &View) -> Result<Vec<u8>, String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    writer.write_record(HEAD).map_err(|error| error.to_string())?;
    for group in &view.groups {
        for row in &group.readings {
            let before = view.history.iter().filter(|earlier| earlier.step == row.step).count();
            let cells = [
                harmless(&group.title),
                harmless(&row.step),
                harmless(&row.what),
                harmless(&row.state),
                row.unit.clone(),
                number(row.low),
                number(row.high),
                number(row.value),
                harmless(&row.typed),
                row.uncertainty.clone().unwrap_or_default(),
                row.verdict.clone(),
                number(row.probability),
                harmless(row.instrument.as_deref().unwrap_or_default()),
                harmless(row.rule.as_deref().unwrap_or_default()),
                harmless(&row.by),
                row.at.clone(),
                before.to_string(),
                harmless(&row.says),
            ];
            writer.write_record(&cells).map_err(|error| error.to_string())?;
        }
    }
    writer.into_inner().map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_no_formula() {
        assert_eq!(harmless("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(harmless("lamp-left"), "lamp-left");
    }
}
