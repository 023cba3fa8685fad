//! Whatever is changed in a sealed record is found, and the file is named.

mod common;

use std::path::Path;

use common::{Bench, files, small_job, write_files};
use rigproof::record::{self, Findings, Opened, Record, SigningKey, sha256_hex};
use serde_json::Value;
use tempfile::TempDir;

type Files = Vec<(String, Vec<u8>)>;

fn sealed() -> Bench {
    Bench::tiny().walked()
}

/// A copy of a record, to be spoilt.
fn copy(files: &Files) -> TempDir {
    let folder = TempDir::new().unwrap();
    write_files(folder.path(), files);
    folder
}

fn bytes<'f>(files: &'f Files, name: &str) -> &'f [u8] {
    &files.iter().find(|(own, _)| own == name).unwrap().1
}

fn replaced(files: &Files, name: &str, with: &[u8]) -> Files {
    let mut changed = files.clone();
    with.clone_into(&mut changed.iter_mut().find(|(own, _)| own == name).unwrap().1);
    changed
}

fn findings(folder: &Path) -> Findings {
    record::verify(folder, &record::Reader::default(), jiff::Timestamp::now()).unwrap_or_else(|error| panic!("{error}"))
}

/// The trouble must be seen, name the file, and take the signature's word away.
#[track_caller]
fn noticed(folder: &Path, name: &str, what: &str) {
    let findings = findings(folder);
    assert!(!findings.intact, "{name}, {what}: taken for intact");
    assert!(findings.signed_by.is_empty(), "{name}, {what}: still said to be signed");
    let named = findings.problems.iter().any(|problem| problem.contains(name));
    assert!(named, "{name}, {what}: no problem names the file: {:?}", findings.problems);
}

#[test]
fn a_record_that_nobody_touched_is_intact_and_verifying_changes_nothing() {
    let bench = sealed();
    let before = files(&bench.record());
    let (ended, json) = bench.verify_json();
    ended.expect(0);
    assert_eq!(json["intact"], true);
    assert_eq!(json["problems"], Value::Array(Vec::new()));
    assert_eq!(json["signed_by"][0]["name"], "Robin Alder");
    bench.verify().expect(0).says("intact");
    assert_eq!(files(&bench.record()), before);
}

/// Runs a campaign on two threads, each with a copy of the record of its own.
fn on_two_threads<T: Sync>(all: &Files, trials: &[T], each: impl Fn(&Path, &T) + Sync) {
    let some = |mine: &[T]| {
        let record = copy(all);
        for trial in mine {
            each(record.path(), trial);
        }
        assert!(findings(record.path()).intact, "the campaign left its record changed");
    };
    let (one, other) = trials.split_at(trials.len() / 2);
    std::thread::scope(|threads| {
        threads.spawn(|| some(one));
        threads.spawn(|| some(other));
    });
}

/// A small record, sealed with a report of a few bytes: each of its bytes can have its turn.
fn small() -> Files {
    let bench = Bench::tiny();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()).unsigned());
    bench.walk();
    let key = SigningKey::make(&bench.path("key"), "tester").unwrap();
    let now = jiff::Timestamp::now();
    let Opened { mut record, mut walk, .. } = Record::open(&bench.record(), now).unwrap();
    record.sign_off(&mut walk, now, ("Robin Alder", "installer", "every reading is mine"), &key).unwrap();
    record.seal("Robin Alder", &key, &[("report.html".to_owned(), b"<p>It conforms.</p>\n".to_vec())]).unwrap();
    files(&bench.record())
}

#[test]
fn every_flipped_byte_of_every_file_is_noticed_and_the_file_is_named() {
    let all = small();
    let flips: Vec<(&str, usize)> =
        all.iter().flat_map(|(name, bytes)| (0..bytes.len()).map(|at| (name.as_str(), at))).collect();
    assert!(flips.len() > 20_000, "{} bytes are no record", flips.len());
    on_two_threads(&all, &flips, flip(&all));
}

#[test]
fn a_flipped_byte_anywhere_in_a_whole_report_is_noticed() {
    let all = files(sealed().record().as_path());
    let mut flips: Vec<(&str, usize)> = Vec::new();
    for (name, bytes) in all.iter().filter(|(name, _)| name.starts_with("report/")) {
        flips.extend((0..bytes.len()).step_by(bytes.len() / 200 + 1).map(|at| (name.as_str(), at)));
    }
    assert!(flips.len() > 600, "{} flips are too few to say anything", flips.len());
    on_two_threads(&all, &flips, flip(&all));
}

