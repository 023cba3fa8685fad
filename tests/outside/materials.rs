//! What a job takes, against published figures, on a job whose every part is stated.
//! Sources stand beside each check: state vehicle equipment quality standard, machine service manuals, FAA AC 43.13-1B, a
//! body builder's manual, US Army TM 1-1500-204-23-4 and TM 9-4120-367-14, UL 486A, NASA-STD-8739.4, a trade data sheet of
//! thin-wall cable, an airframe maker's wiring practice.

use rigproof::document::Source;
use rigproof::handbook::conductor::usual_outer;
use rigproof::job::Job;
use rigproof::materials::{End, Kind, Materials, Run};
use rigproof::quantity::{ConductorSize, Length};

fn materials(parts: &str) -> Materials {
    let text = format!(
        r#"format = 1
title = "Outside check"
[vehicle]
description = "Bench"
system = "12 V"
[battery]
kind = "flooded"
{parts}"#
    );
    let job = Job::read(&Source::new("job.toml", text.as_str())).unwrap_or_else(|problems| panic!("{problems}"));
    Materials::of(&job)
}

/// Battery, fuse, splice, two lamps and a ground; `{wires}` for wires and bolts.
const LAMPS: &str = r#"
[fuse.F1]
rating = "10 A"
style = "blade"
place = "engine bay"
[splice.J1]
method = "crimped, adhesive-lined sleeve"
[ground.G1]
place = "cabin"
bolt = "M6"
class = "A2-70"
friction = "lubricated"
[load.one]
kind = "led"
power = "24 W"
[load.two]
kind = "led"
power = "24 W"
[mount.through]
bolt = "M6"
class = "A2-70"
friction = "lubricated"
stack = "12 mm"
[mount.blind]
bolt = "M8"
class = "8.8"
friction = "dry"
stack = "6 mm"
thread_depth = "16 mm"
[mount.unstated]
bolt = "M8"
[wire.w1]
from = "battery.+"
to = "F1.in"
size = "4 mm²"
length = "0.15 m"
zone = "engine bay"
[wire.w2]
from = "F1.out"
to = "J1"
size = "2.5 mm²"
length = "3.05 m"
zone = "cabin"
[wire.w3]
from = "J1"
to = "one.+"
size = "1.5 mm²"
length = "1.2 m"
zone = "under the body"
[wire.w4]
from = "J1"
to = "two.+"
size = "1 mm²"
length = "0.6 m"
zone = "roof"
[wire.w5]
from = "G1"
to = "one.-"
size = "1.5 mm²"
length = "6.1 m"
zone = "left sill"
[wire.w6]
from = "G1"
to = "two.-"
size = "20 AWG"
length = "6.11 m"
zone = "right sill"
"#;

fn mm(length: Length) -> f64 {
    length.as_metres() * 1e3
}

#[track_caller]
fn close(ours: f64, published: f64, what: &str) {
    super::agreement::holds(module_path!(), ours, published, 1e-6 * published.abs().max(1.0), what);
}

fn bolt<'m>(materials: &'m Materials, name: &str) -> &'m rigproof::materials::Bolt {
    materials.bolts.iter().find(|bolt| bolt.name == name).unwrap()
}

fn run_of<'m>(materials: &'m Materials, wire: &str) -> &'m Run {
    materials.runs.iter().find(|run| run.members.iter().any(|member| member == wire)).unwrap()
}

fn end<'m>(materials: &'m Materials, wire: &str, at: &str) -> &'m End {
    materials.ends.iter().find(|end| end.wire == wire && end.at == at).unwrap()
}

#[test]
fn a_bolt_stands_one_and_a_half_pitches_and_a_chamfer_past_its_nut() {
    // State vehicle equipment quality standard: 1.5 pitches and the chamfer past the nut, no longer than the next standard
    // length. M6: pitch 1.0 mm (ISO 261), nut at most 5.2 mm (ISO 4032), chamfer taken as one pitch: 12 + 5.2 + 1.5 + 1.0.
    let all = materials(LAMPS);
    let [least, most] = bolt(&all, "through").lengths.unwrap();
    close(mm(least), 12.0 + 5.2 + 1.5 * 1.0 + 1.0, "least length");
    close(mm(most), 20.0, "ISO 4017 length");
    let bought = all.shopping.iter().find(|row| row.used_for == ["through"]).unwrap();
    assert!(bought.item.contains("20 mm") && bought.item.contains("nut"), "{}", bought.item);
    // Into a blind hole: one diameter holds, two pitches of 1.25 mm stay free.
    let [least, most] = bolt(&all, "blind").lengths.unwrap();
    close(mm(least), 6.0 + 8.0, "one diameter");
    close(mm(most), 6.0 + 16.0 - 2.0 * 1.25, "two pitches free");
    assert!(!bolt(&all, "blind").nut);
    assert!(bolt(&all, "blind").length_words.ends_with("such as 16 mm"), "{}", bolt(&all, "blind").length_words);
    assert!(bolt(&all, "unstated").lengths.is_none());
    assert!(bolt(&all, "unstated").length_words.contains("measure the stack"));
}

