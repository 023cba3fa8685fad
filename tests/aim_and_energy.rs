//! `rigproof aim` and `rigproof energy` as a person and a script call them.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::{Answers, Bench, Ended, demo_file, small_job};
use serde_json::Value;

fn bench(job: &str) -> Bench {
    Bench::new(job, &Answers::demo())
}

#[track_caller]
fn json(bench: &Bench, arguments: &[&str]) -> (Ended, Value) {
    let ended = bench.run(arguments);
    let value = serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {ended:?}"));
    (ended, value)
}

#[track_caller]
fn close(value: &Value, expected: f64, allowed: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - expected).abs() <= allowed, "{value}, expected {expected}");
}

/// The words of a text on one line, so that a test does not hang on where it is wrapped.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The smallest job with a capacity, and one more key in its load.
fn one_lamp(load: &str) -> String {
    small_job::JOB
        .replace("kind = \"flooded\"", "kind = \"flooded\"\ncapacity = \"60 Ah\"")
        .replace("works_from = \"9 V\"", &format!("works_from = \"9 V\"\n{load}"))
}

#[test]
fn the_same_beam_comes_from_its_tilt_a_mark_on_the_wall_and_the_ground() {
    let bench = Bench::demo();
    for how in [&["--tilt", "1 %"][..], &["--tilt", "0.5729387 °"], &["--drop", "10 cm"], &["--meets", "90 m"]] {
        let call: Vec<&str> =
            ["aim", "--height", "0.9 m", "--distance", "10 m", "--json"].iter().chain(how).copied().collect();
        let (ended, value) = json(&bench, &call);
        ended.expect(0);
        let lamp = &value["lamps"][0];
        close(&lamp["slope"], 0.01, 1e-6);
        close(&lamp["wall"]["drop"], 0.10, 1e-5);
        close(&lamp["wall"]["mark"], 0.80, 1e-5);
        close(&lamp["meets_ground"], 90.0, 0.01);
        assert_eq!(lamp["eyes"]["middle"], "below");
        assert_eq!(lamp["eyes"]["status"], "from-memory");
    }
}

#[test]
fn a_beam_that_rises_is_said_to_meet_no_ground_and_to_reach_eyes() {
    let bench = Bench::demo();
    let ended = bench.run(&["aim", "--height", "0.6 m", "--tilt", "-1 %"]);
    ended.expect(0);
    let said = words(&ended.out);
    assert!(said.contains("never meets level ground") && said.contains("50.00 m in front of the lamp"), "{said}");
    let (_, value) = json(&bench, &["aim", "--height", "0.6 m", "--tilt", "-1 %", "--json"]);
    assert!(value["lamps"][0]["meets_ground"].is_null());
    close(&value["lamps"][0]["eyes"]["passes_at"], 50.0, 1e-6);
}

#[test]
fn light_is_told_on_the_wall_on_the_ground_and_where_one_lux_is_left() {
    let bench = Bench::demo();
    let call = ["aim", "--height", "2 m", "--tilt", "45 °", "--distance", "1 m", "--intensity", "40000 cd", "--json"];
    let (_, value) = json(&bench, &call);
    let light = &value["lamps"][0]["light"];
    // By hand: 40000 / 1² lx on a surface that faces the lamp; at 45° on the wall by cos³, on the ground by sin³ / 2².
    close(&light["facing_at_distance"], 40000.0, 1e-6);
    close(&light["on_wall"], 40000.0 * 0.5f64.powf(1.5), 1e-3);
    close(&light["on_ground"], 10000.0 * 0.5f64.powf(1.5), 1e-3);
    close(&light["one_lux_at"], 200.0, 1e-9);
    let said = words(&bench.run(&["aim", "--height", "2 m", "--tilt", "45 °", "--intensity", "40000 cd"]).out);
    assert!(said.contains("before a wall at 7.62 m") && !said.contains("on the wall at"), "{said}");
}

#[test]
fn rules_of_other_places_come_by_the_kind_of_lamp_and_as_examples_only() {
    let bench = Bench::demo();
    let said = |kind: &str| words(&bench.run(&["aim", "--height", "0.6 m", "--tilt", "2 %", "--lamp", kind]).out);
    assert!(said("fog").contains("24403") && !said("fog").contains("24616"));
    assert!(said("work").contains("24616") && said("work").contains("(from memory)"));
    for text in [said("fog"), said("work")] {
        assert!(text.contains("law of the place prevails") && text.contains("not as a verdict"), "{text}");
        assert!(!text.contains("safe"), "{text}");
    }
}

