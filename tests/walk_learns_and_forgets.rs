//! What the walk takes from readings into the circuit, and what it does when a reading no longer stands.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::by_hand::{expectation, give, procedure, read, rework, walk};
use common::{Answers, Bench, demo_file, small_job};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::judgement::Verdict;
use rigproof::plan::{Plan, StepKey};
use rigproof::procedure::Library;
use rigproof::walk::{Answer, Disposition, Walk};

const REST: &str = r#"
[[step]]
id = "rest-voltage"
do = "Write the voltage of the battery at rest."
measure = "voltage"
between = ["battery.+", "battery.-"]
on = "none"
pull = "all"
"#;

const LENGTH: &str = r#"
[[step]]
id = "length"
do = "Write the length."
record = "length"
expect = "{{ thing.length }}"
explainable = true
"#;

const LAY: &str = "[[step]]\nid = \"pull\"\ndo = \"Pull it.\"\n";

const DROP: &str = r#"
[[step]]
id = "ground-drop"
do = "Write the drop on the ground side."
measure = "voltage"
between = ["{{ item }}.-", "battery.-"]
on = "own"
"#;

fn isolation(accept: &str) -> String {
    format!(
        "[[step]]\nid = \"clear\"\ndo = \"Write the reading.\"\nmeasure = \"resistance\"\n\
         between = [\"{{{{ item }}}}.+\", \"chassis\"]\non = \"none\"\npull = \"all\"\nunplug = \"all\"\nbattery = \"disconnected\"\n{accept}"
    )
}

fn nominal(walk: &Walk) -> f64 {
    expectation(walk).nominal.unwrap().base()
}

#[test]
fn what_a_stale_reading_taught_is_forgotten_with_it() {
    let procedures = vec![procedure("prepare", "job", "", REST), procedure("try", "load", "\"prepare\"", DROP)];
    let mut walk = walk(small_job::JOB, procedures);
    let as_stated = nominal(&walk);
    read(&mut walk, "prepare/job/rest-voltage", "12.45 V");
    assert!((walk.job().battery.rest_voltage.nominal.as_volts() - 12.45).abs() < 1e-9);
    assert_eq!(read(&mut walk, "try/lamp/ground-drop", "3 V"), Verdict::DoesNotConform);
    rework(&mut walk, "prepare/job/rest-voltage");
    assert!((nominal(&walk) - as_stated).abs() < 1e-12, "the first reading no longer counts");
    assert_eq!(read(&mut walk, "prepare/job/rest-voltage", "12.78 V"), Verdict::Conforms);
}

#[test]
fn a_length_that_stands_is_kept_when_other_work_is_done_again() {
    let procedures = vec![procedure("route", "wire", "", LENGTH), procedure("try", "load", "\"route\"", DROP)];
    let mut walk = walk(small_job::JOB, procedures);
    for (wire, length) in [("w1", "0.15 m"), ("w2", "1.20 m"), ("w3", "2.00 m"), ("w4", "1.60 m")] {
        let verdict = read(&mut walk, &format!("route/{wire}/length"), length);
        if verdict != Verdict::Conforms {
            give(&mut walk, Answer::Dispose(Disposition::Explained { reason: "a longer way round".into() }));
        }
    }
    let planned = |walk: &Walk| walk.stated().wire("w4").unwrap().length.nominal.as_metres();
    assert!((walk.job().wire("w4").unwrap().length.nominal.as_metres() - 1.6).abs() < 1e-9);
    assert!((planned(&walk) - 1.0).abs() < 1e-9, "the plan stays what it was");
    assert_eq!(read(&mut walk, "try/lamp/ground-drop", "3 V"), Verdict::DoesNotConform);
    rework(&mut walk, "try/lamp/ground-drop");
    assert!((walk.job().wire("w4").unwrap().length.nominal.as_metres() - 1.6).abs() < 1e-9);
}

#[test]
fn a_length_with_which_nothing_can_be_solved_leaves_a_way_out() {
    let job = small_job::JOB.replace("works_from = \"9 V\"\n", "");
    let procedures = vec![procedure("route", "wire", "", LENGTH), procedure("try", "load", "\"route\"", DROP)];
    let mut walk = walk(&job, procedures);
    for (wire, length) in [("w1", "0.15 m"), ("w2", "1.20 m"), ("w3", "900 m"), ("w4", "1.00 m")] {
        if read(&mut walk, &format!("route/{wire}/length"), length) != Verdict::Conforms {
            give(&mut walk, Answer::Dispose(Disposition::Explained { reason: "a way round the farm".into() }));
        }
    }
    let expectation = expectation(&walk);
    assert!(expectation.notices.iter().any(|notice| notice.says.contains("no steady state")), "{expectation:?}");
    assert_eq!(read(&mut walk, "try/lamp/ground-drop", "3 V"), Verdict::DoesNotConform);
    rework(&mut walk, "route/w3/length");
    assert_eq!(walk.current().map(|step| step.key.as_str()), Some("route/w3/length"));
}