#[test]
fn torques_are_those_of_the_service_manuals() {
    // Machine service manuals: M6 A2-70 lubricated 5.3 N·m (80 % of yield), M8 8.8 zinc plated and dry 28 N·m.
    let all = materials(LAMPS);
    for (name, published) in [("through", 5.3), ("blind", 28.0)] {
        let [least, aim, most] = bolt(&all, name).torque.unwrap();
        close(aim.as_newton_metres(), published, name);
        assert!(least < aim && aim < most);
    }
    assert!(bolt(&all, "unstated").torque.is_none() && bolt(&all, "unstated").torque_words.contains("maker"));
}

#[test]
fn clamps_are_as_many_as_the_published_distances_ask_for() {
    // FAA AC 43.13-1B 11-96 and 46 CFR 183.340: 610 mm; a body builder's manual: 300 mm, kept under the vehicle.
    let all = materials(LAMPS);
    for (wire, spacing, clamps) in [("w2", 610.0, 6), ("w3", 300.0, 5), ("w5", 610.0, 11), ("w6", 610.0, 12)] {
        let run = run_of(&all, wire);
        close(mm(run.spacing.value), spacing, wire);
        assert_eq!(run.clamps, clamps, "{wire}");
        // No distance is greater than allowed, and with one clamp less one would be.
        let distances = f64::from(u32::try_from(run.clamps - 1).unwrap());
        assert!(mm(run.length) / distances <= spacing + 1e-6, "{wire}");
        assert!(mm(run.length) / (distances - 1.0) > spacing, "{wire}");
    }
}

#[test]
fn bends_and_tubes_follow_the_diameter_of_the_data_sheet() {
    // Trade data sheet of thin-wall cable, greatest outside diameter by size (single source).
    let sheet = [
        ("0.5", 1.7),
        ("0.75", 1.9),
        ("1", 2.1),
        ("1.5", 2.4),
        ("2", 2.8),
        ("2.5", 3.0),
        ("3", 3.4),
        ("4", 3.7),
        ("4.5", 4.1),
        ("6", 4.3),
        ("8.5", 5.6),
        ("10", 6.0),
    ];
    for (size, outer) in sheet {
        let size = ConductorSize::parse(&format!("{size} mm²")).unwrap();
        close(mm(usual_outer(size).unwrap().value), outer, &size.to_string());
    }
    let all = materials(LAMPS);
    for (wire, outer) in [("w2", 3.0), ("w3", 2.4), ("w4", 2.1), ("w1", 3.7)] {
        let run = run_of(&all, wire);
        close(mm(run.diameter.as_ref().unwrap().value), outer, wire);
        // US Army TM 1-1500-204-23-4: 10 times the outside diameter. FAA AC 43.13-1B 11-251: bore about 25 % wider.
        close(mm(run.bend.as_ref().unwrap().value), 10.0 * outer, wire);
        close(mm(run.tube_bore.as_ref().unwrap().value), 1.25 * outer, wire);
        assert!(run.notes.iter().any(|note| note.contains("taken from a table: measure it")), "{wire}");
        assert!(run.outer_source.as_ref().unwrap().contains("single source"), "{wire}");
    }
    let bare = materials(&LAMPS.replacen("size = \"4 mm²\"", "size = \"25 mm²\"", 1));
    let thick = run_of(&bare, "w1");
    assert!(thick.diameter.is_none() && thick.clamp.is_none(), "the sheet ends at 10 mm²");
    assert!(thick.notes.iter().any(|note| note.contains("measure its outside diameter")));
}

#[test]
fn every_end_has_the_pull_of_its_gauge() {
    // UL 486A in pounds-force, a metric size by the next thinner gauge: 12, 14, 16, 18 and 20 AWG.
    let pounds = [("w1", 70.0), ("w2", 50.0), ("w3", 30.0), ("w4", 20.0), ("w5", 30.0), ("w6", 13.0)];
    let all = materials(LAMPS);
    let mut checked = 0;
    for end in &all.ends {
        let (_, published) = pounds.iter().find(|(wire, _)| *wire == end.wire).unwrap();
        let newtons = end.pull.as_ref().unwrap().value.as_newtons();
        assert!((newtons - published * 4.448_22).abs() < 0.005 * newtons, "{}: {newtons} N", end.wire);
        checked += 1;
    }
    assert_eq!(checked, 12);
}

