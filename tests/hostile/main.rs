//! Hostile input: every reader of text or bytes that a stranger may have written is given mutations of what it knows. It
//! reads or refuses, in time and without a panic.
//!
//! `cargo test --test hostile` tries each reader for a few seconds, on the same mutations on every machine.
//! `RIGPROOF_MUTATIONS=1000000 cargo test --release --test hostile -- --nocapture` tries so many each, and
//! `RIGPROOF_SEED=7` other ones. What breaks a reader is written beside the test's other files, and belongs into
//! `tests/hostile/corpus/READER`: everything there is tried first.
#![allow(missing_docs, reason = "tests speak through their names")]

#[path = "../common/mod.rs"]
mod common;
mod mutate;

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use common::{Bench, Dice, small_job};
use jiff::Timestamp;
use mutate::Mutator;
use rigproof::brief::Brief;
use rigproof::cli::check_answers;
use rigproof::design;
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::kit::Kit;
use rigproof::plan::Plan;
use rigproof::procedure::Library;
use rigproof::quantity::{
    ConductorSize, Current, Day, Dimension, Length, Reading, Resistance, Share, Slope, Voltage, parse_toleranced,
};
use rigproof::record::{Entry, KnownSigners, Reader, Record, small_picture, verify};
use rigproof::shop::Shop;

/// How long each reader is tried where nobody says how often.
const USUAL: Duration = Duration::from_secs(2);
/// Longer than this one input may not take.
const PATIENCE: Duration = Duration::from_secs(5);

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// What was stored for a reader, and what the project has of its kind.
fn corpus(reader: &str, more: impl IntoIterator<Item = Vec<u8>>) -> Vec<Vec<u8>> {
    let stored = std::fs::read_dir(root().join("tests/hostile/corpus").join(reader)).unwrap();
    let mut stored: Vec<PathBuf> = stored.map(|entry| entry.unwrap().path()).collect();
    stored.sort();
    stored.iter().map(|path| std::fs::read(path).unwrap()).chain(more).collect()
}

