//! A lot of crimps or lamps with a stated plan: the walk asks for the samples that are due, and a lot with a bad one is
//! held by another person.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::{Answers, Bench, small_job};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::plan::{Ask, Plan};

const LOTS: &str = r#"
[lot.leads]
of = "w3"
pieces = 24
sample = 3
tool = "crimper-1"

[lot.lamps]
of = "lamp"
pieces = 6
plan = "first-off"
"#;

fn job() -> String {
    format!("{}{LOTS}", small_job::JOB)
}

fn answers() -> Answers {
    small_job::answers_for(&job(), &small_job::library_of_the_program())
}

fn plan(text: &str) -> Plan {
    let job = Job::read(&Source::new("job.toml", text)).unwrap_or_else(|says| panic!("{says}"));
    Plan::of(&job, &small_job::library_of_the_program()).unwrap_or_else(|error| panic!("{error}"))
}

fn steps_of_lots(plan: &Plan) -> Vec<&str> {
    plan.steps.iter().map(|step| step.key.as_str()).filter(|key| key.starts_with("lot-")).collect()
}

#[test]
fn the_walk_asks_for_each_sample_that_the_plan_names_and_then_for_the_lot() {
    let plan = plan(&job());
    let crimp = |piece: &str| ["tool", "make", "force"].map(|step| format!("lot-sample/leads:{piece}/{step}"));
    let mut expected: Vec<String> = ["1", "13", "24"].iter().flat_map(|piece| crimp(piece)).collect();
    expected.push("lot-sample/lamps:1/current".to_owned());
    for lot in ["leads", "lamps"] {
        expected.extend(["pieces", "release"].map(|step| format!("lot-accept/{lot}/{step}")));
    }
    assert_eq!(steps_of_lots(&plan), expected);
    // Before anything is built in.
    let place = |start: &str| plan.steps.iter().position(|step| step.key.as_str().starts_with(start)).unwrap();
    assert!(place("first-off") < place("lot-sample") && place("lot-accept") < place("terminate"));
    assert_eq!(steps_of_lots(&self::plan(small_job::JOB)), Vec::<&str>::new());
}

#[test]
fn the_limits_are_those_of_the_size_and_of_the_lamp() {
    let plan = plan(&job());
    let ask = |key: &str| &plan.steps.iter().find(|step| step.key.as_str() == key).unwrap().ask;
    let Ask::Value { rule: Some(rule), .. } = ask("lot-sample/leads:13/force") else { panic!() };
    // 1.5 mm²: AWG 16, 133.5 N (UL 486A, handbook), shown to three figures.
    assert!((rule.at_least.unwrap().base() - 133.5).abs() < 1e-9);
    assert_eq!(rule.limits(), "at least 134 N");
    let Ask::Value { low: Some(low), high: Some(high), .. } = ask("lot-sample/lamps:1/current") else { panic!() };
    // 24 W at 12.5 V are 1.92 A.
    assert!((low.base() - 1.92 * 0.9).abs() < 0.01 && (high.base() - 1.92 * 1.1).abs() < 0.01, "{low} {high}");
}

#[test]
fn a_lot_without_a_bad_sample_is_accepted_and_the_record_verifies() {
    let bench = Bench::new(&job(), &answers()).walked();
    bench.verify().expect(0);
    let read = bench.events_of("read");
    let forces = read.iter().filter(|event| event["step"].as_str().unwrap().ends_with("/force")).count();
    assert_eq!(forces, 3);
}

#[test]
fn one_weak_sample_is_a_nonconformity_of_the_lot_whatever_the_others_hold() {
    let step = "lot-sample/leads:13/force";
    let weak = answers().with(step, &["120 N"]);
    let bench = Bench::new(&job(), &weak);
    // The file has no decision for it: nothing is invented.
    bench.walk().expect(2).says(step);
    bench.answer_with(&answers().with(step, &["120 N", "nonconformity: lot held, tool set again"]));
    bench.walk().expect(1);
    let decided = bench.events_of("disposed");
    assert_eq!(decided.len(), 1, "{decided:?}");
    assert_eq!(decided[0]["step"], step);
}

#[test]
fn a_piece_of_another_tool_is_not_of_this_lot() {
    let bench = Bench::new(&job(), &answers().with("lot-sample/leads:1/tool", &["crimper-2"]));
    bench.walk().expect(2).says("crimper-1");
}

#[test]
fn mistakes_in_a_lot_are_told_all_at_once() {
    let wrong = format!(
        "{}\n[lot.a]\nof = \"w33\"\npieces = 1\nsample = 3\n[lot.b]\nof = \"w3\"\npieces = 24\nsample = 3\nevery = 2\n\
         [lot.c]\nof = \"w3\"\npieces = 24\n[lot.d]\nof = \"w3\"\npieces = 2000\nevery = 1\n[lot.e]\nof = \"w3\"\n\
         pieces = 24\nplan = \"first-of\"\n[lot.f]\nof = \"w3\"\npieces = 24\nsample = 25\naccept = 1\n",
        small_job::JOB
    );
    let says = Job::read(&Source::new("job.toml", wrong)).unwrap_err().to_string();
    for words in [
        "no wire and no load is called `w33`",
        "did you mean \"w3\"?",
        "`pieces` cannot be 1",
        "has two plans: `sample` and `every`",
        "[lot.c] has no plan",
        "that is 2000 samples",
        "did you mean \"first-off\"?",
        "`sample` cannot be 25",
        "has no key `accept`",
    ] {
        assert!(says.contains(words), "{words}:\n{says}");
    }
    let motor = small_job::JOB.replace(
        "kind = \"led\"\npower = \"24 W ± 10 %\"\nworks_from = \"9 V\"",
        "kind = \"motor\"\ncurrent = \"2 A\"",
    );
    let says = Job::read(&Source::new("job.toml", format!("{motor}{LOTS}"))).unwrap_err().to_string();
    assert!(says.contains("`lamp` is a motor"), "{says}");
}

#[test]
fn the_second_person_is_told_what_so_few_samples_can_tell() {
    let plan = plan(&job());
    let phase = plan.phases.iter().find(|phase| phase.procedure == "lot-accept" && phase.item == "leads").unwrap();
    // 3 bad ones of 24, 3 tried: 21/24 · 20/23 · 19/22 = 0.657.
    assert!(phase.why.contains("With 3 bad pieces among 24, such a plan still passes 66 of 100 lots"), "{}", phase.why);
}