/// Flips one bit of a byte; each of the eight bits has its turn.
fn flip(all: &Files) -> impl Fn(&Path, &(&str, usize)) + Sync {
    move |record, &(name, at)| {
        let path = record.join(name);
        let mut changed = bytes(all, name).to_owned();
        changed[at] ^= 1 << (at % 8);
        std::fs::write(&path, &changed).unwrap();
        noticed(record, name, &format!("bit {} of byte {at} flipped", at % 8));
        std::fs::write(&path, bytes(all, name)).unwrap();
    }
}

#[test]
fn every_file_cut_at_every_length_is_noticed_and_the_file_is_named() {
    let all = small();
    let mut cuts: Vec<(&str, usize)> = Vec::new();
    for (name, bytes) in &all {
        // The many files of one kind stand for each other.
        let every = if name.starts_with("procedures/") { 13 } else { 1 };
        cuts.extend((0..bytes.len()).step_by(every).map(|at| (name.as_str(), at)));
    }
    on_two_threads(&all, &cuts, |record, &(name, length)| {
        let path = record.join(name);
        std::fs::write(&path, &bytes(&all, name)[..length]).unwrap();
        noticed(record, name, &format!("cut to {length} bytes"));
        std::fs::write(&path, bytes(&all, name)).unwrap();
    });
}

#[test]
fn a_journal_line_deleted_swapped_doubled_or_cut_is_noticed() {
    let all = files(sealed().record().as_path());
    let journal = String::from_utf8(bytes(&all, "journal.jsonl").to_owned()).unwrap();
    let lines: Vec<&str> = journal.split_inclusive('\n').collect();
    let record = copy(&all);
    let spoilt = |lines: &[&str], what: &str| {
        std::fs::write(record.path().join("journal.jsonl"), lines.concat()).unwrap();
        noticed(record.path(), "journal.jsonl", what);
    };
    for at in 0..lines.len() {
        let mut deleted = lines.clone();
        deleted.remove(at);
        spoilt(&deleted, &format!("line {} deleted", at + 1));
        let mut doubled = lines.clone();
        doubled.insert(at, lines[at]);
        spoilt(&doubled, &format!("line {} doubled", at + 1));
        let half = &lines[at][..lines[at].len() / 2];
        spoilt(&lines[..at], &format!("cut before line {}", at + 1));
        spoilt(&[&lines[..at], &[half]].concat(), &format!("cut within line {}", at + 1));
        for other in at + 1..lines.len() {
            let mut swapped = lines.clone();
            swapped.swap(at, other);
            spoilt(&swapped, &format!("lines {} and {} swapped", at + 1, other + 1));
        }
    }
}

#[test]
fn a_reading_changed_with_every_hash_after_it_made_anew_is_noticed() {
    let all = files(sealed().record().as_path());
    let journal = String::from_utf8(bytes(&all, "journal.jsonl").to_owned()).unwrap();
    let mut previous = String::new();
    let mut forged = String::new();
    for line in journal.lines() {
        let line = line.replace("every result read", "looked at nothing");
        let mut entry: Value = serde_json::from_str(&line).unwrap();
        if !previous.is_empty() {
            entry["prev"] = previous.as_str().into();
        }
        let line = serde_json_canonicalizer::to_string(&entry).unwrap() + "\n";
        previous = sha256_hex(line.as_bytes());
        forged += &line;
    }
    assert_ne!(forged, journal);
    let forged_journal = replaced(&all, "journal.jsonl", forged.as_bytes());
    noticed(copy(&forged_journal).path(), "journal.jsonl", "one statement forged, the chain made anew");

    let sums = String::from_utf8(bytes(&all, "seal/SHA256SUMS").to_owned()).unwrap();
    let sums = sums.replace(&sha256_hex(journal.as_bytes()), &sha256_hex(forged.as_bytes()));
    let forged_sums = replaced(&forged_journal, "seal/SHA256SUMS", sums.as_bytes());
    noticed(copy(&forged_sums).path(), "SHA256SUMS", "the list of hashes forged too");
}

#[test]
fn a_deleted_file_is_missed_by_its_name() {
    let all = files(sealed().record().as_path());
    let record = copy(&all);
    for (name, bytes) in all.iter().filter(|(name, _)| name != "journal.jsonl") {
        let path = record.path().join(name);
        std::fs::remove_file(&path).unwrap();
        noticed(record.path(), name, "deleted");
        std::fs::write(&path, bytes).unwrap();
    }
}

#[test]
fn a_record_without_its_journal_does_not_pass() {
    let bench = sealed();
    std::fs::remove_file(bench.journal()).unwrap();
    let ended = bench.verify();
    assert_ne!(ended.code, Some(0), "{ended:?}");
    ended.says("journal.jsonl");
}

