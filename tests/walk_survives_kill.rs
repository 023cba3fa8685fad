//! `kill -9` at any moment of a walk loses nothing that was acknowledged.
#![cfg(unix)]

mod common;

use std::fs::File;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use common::{Bench, Dice, complete, events};
use serde_json::Value;

const SEED: u64 = 9;
const RECORDS: usize = 10;
const KILLS_EACH: usize = 5;

/// What happened, without what differs from run to run: keys, and the notes about torn lines.
fn story(journal: &[u8]) -> Vec<Value> {
    let told = events(journal).into_iter().filter(|event| event["kind"] != "recovered");
    let same = |mut event: Value| {
        if event["kind"] == "signed-off" {
            event["key"].take();
        }
        event
    };
    told.map(same).collect()
}

fn read(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap_or_default()
}

/// When a walk is killed: so long after something has come about.
struct Moment {
    after: After,
    time: Duration,
}

enum After {
    Start,
    /// The journal has reached a length.
    Length(usize),
    /// The work is signed off: the seal is being made.
    SignOff,
}

impl Moment {
    fn has_come(&self, journal: &[u8]) -> bool {
        match self.after {
            After::Start => true,
            After::Length(length) => journal.len() >= length,
            After::SignOff => journal.windows(12).any(|text| text == b"\"signed-off\""),
        }
    }
}

/// What was there when a walk was killed.
struct Killed {
    /// The complete lines of the journal right before.
    seen: Vec<u8>,
    /// What the walk had told to be saved.
    told: String,
    /// Whether the kill came before the walk ended by itself.
    landed: bool,
    /// Whether it came after the record was begun and before it was sealed.
    amid: bool,
}

fn walk_and_kill(bench: &Bench, moment: &Moment) -> Killed {
    let told = bench.path("told");
    let mut command = bench.command(&bench.walk_arguments());
    command.stdout(Stdio::null()).stderr(File::create(&told).unwrap());
    let started = Instant::now();
    let mut walk = command.spawn().unwrap();
    while !moment.has_come(&read(&bench.journal())) && walk.try_wait().unwrap().is_none() {
        assert!(started.elapsed() < Duration::from_mins(1), "the walk stands still");
        std::thread::sleep(Duration::from_micros(200));
    }
    std::thread::sleep(moment.time);
    let seen = complete(&read(&bench.journal())).to_owned();
    walk.kill().unwrap();
    let landed = walk.wait().unwrap().signal() == Some(9);
    let amid = landed && !seen.is_empty() && !bench.record().join("seal/SHA256SUMS.sig").exists();
    Killed { landed, amid, seen, told: String::from_utf8_lossy(&read(&told)).into_owned() }
}

/// A reading that the program acknowledged is in the journal.
fn keeps_what_was_told(journal: &[u8], told: &str) {
    let events = events(journal);
    for line in complete(told.as_bytes()).split(|byte| *byte == b'\n') {
        let line = String::from_utf8_lossy(line);
        let Some((step, typed)) = line.split_once(" -> ").and_then(|(before, _)| before.split_once(": ")) else {
            continue;
        };
        let kept = events.iter().any(|event| event["step"] == step && event["reading"]["typed"] == typed);
        assert!(kept, "`{line}` was acknowledged and is lost");
    }
}

#[test]
fn a_walk_that_is_killed_fifty_times_loses_nothing_and_ends_as_if_it_never_was() {
    println!("seed {SEED}");
    let began = Instant::now();
    let undisturbed = Bench::demo().walked();
    let time = usize::try_from(began.elapsed().as_micros()).unwrap();
    let whole = read(&undisturbed.journal());
    let mut dice = Dice(SEED);
    let mut amid = 0;
    for record in 0..RECORDS {
        let bench = Bench::demo();
        let mut goals: Vec<usize> = (0..KILLS_EACH).map(|_| dice.below(whole.len() * 9 / 10)).collect();
        goals.sort_unstable();
        let mut before: Vec<u8> = Vec::new();
        for (number, goal) in goals.into_iter().enumerate() {
            // The first one early, the making of the record included.
            let (after, within) = if number == 0 { (After::Start, time / 3) } else { (After::Length(goal), 3000) };
            let moment = Moment { after, time: Duration::from_micros(dice.below(within) as u64) };
            let killed = walk_and_kill(&bench, &moment);
            amid += usize::from(killed.amid);
            let after = read(&bench.journal());
            let place = format!("record {record}, kill {number}");
            assert!(killed.seen.starts_with(&before), "{place}: the walk lost a line of the one before");
            assert!(after.starts_with(&killed.seen), "{place}: a line is gone");
            keeps_what_was_told(&after, &killed.told);
            before = complete(&after).to_owned();
        }
        bench.walk().expect(0);
        let journal = read(&bench.journal());
        assert!(journal.starts_with(&before), "record {record}: going on lost a line");
        assert_eq!(story(&journal), story(&whole), "record {record}");
        bench.verify().expect(0).says("intact");
    }
    println!("{amid} of {} kills came amid the walk", RECORDS * KILLS_EACH);
    assert!(amid >= 20, "only {amid} kills came amid the walk");
}

/// Kills a walk of a small job again and again at moments of one kind; each time the same call makes it good.
fn is_made_good_after(seed: u64, after: impl Fn() -> After) {
    println!("seed {seed}");
    let bench = Bench::tiny();
    let began = Instant::now();
    bench.walk().expect(0);
    let range = usize::try_from(began.elapsed().as_micros() / 2).unwrap();
    let mut dice = Dice(seed);
    let mut landed = 0;
    for number in 0..15 {
        let bench = Bench::tiny();
        let time = Duration::from_micros(dice.below(range) as u64);
        landed += usize::from(walk_and_kill(&bench, &Moment { after: after(), time }).landed);
        let ended = bench.walk();
        assert_eq!(ended.code, Some(0), "kill {number}, after {time:?}: {ended:?}");
        let ended = bench.verify();
        assert_eq!(ended.code, Some(0), "kill {number}, after {time:?}: {ended:?}");
    }
    assert!(landed >= 3, "only {landed} kills landed");
}

#[test]
fn a_kill_while_the_record_is_begun_is_made_good_by_the_same_call() {
    is_made_good_after(2, || After::Start);
}

#[test]
fn a_kill_while_the_seal_is_made_is_made_good_by_the_same_call() {
    is_made_good_after(4, || After::SignOff);
}

#[test]
fn a_second_walk_does_not_write_to_a_record_in_use_and_a_killed_one_does_not_keep_it() {
    let bench = Bench::demo();
    let mut first = bench.command(&bench.walk_arguments()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let started = Instant::now();
    while !bench.journal().exists() {
        assert!(started.elapsed() < Duration::from_mins(1), "the walk does not begin");
        std::thread::sleep(Duration::from_micros(200));
    }
    // Stopped where it stands, so that it holds the record.
    let stopped = Command::new("kill").args(["-STOP", &first.id().to_string()]).status().unwrap();
    let held = read(&bench.journal());
    let second = bench.walk();
    let after = read(&bench.journal());
    first.kill().unwrap();
    first.wait().unwrap();
    assert!(stopped.success());
    assert!(after == held, "the second walk wrote to the record");
    second.expect(2).says("in use by another walk");
    bench.walk().expect(0);
    bench.verify().expect(0);
}