#[test]
fn a_stated_rule_counts_for_isolation_too() {
    let accept = "accept = { at_least = \"10 Mohm\", because = \"the shop\" }\n";
    for (accept, expected) in [(accept, Verdict::DoesNotConform), ("", Verdict::Conforms)] {
        let mut walk = walk(small_job::JOB, vec![procedure("try", "load", "", &isolation(accept))]);
        assert_eq!(read(&mut walk, "try/lamp/clear", "2 Mohm"), expected, "{accept}");
    }
}

#[test]
fn work_on_a_cable_makes_isolation_readings_of_its_cores_stale() {
    let demo = demo_file("job.toml");
    let procedures = || {
        let lay = procedure("lay", "cable", "", LAY);
        let clear = procedure("clear", "load", "\"lay\"", &isolation(""));
        vec![lay, clear, procedure("try", "load", "\"clear\"", DROP)]
    };
    let mut walk = walk(&demo, procedures());
    while walk.current().is_some_and(|step| step.key.as_str().starts_with("lay/")) {
        give(&mut walk, Answer::Yes);
    }
    for load in ["pump", "lamp-left", "lamp-right"] {
        assert_eq!(read(&mut walk, &format!("clear/{load}/clear"), "OL"), Verdict::Conforms);
    }
    read(&mut walk, "try/pump/ground-drop", "3 V");
    rework(&mut walk, "lay/c2/pull");
    let stale = |step: &str| walk.latest(&StepKey::from_text(step)).is_none();
    assert!(stale("clear/lamp-left/clear") && stale("clear/lamp-right/clear"), "both hang on the cable c2");
    assert!(!stale("clear/pump/clear"), "the pump does not");
}

#[test]
fn a_limit_without_a_value_is_an_error_of_the_procedure() {
    let accept = "accept = { at_least = \"OL\", because = \"the shop\" }\n";
    let sources = vec![
        Source::new("hazards.toml", "format = 1\nhazard = []\n"),
        procedure("try", "load", "", &isolation(accept)),
    ];
    let library = Library::read(sources).unwrap_or_else(|error| panic!("{error}"));
    let job = Job::read(&Source::new("job.toml", small_job::JOB)).unwrap_or_else(|problems| panic!("{problems}"));
    let error = Plan::of(&job, &library).unwrap_err().to_string();
    assert!(error.contains("`OL` is no limit"), "{error}");
}

#[test]
fn a_sealed_record_stays_intact_when_the_walk_is_called_by_somebody_else() {
    let bench = Bench::tiny().walked();
    let before = std::fs::read(bench.journal()).unwrap();
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers.table("person").insert("role".to_owned(), "owner".into());
    bench.answer_with(&answers);
    bench.walk().expect(0);
    assert_eq!(std::fs::read(bench.journal()).unwrap(), before);
    bench.verify().expect(0).says("intact");
}

#[test]
fn a_record_goes_on_by_the_procedures_that_it_was_begun_with() {
    let bench = Bench::tiny();
    let whole = small_job::answers(&small_job::tiny_library());
    bench.answer_with(&whole.clone().without("answer", "test/lamp/look"));
    bench.walk().expect(2).says("test/lamp/look");
    bench.answer_with(&whole);
    // Without the folder of own procedures in the call.
    bench.run(&["walk", "job.toml", "--answers", "answers.toml", "--record", "record"]).expect(0);
    bench.verify().expect(0).says("intact");
}

#[test]
fn the_report_shows_the_planned_length_beside_the_built_one() {
    let bench = Bench::new(&demo_file("job.toml"), &Answers::demo()).walked();
    let report = std::fs::read_to_string(bench.record().join("report/report.json")).unwrap();
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    let wires = report["wires"].as_array().unwrap();
    let w4 = wires.iter().find(|wire| wire["name"] == "w4").unwrap();
    assert_eq!((&w4["planned"], &w4["built"]), (&"1.80 m".into(), &"1.84 m".into()));
}