/// Gives a reader all of a corpus and mutations of it.
fn is_given(reader: &str, corpus: &[Vec<u8>], read: impl Fn(&[u8])) {
    let asked: Option<usize> = std::env::var("RIGPROOF_MUTATIONS").ok().and_then(|count| count.parse().ok());
    let seed = std::env::var("RIGPROOF_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(1);
    let mut mutator = Mutator::new(corpus, Dice(seed));
    let began = Instant::now();
    let mut tried = 0;
    let mut slowest = Duration::ZERO;
    for given in corpus {
        slowest = slowest.max(one(reader, given, &read));
    }
    while asked.map_or_else(|| began.elapsed() < USUAL, |count| tried < count) {
        let input = mutator.next();
        slowest = slowest.max(one(reader, &input, &read));
        tried += 1;
    }
    println!("{reader}: {} of the corpus and {tried} mutations, the slowest {slowest:.1?}", corpus.len());
    assert!(tried > 20, "{reader}: only {tried} mutations were tried");
}

fn one(reader: &str, input: &[u8], read: &impl Fn(&[u8])) -> Duration {
    let began = Instant::now();
    let ended = catch_unwind(AssertUnwindSafe(|| read(input)));
    let took = began.elapsed();
    if ended.is_err() || took > PATIENCE {
        let kept = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
            .join(format!("{reader}-{}", rigproof::record::sha256_hex(input)));
        std::fs::write(&kept, input).unwrap();
        panic!("{reader} broke on {} after {took:.1?}; put it into tests/hostile/corpus/{reader}", kept.display());
    }
    took
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn read(path: &str) -> Vec<u8> {
    std::fs::read(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn files_of(folder: &str, ending: &str) -> Vec<Vec<u8>> {
    let files = std::fs::read_dir(root().join(folder)).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> = files.filter(|path| path.to_str().unwrap().ends_with(ending)).collect();
    files.sort();
    files.iter().map(|path| std::fs::read(path).unwrap()).collect()
}

fn jobs() -> Vec<Vec<u8>> {
    ["reports/orchard-flatbed", "reports/market-stall-van", "reports/reversing-lamp"]
        .iter()
        .map(|folder| read(&format!("{folder}/job.toml")))
        .chain([read("src/job/every-key.toml"), small_job::JOB.as_bytes().to_vec()])
        .collect()
}

#[test]
fn a_quantity() {
    let seeds = [
        "12.6 V ± 0.2 V",
        "90 Ah",
        "-10..45 °C",
        "2.5 mm²",
        "14 AWG",
        "5 mohm ± 20 %",
        "OL",
        "310 mV",
        "12,4 V @M2",
        "1 %",
        "0.57 °",
        "5.3 N·m ± 10 %",
        "3 ft 2 in",
        "1e308 V",
        "2027-03-31",
        "-0",
        "+/-",
        "1.2.3",
        "7 1/2 in",
        "½ m",
    ];
    let corpus = corpus("quantity", seeds.map(|seed| seed.as_bytes().to_vec()));
    is_given("quantity", &corpus, |bytes| {
        let text = text(bytes);
        let within =
            |at: &std::ops::Range<usize>| assert!(at.start <= at.end && at.end <= text.len(), "{at:?} of {text:?}");
        let errors = [
            parse_toleranced::<Voltage>(&text).err(),
            parse_toleranced::<Current>(&text).err(),
            parse_toleranced::<Resistance>(&text).err(),
            parse_toleranced::<Length>(&text).err(),
            ConductorSize::parse(&text).err(),
            Slope::parse(&text).err(),
            Share::parse(&text).err(),
            Reading::parse(&text, Dimension::Voltage).err(),
            Reading::parse_in(&text, Dimension::Length, "mm").err(),
        ];
        errors.iter().flatten().for_each(|error| within(&error.at));
        let _ = (Day::parse(&text), Dimension::stated_in(&text));
    });
}

#[test]
fn a_job_a_kit_a_brief_and_a_shop() {
    let more = [read("src/kit/every-key.toml"), read("src/brief/every-wish.toml"), read("src/shop/every-key.toml")];
    let corpus = corpus("job", jobs().into_iter().chain(more));
    let kit_job = Source::new("job.toml", text(&read("src/kit/every-key-job.toml")));
    is_given("job", &corpus, |bytes| {
        let source = Source::new("job.toml", text(bytes));
        match Job::read(&source) {
            Ok(job) => drop(design::check(&job)),
            Err(problems) => assert!(!problems.render(false).is_empty()),
        }
        let _ = (Kit::read(&source, &kit_job), Brief::read(&source, None));
        let _ = Shop::read(&source, &|_| Ok("ssh-ed25519 AAAA".to_owned()));
    });
}

#[test]
fn a_procedure() {
    let corpus =
        corpus("procedure", files_of("procedures", ".toml").into_iter().chain([read("src/procedure/every-key.toml")]));
    let job = Job::read(&Source::new("job.toml", small_job::JOB)).unwrap();
    let tiny = small_job::tiny_library().sources;
    is_given("procedure", &corpus, |bytes| {
        let mut sources = tiny.clone();
        sources.push(Source::new("procedures/given.toml", text(bytes)));
        match Library::read(sources) {
            Ok(library) => drop(Plan::of(&job, &library)),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    });
}

#[test]
fn a_file_of_answers() {
    let corpus = corpus("answers", [read("src/cli/every-answer.toml"), read("reports/orchard-flatbed/answers.toml")]);
    let job = Job::read(&Source::new("job.toml", text(&read("reports/orchard-flatbed/job.toml")))).unwrap();
    let plan = Plan::of(&job, &small_job::library_of_the_program()).unwrap();
    is_given("answers", &corpus, |bytes| {
        if let Err(problems) = check_answers(&Source::new("answers.toml", text(bytes)), &plan) {
            assert!(!problems.render(false).is_empty());
        }
    });
}

#[test]
fn a_line_of_a_journal_and_a_list_of_signers() {
    let journal = read("reports/orchard-flatbed/record/journal.jsonl");
    let lines = journal.split_inclusive(|byte| *byte == b'\n').map(<[u8]>::to_vec);
    let signers = read("reports/orchard-flatbed/record/seal/allowed_signers");
    let corpus = corpus("journal", lines.chain([signers]));
    is_given("journal", &corpus, |bytes| {
        let text = text(bytes);
        if let Ok(entry) = Entry::parse(&text) {
            let _ = entry.line();
        }
        let _ = KnownSigners::read(&text);
    });
}

/// A place for a record, in memory where the machine has that.
fn place() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    let place = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
    tempfile::TempDir::new_in(place).unwrap()
}

#[test]
fn a_record_and_its_signature() {
    let bench = Bench::tiny().walked();
    let folder = place();
    let record = folder.path().join("record");
    let files = common::files(&bench.record());
    common::write_files(&record, &files);
    let names = [
        "journal.jsonl",
        "seal/SHA256SUMS.sig",
        "seal/SHA256SUMS",
        "seal/signer.pub",
        "seal/allowed_signers",
        "job.toml",
    ];
    let whole: Vec<Vec<u8>> =
        names.iter().map(|name| files.iter().find(|(own, _)| own == name).unwrap().1.clone()).collect();
    let reader = Reader { knows: KnownSigners::default(), insists: false };
    // The first byte tells which file the rest takes the place of.
    let with_number =
        |(number, bytes): (usize, &Vec<u8>)| [vec![u8::try_from(number).unwrap()], bytes.clone()].concat();
    let corpus = corpus("signature", whole.iter().enumerate().map(with_number));
    is_given("signature", &corpus, |bytes| {
        let number = usize::from(bytes.first().copied().unwrap_or(0)) % names.len();
        let path = record.join(names[number]);
        std::fs::write(&path, bytes.get(1..).unwrap_or_default()).unwrap();
        if let Ok(findings) = verify(&record, &reader, Timestamp::UNIX_EPOCH) {
            let changed = bytes.get(1..).unwrap_or_default() != whole[number].as_slice();
            assert!(!changed || findings.problems.iter().any(|says| !says.is_empty()), "{} passes", names[number]);
        }
        let _ = Record::read(&record);
        std::fs::write(&path, &whole[number]).unwrap();
    });
}

#[test]
fn a_picture() {
    let picture = image::RgbImage::from_fn(24, 16, |x, y| {
        image::Rgb([x, y, 77].map(|part| u8::try_from(part * 9 % 256).unwrap()))
    });
    let encoded = [image::ImageFormat::Jpeg, image::ImageFormat::Png].map(|format| {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    });
    let corpus = corpus("picture", encoded);
    let folder = place();
    std::fs::create_dir(folder.path().join("evidence")).unwrap();
    is_given("picture", &corpus, |bytes| {
        std::fs::write(folder.path().join("evidence/given.jpg"), bytes).unwrap();
        let _ = small_picture(folder.path(), "evidence/given.jpg", 400);
    });
}
