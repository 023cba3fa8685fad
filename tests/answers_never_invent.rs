//! A walk by answers answers only what the file says; where it says nothing, the walk stops with all before it saved.

mod common;

use std::collections::BTreeSet;

use common::{Answers, Bench, Dice, complete, demo_file, small_job};
use serde_json::Value;

fn one_lamp_answers() -> Answers {
    small_job::answers(&small_job::library_of_the_program())
}

fn one_lamp(answers: &Answers) -> Bench {
    let bench = Bench::one_lamp();
    bench.answer_with(answers);
    bench
}

fn journal(bench: &Bench) -> Vec<u8> {
    std::fs::read(bench.journal()).unwrap()
}

fn steps(events: &[Value]) -> Vec<&str> {
    events.iter().filter_map(|event| event["step"].as_str()).collect()
}

/// The walk stops before the step and names it; nothing of the step is in the journal.
#[track_caller]
fn stops_before(bench: &Bench, step: &str) {
    bench.walk().expect(2).says(step).says("everything before it is saved");
    let events = bench.events();
    let answered = |event: &&Value| event["step"] == step && event["kind"] != "hazards-acknowledged";
    assert_eq!(events.iter().filter(answered).count(), 0, "{step} was answered by nobody");
    assert!(bench.events_of("signed-off").is_empty());
}

/// With the answers whole again the same call goes on from what is saved, to the end.
#[track_caller]
fn goes_on_with(bench: &Bench, answers: &Answers) {
    let saved = journal(bench);
    bench.answer_with(answers);
    bench.walk().expect(0);
    assert!(journal(bench).starts_with(&saved), "an entry that was saved is gone");
    bench.verify().expect(0);
}

#[test]
fn a_reading_that_is_not_in_the_file_stops_the_walk_until_it_is() {
    let whole = Answers::demo();
    let lists = whole.lists();
    let mut dice = Dice(5);
    let place = |step: &str| lists.iter().position(|(own, _)| own == step).unwrap();
    let mut chosen = BTreeSet::from([place("prepare/job/read-manual"), place("handover/job/owner-operates")]);
    while chosen.len() < 12 {
        chosen.insert(dice.below(lists.len()));
    }
    for at in chosen {
        let (step, _) = &lists[at];
        let bench = Bench::demo();
        bench.answer_with(&whole.clone().without("answer", step));
        stops_before(&bench, step);
        goes_on_with(&bench, &whole);
    }
}

#[test]
fn a_hold_that_is_not_in_the_file_stops_the_walk_until_it_is() {
    for step in ["first-off/job/release-crimps", "connect/job/release"] {
        let whole = Answers::demo();
        let bench = Bench::demo();
        bench.answer_with(&whole.clone().without("release", step));
        bench.walk().expect(2).says(step).says("second person");
        let events = bench.events();
        assert_eq!(events.last().unwrap()["kind"], "done");
        assert!(!events.iter().any(|event| event["kind"] == "released" && event["step"] == step));
        goes_on_with(&bench, &whole);
    }
}

#[test]
fn the_second_reading_after_rework_is_not_the_first_one_again() {
    for step in ["ground/G1/torque", "dead-test/lamp-right/ground-path"] {
        let whole = Answers::demo();
        let lists = whole.lists();
        let (_, both) = lists.iter().find(|(own, _)| own == step).unwrap();
        let bench = Bench::demo();
        bench.answer_with(&whole.clone().with(step, &[&both[0]]));
        bench.walk().expect(2).says(step);
        let read = bench.events_of("read").iter().filter(|event| event["step"] == step).count();
        assert_eq!(read, 1, "{step}");
        goes_on_with(&bench, &whole);
    }
}

#[test]
fn steps_hazards_and_persons_are_not_taken_for_granted() {
    let whole = one_lamp_answers();
    let cases = [
        ("person", "who works"),
        ("hazards", "were read before"),
        ("every_do_step", "this step is done: survey/job/design-closed"),
    ];
    for (left_out, says) in cases {
        let bench = one_lamp(&whole.clone().without_top(left_out));
        bench.walk().expect(2).says(says);
        assert!(bench.events_of("done").is_empty() && bench.events_of("read").is_empty(), "{left_out}");
        goes_on_with(&bench, &whole);
    }
}

#[test]
fn a_record_is_not_signed_where_the_file_does_not_sign() {
    let bench = one_lamp(&one_lamp_answers().unsigned());
    bench.walk().expect(0).says("not signed");
    assert!(bench.events_of("signed-off").is_empty());
    assert!(!bench.record().join("seal/SHA256SUMS.sig").exists());
    bench.verify().expect(1).says("not sealed");
    goes_on_with(&bench, &one_lamp_answers());
}

#[test]
fn an_answer_for_a_step_that_the_plan_does_not_have_is_an_error_with_the_step_that_was_meant() {
    for (wrong, meant) in [("test/lamp/ground-dorp", "test/lamp/ground-drop"), ("fuse/F2/rating", "fuse/F1/rating")] {
        let bench = one_lamp(&one_lamp_answers().with(wrong, &["1 V"]));
        bench.walk().expect(2).says(wrong).says(&format!("did you mean \"{meant}\"?"));
        assert!(!bench.record().exists(), "nothing is begun with a file that is wrong");
    }
}

#[test]
fn a_release_for_a_step_that_the_plan_does_not_have_is_an_error_too() {
    let mut answers = one_lamp_answers();
    let release = answers.table("release").remove("connect/job/release").unwrap();
    answers.table("release").insert("connect/job/relaese".to_owned(), release);
    one_lamp(&answers).walk().expect(2).says("connect/job/relaese").says("did you mean \"connect/job/release\"?");
}

