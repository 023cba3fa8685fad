//! A walk in a shop keeps the rules of the shop, and says why and what can be done where it does not go on.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::yard::{M1, SHOP, Yard};
use common::{events, small_job};

/// The events of van-1.
fn noted(yard: &Yard) -> Vec<serde_json::Value> {
    events(&std::fs::read(yard.record().join("journal.jsonl")).unwrap_or_default())
}

#[test]
fn a_walk_in_a_shop_goes_by_its_procedures_and_names_it_in_the_record() {
    let yard = Yard::begun();
    yard.walk().expect(0);
    let shops: Vec<_> = noted(&yard).into_iter().filter(|event| event["kind"] == "in-shop").collect();
    assert_eq!(shops.len(), 1);
    assert_eq!(shops[0]["name"], "Orchard yard");
    assert_eq!(shops[0]["sha256"], rigproof::record::sha256_hex(SHOP.as_bytes()));
    // The small procedures of the shop, and not the long ones of the program.
    assert!(noted(&yard)[0]["steps"].as_u64().unwrap() < 20);
    yard.bench.run(&["verify", "yard/jobs/van-1/record"]).expect(0);
}

#[test]
fn other_procedures_than_those_of_the_shop_are_refused() {
    let yard = Yard::begun();
    std::fs::create_dir(yard.bench.path("other")).unwrap();
    let call = ["walk", "yard/jobs/van-1/job.toml", "--answers", "answers.toml", "--procedures", "other"];
    yard.bench.run(&call).expect(2).says("goes by the procedures of the shop").says("leave --procedures away");
    assert!(!yard.record().exists());
}

#[test]
fn a_person_without_the_role_is_refused_with_the_reason_and_the_way_out() {
    let cases = [
        ("Sam Rowan", "lead", "Sam Rowan has not the role lead", "Take one of these roles"),
        (
            "Ash Thorn",
            "installer",
            "Ash Thorn is not on the list",
            "Robin Alder (installer, lead), Sam Rowan (installer)",
        ),
        ("Jo Birch", "second", "Jo Birch (second) may not work", "add \"work\" to `may` in [role.second]"),
    ];
    for (name, role, reason, way_out) in cases {
        let yard = Yard::begun();
        let mut answers = Yard::good_answers();
        answers.table("person").insert("name".into(), name.into());
        answers.table("person").insert("role".into(), role.into());
        yard.answer(&answers).walk().expect(2).says(reason).says(way_out);
        assert!(!noted(&yard).iter().any(|event| event["kind"] == "on-duty"), "{name}");
    }
}

#[test]
fn an_instrument_whose_calibration_is_over_takes_no_reading() {
    let yard = Yard::begun();
    // The job was begun while the meter was good: its own table says nothing else.
    let two = format!("{}\n{M1}[meter.M2]\nclass = \"good\"\n", small_job::JOB);
    yard.job(&two).says(&SHOP.replace("2020-10-01", "2098-10-01"));
    let list = Yard::good_answers().lists();
    let (_, typed) = list.iter().find(|(step, _)| step == "prepare/job/rest-voltage").unwrap();
    yard.answer(&Yard::good_answers().without("answer", "prepare/job/rest-voltage")).walk().expect(2);
    yard.says(SHOP);
    let with_m2 = Yard::good_answers().with("prepare/job/rest-voltage", &[&format!("{} @M2", typed[0])]);
    let ended = yard.answer(&with_m2).walk();
    ended.expect(2).says("M2: calibration was due on 2020-10-01").says("Use M1 (due 2099-03-31)");
    assert!(!noted(&yard).iter().any(|event| event["kind"] == "read"));
    yard.answer(&Yard::good_answers()).walk().expect(0);
    // Each state of the shop's file that the work went by is named.
    assert_eq!(noted(&yard).iter().filter(|event| event["kind"] == "in-shop").count(), 2);
}

#[test]
fn a_job_that_names_an_expired_foreign_or_other_instrument_is_not_begun() {
    let cases = [
        ("[meter.M2]\nclass = \"good\"\n", "M2: calibration was due on 2020-10-01"),
        ("[meter.M7]\nclass = \"good\"\n", "has no instrument M7"),
        ("[meter.M1]\nclass = \"mid\"\nserial = \"9\"\n", "serial 9 there, 0417 in shop.toml"),
    ];
    for (meter, reason) in cases {
        let yard = Yard::begun();
        yard.job(&format!("{}\n{meter}", small_job::JOB));
        yard.walk().expect(2).says("does not begin this job").says(reason);
        assert!(!yard.record().exists(), "{meter}");
    }
}

