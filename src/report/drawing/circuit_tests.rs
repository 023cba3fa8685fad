use std::fmt::Write;

use proptest::prelude::*;

use super::super::overlap::collisions;
use super::super::profile::profile;
use super::super::protection::protection;
use super::super::scene::Shape;
use super::super::svg::svg;
use super::*;
use crate::document::Source;
use crate::plan::Plan;
use crate::walk::Walk;

const SAMPLES: [&str; 4] = [
    include_str!("../../../reports/orchard-flatbed/job.toml"),
    include_str!("../../../reports/market-stall-van/job.toml"),
    include_str!("../../../reports/reversing-lamp/job.toml"),
    include_str!("../../job/every-key.toml"),
];

const BEGINNING: &str = r#"
format = 1
title = "Generated"

[vehicle]
description = "Trailer"
system = "12 V"

[battery]
kind = "flooded"
rest_voltage = "12.6 V"
internal_resistance = "6 mohm"

[battery.second]
kind = "agm"
rest_voltage = "12.7 V"
internal_resistance = "6 mohm"

[alternator]
voltage = "14.2 V"
"#;

fn none(_: &str) -> Option<String> {
    None
}

fn read(text: &str) -> Job {
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}\n{text}"))
}

fn texts(scene: &Scene) -> impl Iterator<Item = &str> {
    scene.shapes.iter().filter_map(|shape| match shape {
        Shape::Text { text, .. } => Some(text.as_str()),
        _ => None,
    })
}

/// Nothing lies on anything else, every wire stands there once with all that belongs to it, and every part is there.
fn must_hold(job: &Job, scenes: &[Scene]) {
    for scene in scenes {
        let found = collisions(scene);
        assert!(found.is_empty(), "{}\n{}", found.join("\n"), job.source.text);
    }
    let all: Vec<&str> = scenes.iter().flat_map(texts).collect();
    for wire in &job.wires {
        let labelled = |text: &&&str| {
            **text == wire.name || text.strip_prefix(wire.name.as_str()).is_some_and(|rest| rest.starts_with(' '))
        };
        // The list of places has the name of a part and nothing else; no part has the name of a wire.
        let count = all.iter().filter(labelled).count();
        assert_eq!(count, 1, "{} stands {count} times in {all:?}", wire.name);
    }
    let count = |text: &str| all.iter().filter(|t| **t == text).count();
    for wire in &job.wires {
        let (size, length) = (wire.size.to_string(), wire.length.nominal.to_string());
        let same_size = job.wires.iter().filter(|w| w.size.to_string() == size).count();
        assert_eq!(count(&size), same_size, "{size}");
        let same_length = job.wires.iter().filter(|w| w.length.nominal.to_string() == length).count();
        assert_eq!(count(&length), same_length, "{length}");
        let colour = wire.colour.as_deref().unwrap_or("colour not stated");
        let own = all.iter().position(|t| *t == wire.name || *t == format!("{} {colour}", wire.name)).unwrap();
        assert!(all[own].ends_with(colour) || all[own + 1] == colour, "{} {colour}: {all:?}", wire.name);
    }
    let unwired: String = all.iter().filter(|t| t.contains('(')).copied().collect();
    let there = |name: &str| count(name) > 0 || unwired.contains(&format!("{name} ("));
    let mut names: Vec<String> = job.fuses.iter().map(|p| p.name.clone()).collect();
    names.extend(job.switches.iter().map(|p| p.name.clone()));
    names.extend(job.relays.iter().map(|p| p.name.clone()));
    names.extend(job.splices.iter().map(|p| p.name.clone()));
    names.extend(job.grounds.iter().map(|p| p.name.clone()));
    names.extend(job.loads.iter().map(|p| p.name.clone()));
    let cavities = job.connectors.iter().flat_map(|c| c.cavities.iter().map(move |v| format!("{}.{v}", c.name)));
    names.extend(cavities);
    for name in names {
        assert!(there(&name), "{name} is missing in {all:?}\n{}", job.source.text);
    }
}

fn holds(job: &Job) {
    let sheets = circuit_sheets(job, &none);
    must_hold(job, &sheets);
    must_hold(job, &[circuit(job, &none)]);
    for sheet in &sheets {
        assert!(sheet.width <= SHEET_WIDTH && sheet.height <= SHEET_HEIGHT, "{} x {}", sheet.width, sheet.height);
    }
}

