//! The search for a fault: injected faults are found, the files and the JSON are as the contract says.

#![allow(missing_docs, reason = "tests speak through their names")]

use rigproof::circuit::{Circuit, State};
use rigproof::diagnosis::{Fault, Findings, Kind, Range, Strength, Taken, Weights, faults_of};
use rigproof::document::Source;
use rigproof::job::{Job, Terminal};
use rigproof::plan::{Measurement, Probes};
use rigproof::quantity::{Dimension, Reading, Resistance};

fn job(name: &str) -> Job {
    let path = format!("{}/reports/{name}/job.toml", env!("CARGO_MANIFEST_DIR"));
    Job::read(&Source::new(name, std::fs::read_to_string(path).unwrap())).unwrap()
}

/// What the virtual meter shows in the faulted circuit, typed with the digits of a hand-held meter.
fn shown(job: &Job, measurement: &Measurement, fault: &Fault, ohms: f64) -> Reading {
    let strength = match fault.range() {
        Range::Ohms(_) => Strength::Ohms(Resistance::ohms(ohms)),
        Range::Times(all) => Strength::Times(all[0]),
    };
    let changes = fault.changes(job, strength);
    let expected = measurement.expect_in(Circuit::of(job).with(&changes)).unwrap();
    let volts = expected.nominal.unwrap().base();
    let typed = if volts.abs() < 0.6 { format!("{:.1} mV", volts * 1000.0) } else { format!("{volts:.2} V") };
    Reading::parse(&typed, Dimension::Voltage).unwrap()
}

fn find(job: &Job, taken: &[Taken]) -> Findings {
    rigproof::diagnosis::find(job, &Weights::default(), taken)
}

/// Follows the program's own advice from the voltage at the load on; how many readings it took, and the faults left.
fn search(job: &Job, fault: &Fault, ohms: f64) -> (usize, Vec<Fault>, bool) {
    let load = &job.loads[0].name;
    let first = Measurement {
        dimension: Dimension::Voltage,
        probes: Probes::Between(Terminal::of(load, "+"), Terminal::of(load, "-")),
        state: State::all_on(job),
        rule: None,
    };
    let mut taken = vec![Taken { reading: shown(job, &first, fault, ohms), measurement: first, instrument: None }];
    loop {
        let findings = find(job, &taken);
        let Some(next) = findings.next.filter(|_| taken.len() < 12) else {
            let left = findings.ranked[..findings.group].iter().map(|r| r.fault.clone()).collect();
            return (taken.len(), left, !findings.unexplained.is_empty());
        };
        taken.push(Taken {
            reading: shown(job, &next.measurement, fault, ohms),
            measurement: next.measurement,
            instrument: None,
        });
    }
}

#[test]
fn a_poor_joint_anywhere_and_a_dead_or_crossed_load_in_the_reversing_lamp_is_found_in_few_readings() {
    let job = job("reversing-lamp");
    let mut most = 0;
    let mut tried = 0;
    for fault in faults_of(&job, &Weights::default()) {
        if !matches!(fault.kind, Kind::PoorJoint | Kind::Reversed | Kind::DeadLoad) {
            continue;
        }
        tried += 1;
        let (readings, left, unexplained) = search(&job, &fault, 0.9);
        assert!(left.contains(&fault), "{}: {left:?} after {readings} readings", fault.says());
        assert!(left.len() <= 3, "{}: {left:?}", fault.says());
        assert!(!unexplained, "{}", fault.says());
        most = most.max(readings);
    }
    assert!(tried >= 12, "only {tried} faults were tried");
    assert!(most <= 8, "{most} readings were needed");
}

#[test]
fn the_ohms_of_a_bad_ground_are_estimated() {
    let job = job("reversing-lamp");
    let ground =
        faults_of(&job, &Weights::default()).into_iter().find(|f| f.kind == Kind::PoorJoint && f.at == ["G1"]).unwrap();
    let path = Measurement {
        dimension: Dimension::Voltage,
        probes: Probes::Between(Terminal::of("reversing-lamp", "-"), Terminal::battery_minus()),
        state: State::all_on(&job),
        rule: None,
    };
    let taken = [Taken { reading: shown(&job, &path, &ground, 0.9), measurement: path, instrument: None }];
    let ranked = find(&job, &taken).ranked;
    let found = ranked.iter().find(|r| r.fault == ground).unwrap();
    let [low, middle, high] = found.ohms.unwrap().map(Resistance::as_ohms);
    assert!(low < 0.9 && 0.9 < high, "{low} to {high}");
    assert!((middle - 0.9).abs() < 0.15, "{middle}");
    // Everything on the supply side is out of question after a reading on the ground side.
    let supply: f64 = ranked
        .iter()
        .filter(|r| ["w2", "F1", "S1"].contains(&r.fault.at.first().map_or("", |a| a)))
        .map(|r| r.probability)
        .sum();
    assert!(supply < 0.02, "{supply}");
}

