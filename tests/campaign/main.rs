//! The fault campaign: the program killed at any change that it makes to the disk, disks that are full, cut writes short or
//! fail to sync, power cuts that lose or reorder what was not synced, and two programs at one record. Nothing that was
//! acknowledged is lost, and no record is left that the same call does not make good.
//!
//! `cargo test --test campaign -- --nocapture` tries a few moments of each kind and prints the counts;
//! `RIGPROOF_CAMPAIGN=1000 cargo test --test campaign -- --nocapture` tries a thousand. The layer between the program and
//! the file system is `shim.c`; it needs a C compiler, as the program itself does.
#![cfg(target_os = "linux")]
#![allow(missing_docs, reason = "tests speak through their names")]

#[path = "../common/mod.rs"]
mod common;
mod disk;
mod trace;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::LazyLock;

use common::yard::Yard;
use common::{Dice, complete, events};
use disk::Disk;
use serde_json::Value;
use trace::Entry;

/// How many moments of each kind are tried.
fn moments(usual: usize) -> usize {
    std::env::var("RIGPROOF_CAMPAIGN").ok().and_then(|count| count.parse().ok()).unwrap_or(usual)
}

/// The layer, built once.
static SHIM: LazyLock<PathBuf> = LazyLock::new(|| {
    let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/campaign/shim.c");
    let built = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("shim-{}.so", std::process::id()));
    let compiler = std::env::var("CC").unwrap_or_else(|_| "cc".to_owned());
    let ended = Command::new(compiler).args(["-shared", "-fPIC", "-O1", "-o"]).arg(&built).arg(source).status();
    assert!(ended.expect("the layer needs a C compiler").success());
    built
});

/// A walk in a shop under the layer.
struct Bout {
    yard: Yard,
    trace: PathBuf,
}

impl Bout {
    fn begin() -> Self {
        let yard = Yard::begun();
        // A ledger that is there is kept up.
        yard.bench.run(&["ledger", "open", "--shop", "yard"]).expect(0);
        // Outside what is watched.
        let trace = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!(
            "trace-{}-{:?}",
            std::process::id(),
            std::thread::current().id()
        ));
        Self { yard, trace }
    }

    /// The walk to its end, or to what the fault makes of it.
    fn walk(&self, fault: &str) -> (Output, Vec<Entry>) {
        let _ = std::fs::remove_file(&self.trace);
        let mut command = self.command();
        command.env("LD_PRELOAD", &*SHIM).env("SHIM_TRACE", &self.trace).env("SHIM_FAULT", fault);
        command.env("SHIM_ROOT", self.yard.bench.path("").canonicalize().unwrap());
        let output = command.output().unwrap();
        (output, trace::read(&self.trace))
    }

    fn command(&self) -> Command {
        self.yard.bench.command(&["walk", "yard/jobs/van-1/job.toml", "--answers", "answers.toml"])
    }

    fn journal(&self) -> Vec<u8> {
        std::fs::read(self.yard.record().join("journal.jsonl")).unwrap_or_default()
    }

    /// The same call makes the record good, and nothing that was told is lost.
    #[track_caller]
    fn is_made_good(&self, told: &str, before: &[u8], undisturbed: &[Value], place: &str) {
        let ended = self.yard.walk();
        assert_eq!(ended.code, Some(0), "{place}: {ended:?}");
        let journal = self.journal();
        assert!(journal.starts_with(before), "{place}: a line that was on the disk is gone");
        keeps_what_was_told(&journal, told, place);
        assert!(story(&journal) == undisturbed, "{place}: another story");
        for call in [&["verify", "yard/jobs/van-1/record"][..], &["ledger", "open", "--shop", "yard"]] {
            let ended = self.yard.bench.run(call);
            assert_eq!(ended.code, Some(0), "{place}: {call:?}: {ended:?}");
        }
        let ended = self.yard.gate();
        assert_eq!(ended.code, Some(0), "{place}: {ended:?}");
    }
}

impl Drop for Bout {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.trace);
    }
}

/// What happened, without the notes about torn lines, and without the signature of a release: it is over times, too.
fn story(journal: &[u8]) -> Vec<Value> {
    let told = events(complete(journal)).into_iter().filter(|event| event["kind"] != "recovered");
    let same = |mut event: Value| {
        if event["kind"] == "released" {
            event["signature"]["signature"].take();
        }
        event
    };
    told.map(same).collect()
}

/// What the program told until a change, or in all.
fn told(trace: &[Entry]) -> String {
    let texts = trace.iter().filter_map(|entry| match entry {
        Entry::Told { text } => Some(text.as_str()),
        _ => None,
    });
    texts.collect()
}

