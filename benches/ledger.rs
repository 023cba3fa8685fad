//! Speed of the ledger over 10,000 records: made from nothing, and kept up when one is added; beside `sha256sum` over the same
//! journals, in the same run: nobody can index what was not read.
//!
//! `cargo bench --bench ledger` prints all of it, and fails where a mark is missed: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

#[path = "../tests/common/mod.rs"]
mod common;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use common::year::Year;
use rigproof::ledger::Ledger;

const RECORDS: usize = 10_000;
const RUNS: usize = 3;
/// How much longer than its peer it may take: made from nothing, and with one added.
const MARKS: (f64, f64) = (20.0, 1.0);

fn timed(work: impl FnOnce()) -> Duration {
    let begin = Instant::now();
    work();
    begin.elapsed()
}

/// All journals below a folder, hashed by a stock tool.
fn peer(root: &Path) -> Duration {
    timed(|| {
        let command = "find jobs -name journal.jsonl -print0 | xargs -0 sha256sum";
        let mut stock = Command::new("sh");
        stock.args(["-c", command]).current_dir(root).stdout(Stdio::null());
        assert!(stock.status().unwrap().success());
    })
}

fn best(times: impl Iterator<Item = Duration>) -> Duration {
    times.min().unwrap()
}

fn main() {
    // Where memory holds files, the disk of this machine has no say.
    let memory = Path::new("/dev/shm");
    let place = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
    let folder = tempfile::TempDir::new_in(place).unwrap();
    let root = folder.path();
    let mut year = Year::begin(root, RECORDS + RUNS, 1);
    year.go_on(RECORDS);
    let stock = best((0..RUNS).map(|_| peer(root)));
    let whole = best((0..RUNS).map(|_| {
        let mut ledger = Ledger::make(root).unwrap();
        timed(|| assert_eq!(ledger.update(&mut |_, _| ()).unwrap().read, RECORDS))
    }));
    let added = best((0..RUNS).map(|_| {
        year.go_on(1);
        timed(|| assert_eq!(Ledger::open(root).unwrap().update(&mut |_, _| ()).unwrap().read, 1))
    }));
    let size = std::fs::metadata(root.join("ledger.sqlite")).unwrap().len();
    let ratio = |time: Duration| time.as_secs_f64() / stock.as_secs_f64();
    println!("sha256sum over {RECORDS} journals  {:8.3} s", stock.as_secs_f64());
    println!("ledger made from nothing         {:8.3} s, {:6.2} times as long", whole.as_secs_f64(), ratio(whole));
    println!("ledger with one record added     {:8.3} s, {:6.2} times as long", added.as_secs_f64(), ratio(added));
    println!("size of the ledger               {:8.1} MB", size as f64 / 1e6);
    assert!(ratio(whole) < MARKS.0 && ratio(added) < MARKS.1, "the marks are {MARKS:?}");
}
