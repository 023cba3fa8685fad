//! Six jobs that each hold one design mistake: the check finds it, by the right rule and source; mended, it passes.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::time::{Duration, Instant};

use rigproof::design::{Finding, Severity, Sizing, check, conforms};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::quantity::Quantity;

const DEMO: &str = include_str!("../reports/orchard-flatbed/job.toml");

fn job(text: &str) -> Job {
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

/// The demo with one passage replaced; the passage must be there.
fn demo_with(from: &str, to: &str) -> Job {
    assert!(DEMO.contains(from), "the demo no longer holds `{from}`");
    job(&DEMO.replacen(from, to, 1))
}

fn errors(job: &Job) -> Vec<Finding> {
    check(job).into_iter().filter(|f| f.severity == Severity::Error).collect()
}

#[track_caller]
fn finds(job: &Job, rule: &str, subject: &str, source: &str) -> Finding {
    let errors = errors(job);
    let found = errors.iter().find(|f| f.rule == rule && f.subject == subject);
    let Some(found) = found else { panic!("{rule} on {subject} is not among {errors:#?}") };
    assert!(found.source.contains(source), "{}", found.source);
    assert!(!found.change.is_empty());
    assert!(!conforms(&check(job)));
    found.clone()
}

#[test]
fn the_demo_conforms() {
    assert_eq!(errors(&job(DEMO)), []);
}

#[test]
fn a_fuse_above_the_ampacity_of_its_wire_is_an_error() {
    let rating = "[fuse.F1]\nrating = \"15 A\"";
    let found =
        finds(&demo_with(rating, "[fuse.F1]\nrating = \"40 A\""), "fuse-above-ampacity", "F1", "33 CFR 183.425");
    assert!(found.value.unwrap().base() > found.limit.unwrap().base());
    assert!(errors(&demo_with(rating, "[fuse.F1]\nrating = \"10 A\"")).is_empty());
}

/// 12 m of 18 AWG out and back, 0.51 ohm: every drop test passes, and a short draws 25 A on a 20 A fuse (job-plan,
/// the long thin wire trap).
fn beacon(fuse: &str) -> Job {
    job(&format!(
        r#"format = 1
title = "Beacon on a long thin wire"
[vehicle]
description = "Market-stall van"
system = "12 V"
[battery]
kind = "agm"
rest_voltage = "12.6 V"
internal_resistance = "6 mohm"
[environment]
ambient = "0..30 °C"
[assume]
joint = "1 mohm"
chassis = "1 mohm"
[fuse.F1]
rating = "{fuse}"
resistance = "5 mohm"
[load.beacon]
kind = "resistor"
resistance = "25 ohm"
[wire.w1]
from = "battery.+"
to = "F1.in"
size = "2.5 mm²"
length = "0.1 m"
[wire.w2]
from = "F1.out"
to = "beacon.+"
size = "18 AWG"
length = "12 m"
[wire.w3]
from = "battery.-"
to = "beacon.-"
size = "18 AWG"
length = "12 m"
"#
    ))
}

#[test]
fn a_short_at_the_far_end_of_a_long_thin_wire_that_leaves_the_fuse_whole_is_an_error() {
    let found = finds(&beacon("20 A"), "short-does-not-open-fuse", "w2", "ECSS");
    assert!(found.says.contains("may never open"), "{}", found.says);
    // The published figure: loop 0.51 ohm, 25 A, 123 %.
    let fault = found.value.unwrap().base();
    assert!((23.5..25.5).contains(&fault), "{fault}");
    assert!(!check(&beacon("7.5 A")).iter().any(|f| f.rule == "short-does-not-open-fuse"));
}

#[test]
fn a_fuse_far_from_the_battery_is_an_error_and_a_sheath_lengthens_the_leash() {
    let near = "to = \"F1.in\"\nsize = \"4 mm²\"\nlength = \"0.15 m ± 5 %\"";
    let far = demo_with(near, "to = \"F1.in\"\nsize = \"4 mm²\"\nlength = \"0.9 m\"");
    finds(&far, "fuse-far-from-source", "F1", "33 CFR 183.455");
    let sheathed = demo_with(near, "to = \"F1.in\"\nsize = \"4 mm²\"\nlength = \"0.9 m\"\nsheath = true");
    assert!(errors(&sheathed).is_empty());
    let too_far = demo_with(near, "to = \"F1.in\"\nsize = \"4 mm²\"\nlength = \"1.5 m\"\nsheath = true");
    finds(&too_far, "fuse-far-from-source", "F1", "33 CFR 183.455");
}

#[test]
fn a_small_switch_on_filament_lamps_is_an_error() {
    let lamps = DEMO
        .replace(
            "kind = \"led\"\npower = \"24 W ± 10 %\"\nworks_from = \"9 V\"",
            "kind = \"filament\"\npower = \"21 W ± 10 %\"",
        )
        .replace("[fuse.F2]\nrating = \"7.5 A\"", "[fuse.F2]\nrating = \"10 A\"");
    let small = job(&lamps.replace("rating = \"25 A\"", "rating = \"10 A\""));
    let found = finds(&small, "contact-overloaded", "S2", "FAA AC 43.13-1B table 11-4");
    // Two lamps of 1.7 A, five times (filament).
    assert!((16.0..18.5).contains(&found.limit.unwrap().base()), "{:?}", found.limit);
    assert!(errors(&job(&lamps)).is_empty());
}

#[test]
fn a_pump_on_a_thin_cable_gets_too_little() {
    let good = "[cable.c1]\nsize = \"2.5 mm²\"";
    let found =
        finds(&demo_with(good, "[cable.c1]\nsize = \"0.75 mm²\""), "load-gets-too-little", "pump", "maker allows");
    assert!(found.value.unwrap().base() < 10.8);
    let mended = Sizing::of(&demo_with(good, "[cable.c1]\nsize = \"0.75 mm²\""));
    let cable = mended.wires.iter().find(|w| w.wire == "c1.red").unwrap();
    assert!(cable.needed.unwrap().area().base() > 1.0, "{cable:?}");
    assert!(errors(&mended.job).is_empty(), "the sizes that are proposed mend it");
}

#[test]
fn a_wire_from_the_battery_without_a_fuse_is_an_error() {
    let direct = demo_with("from = \"F2.out\"\nto = \"S2.in\"", "from = \"battery.+\"\nto = \"S2.in\"");
    let found = errors(&direct);
    let found = found.iter().find(|f| f.rule == "no-fuse").expect("no-fuse");
    assert!(found.says.contains("w7"), "{}", found.says);
    assert!(found.source.contains("33 CFR 183.455"));
}

#[test]
fn a_seal_that_does_not_take_the_insulation_is_an_error() {
    finds(&demo_with("outer = \"2.9 mm\"", "outer = \"3.6 mm\""), "seal-does-not-fit", "w8 at X1", "seal");
}

#[test]
fn a_limit_that_only_memory_supports_is_never_an_error() {
    for finding in check(&demo_with("rating = \"25 A\"", "rating = \"5 A\"")) {
        let weak = finding.source.contains("from memory") || finding.source.contains("common practice");
        assert!(!(weak && finding.severity == Severity::Error), "{finding:?}");
    }
}

/// A lamp driver of unstated lower limit on two runs of wire.
fn floodlight(size: &str, fuse: &str) -> Job {
    job(&format!(
        r#"format = 1
title = "Floodlight"
[vehicle]
description = "Orchard flatbed"
system = "12 V"
[battery]
kind = "agm"
rest_voltage = "12.6 V"
internal_resistance = "12 mohm"
[fuse.F1]
rating = "{fuse}"
[load.floodlight]
kind = "led"
power = "200 W"
[wire.w1]
from = "battery.+"
to = "F1.in"
size = "16 mm²"
length = "0.1 m"
[wire.w2]
from = "F1.out"
to = "floodlight.+"
size = "{size}"
length = "5 m"
[wire.w3]
from = "battery.-"
to = "floodlight.-"
size = "{size}"
length = "5 m"
"#
    ))
}

#[test]
fn sizes_are_only_proposed_where_the_circuit_has_a_steady_state() {
    for stated in ["16 mm²", "0.75 mm²"] {
        let sizing = Sizing::of(&floodlight(stated, "30 A"));
        let left: Vec<Finding> = errors(&sizing.job);
        assert_eq!(left, [], "stated {stated}: {:#?}", sizing.wires);
        assert!(sizing.wires.iter().all(|w| w.needed.is_some()), "{:#?}", sizing.wires);
    }
}

#[test]
fn a_missing_fuse_is_no_reason_for_a_thicker_wire() {
    let direct = demo_with("from = \"F2.out\"\nto = \"S2.in\"", "from = \"battery.+\"\nto = \"S2.in\"");
    let sizing = Sizing::of(&direct);
    assert!(sizing.wires.iter().all(|w| w.needed.is_some_and(|n| n.area().base() <= 6.0)), "{:#?}", sizing.wires);
}

#[test]
fn the_fuse_that_is_proposed_keeps_the_rule_of_normal_use_where_it_is_hot() {
    let sizing = Sizing::of(&job(DEMO));
    assert!(!check(&sizing.job).iter().any(|f| f.rule == "fuse-opens-in-use"), "{:#?}", sizing.fuses);
}

#[test]
fn a_contact_that_is_open_hides_no_short_behind_its_coil() {
    let at_rest = DEMO.replace("from = \"K1.87\"", "from = \"K1.87a\"");
    let both = at_rest.replace("from = \"F2.out\"\nto = \"S1.in\"", "from = \"F1.out\"\nto = \"S1.in\"");
    let rules = |job: &Job| check(job).into_iter().filter(|f| f.rule == "short-does-not-open-fuse").collect::<Vec<_>>();
    assert_eq!(rules(&job(&both)), []);
}

#[test]
fn what_only_a_factor_of_common_practice_forbids_is_a_warning() {
    let soft = DEMO.replace("[wire.w3]", "[wire.w3]\ninsulation = \"80 °C\"");
    let warm = job(&soft.replace("ambient = \"-10..45 °C\"", "ambient = \"-10..75 °C\""));
    let above: Vec<Finding> = check(&warm).into_iter().filter(|f| f.rule == "fuse-above-ampacity").collect();
    assert!(!above.is_empty());
    for finding in above {
        assert_eq!(finding.severity, Severity::Warning, "{finding:?}");
        assert!(finding.source.contains("common practice"), "{}", finding.source);
    }
}

/// Two batteries joined by a line of 10 m, with a fuse at each; `line` is the fuse of the second one's end.
fn joined_batteries(charge_fuse: &str, at_second: &str, line: &str) -> Job {
    job(&format!(
        r#"format = 1
title = "A second battery"
[vehicle]
description = "Market-stall van"
system = "12 V"
[battery]
kind = "flooded"
rest_voltage = "12.6 V"
internal_resistance = "6 mohm"
[battery.second]
kind = "agm"
rest_voltage = "12.7 V"
internal_resistance = "8 mohm"
[environment]
ambient = "0..30 °C"
[assume]
joint = "1 mohm"
chassis = "1 mohm"
[fuse.F1]
rating = "{charge_fuse}"
style = "maxi"
breaking_capacity = "2000 A"
[fuse.F2]
rating = "{line}"
style = "maxi"
breaking_capacity = "2000 A"
[ground.G1]
[wire.w1]
from = "battery.+"
to = "F1.in"
size = "16 mm²"
length = "0.15 m"
[wire.w2]
from = "F1.out"
to = "F2.in"
size = "10 mm²"
length = "6 m"
[wire.w3]
from = "F2.out"
to = "second.+"
size = "16 mm²"
length = "{at_second}"
[wire.w4]
from = "G1"
to = "second.-"
size = "16 mm²"
length = "0.4 m"
"#
    ))
}

#[test]
fn a_line_between_two_batteries_needs_a_fuse_near_each_and_both_must_fit_the_wire() {
    assert_eq!(errors(&joined_batteries("50 A", "0.15 m", "50 A")), []);
    let far = finds(&joined_batteries("50 A", "2 m", "50 A"), "fuse-far-from-source", "F2", "33 CFR 183.455");
    assert!(far.says.contains("battery second"), "{}", far.says);
    // The line is fed from both ends: the fuse at the second battery has to protect it as well.
    let large = finds(&joined_batteries("50 A", "0.15 m", "100 A"), "fuse-above-ampacity", "F2", "33 CFR 183.425");
    assert!(large.says.contains("w2"), "{}", large.says);
}

#[test]
fn a_second_battery_without_a_fuse_of_its_own_is_an_error() {
    let text = joined_batteries("50 A", "0.15 m", "50 A").source.text.to_string();
    let without = text
        .replace("[fuse.F2]\nrating = \"50 A\"\nstyle = \"maxi\"\nbreaking_capacity = \"2000 A\"\n", "[splice.F2]\n");
    let without = without.replace("\"F2.in\"", "\"F2\"").replace("\"F2.out\"", "\"F2\"");
    let found = finds(&job(&without), "fuse-far-from-source", "F1", "33 CFR 183.455");
    assert!(found.says.contains("w3, w2 from battery second"), "{}", found.says);
}

#[test]
fn a_wire_that_goes_on_from_the_battery_side_of_a_fuse_is_found_without_protection() {
    let text = DEMO.to_owned()
        + "\n[switch.S9]\nrating = \"10 A\"\n[load.horn]\nkind = \"motor\"\ncurrent = \"3 A\"\n\
           [wire.w91]\nfrom = \"F1.in\"\nto = \"S9.in\"\nsize = \"1.5 mm²\"\nlength = \"1 m\"\n\
           [wire.w92]\nfrom = \"S9.out\"\nto = \"horn.+\"\nsize = \"1.5 mm²\"\nlength = \"1 m\"\n\
           [wire.w93]\nfrom = \"G1\"\nto = \"horn.-\"\nsize = \"1.5 mm²\"\nlength = \"1 m\"\n";
    finds(&job(&text), "no-fuse", "w92", "33 CFR 183.455");
}

/// The demo with a pump bracket bolted as written.
fn bolted(bracket: &str) -> Job {
    let old = "[mount.pump-bracket]\n";
    let start = DEMO.find(old).unwrap();
    let end = DEMO[start + 1..].find("\n[").map(|at| start + 1 + at).unwrap();
    let text = format!("{}[mount.pump-bracket]\nof = \"pump\"\n{bracket}\n{}", &DEMO[..start], &DEMO[end..]);
    job(&text)
}

#[test]
fn a_bolt_that_its_nut_does_not_fill_is_found_by_the_stack() {
    // M8 through 12 mm: 12 + 6.8 + 1.5 x 1.25 + 1.25 = 21.9 mm (ISO 4032 nut; 1.5 pitches past it and a chamfer).
    let short = bolted("bolt = \"M8x20\"\nstack = \"12 mm\"");
    let found = check(&short).into_iter().find(|f| f.rule == "bolt-length").unwrap();
    assert!((found.limit.unwrap().base() - 0.021_925).abs() < 1e-6, "{found:?}");
    assert!(found.change.contains("25 mm"), "{}", found.change);
    assert!(!check(&bolted("bolt = \"M8x25\"\nstack = \"12 mm\"")).iter().any(|f| f.rule == "bolt-length"));
}

#[test]
fn a_bolt_that_bottoms_out_in_its_hole_is_found() {
    // 6 mm of stack, 16 mm of thread: at most 6 + 16 - 2 x 1.25 = 19.5 mm.
    let hole = "stack = \"6 mm\"\nthread_depth = \"16 mm\"";
    let long = bolted(&format!("bolt = \"M8x20\"\n{hole}"));
    let found = check(&long).into_iter().find(|f| f.rule == "bolt-length").unwrap();
    assert!(found.says.contains("bottoms out"), "{}", found.says);
    assert!(!check(&bolted(&format!("bolt = \"M8x16\"\n{hole}"))).iter().any(|f| f.rule == "bolt-length"));
}

#[test]
fn a_torque_above_the_table_for_bolt_class_and_friction_is_a_warning() {
    let stated =
        |torque: &str| format!("bolt = \"M8\"\nclass = \"A2-70\"\nfriction = \"lubricated\"\ntorque = \"{torque}\"");
    let found = check(&bolted(&stated("21 N·m"))).into_iter().find(|f| f.rule == "torque-above-table").unwrap();
    assert_eq!(found.severity, Severity::Warning);
    assert!((found.limit.unwrap().base() - 13.0).abs() < 1e-9);
    assert!(!check(&bolted(&stated("13 N·m"))).iter().any(|f| f.rule == "torque-above-table"));
}

/// Thirty pairs of parallel wires without a fuse have 2^30 ways: told, and not followed.
#[test]
fn wiring_that_branches_without_end_is_told_in_time() {
    let mut text = DEMO.replace("from = \"battery.+\"\nto = \"F1.in\"", "from = \"Q30\"\nto = \"F1.in\"");
    for n in 0..=30 {
        let before = if n == 0 { "battery.+".to_owned() } else { format!("Q{}", n - 1) };
        let ends = format!("from = \"{before}\"\nto = \"Q{n}\"\nsize = \"4 mm²\"\nlength = \"0.01 m\"\n");
        let wires = ["a", "b"].map(|half| format!("[wire.p{n}{half}]\n{ends}")).concat();
        text = format!("{text}\n[splice.Q{n}]\nmethod = \"crimped\"\n{wires}");
    }
    let began = Instant::now();
    let findings = check(&job(&text));
    assert!(findings.iter().any(|finding| finding.rule == "too-many-ways"), "{findings:?}");
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
}
