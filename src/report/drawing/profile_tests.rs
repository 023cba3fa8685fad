use std::path::Path as FilePath;

use super::super::overlap::collisions;
use super::super::scene::Shape;
use super::*;
use crate::document::Source;
use crate::plan::Plan;
use crate::procedure::Library;

const SAMPLES: [&str; 4] = [
    include_str!("../../../reports/orchard-flatbed/job.toml"),
    include_str!("../../../reports/market-stall-van/job.toml"),
    include_str!("../../../reports/reversing-lamp/job.toml"),
    include_str!("../../job/every-key.toml"),
];

fn fresh(text: &str) -> Walk {
    let job = Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"));
    let plan = Plan::of(&job, &Library::embedded().unwrap()).unwrap();
    Walk::new(job, plan)
}

/// A walk with its readings: the journal of the sample record, event by event.
fn recorded() -> Walk {
    let mut walk = fresh(SAMPLES[0]);
    let file = FilePath::new(env!("CARGO_MANIFEST_DIR")).join("reports/orchard-flatbed/record/journal.jsonl");
    for line in std::fs::read_to_string(file).unwrap().lines() {
        let entry: crate::record::Entry = serde_json::from_str(line).unwrap();
        walk.apply(&entry.event).unwrap();
    }
    walk
}

fn words(scene: &Scene) -> Vec<&str> {
    let texts = scene.shapes.iter().filter_map(|shape| match shape {
        Shape::Text { text, .. } => Some(text.as_str()),
        _ => None,
    });
    texts.collect()
}

#[test]
fn every_load_of_the_samples_has_a_profile_without_overlaps() {
    for text in SAMPLES {
        let walk = fresh(text);
        for load in &walk.job().loads {
            let Some(scene) = profile(&walk, &load.name) else {
                assert!(text == SAMPLES[3], "{} has no profile", load.name);
                continue;
            };
            let found = collisions(&scene);
            assert!(found.is_empty(), "{}: {}", load.name, found.join("\n"));
        }
    }
}

#[test]
fn readings_stand_where_they_were_taken() {
    let walk = recorded();
    for load in ["pump", "lamp-left", "lamp-right"] {
        let scene = profile(&walk, load).unwrap();
        let found = collisions(&scene);
        assert!(found.is_empty(), "{load}: {}", found.join("\n"));
    }
    let scene = profile(&walk, "pump").unwrap();
    let texts = words(&scene);
    for name in ["battery.+", "F1.in", "K1.87", "X1.A.out", "pump.+", "pump.−", "G1", "body", "battery.−"] {
        assert!(texts.contains(&name), "{name}: {texts:?}");
    }
    assert!(texts.iter().any(|t| t.contains("pump needs 10.80 V")), "{texts:?}");
    let drops = texts.iter().filter(|t| t.contains(", expected ")).count();
    assert_eq!(drops, 3, "feed, load, ground to body: {texts:?}");
    assert!(texts.iter().filter(|t| t.contains('±')).count() >= 4, "{texts:?}");
}

#[test]
fn the_expected_values_are_those_of_the_circuit() {
    let walk = fresh(SAMPLES[2]);
    let state = state_of(&walk, "reversing-lamp").unwrap();
    let path = path_of(walk.job(), "reversing-lamp", &state).unwrap();
    assert_eq!(path.terminals[0], Terminal::battery_plus());
    assert_eq!(path.terminals.last().unwrap(), &Terminal::battery_minus());
    assert_eq!(path.terminals[path.feed - 1], Terminal::of("reversing-lamp", "+"));
    let falls = path.expected.windows(2).all(|pair| pair[0].1 >= pair[1].1 - 1e-9);
    assert!(falls, "the voltage falls all along: {:?}", path.expected);
    let direct = Circuit::of(walk.job()).voltage(&path.terminals[3], &Terminal::battery_minus(), &state).unwrap();
    assert_eq!(Some(path.expected[3].1), direct.nominal.map(crate::quantity::Amount::base));
    assert_eq!(profile(&walk, "no-such-load"), None);
}