#[test]
fn a_job_tells_the_aim_of_its_lamps_and_asks_for_what_is_missing() {
    let bench = bench(&demo_file("job.toml").replacen(
        "needs = \"10.5 V\"\nplace = \"headboard, left\"",
        "needs = \"10.5 V\"\nheight = \"1.8 m\"\ntilt = \"15 °\"\nintensity = \"900 cd\"\nplace = \"headboard, left\"",
        1,
    ));
    let ended = bench.run(&["aim", "job.toml"]);
    ended.expect(0);
    let said = words(&ended.out);
    // 1.8 m / tan 15°.
    assert!(said.contains("lamp-left") && said.contains("meets level ground at 6.72 m"), "{said}");
    assert!(said.contains("write into [load.lamp-right]: height"), "{said}");
    assert!(!said.contains("[load.pump]"), "a pump is no lamp");
    let (_, value) = json(&bench, &["aim", "job.toml", "--json"]);
    assert_eq!(value["lamps"][1], serde_json::json!({ "lamp": "lamp-right", "missing": ["height", "tilt"] }));
}

#[test]
fn wrong_input_of_aim_ends_with_status_2_and_the_way_out() {
    let bench = Bench::demo();
    for (call, expected) in [
        (&["aim"][..], "name a job file, or a lamp"),
        (&["aim", "--height", "0.9 m"], "--tilt"),
        (&["aim", "--height", "0.9", "--tilt", "1 %"], "--height \"0.9\": the unit is missing"),
        (&["aim", "--height", "-1 m", "--tilt", "1 %"], "above zero"),
        (&["aim", "--height", "0.9 m", "--tilt", "100 V"], "per cent or degrees"),
        (&["aim", "--height", "0.9 m", "--tilt", "90 °"], "less than 90°"),
        (&["aim", "--height", "0.9 m", "--drop", "10 cm"], "--distance"),
        (&["aim", "--height", "0.9 m", "--tilt", "1 %", "--meets", "90 m"], "cannot be used with"),
        (&["aim", "job.toml", "--tilt", "1 %"], "cannot be used with"),
        (&["aim", "none.toml"], "none.toml"),
    ] {
        let ended = bench.run(call);
        ended.expect(2);
        assert!(ended.err.contains(expected), "{call:?}: {}", ended.err);
    }
    let ended = self::bench(&one_lamp("tilt = \"1 m\"")).run(&["aim", "job.toml"]);
    ended.expect(2);
    assert!(
        ended.err.contains("`tilt`: m is a unit of length") && ended.err.contains("1 % or 0.57 °"),
        "{}",
        ended.err
    );
}

#[test]
fn a_battery_lasts_from_its_rest_voltage_to_half_full_with_limits_around_it() {
    let (ended, value) = json(&bench(&one_lamp("")), &["energy", "job.toml", "--json"]);
    ended.expect(0);
    let battery = &value["batteries"][0];
    assert_eq!(battery["ends"], "runs-down");
    // 12.6 V lies 3/4 of the way from 75 % (12.45 V) to 100 % (12.65 V); 12.4 V 16/21 from 50 % (12.24 V) to 75 %.
    close(&battery["from"]["likely"], 0.75 + 0.25 * 0.75, 1e-9);
    close(&battery["from"]["low"], 0.50 + 0.25 * 16.0 / 21.0, 1e-9);
    close(&battery["from"]["high"], 1.0, 1e-9);
    close(&battery["to"]["likely"], 0.5, 1e-9);
    // 24 W at about 12.4 V are 1.94 A, below the 20-hour rate of 3 A: nothing is lost. 26.25 Ah last 13.5 h.
    let hours = |key: &str| battery["time"][key].as_f64().unwrap() / 3600.0;
    assert!((hours("likely") - 26.25 / 1.95).abs() < 0.2, "{}", hours("likely"));
    assert!((hours("likely") - hours("without_loss")).abs() < 1e-9);
    assert!(hours("low") < 10.0 && hours("likely") < hours("high") && hours("high") < 18.0);
}