#[test]
fn limits_of_the_shop_hold_for_every_job() {
    let yard = Yard::begun();
    yard.says(&format!("{SHOP}\n[limit]\nlevel = \"full\"\nacceptance = \"guarded\"\n"));
    let ended = yard.walk();
    ended.expect(2).says("asks for full at least").says("level = \"full\"").says("rule = \"guarded\"");
    assert!(!yard.record().exists());
}

#[test]
fn a_hold_point_is_released_by_who_may_and_with_their_own_key() {
    let release = "fuse/F1/release";
    let cases: [(&str, Option<&str>, &str); 3] = [
        ("Sam Rowan", None, "Sam Rowan (installer) may not release a hold point"),
        ("Jo Birch", None, "this release is not signed with it"),
        ("Jo Birch", Some("stranger"), "not the key of Jo Birch"),
    ];
    for (by, key, reason) in cases {
        let yard = Yard::begun();
        let mut answers = Yard::good_answers();
        let own = answers.table("release")[release].as_table_mut().unwrap();
        own.insert("by".into(), by.into());
        own.remove("key");
        if let Some(key) = key {
            own.insert("key".into(), key.into());
        }
        yard.answer(&answers).walk().expect(2).says(reason);
        assert!(!noted(&yard).iter().any(|event| event["kind"] == "released"), "{by} {key:?}");
        // Nothing before it is lost, and with the right key the work goes on.
        yard.answer(&Yard::good_answers()).walk().expect(0);
    }
}

#[test]
fn only_who_may_signs_off_and_only_with_the_key_that_the_shop_knows() {
    let cases = [("installer", "robin", "may not sign off"), ("lead", "stranger", "not the key of Robin Alder")];
    for (role, key, reason) in cases {
        let yard = Yard::begun();
        let mut answers = Yard::good_answers();
        answers.table("sign").insert("role".into(), role.into());
        answers.table("sign").insert("key".into(), key.into());
        yard.answer(&answers).walk().expect(2).says(reason);
        assert!(!noted(&yard).iter().any(|event| event["kind"] == "signed-off"));
        yard.answer(&Yard::good_answers()).walk().expect(0);
        // A second signature is held to the same rules.
        let sign = [
            "sign",
            "yard/jobs/van-1/record",
            "--name",
            "Sam Rowan",
            "--role",
            "installer",
            "--statement",
            "I looked at it.",
            "--key",
            "stranger",
        ];
        yard.bench.run(&sign).expect(2).says("Sam Rowan (installer) may not sign off");
    }
}

#[test]
fn a_shop_is_begun_with_one_call_and_checked_with_one() {
    let yard = Yard::begun();
    let bench = &yard.bench;
    bench.run(&["shop", "begin", "barn"]).expect(2).says("who begins the shop?");
    bench.run(&["shop", "begin", "barn", "--person", "Ash Thorn"]).expect(0).says("Ash Thorn may do everything in it");
    bench.run(&["shop", "begin", "barn", "--person", "Ash Thorn"]).expect(2).says("is there already");
    let checked = bench.run(&["shop", "check", "--shop", "barn"]);
    checked.expect(0).says("work, release, concession, sign").says("nothing is amiss");
    let checked = bench.run(&["shop", "check", "--shop", "yard"]);
    checked.expect(1).says("M2: calibration was due on 2020-10-01; no reading is taken with it.");
    assert!(checked.out.lines().all(|line| line.chars().count() <= 80), "{}", checked.out);
    let found: serde_json::Value =
        serde_json::from_str(&bench.run(&["shop", "check", "--shop", "yard", "--json"]).out).unwrap();
    assert_eq!(
        (&found["people"][1]["may"], &found["instruments"][0]["serial"]),
        (&serde_json::json!(["release"]), &"0417".into())
    );
    bench.run(&["shop", "check"]).expect(2).says("--shop DIR");
    yard.says("format = 1\nname = \"Yard\"\n[role.lead]\nmay = [\"sing\"]\n");
    bench.run(&["shop", "check", "--shop", "yard"]).expect(2).says("did you mean \"sign\"?");
}
