//! Speed of verifying a record with 1 GB of pictures, beside `sha256sum` on the same files, in the same run.
//!
//! `cargo bench --bench verify` prints both and their ratio, and fails where the mark is missed: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rigproof::plan::StepKey;
use rigproof::record::{Opened, Record, sha256_hex};
use rigproof::walk::Event;

const PICTURES: usize = 512;
const SIZE: usize = 2 << 20;
const RUNS: usize = 5;
/// How much longer than its peer it may take.
const MARK: f64 = 1.25;

fn program(folder: &Path, arguments: &[&str]) {
    let done = Command::new(env!("CARGO_BIN_EXE_rigproof"))
        .args(arguments)
        .current_dir(folder)
        .env("XDG_CONFIG_HOME", folder.join("config"))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert!(done.status.code() != Some(101), "{}", String::from_utf8_lossy(&done.stderr));
}

/// The sample job, walked to its end, with pictures in its record, sealed.
fn record(folder: &Path) {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/orchard-flatbed");
    let answers = std::fs::read_to_string(sample.join("answers.toml")).unwrap();
    std::fs::copy(sample.join("job.toml"), folder.join("job.toml")).unwrap();
    let unsigned = answers.split("[sign]").next().unwrap();
    std::fs::write(folder.join("answers.toml"), unsigned).unwrap();
    let walk = ["walk", "job.toml", "--answers", "answers.toml"];
    program(folder, &walk);
    {
        let Opened { mut record, mut walk, .. } = Record::open(&folder.join("record"), Timestamp::now()).unwrap();
        let evidence = folder.join("record/evidence");
        std::fs::create_dir_all(&evidence).unwrap();
        let mut random = Pcg64::seed_from_u64(7);
        let mut bytes = vec![0; SIZE];
        let step = walk.plan().steps[0].key.as_str().to_owned();
        for n in 0..PICTURES {
            random.fill(&mut bytes[..]);
            let sha256 = sha256_hex(&bytes);
            let file = format!("evidence/{}.jpg", &sha256[..16]);
            std::fs::write(folder.join("record").join(&file), &bytes).unwrap();
            let (step, original) = (StepKey::from_text(&step), format!("{n}.jpg"));
            let event = Event::Photographed { step, file, original_sha256: sha256.clone(), sha256, original };
            record.write(&mut walk, Timestamp::now(), &event).unwrap();
        }
    }
    std::fs::write(folder.join("answers.toml"), answers).unwrap();
    program(folder, &walk);
    assert!(folder.join("record/seal/SHA256SUMS.sig").exists(), "the record was not sealed");
}

fn time(command: &mut Command) -> Duration {
    let begun = Instant::now();
    let status = command.stdout(Stdio::null()).stdin(Stdio::null()).status().unwrap();
    let took = begun.elapsed();
    assert!(status.success(), "{command:?}");
    took
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    record(folder.path());
    let record = folder.path().join("record");
    let mut ours = Vec::new();
    let mut peer = Vec::new();
    for run in 0..=RUNS {
        let mut verify = Command::new(env!("CARGO_BIN_EXE_rigproof"));
        verify.args(["verify", "record"]).current_dir(folder.path());
        let verify = time(&mut verify);
        let mut sums = Command::new("sha256sum");
        sums.args(["--check", "--quiet", "seal/SHA256SUMS"]).current_dir(&record);
        let sums = time(&mut sums);
        // The first run warms the cache of both.
        if run > 0 {
            ours.push(verify);
            peer.push(sums);
        }
    }
    ours.sort();
    peer.sort();
    let (ours, peer) = (ours[RUNS / 2], peer[RUNS / 2]);
    let ratio = ours.as_secs_f64() / peer.as_secs_f64();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    println!("{} MB in {PICTURES} pictures, {threads} threads, median of {RUNS}", (PICTURES * SIZE) / 1_000_000);
    println!("verify     {:.3} s", ours.as_secs_f64());
    println!("sha256sum  {:.3} s", peer.as_secs_f64());
    println!("ratio      {ratio:.2} (mark: at most {MARK})");
    assert!(ratio <= MARK, "verify takes {ratio:.2} times what sha256sum takes");
}
