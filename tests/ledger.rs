//! The ledger: kept up or made anew it holds the same, and what it answers is what was counted by hand.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::path::Path;

use common::engines::{assert_same, in_sqlite};
use common::yard::Yard;
use common::year::{Fate, Made, OFF_FROM, PEOPLE, Year};
use common::{Bench, Ended};
use rigproof::ledger::{Done, Ledger};
use serde_json::Value;

const SEED: u64 = 9;

fn update(ledger: &mut Ledger) -> Done {
    ledger.update(&mut |_, _| ()).unwrap()
}

fn kept_up(root: &Path) -> Ledger {
    let mut ledger = Ledger::open(root).unwrap();
    update(&mut ledger);
    ledger
}

/// A ledger that is made anew, in memory of nothing, holds of a folder what the one there holds.
#[track_caller]
fn assert_as_made_anew(root: &Path) {
    kept_up(root);
    let kept = in_sqlite(root);
    update(&mut Ledger::make(root).unwrap());
    assert_same(&kept, &in_sqlite(root), "made anew");
}

/// A bench with a shop of so many records.
fn shop(records: usize) -> (Bench, Vec<Made>) {
    let bench = Bench::tiny();
    let mut year = Year::begin(&bench.path("shop"), records, SEED);
    year.go_on(records);
    let made = year.made().to_vec();
    (bench, made)
}

fn ask(bench: &Bench, words: &[&str]) -> (Ended, Vec<Value>) {
    let mut call = vec!["ledger"];
    call.extend(words);
    call.extend(["--shop", "shop", "--json"]);
    let ended = bench.run(&call);
    let answer: Value = serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {ended:?}"));
    let rows = answer["rows"].as_array().unwrap().clone();
    (ended, rows)
}

fn count(made: &[Made], fits: impl Fn(&Made) -> bool) -> usize {
    made.iter().filter(|own| fits(own)).count()
}

#[test]
fn a_ledger_that_is_kept_up_holds_what_one_made_anew_holds() {
    let bench = Bench::tiny();
    let root = bench.path("shop");
    let mut year = Year::begin(&root, 24, SEED);
    loop {
        let more = year.go_on(5);
        kept_up(&root);
        if !more {
            break;
        }
    }
    let mut ledger = Ledger::open(&root).unwrap();
    assert_eq!(update(&mut ledger), Done { records: 24, ..Done::default() }, "nothing has changed");
    drop(ledger);
    assert_as_made_anew(&root);

    // One vanishes, one is moved, one is copied, one loses the end of its last line, one is forged, one is no record.
    let jobs = root.join("jobs");
    std::fs::remove_dir_all(jobs.join("van-00003")).unwrap();
    std::fs::rename(jobs.join("van-00004"), jobs.join("other-name")).unwrap();
    copy(&jobs.join("van-00005"), &jobs.join("a-copy"));
    let journal = jobs.join("van-00006/record/journal.jsonl");
    let text = std::fs::read_to_string(&journal).unwrap();
    std::fs::write(&journal, &text[..text.len() - 9]).unwrap();
    let journal = jobs.join("van-00007/record/journal.jsonl");
    let text = std::fs::read_to_string(&journal).unwrap();
    std::fs::write(&journal, text.replacen("5.3 N", "5.4 N", 1)).unwrap();
    std::fs::create_dir_all(jobs.join("van-00098/record")).unwrap();
    std::fs::write(jobs.join("van-00098/record/journal.jsonl"), "not a journal\n").unwrap();
    let done = update(&mut Ledger::open(&root).unwrap());
    assert_eq!((done.records, done.gone, done.copies), (25, 2, 1), "{done:?}");
    assert_as_made_anew(&root);
    // The record is the copy that comes first by name; once that is gone it is the other one again.
    std::fs::remove_dir_all(jobs.join("a-copy")).unwrap();
    let done = update(&mut Ledger::open(&root).unwrap());
    assert_eq!((done.records, done.gone, done.copies), (24, 1, 0), "{done:?}");
    assert_as_made_anew(&root);
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let to = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
}

