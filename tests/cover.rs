//! What the procedures would notice, and what is lost where one of their steps is taken away.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use rigproof::procedure::REVEALED;
use serde_json::Value;

const JOBS: [&str; 3] = ["reversing-lamp", "orchard-flatbed", "market-stall-van"];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn cover(job: &str, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_rigproof"))
        .arg("cover")
        .arg(root().join("reports").join(job).join("job.toml"))
        .args(more)
        .output()
        .unwrap()
}

fn as_json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&output.stderr)))
}

/// The faults that are not noticed for sure, as `w3 thin-conductor`.
fn undetected(value: &Value) -> BTreeSet<String> {
    let one = |fault: &Value| {
        let at: Vec<&str> = fault["where"].as_array().unwrap().iter().map(|at| at.as_str().unwrap()).collect();
        format!("{} {}", at.join(" and "), fault["fault"].as_str().unwrap())
    };
    value["undetected"].as_array().unwrap().iter().map(one).collect()
}

/// The procedures of the program with one step left out, in a folder of their own.
fn without_step(procedure: &str, step: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let file = format!("{procedure}.toml");
    let text = std::fs::read_to_string(root().join("procedures").join(&file)).unwrap();
    let from = text.find(&format!("[[step]]\nid = \"{step}\"")).expect("the step is there");
    let to = text[from + 8..].find("[[step]]").map_or(text.len(), |next| from + 8 + next);
    std::fs::write(folder.path().join(file), format!("{}{}", &text[..from], &text[to..])).unwrap();
    folder
}

#[test]
fn at_level_full_the_procedures_notice_every_fault_of_every_sample_job() {
    for job in JOBS {
        let output = cover(job, &["--level", "full", "--at-least", "100", "--json"]);
        let value = as_json(&output);
        assert_eq!(undetected(&value), BTreeSet::new(), "{job}");
        assert_eq!(output.status.code(), Some(0), "{job}");
        assert_eq!(value["faults"], value["detected"], "{job}");
        assert!(value["faults"].as_u64().unwrap() >= 45, "{job}: {}", value["faults"]);
        assert!(value["false_alarm"].as_f64().unwrap() < 0.02, "{job}: {}", value["false_alarm"]);
        let isolated = value["isolated"].as_u64().unwrap() as f64 / value["detected"].as_f64().unwrap();
        assert!(isolated > 0.8, "{job}: {isolated:.2} are told from all others");
    }
}

#[test]
fn a_step_that_is_taken_away_takes_with_it_exactly_what_it_alone_notices() {
    let before = as_json(&cover("orchard-flatbed", &["--level", "full", "--json"]));
    let alone = |step: &str| -> BTreeSet<String> {
        let steps = before["steps"].as_array().unwrap();
        let found = steps.iter().find(|s| s["step"] == step).expect("the step covers something");
        undetected(&serde_json::json!({ "undetected": found["alone"] }))
    };
    for (procedure, step, full_names) in [
        ("switch", "off-is-open", &["switch/S2/off-is-open"][..]),
        ("seal", "fill-cavities", &["seal/X1/fill-cavities"]),
        ("dead-test", "plus-clear-of-chassis", &["dead-test/pump/plus-clear-of-chassis"]),
    ] {
        let expected: BTreeSet<String> = full_names.iter().flat_map(|name| alone(name)).collect();
        assert!(!expected.is_empty(), "{step} notices nothing alone");
        let folder = without_step(procedure, step);
        let own = folder.path().to_str().unwrap().to_owned();
        let output =
            cover("orchard-flatbed", &["--level", "full", "--procedures", &own, "--at-least", "100", "--json"]);
        let after = as_json(&output);
        assert_eq!(undetected(&after), expected, "without {procedure}/{step}");
        assert_eq!(output.status.code(), Some(1), "below the stated floor");
        // For each there is something to add that would notice it.
        for fault in after["undetected"].as_array().unwrap() {
            let add = &fault["add"];
            assert!(add == "inspection" || add["between"].as_array().is_some_and(|b| b.len() == 2), "{fault}");
        }
    }
}

#[test]
fn the_words_name_what_is_missed_and_what_to_add() {
    let folder = without_step("switch", "off-is-open");
    let own = folder.path().to_str().unwrap().to_owned();
    let output = cover("reversing-lamp", &["--level", "full", "--procedures", &own]);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("the contact of S1 does not open"), "{said}");
    assert!(said.contains("add: "), "{said}");
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    assert_eq!(output.status.code(), Some(0), "no floor was stated");
}

#[test]
fn a_coarser_meter_notices_less() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(root().join("reports/reversing-lamp/job.toml")).unwrap();
    let with = |percent: f64| {
        let path = folder.path().join(format!("job-{percent}.toml"));
        let ranges = [("200 mV", "0.1 mV"), ("20 V", "10 mV")].map(|(up_to, digit)| {
            format!("  {{ range = \"{up_to}\", accuracy = \"{percent} % + 5\", digit = \"{digit}\" }},\n")
        });
        let instrument = format!("\n[meter.M1]\ndescription = \"bench\"\nvoltage = [\n{}]\n", ranges.concat());
        std::fs::write(&path, format!("{text}{instrument}")).unwrap();
        let output =
            Command::new(env!("CARGO_BIN_EXE_rigproof")).arg("cover").arg(&path).arg("--json").output().unwrap();
        as_json(&output)["detected"].as_u64().unwrap()
    };
    let (fine, coarse) = (with(0.5), with(20.0));
    assert!(coarse < fine, "{coarse} with 20 %, {fine} with 0.5 %");
}

#[test]
fn every_word_that_an_inspection_may_reveal_is_a_fault_of_the_model() {
    let words: Vec<&str> = rigproof::diagnosis::Kind::ALL.iter().map(|kind| kind.word()).collect();
    for word in REVEALED {
        assert!(words.contains(word), "{word}");
    }
    assert!(Path::new(&root().join("procedures")).is_dir());
}