/// A reading that the program acknowledged is in the journal.
#[track_caller]
fn keeps_what_was_told(journal: &[u8], told: &str, place: &str) {
    let events = events(complete(journal));
    for line in told.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
        let Some((step, typed)) = line.split_once(" -> ").and_then(|(before, _)| before.split_once(": ")) else {
            continue;
        };
        let kept = events.iter().any(|event| event["step"] == step && event["reading"]["typed"] == typed);
        assert!(kept, "{place}: `{}` was acknowledged and is lost", line.trim());
    }
}

/// What the program was at, change by change, by the name that each is about.
fn phases(trace: &[Entry]) -> Vec<&'static str> {
    let mut names: BTreeMap<u64, &str> = BTreeMap::new();
    let mut phases: Vec<&'static str> = Vec::new();
    for entry in trace {
        let path = match entry {
            Entry::Told { .. } => continue,
            Entry::Create { number, path } | Entry::Folder { number, path } => {
                names.insert(*number, path);
                path
            }
            Entry::Remove { path } => path,
            Entry::Rename { to, .. } | Entry::Link { to, .. } => to.as_str(),
            Entry::Write { number, .. } | Entry::Cut { number, .. } | Entry::Sync { number } => {
                names.get(number).copied().unwrap_or_default()
            }
        };
        let is = |part: &str| path.contains(part);
        phases.push(match phases.last() {
            _ if is("ledger.sqlite") => "indexing",
            _ if is("/record/report/") => "reporting",
            _ if is("/record/seal/") => "sealing",
            _ if is("/record/journal.jsonl.new") || is("/record/procedures/") => "beginning",
            _ if is("/record/journal.jsonl") => "walking",
            // A folder that is synced: for what was done in it before.
            Some(before) => before,
            None => "beginning",
        });
    }
    phases
}

/// An undisturbed walk: its changes, and its story.
fn undisturbed() -> (Vec<Entry>, Vec<Value>) {
    let bout = Bout::begin();
    let (output, trace) = bout.walk("none 0");
    assert!(output.status.success(), "{output:?}");
    let story = story(&bout.journal());
    assert!(told(&trace).contains(" -> "), "nothing was acknowledged: {}", told(&trace));
    (trace, story)
}

fn changes(trace: &[Entry]) -> usize {
    trace.iter().filter(|entry| entry.is_change()).count()
}

const KINDS: [&str; 5] = ["beginning", "walking", "sealing", "reporting", "indexing"];

#[derive(Default)]
struct Counts(BTreeMap<&'static str, usize>);

impl Counts {
    fn add(&mut self, what: &'static str) {
        *self.0.entry(what).or_default() += 1;
    }

    fn print(&self, title: &str) {
        let each: Vec<String> = self.0.iter().map(|(what, count)| format!("{count} {what}")).collect();
        println!("{title}: {}", each.join(", "));
    }
}

#[test]
fn a_kill_at_any_change_loses_nothing_and_the_same_call_makes_it_good() {
    let (whole, undisturbed) = undisturbed();
    let last = changes(&whole);
    let phases = phases(&whole);
    let mut dice = Dice(1);
    let mut counts = Counts::default();
    let all = moments(25);
    for number in 0..all {
        let bout = Bout::begin();
        // Each kind of work in its turn: most of the changes are made when a record is begun.
        let kind = KINDS[number % KINDS.len()];
        let own: Vec<usize> = (1..=last).filter(|change| phases[change - 1] == kind).collect();
        let first = own[dice.below(own.len())];
        let side = if dice.below(2) == 0 { "before" } else { "after" };
        let place = format!("killed {side} change {first} of {last}");
        let (output, killed) = bout.walk(&format!("{side} {first}"));
        assert_eq!(std::os::unix::process::ExitStatusExt::signal(&output.status), Some(9), "{place}: {output:?}");
        counts.add(kind);
        let mut said = told(&killed);
        let mut before = complete(&bout.journal()).to_owned();
        // Half of them are killed once more on the way on.
        if dice.below(2) == 0 {
            let again = 1 + dice.below(last);
            let (output, killed) = bout.walk(&format!("{side} {again}"));
            if std::os::unix::process::ExitStatusExt::signal(&output.status) == Some(9) {
                counts.add("a second time");
            }
            said += &told(&killed);
            let after = complete(&bout.journal()).to_owned();
            assert!(after.starts_with(&before), "{place}, then {again}: going on lost a line");
            before = after;
        }
        bout.is_made_good(&said, &before, &undisturbed, &place);
    }
    counts.print(&format!("{all} walks killed at one of {last} changes"));
}

/// Faults that the program sees: it says so and ends, or goes on where it can; nothing is lost.
fn is_told_and_made_good(seed: u64, usual: usize, fault: &'static str, last: usize, undisturbed: &[Value]) {
    let mut dice = Dice(seed);
    let mut counts = Counts::default();
    let all = moments(usual);
    for number in 0..all {
        let bout = Bout::begin();
        let at = 1 + (number * last / all + dice.below(last / all + 1)).min(last - 1);
        let place = format!("{fault} {at} of {last}");
        let (output, trace) = bout.walk(&format!("{fault} {at}"));
        let words = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!words.contains("panicked"), "{place}: {words}");
        match output.status.code() {
            Some(0) => counts.add("went on to the end"),
            Some(2) => {
                counts.add("ended and said why");
                let why = ["No space left", "Input/output error", "disk is full", "disk I/O error"];
                assert!(why.iter().any(|why| words.contains(why)), "{place}: {words}");
            }
            other => panic!("{place}: ended with {other:?}: {words}"),
        }
        let before = complete(&bout.journal()).to_owned();
        bout.is_made_good(&told(&trace), &before, undisturbed, &place);
    }
    counts.print(&format!("{all} walks with the fault `{fault}`"));
    assert!(counts.0.contains_key("ended and said why"));
}

