//! A practitioner's table of faults and of the reading that reveals each (fault_to_reading.toml): every step and every
//! rule that it names is there, and asks for what the table says it finds the fault by.

use std::collections::BTreeSet;
use std::path::Path;

use rigproof::procedure::{AskTemplate, Library, ProcedureStep};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    format: u8,
    row: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    fault: String,
    shows: String,
    found_by: Vec<String>,
    #[serde(default)]
    rule: Vec<String>,
    #[serde(default)]
    passes: Vec<String>,
}

fn table() -> Vec<Row> {
    let table: Table = toml::from_str(include_str!("fault_to_reading.toml")).unwrap();
    assert_eq!(table.format, 1);
    table.row
}

fn library() -> Library {
    Library::embedded().unwrap_or_else(|error| panic!("{error}"))
}

fn step<'l>(library: &'l Library, name: &str) -> Option<&'l ProcedureStep> {
    let (procedure, step) = name.split_once('/')?;
    library.procedures.iter().find(|p| p.id == procedure)?.steps.iter().find(|s| s.id == step)
}

/// The rules of the design check, as they are written where they are found.
fn rules() -> BTreeSet<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/design");
    let mut rules = BTreeSet::new();
    for file in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        let named = text.split("rule: \"").skip(1).filter_map(|rest| rest.split('"').next());
        rules.extend(named.map(str::to_owned));
    }
    rules
}

#[test]
fn every_row_of_the_table_is_there_and_one_alone_is_no_fault() {
    let rows = table();
    // The table of the plan has 37 rows; one says that nothing is wrong.
    assert_eq!(rows.len(), 37);
    let faults: BTreeSet<&str> = rows.iter().map(|row| row.fault.as_str()).collect();
    assert_eq!(faults.len(), rows.len(), "no fault twice");
    assert!(rows.iter().all(|row| row.shows.split_whitespace().count() >= 3));
    let nothing: Vec<&str> = rows
        .iter()
        .filter(|row| row.found_by.is_empty() && row.rule.is_empty())
        .map(|row| row.fault.as_str())
        .collect();
    assert_eq!(nothing.len(), 1, "{nothing:?}");
}

#[test]
fn every_step_that_finds_a_fault_is_in_the_library_and_asks_or_shows_what_to_look_for() {
    let library = library();
    for row in table() {
        for name in &row.found_by {
            let step = step(&library, name).unwrap_or_else(|| panic!("{}: no step {name}", row.fault));
            let asks = !matches!(step.ask, AskTemplate::Do);
            assert!(asks || !step.look.is_empty() || step.hold.is_some(), "{}: {name} finds nothing", row.fault);
        }
        let readings = row.found_by.iter().filter_map(|name| step(&library, name));
        let answered = readings.filter(|step| !matches!(step.ask, AskTemplate::Do)).count();
        let looked_at = !row.rule.is_empty() || row.found_by.is_empty();
        let by_eye = row.found_by.iter().any(|name| step(&library, name).is_some_and(|s| !s.look.is_empty()));
        assert!(answered > 0 || looked_at || by_eye, "{}: nothing is written down that shows it", row.fault);
    }
}

#[test]
fn every_rule_that_finds_a_fault_is_a_rule_of_the_design_check() {
    let rules = rules();
    assert!(rules.len() > 20, "{rules:?}");
    for row in table() {
        for rule in &row.rule {
            assert!(rules.contains(rule), "{}: the check has no rule `{rule}`", row.fault);
        }
    }
}

#[test]
fn every_step_that_a_fault_passes_is_in_the_library_too() {
    let library = library();
    for row in table() {
        for words in &row.passes {
            let first = words.split([' ', ':', ',']).next().unwrap();
            if first.contains('/') {
                assert!(step(&library, first).is_some(), "{}: no step {first}", row.fault);
            }
        }
    }
}