#[test]
fn a_reading_out_of_range_stops_the_walk_until_the_file_says_what_is_done() {
    let step = "test/lamp/ground-drop";
    let whole = one_lamp_answers();
    let good = whole.lists().into_iter().find(|(own, _)| own == step).unwrap().1.remove(0);
    let bench = one_lamp(&whole.clone().with(step, &["1.31 V"]));
    bench.walk().expect(2).says(step).says("1.31 V lies above").says("measure again");
    let events = bench.events();
    let last = events.last().unwrap();
    assert_eq!((&last["kind"], &last["step"]), (&"read".into(), &step.into()));
    assert_eq!(last["judgement"]["verdict"], "does-not-conform");
    goes_on_with(&bench, &whole.with(step, &["1.31 V", "measure again", &good]));
    let readings = bench.events_of("read").into_iter().filter(|event| event["step"] == step);
    let typed: Vec<Value> = readings.map(|event| event["reading"]["typed"].clone()).collect();
    assert_eq!(typed, ["1.31 V", good.as_str()], "both readings stay in the record");
}

#[test]
fn a_reading_out_of_range_is_not_explained_away() {
    let step = "test/lamp/ground-drop";
    let bench = one_lamp(&one_lamp_answers().with(step, &["1.31 V", "explained: the lamp burns all the same"]));
    bench.walk().expect(2).says(step).says("cannot be explained away");
    assert!(bench.events_of("disposed").is_empty());
}

#[test]
fn a_further_reading_is_no_word_on_what_is_done_about_the_first() {
    let step = "test/lamp/ground-drop";
    let bench = one_lamp(&one_lamp_answers().with(step, &["1.31 V", "0.05 V"]));
    bench.walk().expect(2).says(step).says("`0.05 V` says nothing about the reading");
    assert!(bench.events_of("disposed").is_empty());
}

#[test]
fn a_nonconformity_is_signed_as_one_and_the_status_says_so() {
    let step = "ground/G1/torque";
    let bench = one_lamp(&one_lamp_answers().with(step, &["2 N·m", "nonconformity: the owner wants it so"]));
    bench.walk().expect(1).says("nonconformit").says(step).says("the owner wants it so");
    bench.verify().expect(0);
}

#[test]
fn a_text_that_is_no_reading_stops_the_walk_in_words() {
    let step = "baseline/job/rest-voltage";
    for wrong in ["abc", "12.6 A", "", "12,600 V"] {
        let bench = one_lamp(&one_lamp_answers().with(step, &[wrong]));
        bench.walk().expect(2).says(step);
        assert!(!steps(&bench.events_of("read")).contains(&step), "`{wrong}` was taken for a reading");
    }
}

/// Who looked once has not looked at what was done afterwards.
#[test]
fn a_release_does_not_count_for_work_that_was_done_again_after_it() {
    let step = "connect/job/battery-back";
    let rework = "rework connect/job/check-state: a tool lay on the battery";
    let proofs = ["prepare/job/prove-meter", "prepare/job/prove-meter-again"];
    let answers = proofs.iter().fold(one_lamp_answers(), |answers, proof| answers.with(proof, &["12.6 V", "12.6 V"]));
    let answers = answers.with("prepare/job/prove-dead", &["0.2 mV", "0.2 mV"]);
    let bench = one_lamp(&answers.with(step, &["9.1 V", rework, "12.6 V"]));
    bench.walk().expect(2).says("does not release the hold point connect/job/release");
    assert_eq!(bench.events_of("released").iter().filter(|event| event["step"] == "connect/job/release").count(), 1);
}

#[test]
fn the_demo_walks_to_its_end_by_its_answers_and_keeps_every_one_of_them() {
    let bench = Bench::demo().walked();
    let events = bench.events();
    let mut given: Vec<(String, String)> = Vec::new();
    let mut waited: Vec<&str> = Vec::new();
    for event in &events {
        let text = match event["kind"].as_str().unwrap() {
            "read" => event["reading"]["typed"].as_str().unwrap().to_owned(),
            "noted" => event["text"].as_str().unwrap().to_owned(),
            "wait-ended" => {
                waited.push(event["step"].as_str().unwrap());
                continue;
            }
            "chosen" => event["way"].as_str().unwrap().to_owned(),
            "disposed" => format!(
                "rework {}: {}",
                event["disposition"]["from"].as_str().unwrap(),
                event["disposition"]["reason"].as_str().unwrap()
            ),
            _ => continue,
        };
        given.push((event["step"].as_str().unwrap().to_owned(), text));
    }
    let mut asked: Vec<(String, String)> = Vec::new();
    for (step, texts) in Answers::read(&demo_file("answers.toml")).lists() {
        // Of a wait the record keeps how long it was, not how it was typed.
        if waited.contains(&step.as_str()) {
            continue;
        }
        asked.extend(texts.into_iter().map(|text| (step.clone(), text)));
    }
    assert!(waited.len() >= 5, "{waited:?}");
    given.sort();
    asked.sort();
    let differ: Vec<_> = given.iter().zip(&asked).filter(|(given, asked)| given != asked).take(3).collect();
    assert!(given.len() == asked.len() && differ.is_empty(), "{} {}: {differ:?}", given.len(), asked.len());
    assert_eq!(complete(&journal(&bench)), journal(&bench));
}