#[test]
fn a_full_disk_is_told_and_nothing_is_lost() {
    let (whole, undisturbed) = undisturbed();
    is_told_and_made_good(2, 8, "full", changes(&whole), &undisturbed);
}

#[test]
fn a_write_that_is_cut_short_is_told_and_nothing_is_lost() {
    let (whole, undisturbed) = undisturbed();
    let writes = whole.iter().filter(|entry| matches!(entry, Entry::Write { .. })).count();
    is_told_and_made_good(3, 8, "short", writes, &undisturbed);
}

#[test]
fn a_sync_that_fails_is_told_and_nothing_is_lost() {
    let (whole, undisturbed) = undisturbed();
    let syncs = whole.iter().filter(|entry| matches!(entry, Entry::Sync { .. })).count();
    is_told_and_made_good(4, 8, "sync", syncs, &undisturbed);
}

#[test]
fn a_power_cut_that_drops_and_reorders_what_was_not_synced_loses_nothing_that_was_told() {
    let mut dice = Dice(5);
    let (all, each) = (moments(25), 25);
    let mut counts = Counts::default();
    let mut undisturbed_story = None;
    let mut tried = 0;
    while tried < all {
        let bout = Bout::begin();
        let root = bout.yard.bench.path("").canonicalize().unwrap();
        let mut begun = Disk::of(&root);
        let (output, trace) = bout.walk("none 0");
        assert!(output.status.success(), "{output:?}");
        let undisturbed = undisturbed_story.get_or_insert_with(|| story(&bout.journal()));
        // Several cuts of one walk: each disk is what it may have been at that change.
        let mut cuts: Vec<usize> = (0..each.min(all - tried)).map(|_| dice.below(trace.len() + 1)).collect();
        cuts.sort_unstable();
        let mut applied = 0;
        for cut in cuts {
            trace[applied..cut].iter().for_each(|entry| begun.apply(entry));
            applied = cut;
            begun.cut_power(&root, &mut dice);
            let place = format!("power cut {tried} at change {cut} of {}", trace.len());
            let begins =
                if bout.yard.record().join("journal.jsonl").exists() { "a record lay there" } else { "none yet" };
            counts.add(begins);
            bout.is_made_good(&told(&trace[..cut]), b"", undisturbed, &place);
            tried += 1;
        }
    }
    counts.print(&format!("{all} power cuts"));
    assert!(counts.0.contains_key("a record lay there"));
}

#[test]
fn of_two_programs_at_one_record_one_works_and_the_other_says_so() {
    let (_, undisturbed) = undisturbed();
    let mut counts = Counts::default();
    let all = moments(10);
    for number in 0..all {
        let bout = Bout::begin();
        let spawn = || bout.command().stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        let both = [spawn(), spawn()].map(|walk| walk.wait_with_output().unwrap());
        let mut ends: Vec<Option<i32>> = both.iter().map(|output| output.status.code()).collect();
        ends.sort_unstable();
        let words = both.each_ref().map(|output| String::from_utf8_lossy(&output.stderr).into_owned());
        match ends[..] {
            // The second came when the first was through.
            [Some(0), Some(0)] => counts.add("one after the other"),
            [Some(0), Some(2)] => {
                counts.add("one refused");
                assert!(words.iter().any(|words| words.contains("in use by another")), "{number}: {words:?}");
            }
            _ => panic!("{number}: {ends:?}: {words:?}"),
        }
        bout.is_made_good("", b"", &undisturbed, &format!("two programs, {number}"));
    }
    counts.print(&format!("{all} times two programs at one record"));
    assert!(counts.0.contains_key("one refused"));
}
