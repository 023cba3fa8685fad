use super::super::overlap::collisions;
use super::super::scene::Shape;
use super::*;
use crate::document::Source;

const SAMPLES: [&str; 4] = [
    include_str!("../../../reports/orchard-flatbed/job.toml"),
    include_str!("../../../reports/market-stall-van/job.toml"),
    include_str!("../../../reports/reversing-lamp/job.toml"),
    include_str!("../../job/every-key.toml"),
];

fn read(text: &str) -> Job {
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

fn words(scene: &Scene) -> String {
    let texts = scene.shapes.iter().filter_map(|shape| match shape {
        Shape::Text { text, .. } => Some(text.as_str()),
        _ => None,
    });
    texts.collect::<Vec<_>>().join("\n")
}

#[test]
fn every_fuse_of_the_samples_has_a_plot_without_overlaps() {
    for text in SAMPLES {
        let job = read(text);
        for fuse in &job.fuses {
            let scene = protection(&job, &fuse.name).unwrap();
            let found = collisions(&scene);
            assert!(found.is_empty(), "{}: {}", fuse.name, found.join("\n"));
            assert_eq!(scene.width, PLOT_WIDTH);
        }
    }
}

#[test]
fn lines_are_labelled_and_sources_are_named() {
    let scene = protection(&read(SAMPLES[0]), "F2").unwrap();
    let text = words(&scene);
    for label in ["rating 7.5 A", "F2 opens at the latest", "stands this long", "may carry", "short at the end of"] {
        assert!(text.contains(label), "{label}: {text}");
    }
    for source in ["(from memory)", "hollow marks", "IEC 60949", "33 CFR 183.425"] {
        assert!(text.contains(source), "{source}: {text}");
    }
}

#[test]
fn the_mark_of_the_short_lies_where_the_rules_find_it() {
    let job = read(SAMPLES[2]);
    let known = known(&job, &job.fuses[0]);
    let fault = known.fault.unwrap().as_amps();
    assert!((20.0..400.0).contains(&fault), "{fault}");
    let stands =
        withstand(copper_area(known.wire.unwrap().size), known.withstand.as_ref().unwrap().value, known.fault.unwrap());
    let opens = longest_opening(&known.curve.as_ref().unwrap().value, known.fuse.rating, known.fault.unwrap()).unwrap();
    assert!(opens < stands, "the design check passes, so does the plot: {opens} {stands}");
}

#[test]
fn what_is_not_known_is_left_out_and_said() {
    let job = read(SAMPLES[1]);
    assert!(words(&protection(&job, "F1").unwrap()).contains("The curve of F1 is not known here."));
    assert_eq!(protection(&job, "F99"), None);
    let job = read(SAMPLES[3]);
    assert!(words(&protection(&job, "B1").unwrap()).contains("No wire lies behind B1."));
}