#[test]
fn less_comes_out_at_a_high_current_and_the_exponent_says_where_it_is_from() {
    let (_, value) = json(&bench(&demo_file("job.toml")), &["energy", "job.toml", "--json"]);
    let battery = &value["batteries"][0];
    let hours = |key: &str| battery["time"][key].as_f64().unwrap() / 3600.0;
    // 11.3 A against 4.5 A of the 20-hour rate, exponent 1.2: a share of (4.5 / 11.3)^0.2.
    assert!((hours("likely") / hours("without_loss") - (4.5f64 / 11.3).powf(0.2)).abs() < 0.005);
    close(&battery["exponent"]["taken"], 1.2, 1e-9);
    assert!(battery["exponent"]["source"].as_str().unwrap().contains("common practice"));
}

#[test]
fn without_a_capacity_the_key_to_add_is_named_and_no_time_is_invented() {
    let ended = bench(small_job::JOB).run(&["energy", "job.toml"]);
    ended.expect(0);
    let said = words(&ended.out);
    assert!(said.contains("capacity = \"70 Ah\" in [battery]") && !said.contains("LASTS"), "{said}");
    assert!(said.contains("idle_current"), "the alternator's current is missing too: {said}");
}

#[test]
fn the_voltage_of_lithium_iron_phosphate_and_gel_is_refused_and_a_charge_is_taken() {
    for (kind, why) in [("lithium-iron-phosphate", "no measure of its charge"), ("gel", "no table of rest voltages")] {
        let bench = bench(&one_lamp("").replace("kind = \"flooded\"", &format!("kind = \"{kind}\"")));
        for call in [["--to", "12.24 V"], ["--from", "12.6 V"]] {
            let ended = bench.run(&["energy", "job.toml", call[0], call[1]]);
            ended.expect(2);
            let says = words(&ended.err);
            assert!(says.contains(why) && says.contains(&format!("{} \"50 %\"", call[0])), "{says}");
        }
        let (ended, value) = json(&bench, &["energy", "job.toml", "--from", "80 %", "--to", "30 %", "--json"]);
        ended.expect(0);
        let hours = value["batteries"][0]["time"]["likely"].as_f64().unwrap() / 3600.0;
        assert!((hours - 30.0 / 1.93).abs() < 0.4, "{kind}: {hours}");
        let said = words(&bench.run(&["energy", "job.toml"]).out);
        assert!(said.contains("taken as full"), "{said}");
    }
}

#[test]
fn the_alternator_at_idle_is_asked_with_what_the_vehicle_draws() {
    let demo = bench(&demo_file("job.toml"));
    let (ended, open) = json(&demo, &["energy", "job.toml", "--engine", "running", "--json"]);
    ended.expect(0);
    assert!(open["batteries"].as_array().unwrap().is_empty() && open["idle"]["balance"].is_null());
    close(&open["idle"]["available"], 44.0, 1e-9);
    let left = open["idle"]["left"].as_f64().unwrap();
    assert!(words(&demo.run(&["energy", "job.toml"]).out).contains("40 % of the rated 110 A (from memory)"));

    let (ended, enough) = json(&demo, &["energy", "job.toml", "--vehicle", "30 A", "--json"]);
    ended.expect(0);
    close(&enough["idle"]["balance"], left - 30.0, 1e-9);
    assert!(enough["idle"]["sags"].is_null());

    let (ended, short) = json(&demo, &["energy", "job.toml", "--vehicle", "45 A", "--json"]);
    ended.expect(1);
    assert_eq!((&short["idle"]["falls_short"], &short["holds"]), (&true.into(), &false.into()));
    // The battery gives what the job draws at the battery's own voltage, and the ampere that the vehicle takes beyond 44.
    let engine_off = short["batteries"][0]["current_first"].as_f64().unwrap();
    close(&short["idle"]["sags"]["battery_gives"], engine_off + 1.0, 0.01);
    assert!(words(&demo.run(&["energy", "job.toml", "--vehicle", "45 A"]).out).contains("SHORTFALL <<"));
}

#[test]
fn a_battery_that_is_charged_slower_is_no_shortfall() {
    let van = bench(&std::fs::read_to_string("reports/market-stall-van/job.toml").unwrap());
    let (ended, value) = json(&van, &["energy", "job.toml", "--vehicle", "30 A", "--engine", "running", "--json"]);
    ended.expect(0);
    let idle = &value["idle"];
    assert!(idle["balance"].as_f64().unwrap() < 0.0 && idle["sags"]["battery_gives"].as_f64().unwrap() < 0.0, "{idle}");
    assert_eq!(idle["charging"][0]["battery"], "second");
}