#[test]
fn a_record_whose_seal_was_taken_off_does_not_pass() {
    let bench = sealed();
    std::fs::remove_file(bench.record().join("seal/SHA256SUMS")).unwrap();
    std::fs::remove_file(bench.record().join("seal/SHA256SUMS.sig")).unwrap();
    let (ended, json) = bench.verify_json();
    ended.expect(1);
    assert_eq!(json["signed_by"], Value::Array(Vec::new()));
    bench.verify().expect(1).says("not sealed");
}

fn added_file_is_noticed(name: &str) {
    let record = copy(&files(sealed().record().as_path()));
    write_files(record.path(), &[(name.to_owned(), b"added later".to_vec())]);
    noticed(record.path(), name, "added");
}

#[test]
fn a_file_added_to_a_folder_of_the_record_is_noticed() {
    for name in ["note.txt", "journal.torn-1", "procedures/extra.toml", "report/other.html", "evidence/photo.jpg"] {
        added_file_is_noticed(name);
    }
}

#[test]
fn a_file_added_in_a_folder_of_its_own_is_noticed() {
    added_file_is_noticed("photos/lamp.jpg");
}

#[test]
fn a_file_added_below_a_folder_of_the_record_is_noticed() {
    added_file_is_noticed("report/old/report.html");
}

/// Names and texts of a forger are no words of the program.
#[test]
fn the_name_of_an_added_file_does_not_make_it_harmless() {
    let record = copy(&files(sealed().record().as_path()));
    let known = std::fs::read_to_string(record.path().join("seal/allowed_signers")).unwrap();
    let reader = record::Reader { knows: record::KnownSigners::read(&known).unwrap(), insists: true };
    for name in ["note is not in your list of known signers", "note is not sealed"] {
        let path = record.path().join(name);
        std::fs::write(&path, "added later").unwrap();
        let findings = record::verify(record.path(), &reader, jiff::Timestamp::now()).unwrap();
        assert!(!findings.intact && findings.signed_by.is_empty(), "{name}: {findings:?}");
        std::fs::remove_file(&path).unwrap();
    }
}

#[test]
fn a_procedure_added_before_the_seal_is_noticed_and_not_walked() {
    let bench = Bench::tiny();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()).without("answer", "test/lamp/look"));
    bench.walk().expect(2);
    let extra = "format = 1\nid = \"extra\"\ntitle = \"Extra\"\nwhy = \"w\"\nfor_each = \"job\"\nafter = []\nconditions = []\n\
                 persons = []\ntools = []\nsupplies = []\nparts = []\nclose = []\n[[step]]\nid = \"more\"\ndo = \"Do more.\"\n";
    std::fs::write(bench.record().join("procedures/zz-extra.toml"), extra).unwrap();
    noticed(&bench.record(), "zz-extra.toml", "added before the seal");
    bench.walk().expect(2).says("zz-extra.toml");
}

#[test]
fn the_program_ends_with_1_and_its_json_says_not_intact() {
    let bench = sealed();
    let all = files(&bench.record());
    for name in [
        "journal.jsonl",
        "job.toml",
        "report/report.html",
        "VERIFY.txt",
        "seal/SHA256SUMS",
        "seal/SHA256SUMS.sig",
        "seal/signer.pub",
    ] {
        let mut changed = bytes(&all, name).to_owned();
        let middle = changed.len() / 2;
        changed[middle] ^= 1;
        std::fs::write(bench.record().join(name), &changed).unwrap();
        let (ended, json) = bench.verify_json();
        ended.expect(1);
        assert_eq!(json["intact"], false, "{name}");
        let problems: Vec<&str> = json["problems"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        assert!(problems.iter().any(|problem| problem.contains(name)), "{name}: {problems:?}");
        bench.verify().expect(1).says("NOT INTACT").says(name);
        write_files(&bench.record(), &all);
    }
    bench.verify().expect(0);
}

#[test]
fn a_key_from_the_list_of_known_signers_is_known() {
    let bench = sealed();
    let known = bench.path("known");
    std::fs::copy(bench.record().join("seal/allowed_signers"), &known).unwrap();
    let ended = bench.run(&["verify", "record", "--signers", "known", "--json"]);
    let json: Value = serde_json::from_str(&ended.expect(0).out).unwrap();
    assert_eq!(json["signed_by"][0]["known"], true);
}

#[test]
fn a_record_sealed_with_a_key_that_is_not_in_the_list_does_not_pass() {
    let (bench, forger) = (sealed(), sealed());
    let known = bench.record().join("seal/allowed_signers").display().to_string();
    let ended = forger.run(&["verify", "record", "--signers", &known, "--json"]);
    let json: Value = serde_json::from_str(&ended.out).unwrap();
    assert_ne!(json["signed_by"][0]["known"], true);
    ended.expect(1);
}
