//! One reading over many records, from the records that walks leave.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::{Bench, small_job};
use serde_json::Value;

/// The flow rates of the NIST/SEMATECH e-Handbook 6.3.2.2, brought into the range of the torque of the small job: a tenth of
/// each, and 0.1 N·m more.
const TORQUES: [&str; 10] = ["5.06", "4.86", "5.09", "5.23", "4.88", "5.22", "5.36", "5.34", "5.46", "5.31"];

const STEP: &str = "ground/G1/torque";

/// A bench with a record for each torque, one after the other.
fn walked(torques: &[&str]) -> Bench {
    let bench = Bench::tiny();
    std::fs::create_dir(bench.path("jobs")).unwrap();
    for (number, torque) in torques.iter().enumerate() {
        let answers = small_job::answers(&small_job::tiny_library()).with(STEP, &[torque]);
        bench.answer_with(&answers);
        bench.walk();
        std::fs::rename(bench.record(), bench.path(&format!("jobs/van-{number:02}"))).unwrap();
    }
    bench
}

fn json(ended: &common::Ended) -> Value {
    serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {}", ended.out))
}

#[test]
fn the_chart_of_ten_records_has_the_limits_of_the_handbook() {
    let bench = walked(&TORQUES);
    let ended = bench.run(&["trend", "jobs", "--step", "torque", "--json"]);
    let found = json(&ended);
    // 50.81, 55.8041, 45.8159 and 6.1347 in the handbook.
    for (key, expected) in [("centre", 5.181), ("high", 5.680_41), ("low", 4.681_59), ("range_high", 0.613_47)] {
        let value = found[key].as_f64().unwrap();
        assert!((value - expected).abs() < 1e-5, "{key}: {value}, not {expected}");
    }
    assert_eq!((&found["unit"], &found["provisional"]), (&"N·m".into(), &true.into()));
    assert_eq!(found["readings"].as_array().unwrap().len(), 10);

    let ended = bench.run(&["trend", "jobs", "--step", "torque"]);
    ended.says("limits:  4.68 to 5.68 N·m").says("provisional").says("they judge no vehicle");
    assert!(ended.out.lines().all(|line| line.chars().count() <= 80), "{}", ended.out);
}

#[test]
fn without_a_step_the_readings_that_repeat_are_listed() {
    let bench = walked(&TORQUES[..3]);
    let ended = bench.run(&["trend", "jobs"]);
    ended.expect(0).says("3  ground/*/torque  torque");
    // A step that is not there is answered with those that are.
    bench.run(&["trend", "jobs", "--step", "pull"]).expect(2).says("0 fit `pull`").says("ground/*/torque");
    bench.run(&["trend", "home", "--step", "torque"]).expect(2).says("holds no record");
}

#[test]
fn a_wrench_that_drifts_is_found_and_a_steady_one_is_not() {
    let steady = ["5.3", "5.2", "5.4", "5.3", "5.2", "5.3", "5.4", "5.3", "5.2", "5.3", "5.4", "5.2"];
    let bench = walked(&steady);
    bench.run(&["trend", "jobs", "--step", "torque"]).expect(0).says("drift:   none seen");

    let mut drifting = steady[..8].to_vec();
    drifting.extend(["5.3", "5.2", "5.1", "5.1", "5.0", "5.0", "4.9", "4.9"]);
    let bench = walked(&drifting);
    let ended = bench.run(&["trend", "jobs", "--step", "torque", "--base", "8"]);
    ended.expect(1).says("THE MOVING AVERAGE LEAVES");
    let found = json(&bench.run(&["trend", "jobs", "--step", "torque", "--base", "8", "--json"]));
    let from = found["average_outside_from"].as_u64().unwrap();
    assert!((10..16).contains(&from), "found at {from}");
    assert_eq!(found["steady"], false);
}

#[test]
fn the_spread_is_held_against_a_limit_and_a_wrong_limit_is_told() {
    let bench = walked(&TORQUES);
    let limits = ["trend", "jobs", "--step", "torque", "--at-least", "4.77 N·m", "--at-most", "5.83 N·m"];
    let ended = bench.run(&limits);
    // Deviation 0.203385 N·m: Cp = 1.06/(6 × 0.203385), Cpk = (5.181 - 4.77)/(3 × 0.203385).
    ended.says("Cp 0.87").says("Cpk 0.67").says("95 %");
    let wrong = ["trend", "jobs", "--step", "torque", "--at-least", "4.77 V"];
    bench.run(&wrong).expect(2).says("--at-least");
    bench.run(&["trend", "jobs", "--step", "torque", "--base", "11"]).expect(2).says("there are 10 readings");
}

#[test]
fn readings_are_told_apart_by_thing_and_day_and_drawn_on_a_page() {
    let bench = walked(&TORQUES);
    let groups = bench.run(&["trend", "jobs", "--step", "torque", "--by", "thing"]);
    groups.expect(0).says("G1                    10").says("changed");
    assert!(groups.out.lines().all(|line| line.chars().count() <= 80), "{}", groups.out);
    bench.run(&["trend", "jobs", "--step", "torque", "--since", "2999-01-01"]).expect(2).says("0 fit `torque`");
    bench.run(&["trend", "jobs", "--step", "torque", "--until", "soon"]).expect(2).says("this is no day");
    bench.run(&["trend", "jobs", "--step", "torque", "--tool", "crimper-2"]).expect(2).says("0 fit `torque`");
    let call = ["trend", "jobs", "--step", "torque", "--at-least", "4.77 N·m", "--out", "chart"];
    bench.run(&call).expect(0).says("chart/trend.html");
    let page = std::fs::read_to_string(bench.path("chart/trend.html")).unwrap();
    assert!(page.contains("<svg") && page.contains("Cpk") && page.contains("jobs/van-09"), "{page}");
    let csv = std::fs::read_to_string(bench.path("chart/trend.csv")).unwrap();
    assert_eq!(csv.lines().count(), 11);
    assert!(csv.lines().nth(1).unwrap().contains(",5.06,"), "{csv}");
}