#[test]
fn a_walk_and_a_signature_in_a_shop_keep_its_ledger_up() {
    let yard = Yard::begun();
    yard.walk().expect(0);
    // Nobody asked for a ledger yet, and none is made.
    assert!(!yard.bench.path("yard/ledger.sqlite").exists());
    let (bench, call) = (&yard.bench, ["ledger", "yield", "--by", "record", "--as-is", "--csv", "--shop", "yard"]);
    bench.run(&["ledger", "update", "--shop", "yard"]).expect(0).says("records 1, read 1");
    std::fs::create_dir(bench.path("yard/jobs/van-2")).unwrap();
    std::fs::copy(bench.path("yard/jobs/van-1/job.toml"), bench.path("yard/jobs/van-2/job.toml")).unwrap();
    assert!(!bench.run(&call).out.contains("van-2"));
    bench.run(&["walk", "yard/jobs/van-2/job.toml", "--answers", "answers.toml"]).expect(0);
    assert!(bench.run(&call).out.contains("jobs/van-2/record"), "{}", bench.run(&call).out);
    bench.run(&["ledger", "update", "--shop", "yard"]).expect(0).says("records 2, read 0");
    let sign =
        ["sign", "yard/jobs/van-2/record", "--name", "Robin Alder", "--role", "lead", "--statement", "seen again"];
    bench.run(&[&sign[..], &["--key", "robin"]].concat()).expect(0);
    bench.run(&["ledger", "update", "--shop", "yard"]).expect(0).says("records 2, read 0");
    // A ledger that cannot be written stops no work.
    std::fs::remove_file(bench.path("yard/ledger.sqlite")).unwrap();
    std::fs::create_dir(bench.path("yard/ledger.sqlite")).unwrap();
    bench.run(&[&sign[..], &["--key", "robin"]].concat()).expect(0);
}

#[test]
fn open_jobs_are_listed_with_where_each_stands() {
    let (bench, made) = shop(30);
    let (ended, rows) = ask(&bench, &["open"]);
    ended.expect(0);
    let open: Vec<&str> = made.iter().filter(|own| own.fate == Fate::Open).map(|own| own.folder.as_str()).collect();
    assert!(!open.is_empty(), "the seed makes no open job");
    let mut told: Vec<&str> = rows.iter().map(|row| row["record"].as_str().unwrap()).collect();
    told.sort_unstable();
    assert_eq!(told, open);
    assert!(rows.iter().all(|row| row["stands_at"] == "fuse/F1/release"), "{rows:?}");
    // A record that somebody forged is not finished either.
    let journal = bench.path("shop").join(&made[0].folder).join("journal.jsonl");
    let text = std::fs::read_to_string(&journal).unwrap();
    std::fs::write(&journal, text.replacen("Work lamp", "Work lamb", 1)).unwrap();
    let table = bench.run(&["ledger", "open", "--shop", "shop"]);
    table.expect(0).says("one of the two was");
    assert!(table.out.lines().all(|line| line.chars().count() <= 80), "{}", table.out);
}

#[test]
fn yield_and_pareto_are_what_was_counted_by_hand() {
    let (bench, made) = shop(40);
    let loose = |own: &Made| matches!(own.fate, Fate::Reworked | Fate::Left);
    let (_, rows) = ask(&bench, &["yield", "--by", "step"]);
    let torque = rows.iter().find(|row| row["step"] == "ground/*/torque").unwrap();
    assert_eq!(torque["answers"], made.len());
    assert_eq!(torque["not"], count(&made, loose));
    let good = (made.len() - count(&made, loose)) as f64 / made.len() as f64;
    assert!((torque["yield"].as_f64().unwrap() - good).abs() < 1e-12);

    let (_, rows) = ask(&bench, &["yield", "--by", "person"]);
    for person in PEOPLE {
        let row = rows.iter().find(|row| row["person"] == person).unwrap();
        assert_eq!(row["not"], count(&made, |own| loose(own) && own.person == person), "{person}");
    }
    let (_, rows) = ask(&bench, &["pareto", "nonconformities"]);
    let expected = (count(&made, |own| own.fate == Fate::Reworked), count(&made, |own| own.fate == Fate::Left));
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(
        (rows[0]["mended"].as_u64(), rows[0]["left_as_it_is"].as_u64()),
        (Some(expected.0 as u64), Some(expected.1 as u64))
    );
    assert!(expected.0 > 0 && expected.1 > 0, "the seed makes none of one kind");
    // Before the first day there was nothing.
    let (_, rows) = ask(&bench, &["pareto", "nonconformities", "--until", "2026-01-01"]);
    assert_eq!(rows, [] as [Value; 0]);
    bench.run(&["ledger", "yield", "--shop", "shop", "--since", "soon"]).expect(2).says("this is no day");
}