#[test]
fn the_sample_jobs_are_drawn_whole_and_without_overlaps() {
    for text in SAMPLES {
        holds(&read(text));
    }
}

#[test]
fn a_built_length_takes_the_place_of_the_planned_one() {
    let job = read(SAMPLES[0]);
    let built = |wire: &str| (wire == "w4").then(|| "2.35 m".to_owned());
    let scene = circuit(&job, &built);
    assert_eq!(texts(&scene).filter(|t| *t == "built 2.35 m").count(), 1);
    assert!(collisions(&scene).is_empty());
}

#[test]
fn contact_and_coil_name_each_others_rows_and_terminals() {
    let job = read(SAMPLES[0]);
    let scene = circuit(&job, &none);
    let all: Vec<&str> = texts(&scene).collect();
    for text in ["coil row 2", "contact row 1", "30", "87", "85", "86", "coil 85 Ω", "15 A", "7.5 A", "24 W", "7 A"] {
        assert!(all.contains(&text), "{text} in {all:?}");
    }
    assert_eq!(all.iter().filter(|t| **t == "K1").count(), 3, "contact, coil, and in the list of places: {all:?}");
    assert_eq!(scene.width, NARROW_WIDTH);
}

#[test]
fn a_larger_job_is_split_by_supply() {
    let scenes = circuit_sheets(&read(SAMPLES[1]), &none);
    let pages = scenes.iter().filter(|s| s.height > SHEET_HEIGHT / 2.0).count();
    assert_eq!((pages, scenes.len()), (1, 2), "nine rows, and the places below each other");
    let job = read(&fan(12, true));
    let scenes = circuit_sheets(&job, &none);
    assert!(scenes.len() >= 2, "{}", scenes.len());
    assert!(scenes.iter().any(|s| texts(s).any(|t| t.starts_with("sheet 2 of"))));
}

#[test]
fn hostile_words_of_a_colour_stay_words() {
    let text = SAMPLES[2].replace(
        "colour = \"yellow\"",
        "colour = \"<b>&\\u202e yellow with a white stripe that goes on and on and on\"",
    );
    let scene = circuit(&read(&text), &none);
    assert!(collisions(&scene).is_empty());
    let text = svg(&scene, "c");
    assert!(text.contains("&lt;b&gt;&amp;") && !text.contains('\u{202e}') && !text.contains("<b>"), "{text}");
}

#[test]
fn a_changeover_contact_shows_both_its_ways() {
    let mut text = BEGINNING.to_owned();
    text.push_str("[fuse.F1]\nrating = \"10 A\"\nstyle = \"blade\"\n");
    text.push_str(
        "[relay.K1]\ncoil = \"85 ohm\"\npull_in = \"7 V\"\ndrop_out = \"1.5 V\"\n[ground.G1]\nplace = \"sill\"\n",
    );
    for load in ["day", "night"] {
        let _ = writeln!(text, "[load.{load}]\nkind = \"resistor\"\nresistance = \"4 ohm\"");
    }
    let ways = [
        ("battery.+", "F1.in"),
        ("F1.out", "K1.30"),
        ("K1.87", "day.+"),
        ("K1.87a", "night.+"),
        ("F1.out", "K1.86"),
        ("G1", "K1.85"),
        ("G1", "day.-"),
        ("G1", "night.-"),
    ];
    text.push_str(&wires(&ways));
    let job = read(&text);
    holds(&job);
    let scene = circuit(&job, &none);
    assert!(texts(&scene).any(|t| t == "87a"));
}

fn wires(ways: &[(&str, &str)]) -> String {
    let mut text = String::new();
    for (index, (from, to)) in ways.iter().enumerate() {
        let colour = ["red", "yellow with white stripe", "green/yellow"][index % 3];
        let _ = writeln!(
            text,
            "[wire.w{index}]\nfrom = \"{from}\"\nto = \"{to}\"\nsize = \"1.5 mm²\"\nlength = \"1.5 m\"\ncolour = \"{colour}\""
        );
    }
    text
}

