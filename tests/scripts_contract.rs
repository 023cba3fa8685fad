//! What scripts outside the project rely on: the forms of the JSON answers, and the exit statuses.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::process::{Command, Output};

use serde_json::Value;

const DEMO: &str = "reports/orchard-flatbed/job.toml";

fn call(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_rigproof"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).args(arguments).output().unwrap()
}

fn json(arguments: &[&str]) -> Value {
    let output = call(arguments);
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&output.stderr)))
}

#[test]
fn expect_answers_a_voltage_with_its_limits_and_reasons() {
    let answer = json(&["expect", DEMO, "--volts", "pump.-", "battery.-", "--on", "S1", "--json"]);
    assert_eq!((&answer["quantity"], &answer["unit"]), (&"voltage".into(), &"V".into()));
    let number = |key: &str| answer[key].as_f64().unwrap();
    // By hand: 7 A over (0.45 m + 4.2 m) x 7.98 mohm/m, four joints of 2 mohm, contact 3, body 1, and the coil's share of it.
    let by_hand = 7.0 * (4.65 * 7.98e-3 + 8e-3 + 3e-3) + (7.0 + 0.1475) * 1e-3;
    assert!((number("nominal") - by_hand).abs() < 1e-5, "{} {by_hand}", number("nominal"));
    assert!(number("low") < number("nominal") && number("nominal") < number("high"));
    let because = answer["because"].as_array().unwrap();
    let parts: f64 = because.iter().filter_map(|b| b["value"].as_f64()).sum();
    assert!((parts - number("nominal")).abs() < 1e-6, "the contributions add up to the reading");
    assert!(because.iter().all(|b| b["says"].is_string()));
    assert!(because.iter().any(|b| b["says"].as_str().unwrap().contains("can move it")));
}

#[test]
fn expect_answers_the_current_of_a_wire_positive_from_its_from_to_its_to() {
    let there = json(&["expect", DEMO, "--amps", "c1.red", "--on", "S1", "--json"])["nominal"].as_f64().unwrap();
    let back = json(&["expect", DEMO, "--amps", "c1.black", "--on", "S1", "--json"])["nominal"].as_f64().unwrap();
    assert!((there - 7.0).abs() < 1e-4 && (back + 7.0).abs() < 1e-4, "{there} {back}");
}

#[test]
fn expect_answers_an_ohmmeter_with_open_where_no_path_conducts() {
    let coil = json(&["expect", DEMO, "--ohms", "K1.86", "K1.85", "--pull", "F1", "--json"]);
    assert_eq!((&coil["quantity"], &coil["unit"]), (&"resistance".into(), &"ohm".into()));
    assert!((coil["nominal"].as_f64().unwrap() - 85.0).abs() < 1e-6 && coil.get("open").is_none());
    let open = json(&["expect", DEMO, "--ohms", "F1.in", "F1.out", "--pull", "F1", "--json"]);
    assert!(open["nominal"].is_null() && open["open"] == true, "{open}");
}

#[test]
fn expect_knows_engine_unplugged_connectors_and_a_disconnected_battery() {
    let volts = |more: &[&str]| {
        let arguments: Vec<&str> = ["expect", DEMO, "--volts", "pump.+", "battery.-", "--on", "S1", "--json"]
            .iter()
            .chain(more)
            .copied()
            .collect();
        json(&arguments)["nominal"].as_f64().unwrap()
    };
    assert!((13.0..14.2).contains(&volts(&["--engine", "running"])));
    assert!(volts(&["--unplug", "X1"]).abs() < 0.01);
    assert!(volts(&["--disconnect-battery"]).abs() < 1e-9);
    assert!(volts(&["--pull", "F2"]).abs() < 0.01, "the coil is fed through F2");
}

#[test]
fn expect_without_a_question_lists_every_reading_of_the_procedures() {
    let table = json(&["expect", DEMO, "--json"]);
    let readings = table["readings"].as_array().unwrap();
    assert!(readings.len() > 25, "{}", readings.len());
    assert!(readings.iter().all(|r| r["step"].is_string() && (r["between"].is_array() || r["in"].is_string())));
}

#[test]
fn corners_are_solved_again_and_lie_near_the_linear_limits() {
    let pair = ["expect", DEMO, "--volts", "pump.+", "pump.-", "--on", "S1", "--json"];
    let linear = json(&pair);
    let corners = json(&pair.iter().copied().chain(["--corners"]).collect::<Vec<_>>());
    for end in ["low", "high"] {
        let (a, b) = (linear[end].as_f64().unwrap(), corners[end].as_f64().unwrap());
        assert!((a - b).abs() < 0.03 && a.to_bits() != b.to_bits(), "{end}: {a} {b}");
    }
}

#[test]
fn check_answers_with_its_findings_and_whether_the_design_conforms() {
    let answer = json(&["check", DEMO, "--json"]);
    assert_eq!(answer["conforms"], true);
    for finding in answer["findings"].as_array().unwrap() {
        for key in ["rule", "severity", "subject", "says", "source"] {
            assert!(finding[key].is_string(), "{key} in {finding}");
        }
        assert!(["error", "warning", "note"].contains(&finding["severity"].as_str().unwrap()));
        assert!(finding.get("value").is_some() && finding.get("limit").is_some() && finding.get("unit").is_some());
    }
    assert_eq!(call(&["check", DEMO]).status.code(), Some(0));
    let folder = tempfile::tempdir().unwrap();
    let bad = folder.path().join("job.toml");
    let text = std::fs::read_to_string(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(DEMO)).unwrap();
    std::fs::write(&bad, text.replacen("rating = \"15 A\"", "rating = \"60 A\"", 1)).unwrap();
    let path = bad.to_str().unwrap();
    assert_eq!(call(&["check", path]).status.code(), Some(1));
    assert_eq!(json(&["check", path, "--json"])["conforms"], false);
    let walked = call(&[
        "walk",
        path,
        "--answers",
        "reports/orchard-flatbed/answers.toml",
        "--record",
        folder.path().join("r").to_str().unwrap(),
    ]);
    assert_eq!(walked.status.code(), Some(2), "the walk does not begin on a design with errors");
    assert!(String::from_utf8_lossy(&walked.stderr).contains("--despite"));
}

#[test]
fn a_wrong_call_or_file_ends_with_2_and_says_the_way_out() {
    for (arguments, words) in [
        (vec!["expect", "no-such-file.toml"], "no-such-file.toml"),
        (vec!["expect", DEMO, "--volts", "pmp.+", "battery.-"], "did you mean `pump.+`"),
        (vec!["expect", DEMO, "--amps", "w99"], "the wires of this job are"),
        (vec!["expect", DEMO, "--volts", "pump.+", "pump.-", "--on", "S9"], "this job has S1, S2"),
        (vec!["verify", "src"], "no record"),
        (vec!["report", "src", "--out", "none"], "no record"),
    ] {
        let output = call(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains(words), "{arguments:?}: {said}");
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn the_record_in_the_repository_is_intact_and_verify_says_who_signed() {
    let answer = json(&["verify", "reports/orchard-flatbed/record", "--json"]);
    assert_eq!(answer["intact"], true, "{answer}");
    assert_eq!(answer["signed_by"][0]["name"], "Robin Alder");
    assert!(answer["entries"].as_u64().unwrap() > 200 && answer["problems"].as_array().unwrap().is_empty());
}
