//! A power cut or a kill can tear the last line of a journal. The next call sets the piece aside and goes on.

mod common;

use std::path::{Path, PathBuf};

use common::{Answers, Bench, Dice, complete, events, files, small_job};
use rigproof::record::sha256_hex;

fn tiny() -> Bench {
    let bench = Bench::tiny();
    bench.answer_with(&small_job::answers(&small_job::tiny_library()).unsigned());
    bench
}

fn torn_files(record: &Path) -> Vec<PathBuf> {
    let names = std::fs::read_dir(record).unwrap().map(|entry| entry.unwrap().path());
    let mut torn: Vec<PathBuf> =
        names.filter(|path| path.file_name().unwrap().to_str().unwrap().starts_with("journal.torn-")).collect();
    torn.sort();
    torn
}

/// Cuts the journal to a length, walks on, and checks that only the torn piece moved.
#[track_caller]
fn goes_on_after_a_cut(bench: &Bench, whole: &[u8], length: usize) {
    let cut = &whole[..length];
    std::fs::write(bench.journal(), cut).unwrap();
    let ended = bench.walk();
    assert_eq!(ended.code, Some(0), "cut to {length} of {} bytes: {ended:?}", whole.len());
    let after = std::fs::read(bench.journal()).unwrap();
    let kept = complete(cut);
    assert!(after.starts_with(kept), "cut to {length}: a complete line is gone");
    assert_eq!(complete(&after), after, "cut to {length}: the journal ends in half a line");
    let piece = &cut[kept.len()..];
    let torn = torn_files(&bench.record());
    let recovered: Vec<_> = events(&after).into_iter().filter(|event| event["kind"] == "recovered").collect();
    if piece.is_empty() {
        assert!(torn.is_empty() && recovered.is_empty(), "cut to {length}: nothing was torn");
    } else {
        ended.says("torn");
        assert_eq!(torn.len(), 1, "cut to {length}");
        assert_eq!(std::fs::read(&torn[0]).unwrap(), piece, "cut to {length}: the piece is not kept as it was");
        assert_eq!(recovered.len(), 1, "cut to {length}: the record does not say that it was recovered");
        assert_eq!(recovered[0]["sha256"], sha256_hex(piece), "cut to {length}");
        std::fs::remove_file(&torn[0]).unwrap();
    }
}

fn after_first_line(journal: &[u8]) -> usize {
    journal.iter().position(|byte| *byte == b'\n').unwrap() + 1
}

/// Where the last two lines begin.
fn last_two_lines(journal: &[u8]) -> usize {
    let ends: Vec<usize> = (0..journal.len()).filter(|at| journal[*at] == b'\n').collect();
    ends[ends.len() - 3] + 1
}

#[test]
fn a_cut_at_any_byte_of_the_last_two_lines_loses_nothing_else() {
    let bench = tiny().walked();
    let whole = std::fs::read(bench.journal()).unwrap();
    for length in last_two_lines(&whole)..=whole.len() {
        goes_on_after_a_cut(&bench, &whole, length);
    }
}

#[test]
fn a_cut_at_any_other_place_loses_nothing_else() {
    let bench = tiny().walked();
    let whole = std::fs::read(bench.journal()).unwrap();
    let (first, last) = (after_first_line(&whole), last_two_lines(&whole));
    let mut dice = Dice(3);
    for _ in 0..200 {
        goes_on_after_a_cut(&bench, &whole, first + dice.below(last - first));
    }
}

#[test]
fn a_cut_in_the_long_journal_of_the_demo_loses_nothing_else() {
    let bench = Bench::demo();
    bench.answer_with(&Answers::demo().unsigned());
    let bench = bench.walked();
    let whole = std::fs::read(bench.journal()).unwrap();
    let first = after_first_line(&whole);
    let mut dice = Dice(33);
    for _ in 0..12 {
        goes_on_after_a_cut(&bench, &whole, first + dice.below(whole.len() - first));
    }
}

#[test]
fn a_record_that_was_torn_many_times_keeps_every_piece_and_is_sealed_with_them() {
    let bench = tiny().walked();
    for times in 1..=3 {
        let mut torn = std::fs::read(bench.journal()).unwrap();
        torn.extend(format!("{{\"at\":\"torn {times}").bytes());
        std::fs::write(bench.journal(), torn).unwrap();
        bench.walk().expect(0).says("torn");
        assert_eq!(torn_files(&bench.record()).len(), times);
    }
    bench.answer_with(&small_job::answers(&small_job::tiny_library()));
    bench.walk().expect(0);
    bench.verify().expect(0);
    let sums = std::fs::read_to_string(bench.record().join("seal/SHA256SUMS")).unwrap();
    assert_eq!(sums.matches("journal.torn-").count(), 3, "{sums}");
}