/// One fuse, a splice, so many loads on it, and their common way back, through a splice or to the ground each.
fn fan(loads: usize, spliced: bool) -> String {
    let mut text = BEGINNING.to_owned();
    text.push_str("[fuse.F1]\nrating = \"10 A\"\nstyle = \"blade\"\n");
    text.push_str(
        "[splice.J1]\nmethod = \"crimped\"\n[splice.J2]\nmethod = \"crimped\"\n[ground.G1]\nplace = \"sill\"\n",
    );
    for load in 0..loads {
        let _ = writeln!(text, "[load.l{load}]\nkind = \"led\"\npower = \"5 W\"\nworks_from = \"9 V\"");
    }
    let back = if spliced { "J2" } else { "G1" };
    let pins: Vec<[String; 2]> = (0..loads).map(|load| [format!("l{load}.+"), format!("l{load}.-")]).collect();
    let mut ways = vec![("battery.+", "F1.in"), ("F1.out", "J1")];
    if spliced {
        ways.push(("G1", "J2"));
    }
    for [plus, minus] in &pins {
        ways.extend([("J1", plus.as_str()), (back, minus.as_str())]);
    }
    text.push_str(&wires(&ways));
    text
}

#[test]
fn one_to_twelve_loads_on_a_splice_are_drawn_without_overlaps() {
    for loads in 1..=12 {
        holds(&read(&fan(loads, true)));
        holds(&read(&fan(loads, false)));
    }
}

/// A job whose wires go from anywhere to anywhere.
fn anything(loads: usize, pairs: &[(usize, usize)]) -> String {
    let mut text = BEGINNING.to_owned();
    let mut ends: Vec<String> =
        ["battery.+", "battery.-", "second.+", "second.-", "G1", "G2", "J1", "J2", "J3"].map(str::to_owned).to_vec();
    for fuse in ["F1", "F2", "F3"] {
        let _ = writeln!(text, "[fuse.{fuse}]\nrating = \"10 A\"\nstyle = \"blade\"\nresistance = \"5 mohm\"");
        ends.extend([format!("{fuse}.in"), format!("{fuse}.out")]);
    }
    for relay in ["K1", "K2"] {
        let _ = writeln!(text, "[relay.{relay}]\ncoil = \"85 ohm\"\npull_in = \"7 V\"\ndrop_out = \"1.5 V\"");
        ends.extend(["30", "87", "87a", "85", "86"].map(|pole| format!("{relay}.{pole}")));
    }
    text.push_str("[switch.S1]\nrating = \"6 A\"\n[connector.X1]\ncavities = [\"A\", \"B\"]\n");
    ends.extend(["S1.in", "S1.out", "X1.A.in", "X1.A.out", "X1.B.in", "X1.B.out"].map(str::to_owned));
    for splice in ["J1", "J2", "J3"] {
        let _ = writeln!(text, "[splice.{splice}]\nmethod = \"crimped\"");
    }
    text.push_str("[ground.G1]\nplace = \"sill\"\n[ground.G2]\nplace = \"pillar\"\n");
    for load in 0..loads {
        let kind = ["kind = \"led\"\npower = \"5 W\"", "kind = \"motor\"\ncurrent = \"3 A\"\nat = \"12 V\""][load % 2];
        let _ = writeln!(text, "[load.work-light-{load}]\n{kind}");
        ends.extend([format!("work-light-{load}.+"), format!("work-light-{load}.-")]);
    }
    let ways: Vec<(&str, &str)> = pairs
        .iter()
        .map(|(from, to)| (ends[from % ends.len()].as_str(), ends[to % ends.len()].as_str()))
        .filter(|(from, to)| from != to)
        .collect();
    text.push_str(&wires(&ways));
    text
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_job_that_reads_is_drawn_whole_and_without_overlaps(
        loads in 1usize..12,
        pairs in prop::collection::vec((0usize..200, 0usize..200), 1..40),
    ) {
        if let Ok(job) = Job::read(&Source::new("job.toml", anything(loads, &pairs).as_str())) {
            holds(&job);
        }
    }
}

proptest! {
    // Each load is solved at each terminal of its path.
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_job_that_reads_is_plotted_without_overlaps(
        loads in 1usize..12,
        pairs in prop::collection::vec((0usize..200, 0usize..200), 1..40),
    ) {
        if let Ok(job) = Job::read(&Source::new("job.toml", anything(loads, &pairs).as_str())) {
            for fuse in &job.fuses {
                let scene = protection(&job, &fuse.name).unwrap();
                prop_assert_eq!(collisions(&scene), Vec::<String>::new());
            }
            let names: Vec<String> = job.loads.iter().map(|l| l.name.clone()).collect();
            let walk = Walk::new(job, Plan { phases: Vec::new(), steps: Vec::new() });
            for scene in names.iter().filter_map(|load| profile(&walk, load)) {
                prop_assert_eq!(collisions(&scene), Vec::<String>::new());
            }
        }
    }
}