#[test]
fn the_gap_before_a_barrel_is_that_of_its_gauge() {
    // NASA-STD-8739.4: 0.25 mm at least; at most 0.75 mm to 20 AWG, 1.25 mm from 18 AWG on.
    let all = materials(LAMPS);
    for end in &all.ends {
        close(mm(end.gap_least.value), 0.25, &end.wire);
        close(mm(end.gap_most.value), if end.wire == "w6" { 0.75 } else { 1.25 }, &end.wire);
    }
}

#[test]
fn a_splice_barrel_is_chosen_by_the_sum_of_its_areas_and_its_sleeve_is_half_an_inch_longer() {
    // Airframe maker's wiring practice: the sum of the areas on each side. TM 9-4120-367-14: about 13 mm (1/2 in) longer.
    let all = materials(LAMPS);
    for (wire, area) in [("w2", 2.5), ("w3", 1.5), ("w4", 1.0)] {
        let end = end(&all, wire, "J1");
        assert_eq!(end.terminal.kind, Kind::Splice);
        close(end.terminal.barrel.as_mm2(), 5.0, wire);
        close(end.size.area().as_mm2(), area, wire);
        assert!(end.terminal.words.contains("2.50 mm² and 2.50 mm²"), "{}", end.terminal.words);
        let longer = mm(end.sleeve.as_ref().unwrap().value);
        assert!((longer - 12.7).abs() < 0.5, "{longer}");
    }
    let sleeves = all.ends.iter().filter(|end| end.first.iter().any(|what| what.contains("sleeve of the splice")));
    assert_eq!(sleeves.count(), 1, "one sleeve waits, on one wire");
    // The same practice: 20 mm of insulation at each end of a bare splice.
    let bought = all.shopping.iter().find(|row| row.used_for == ["J1"] && row.item.contains("sleeve")).unwrap();
    assert!(bought.item.contains("40 mm"), "{}", bought.item);
}

#[test]
fn a_live_stud_that_no_fuse_guards_has_a_boot() {
    // 33 CFR 183.445(b). The negative post and a ground have none.
    let all = materials(LAMPS);
    let boots = |end: &&End| end.first.iter().any(|what| what.contains("boot for the live stud"));
    let booted: Vec<&str> = all.ends.iter().filter(boots).map(|end| end.at.as_str()).collect();
    assert_eq!(booted, ["battery.+"]);
    let bought = all.shopping.iter().find(|row| row.item == "boot for a live ring").unwrap();
    assert!(bought.source.contains("33 CFR 183.445(b)"), "{}", bought.source);
}

#[test]
fn more_than_four_rings_on_a_stud_are_said() {
    // FAA AC 43.13-1B: at most four on one stud.
    let with_grounds = |count: usize| {
        let mut text = LAMPS.to_owned();
        for n in 0..count - 2 {
            let load = format!("[load.more{n}]\nkind = \"led\"\npower = \"5 W\"\n");
            let ends =
                format!("[wire.x{n}]\nfrom = \"G1\"\nto = \"more{n}.-\"\nsize = \"1.5 mm²\"\nlength = \"1 m\"\n");
            text = text + &load + &ends;
        }
        let all = materials(&text);
        end(&all, "w5", "G1").notes.iter().any(|note| note.contains("rings on one stud"))
    };
    assert!(!with_grounds(4));
    assert!(with_grounds(5));
}

#[test]
fn the_largest_ring_lies_next_to_the_metal() {
    // FAA AC 43.13-1B p. 11-67: current passes by the faces, so that nothing but rings lies between metal and washer.
    let all = materials(LAMPS);
    let order = &bolt(&all, "G1").order;
    assert!(order[0].contains("metal") && order[1].contains("w5") && order[2].contains("w6"), "{order:?}");
    assert_eq!(order[3..], ["flat washer", "lock washer", "nut"]);
}

#[test]
fn wires_that_lie_together_make_a_bundle_by_the_root_of_their_squares() {
    // Trade practice: 1.2 times the root of the sum of squares; two wires lie side by side.
    let together = LAMPS
        .replacen(
            "length = \"6.11 m\"\nzone = \"right sill\"",
            "length = \"6.0 m\"\nzone = \"left sill\"\nouter = \"2.4 mm\"",
            1,
        )
        .replacen("length = \"6.1 m\"\nzone", "length = \"6.1 m\"\nouter = \"2.4 mm\"\nzone", 1);
    let all = materials(&together);
    let run = run_of(&all, "w5");
    assert_eq!(run.members, ["w5", "w6"]);
    close(mm(run.diameter.as_ref().unwrap().value), 4.8, "two of 2.4 mm");
    assert!(mm(run.clamp.as_ref().unwrap().value) >= 4.8);
    assert!(run.notes.is_empty() && run.outer_source.is_none(), "both are stated");
}
