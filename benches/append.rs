//! Speed of an entry that is on the disk when the call comes back, beside SQLite with one row a transaction on the same disk in
//! the same run; and beside a bare write and sync, which nobody can be faster than.
//!
//! `cargo bench --bench append` prints all three and fails where the mark is missed: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::plan::Plan;
use rigproof::procedure::Library;
use rigproof::record::Record;
use rigproof::walk::{Event, Walk};

const ENTRIES: usize = 400;
/// How much longer than its peer an entry may take.
const MARK: f64 = 1.0;

/// The middle time of one entry.
fn each(mut append: impl FnMut(usize)) -> Duration {
    let mut times: Vec<Duration> = (0..ENTRIES)
        .map(|n| {
            let began = Instant::now();
            append(n);
            began.elapsed()
        })
        .collect();
    times.sort();
    times[ENTRIES / 2]
}

fn ours(folder: &Path) -> (Duration, String) {
    let job = Job::read(&Source::new("job.toml", include_str!("../reports/orchard-flatbed/job.toml"))).unwrap();
    let library = Library::read(Library::embedded_sources()).unwrap();
    let plan = Plan::of(&job, &library).unwrap();
    let step = plan.steps[0].key.clone();
    let mut walk = Walk::new(job, plan);
    let mut record =
        Record::create(&folder.join("record"), &walk, &library, (Vec::new(), None), Timestamp::now()).unwrap();
    let duty = Event::OnDuty { name: "Robin Alder".to_owned(), role: "installer".to_owned(), from_file: false };
    record.write(&mut walk, Timestamp::now(), &duty).unwrap();
    let time = each(|n| {
        let event =
            Event::Remark { step: step.clone(), text: format!("remark {n} of a bench, as long as a reading is") };
        record.write(&mut walk, Timestamp::now(), &event).unwrap();
    });
    (time, record.entries().last().unwrap().line().unwrap())
}

fn main() {
    let folder = tempfile::TempDir::new_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let place = folder.path();
    let (entry, line) = ours(place);

    let database = rusqlite::Connection::open(place.join("peer.sqlite")).unwrap();
    database.pragma_update(None, "synchronous", "FULL").unwrap();
    database.execute_batch("CREATE TABLE entry (seq INTEGER PRIMARY KEY, line TEXT NOT NULL)").unwrap();
    let mut insert = database.prepare("INSERT INTO entry VALUES (?1, ?2)").unwrap();
    let row = each(|n| assert_eq!(insert.execute(rusqlite::params![i64::try_from(n).unwrap(), line]).unwrap(), 1));

    let mut bare = std::fs::File::create(place.join("bare")).unwrap();
    let sync = each(|_| {
        bare.write_all(line.as_bytes()).unwrap();
        bare.sync_data().unwrap();
    });
    let ratio = entry.as_secs_f64() / row.as_secs_f64();
    println!(
        "an entry on the disk: {entry:.2?} here, {row:.2?} SQLite, ratio {ratio:.2} (mark {MARK}); {sync:.2?} a bare write and sync"
    );
    assert!(ratio <= MARK, "the mark is missed");
}
