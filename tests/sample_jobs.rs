//! The sample jobs, each at every level: walked to the end by answers, signed and verified.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::collections::BTreeSet;
use std::path::Path;

use common::{Answers, Bench, by_hand, small_job};
use rigproof::design;
use rigproof::plan::{Plan, Step};
use rigproof::procedure::Library;

const JOBS: [&str; 3] = ["reversing-lamp", "orchard-flatbed", "market-stall-van"];
const LEVELS: [&str; 3] = ["essential", "standard", "full"];

/// A sample job with another level.
fn at_level(job: &str, level: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports").join(job).join("job.toml");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let without: Vec<&str> = text.lines().filter(|line| !line.starts_with("level")).collect();
    without.join("\n").replacen("format = 1", &format!("format = 1\nlevel = \"{level}\""), 1)
}

fn plan(library: &Library, job: &str, level: &str) -> Plan {
    Plan::of(&by_hand::job(&at_level(job, level)), library).unwrap_or_else(|error| panic!("{job} {level}: {error}"))
}

#[test]
fn every_sample_job_keeps_every_rule_of_design() {
    for job in JOBS {
        let findings = design::check(&by_hand::job(&at_level(job, "standard")));
        assert!(design::conforms(&findings), "{job}: {findings:#?}");
    }
}

fn walks_to_the_end(job: &str) {
    let library = small_job::library_of_the_program();
    for level in LEVELS {
        let text = at_level(job, level);
        let answers = small_job::answers_for(&text, &library);
        let bench = Bench::new(&text, &answers);
        let ended = bench.walk();
        ended.expect(0);
        assert!(ended.out.contains("every reading conforms"), "{job} {level}: {}", ended.out);
        bench.verify().expect(0);
    }
}

#[test]
fn a_reversing_lamp_is_walked_to_the_end_at_every_level() {
    walks_to_the_end("reversing-lamp");
}

#[test]
fn the_orchard_flatbed_is_walked_to_the_end_at_every_level() {
    walks_to_the_end("orchard-flatbed");
}

#[test]
fn the_market_stall_van_is_walked_to_the_end_at_every_level() {
    walks_to_the_end("market-stall-van");
}

#[test]
fn a_lower_level_has_fewer_steps_and_each_of_them_is_in_the_higher_one() {
    let library = small_job::library_of_the_program();
    for job in JOBS {
        let keys = LEVELS.map(|level| {
            let plan = plan(&library, job, level);
            plan.steps.iter().map(|step| step.key.to_string()).collect::<BTreeSet<_>>()
        });
        println!("{job}: {:?} steps", keys.each_ref().map(BTreeSet::len));
        for (lower, higher) in keys.iter().zip(&keys[1..]) {
            assert!(lower.len() < higher.len(), "{job}");
            assert!(lower.is_subset(higher), "{job}: {:?}", lower.difference(higher).collect::<Vec<_>>());
        }
    }
}

#[test]
fn a_small_job_does_not_drown_in_steps() {
    let library = small_job::library_of_the_program();
    let readings = |plan: &Plan| plan.steps.iter().filter(|s| matches!(s.ask, rigproof::plan::Ask::Measure(_))).count();
    let plan = plan(&library, "reversing-lamp", "essential");
    // Six wires, a connector, a ground: what only some answers ask for is left out of the count.
    let asked = plan.steps.iter().filter(|step| step.only_if.is_none()).count();
    println!("reversing lamp, essential: {asked} steps that are always asked, {} readings", readings(&plan));
    assert!(asked <= 105, "{asked} steps for one lamp");
}

#[test]
fn no_level_drops_a_check_of_protection_or_a_hazard_of_what_is_done() {
    let library = small_job::library_of_the_program();
    let protects = |step: &&Step| step.no_concession;
    for job in JOBS {
        let full = plan(&library, job, "full");
        for level in ["essential", "standard"] {
            let plan = plan(&library, job, level);
            let here: BTreeSet<&str> = plan.steps.iter().map(|s| s.key.as_str()).collect();
            let procedures: BTreeSet<&str> = plan.phases.iter().map(|p| p.procedure.as_str()).collect();
            for step in full.steps.iter().filter(protects) {
                let procedure = step.key.as_str().split('/').next().unwrap();
                // The water test takes the isolation again that the dead test has taken before.
                let only_again = procedure == "water-test";
                assert!(here.contains(step.key.as_str()) || only_again, "{job}: {level} drops {}", step.key);
            }
            for step in full.steps.iter().filter(|s| !s.hazards.is_empty()) {
                let procedure = step.key.as_str().split('/').next().unwrap();
                let dropped = procedures.contains(procedure) && !here.contains(step.key.as_str());
                assert!(!dropped, "{job}: {level} drops the hazards of {}", step.key);
            }
        }
    }
}

/// The stored records are what this program and these procedures make: whoever changes either runs `.ci/refresh-samples`.
#[test]
fn the_stored_records_and_reports_are_those_of_the_files_beside_them() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &Path| std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let bench = Bench::demo();
    for job in JOBS {
        let folder = root.join("reports").join(job);
        let record = folder.join("record");
        bench.run(&["verify", record.to_str().unwrap()]).expect(0);
        assert!(read(&record.join("job.toml")) == read(&folder.join("job.toml")), "{job}: another job");
        let frozen = common::files(&record.join("procedures"));
        let now = common::files(&root.join("procedures")).into_iter().filter(|(name, _)| name != "README.md");
        assert!(frozen == now.collect::<Vec<_>>(), "{job}: other procedures; run .ci/refresh-samples");
        // Each answer of the file stands in the journal.
        let journal = String::from_utf8(read(&record.join("journal.jsonl"))).unwrap();
        let answers = Answers::read(&String::from_utf8(read(&folder.join("answers.toml"))).unwrap());
        for (step, _) in answers.lists() {
            assert!(
                journal.contains(&format!("\"{step}\"")),
                "{job}: {step} was answered later; run .ci/refresh-samples"
            );
        }
        let out = bench.path(job);
        bench.run(&["report", record.to_str().unwrap(), "--out", out.to_str().unwrap()]).expect(0);
        let (stored, made) = (common::files(&record.join("report")), common::files(&out));
        assert_eq!(stored.len(), 5, "{job}");
        for ((name, stored), (_, made)) in stored.iter().zip(&made) {
            assert!(stored == made, "{job}: {name} is not what the record makes; run .ci/refresh-samples");
        }
    }
}
