use super::super::overlap::collisions;
use super::super::scene::Shape;
use super::super::svg::svg;
use super::*;
use crate::document::Source;

const SAMPLES: [(&str, &str); 4] = [
    ("orchard-flatbed", include_str!("../../../reports/orchard-flatbed/job.toml")),
    ("market-stall-van", include_str!("../../../reports/market-stall-van/job.toml")),
    ("reversing-lamp", include_str!("../../../reports/reversing-lamp/job.toml")),
    ("every-key", include_str!("../../job/every-key.toml")),
];

fn none(_: &str) -> Option<String> {
    None
}

fn read(text: &str) -> Job {
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn dump() {
    std::fs::create_dir_all("/tmp/draw-out").unwrap();
    for (name, text) in SAMPLES {
        let job = read(text);
        let built = |w: &str| (w.len() == 2).then(|| "2.35 m".to_owned());
        std::fs::write(format!("/tmp/draw-out/{name}.svg"), svg(&circuit(&job, &built), "c")).unwrap();
        for (i, s) in circuit_sheets(&job, &none).iter().enumerate() {
            std::fs::write(format!("/tmp/draw-out/{name}-{i}.svg"), svg(s, "c")).unwrap();
            println!("{name} {i} {} x {}", s.width, s.height);
            for c in collisions(s, true) { println!("   {c}"); }
        }
    }
}