#[test]
fn readings_as_designed_leave_everything_as_designed_in_front() {
    let job = job("reversing-lamp");
    let none = Fault::as_designed();
    let (_, left, unexplained) = search(&job, &none, 1.0);
    assert!(left[0].kind == Kind::AsDesigned, "{left:?}");
    assert!(!unexplained);
}

fn diagnose(readings: &str, more: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("readings.toml");
    std::fs::write(&file, readings).unwrap();
    let job = format!("{}/reports/reversing-lamp/job.toml", env!("CARGO_MANIFEST_DIR"));
    std::process::Command::new(env!("CARGO_BIN_EXE_rigproof"))
        .args(["diagnose", &job, "--readings"])
        .arg(&file)
        .args(more)
        .output()
        .unwrap()
}

#[test]
fn the_json_has_the_faults_and_the_next_reading_of_the_contract() {
    let output = diagnose(
        "format = 1\n[[reading]]\nbetween = [\"reversing-lamp.+\", \"reversing-lamp.-\"]\non = [\"S1\"]\nshows = \"10.53 V\"\n",
        &["--json"],
    );
    assert_eq!(output.status.code(), Some(1), "a fault is there");
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let faults = value["faults"].as_array().unwrap();
    let sum: f64 = faults.iter().map(|f| f["probability"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    assert_eq!(faults[0]["fault"], "added-resistance");
    assert!(faults[0]["where"].is_array());
    assert_eq!(value["next"]["between"].as_array().unwrap().len(), 2);
    assert!(value["next"]["on"].is_array());
    assert!(value["next"]["splits"].as_array().unwrap().len() > 1);
}

#[test]
fn two_faults_that_no_single_one_explains_are_noticed() {
    // 2 V lost on each side of the lamp: one joint cannot do both.
    let reading = |red: &str, black: &str, shows: &str| {
        format!("[[reading]]\nbetween = [\"{red}\", \"{black}\"]\non = [\"S1\"]\nshows = \"{shows}\"\n")
    };
    let text = format!(
        "format = 1\n{}{}",
        reading("battery.+", "reversing-lamp.+", "1.50 V"),
        reading("reversing-lamp.-", "battery.-", "1.50 V")
    );
    let output = diagnose(&text, &[]);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.contains("No single fault of the list explains these readings"), "{said}");
}

#[test]
fn a_faulty_file_of_readings_is_answered_with_every_mend_at_once() {
    let output = diagnose(
        "format = 1\n[[reading]]\nbetween = [\"reversing-lamp.+\", \"reversing-lampe.-\"]\non = [\"S2\"]\nshows = \"10.5 V\"\n\
         [[reading]]\nin = \"w2\"\nshows = \"ten\"\n[[reading]]\nshows = \"1 V\"\n",
        &[],
    );
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8(output.stderr).unwrap();
    for part in
        ["reversing-lampe.-", "no switch is called `S2`", "`ten` is no reading of a current", "where the meter was put"]
    {
        assert!(said.contains(part), "{part} is missing in:\n{said}");
    }
}

#[test]
fn the_readings_of_a_sound_record_leave_everything_as_designed_in_front() {
    let at = |path: &str| format!("{}/reports/orchard-flatbed/{path}", env!("CARGO_MANIFEST_DIR"));
    let run = |record: &str| {
        std::process::Command::new(env!("CARGO_BIN_EXE_rigproof"))
            .args(["diagnose", &at("job.toml"), "--record", record, "--json"])
            .output()
            .unwrap()
    };
    let output = run(&at("record"));
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(value["faults"][0]["fault"], "as-designed");
    assert_eq!(value["unexplained"], serde_json::json!([]));
    let none = run(&at("no-such-record"));
    assert_eq!(none.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&none.stderr).contains("holds no record"));
}
