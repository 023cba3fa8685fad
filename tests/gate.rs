//! May this vehicle leave? The exit status and one line, for whatever keeps it here.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::small_job;
use common::yard::{M1, SHOP, Yard};

#[test]
fn a_vehicle_leaves_when_it_is_sealed_by_who_may_and_conforms() {
    let yard = Yard::begun();
    yard.gate().expect(1).says("stays: van-1: the work is not begun");
    yard.answer(&Yard::good_answers().without("answer", "test/lamp/look")).walk().expect(2);
    yard.gate().expect(1).says("steps are closed; next test/lamp/look");
    yard.answer(&Yard::good_answers().unsigned()).walk().expect(0);
    yard.gate().expect(1).says("the work is not signed off");
    yard.answer(&Yard::good_answers()).walk().expect(0);
    let ended = yard.gate();
    ended.expect(0).says("may leave: van-1");
    assert_eq!(ended.out.lines().count(), 1);
    // By the folder of the job and of the record as well, and from within the shop.
    for named in ["yard/jobs/van-1", "yard/jobs/van-1/record"] {
        yard.bench.run(&["shop", "gate", named, "--shop", "yard"]).expect(0).says("may leave: van-1");
    }
    yard.bench.run(&["shop", "gate", "van-l", "--shop", "yard"]).expect(2).says("did you mean van-1?");
}

#[test]
fn a_changed_record_stays() {
    let yard = Yard::begun();
    yard.walk().expect(0);
    let journal = yard.record().join("journal.jsonl");
    let text = std::fs::read_to_string(&journal).unwrap();
    assert!(text.contains("5.3"), "{text}");
    std::fs::write(&journal, text.replacen("5.3", "5.4", 1)).unwrap();
    yard.gate().expect(1).says("stays: van-1: journal.jsonl");
}

#[test]
fn a_reading_outside_its_limits_keeps_it_here() {
    let yard = Yard::begun();
    let typed = ["2.0 N·m", "nonconformity: the stud turns"];
    let answers = Yard::good_answers().with("ground/G1/torque", &typed);
    yard.answer(&answers).walk().expect(1);
    yard.gate().expect(1).says("ground/G1/torque").says("the stud turns");
}

#[test]
fn work_that_was_done_outside_the_rules_is_found_entry_by_entry() {
    let yard = Yard::begun();
    // Done in another folder, where no shop keeps watch: by nobody the shop knows, with a meter that is overdue.
    let apart = yard.bench.path("apart");
    std::fs::create_dir(&apart).unwrap();
    std::fs::write(apart.join("job.toml"), format!("{}\n[meter.M2]\nclass = \"good\"\n", small_job::JOB)).unwrap();
    let mut answers = small_job::answers(&small_job::tiny_library());
    answers.table("person").insert("name".into(), "Ash Thorn".into());
    yard.answer(&answers);
    let call = ["walk", "apart/job.toml", "--answers", "answers.toml", "--procedures", "yard/procedures"];
    yard.bench.run(&call).expect(0);
    for (name, place) in [("job.toml", "yard/jobs/van-1/job.toml"), ("record", "yard/jobs/van-1/record")] {
        std::fs::rename(apart.join(name), yard.bench.path(place)).unwrap();
    }
    yard.gate().expect(1).says("more: --all)");
    let ended = yard.bench.run(&["shop", "gate", "van-1", "--shop", "yard", "--all"]);
    ended.expect(1);
    // Wrapped at 80 columns: the words are compared without the breaks.
    let told = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Ash Thorn is not on the list",
        "M2: calibration was due on 2020-10-01",
        "this release is not signed",
        "Robin Alder (installer) may not sign off",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    let found = yard.bench.run(&["shop", "gate", "van-1", "--shop", "yard", "--json"]);
    let found: serde_json::Value = serde_json::from_str(&found.out).unwrap();
    assert_eq!((&found["may_leave"], found["reasons"].as_array().unwrap().len() > 3), (&false.into(), true));
}

#[test]
fn rules_that_came_later_and_a_job_that_was_changed_keep_it_here() {
    let yard = Yard::begun();
    yard.walk().expect(0);
    yard.job(&format!("{}\n{M1}# longer now\n", small_job::JOB));
    yard.gate().expect(1).says("is not the job that was worked by");
    yard.job(&format!("{}\n{M1}", small_job::JOB));
    yard.gate().expect(0);
    yard.says(&format!("{SHOP}\n[limit]\nlevel = \"full\"\n"));
    yard.gate().expect(1).says("asks for full at least");
    // A key that is the shop's no longer.
    yard.says(&SHOP.replace("key = \"keys/robin.pub\"", "key = \"keys/stranger.pub\""));
    yard.gate().expect(1).says("not the key of Robin Alder");
}