/// The name of the journal appears only with its first line on the disk: no crash leaves less.
#[test]
fn a_journal_without_its_first_line_is_refused_and_left_as_it_is() {
    let bench = tiny().walked();
    let whole = std::fs::read(bench.journal()).unwrap();
    for length in [1, 100, after_first_line(&whole) - 1] {
        std::fs::write(bench.journal(), &whole[..length]).unwrap();
        let before = files(&bench.record());
        bench.walk().expect(2);
        assert!(files(&bench.record()) == before, "cut to {length}: refused, and yet changed");
    }
}

#[test]
fn a_torn_record_with_a_changed_job_is_refused_and_left_as_it_is() {
    let bench = tiny().walked();
    let mut torn = std::fs::read(bench.journal()).unwrap();
    torn.truncate(torn.len() - 5);
    std::fs::write(bench.journal(), torn).unwrap();
    std::fs::write(bench.record().join("job.toml"), small_job::JOB.replace("5 A", "7.5 A")).unwrap();
    let before = files(&bench.record());
    bench.walk().expect(2).says("job.toml");
    assert!(files(&bench.record()) == before, "refused, and yet changed");
}

fn sealed() -> Bench {
    Bench::tiny().walked()
}

#[test]
fn a_sealed_record_is_not_written_to_again() {
    let bench = sealed();
    let before = files(&bench.record());
    bench.walk().expect(0);
    assert!(files(&bench.record()) == before);
}

#[test]
fn bytes_behind_a_sealed_journal_are_not_taken_for_a_power_cut() {
    let bench = sealed();
    let mut journal = std::fs::read(bench.journal()).unwrap();
    journal.extend(b"{\"at\":");
    std::fs::write(bench.journal(), journal).unwrap();
    let before = files(&bench.record());
    let ended = bench.walk();
    assert!(files(&bench.record()) == before, "the walk wrote to a sealed record: {ended:?}");
    assert_ne!(ended.code, Some(0), "{ended:?}");
}

/// A folder as a kill leaves it: `name` was being written beside its real name.
fn goes_on_beside(bench: &Bench, name: &str) {
    let leftover = bench.record().join(name);
    std::fs::create_dir_all(leftover.parent().unwrap()).unwrap();
    std::fs::write(&leftover, "half a f").unwrap();
    bench.walk().expect(0);
    bench.verify().expect(0);
    assert!(!leftover.exists(), "{name} is left over");
}

#[test]
fn a_record_whose_beginning_was_broken_off_is_begun_again() {
    goes_on_beside(&Bench::tiny(), "journal.jsonl.new");
    goes_on_beside(&Bench::tiny(), "procedures/ground.toml.new");
}

#[test]
fn a_record_broken_off_while_its_job_was_written_is_begun_again() {
    goes_on_beside(&Bench::tiny(), "job.toml.new");
}

/// Signed off, not sealed yet.
fn unsealed() -> Bench {
    let bench = sealed();
    std::fs::remove_file(bench.record().join("seal/SHA256SUMS")).unwrap();
    std::fs::remove_file(bench.record().join("seal/SHA256SUMS.sig")).unwrap();
    bench
}

#[test]
fn a_seal_that_was_broken_off_before_its_hashes_is_made_again() {
    for name in ["report/report.html.new", "VERIFY.txt.new", "seal/signer.pub.new", "seal/allowed_signers.new"] {
        goes_on_beside(&unsealed(), name);
    }
}

#[test]
fn a_seal_that_was_broken_off_at_its_hashes_is_made_again() {
    goes_on_beside(&unsealed(), "seal/SHA256SUMS.new");
}

#[test]
fn a_seal_that_was_broken_off_at_its_signature_is_made_again() {
    goes_on_beside(&unsealed(), "seal/SHA256SUMS.sig.new");
}

/// A limit on the size of files stands in for a full disk: every write beyond it fails.
#[test]
fn a_full_disk_stops_the_walk_and_loses_nothing_that_was_acknowledged() {
    let bench = Bench::one_lamp();
    // 512-byte blocks: the frozen files fit, the journal does not.
    let script = format!("trap '' XFSZ; ulimit -f 60; exec {} {}", common::PROGRAM, bench.walk_arguments().join(" "));
    let mut shell = std::process::Command::new("sh");
    shell.args(["-c", &script]).envs(bench.surroundings()).current_dir(bench.path(""));
    let output = shell.stdin(std::process::Stdio::null()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("could not write"), "{said}");
    let before = bench.events();
    assert!(before.len() > 10, "{} entries", before.len());
    bench.walk().expect(0);
    assert_eq!(bench.events()[..before.len()], before, "what was acknowledged is still there");
    bench.verify().expect(0);
}