#[test]
fn each_battery_has_its_own_run_time_for_the_loads_it_feeds() {
    let van = bench(&std::fs::read_to_string("reports/market-stall-van/job.toml").unwrap());
    let (_, apart) = json(&van, &["energy", "job.toml", "--on", "S3", "--engine", "off", "--json"]);
    assert!(apart["idle"].is_null());
    let (first, second) = (&apart["batteries"][0], &apart["batteries"][1]);
    // The counter lamps hang on the starter battery, the fridge on the other: 100 Ah from 87.5 to 50 % at 4.5 A.
    assert!(first["current_first"].as_f64().unwrap() < 2.1 && first["battery"] == "battery");
    assert_eq!(second["battery"], "second");
    close(&second["current_first"], 4.5, 0.01);
    close(&second["time"]["likely"], 37.5 / 4.5 * 3600.0, 60.0);
    // Joined by K1 they carry all loads together: the current of both is what their charges give, over nearly one time.
    let (_, joined) = json(&van, &["energy", "job.toml", "--engine", "off", "--json"]);
    let time = |at: usize| joined["batteries"][at]["time"]["likely"].as_f64().unwrap();
    assert!((time(0) / time(1) - 1.0).abs() < 0.5 && time(0) < 48.0 * 3600.0, "{} {}", time(0), time(1));
}

#[test]
fn a_parked_vehicle_is_held_against_the_50_ma_rule() {
    // The lamp's standby counts only where something feeds it while every switch is off.
    let fed = one_lamp("standby = \"60 mA\"")
        .replace("from = \"F1.out\"\nto = \"S1.in\"", "from = \"F1.out\"\nto = \"lamp.+\"");
    let fed = fed.replace("from = \"S1.out\"\nto = \"lamp.+\"", "from = \"F1.out\"\nto = \"S1.in\"");
    let (ended, value) = json(&bench(&fed), &["energy", "job.toml", "--json"]);
    ended.expect(1);
    let battery = &value["parked"]["batteries"][0];
    close(&battery["total"], 0.060, 1e-5);
    assert_eq!((&battery["above_rule"], &value["parked"]["draws"][0]["standby"]), (&true.into(), &true.into()));
    // 60 mA over 30 days, and half of 60 Ah by 60 mA.
    close(&battery["gone"], 43.2, 0.02);
    close(&battery["full_to_half"], 30.0 / 0.06 * 3600.0, 600.0);

    let behind = bench(&one_lamp("standby = \"60 mA\""));
    let (ended, value) = json(&behind, &["energy", "job.toml", "--key-off", "20 mA", "--days", "60", "--json"]);
    ended.expect(0);
    close(&value["parked"]["batteries"][0]["total"], 0.020, 1e-9);
    close(&value["parked"]["batteries"][0]["gone"], 0.020 * 24.0 * 60.0, 1e-6);
    assert_eq!(value["parked"]["unfed"][0], "lamp");
    let ended = behind.run(&["energy", "job.toml", "--key-off", "51 mA"]);
    ended.expect(1);
    assert!(words(&ended.out).contains("ABOVE THE RULE << 51.00 mA is more than 50 mA"), "{}", ended.out);
}

#[test]
fn wrong_input_of_energy_ends_with_status_2_and_the_way_out() {
    let demo = bench(&demo_file("job.toml"));
    for (call, expected) in [
        (&["--on", "S9"][..], "this job has S1, S2"),
        (&["--to", "12.24"], "12.24 V or 50 %"),
        (&["--to", "150 %"], "between 0 % and 100 %"),
        (&["--vehicle", "-3 A"], "cannot be negative"),
        (&["--vehicle", "30 V"], "unit of voltage"),
        (&["--days", "0"], "--days"),
    ] {
        let arguments: Vec<&str> = ["energy", "job.toml"].iter().chain(call).copied().collect();
        let ended = demo.run(&arguments);
        ended.expect(2);
        assert!(ended.err.contains(expected), "{call:?}: {}", ended.err);
    }
}

#[test]
fn no_line_for_people_is_wider_than_80_columns() {
    let van = bench(&std::fs::read_to_string("reports/market-stall-van/job.toml").unwrap());
    for call in [
        &["energy", "job.toml", "--vehicle", "90 A", "--key-off", "300 mA"][..],
        &["aim", "job.toml"],
        &["aim", "--height", "2 m", "--tilt", "15 °", "--lamp", "work", "--intensity", "2400 cd"],
    ] {
        let text = van.run(call).out;
        assert!(text.lines().count() > 10, "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}