#[test]
fn what_an_instrument_touched_is_traced_back_with_what_would_not_conform() {
    let (bench, made) = shop(40);
    let since = Year::date(OFF_FROM);
    let touched = |own: &&Made| own.meter == "M2" && own.day >= OFF_FROM;
    let (ended, rows) = ask(&bench, &["touched", "M2", "--since", &since]);
    ended.expect(0);
    let mut told: Vec<&str> = rows.iter().map(|row| row["record"].as_str().unwrap()).collect();
    told.sort_unstable();
    let expected: Vec<&str> = made.iter().filter(touched).map(|own| own.folder.as_str()).collect();
    assert_eq!(told, expected);
    // The number on it does as well as its name.
    assert_eq!(ask(&bench, &["touched", "serial-M2", "--since", &since]).1.len(), expected.len());
    assert_eq!(ask(&bench, &["touched", "crimper-2"]).1.len(), count(&made, |own| own.tool == "crimper-2"));

    // Had it shown 8 % too much, some batteries would have been below 12.0 V less what the meter may be off by.
    let (ended, rows) = ask(&bench, &["touched", "M2", "--since", &since, "--error", "8 %"]);
    ended.expect(1);
    let limit = lower_limit(&bench, "prepare/job/rest-voltage");
    assert!((11.8..12.0).contains(&limit), "{limit}");
    let low = |own: &Made| own.rest / 1.08 < limit;
    let lowered = count(&made, |own| touched(&own) && low(own));
    assert!(lowered > 0 && lowered < expected.len(), "{lowered} of {}", expected.len());
    let turned = rows.iter().filter(|row| row["would_not_conform"].as_u64() > Some(0)).count();
    assert_eq!(turned, lowered);
    ask(&bench, &["touched", "M2", "--error", "0.001 V"]).0.expect(0);
    bench.run(&["ledger", "touched", "M2", "--shop", "shop", "--error", "much"]).expect(2).says("2.5 %");
    bench.run(&["ledger", "touched", "M7", "--shop", "shop"]).expect(0).says("no record has a reading");
}

/// The least limit that was applied at a step, as the journals say it.
fn lower_limit(bench: &Bench, step: &str) -> f64 {
    let journal = std::fs::read(bench.path("shop/jobs/van-00039/record/journal.jsonl")).unwrap();
    let read = common::events(&journal).into_iter().find(|event| event["step"] == step).unwrap();
    read["judgement"]["limits"][0]["value"].as_f64().unwrap_or_else(|| panic!("{read}"))
}

#[test]
fn what_is_overdue_and_how_long_the_work_took_is_told() {
    let (bench, made) = shop(20);
    let (ended, rows) = ask(&bench, &["due"]);
    ended.expect(1);
    let again = rows.iter().filter(|row| row["what"] == "re-check").count();
    // The year lies behind us but for its last weeks; nobody came back.
    let begun_before = |own: &&Made| own.fate != Fate::Open && Year::date(own.day + 40) < today();
    assert!(again >= made.iter().filter(begun_before).count(), "{rows:?}");
    let meter = rows.iter().find(|row| row["which"] == "M2").unwrap();
    assert_eq!((&meter["what"], &meter["due"]), (&"instrument".into(), &"2026-06-30".into()));
    assert!(!rows.iter().any(|row| row["which"] == "M1"));

    let (_, rows) = ask(&bench, &["times", "--by", "procedure"]);
    let of = |name: &str| rows.iter().find(|row| row["procedure"] == name).unwrap().clone();
    assert_eq!(of("ground")["records"], made.len());
    let pauses: i64 = rows.iter().map(|row| row["pauses"].as_i64().unwrap()).sum();
    assert_eq!(pauses, 0, "whoever goes on later comes on duty first, and that is no pause of an operation");
    let all = of("ground")["all_min"].as_f64().unwrap();
    assert!(all >= made.len() as f64 && all <= 12.0 * made.len() as f64, "{all} minutes");
    let csv = bench.run(&["ledger", "times", "--shop", "shop", "--csv"]);
    assert_eq!(csv.out.lines().next(), Some("procedure,records,all_min,median_min,most_min,pauses"));
}

fn today() -> String {
    rigproof::record::day_of(jiff::Timestamp::now()).to_string()
}

#[test]
fn a_broken_ledger_is_made_anew_and_none_is_said() {
    let (bench, made) = shop(3);
    bench.run(&["ledger", "open", "--shop", "shop", "--as-is"]).expect(2).says("holds no ledger");
    std::fs::write(bench.path("shop/ledger.sqlite"), "this is no database, and never was one".repeat(40)).unwrap();
    bench.run(&["ledger", "update", "--shop", "shop"]).expect(0).says(&format!("read {}", made.len()));
    bench.run(&["ledger", "update", "--shop", "shop"]).expect(0).says("read 0");
    bench.run(&["ledger", "rebuild", "--shop", "shop"]).expect(0).says(&format!("read {}", made.len()));
}
