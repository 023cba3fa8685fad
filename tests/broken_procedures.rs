//! Procedure files with one mistake each: the message names it where it stands, and the way out.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::path::{Path, PathBuf};

use common::Bench;

/// The broken files with the words that the message must hold: what is wrong, and how it is mended.
fn broken_files() -> Vec<(PathBuf, String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken_procedures");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let words = |text: &str, key: &str| {
        let line = text.lines().find_map(|line| line.strip_prefix(key));
        line.unwrap_or_else(|| panic!("no {key} in {text}")).trim().to_owned()
    };
    let with_words = |file: PathBuf| {
        let text = std::fs::read_to_string(&file).unwrap();
        (file, words(&text, "# expect:"), words(&text, "# mend:"))
    };
    files.into_iter().map(with_words).collect()
}

/// What is said, without the lines of the file that are shown in it: those hold the words as well.
fn said(message: &str) -> String {
    let shown =
        |line: &&str| !line.trim_start().split_once('|').is_some_and(|(_, shown)| shown.trim().starts_with("# "));
    message.lines().filter(shown).collect::<Vec<_>>().join("\n")
}

#[test]
fn each_broken_procedure_is_refused_with_the_mistake_and_the_mend() {
    let bench = Bench::demo();
    let files = broken_files();
    assert!(files.len() >= 20, "{} files", files.len());
    for (file, expect, mend) in files {
        let name = file.file_name().unwrap().to_str().unwrap();
        std::fs::copy(&file, bench.path(name)).unwrap();
        let ended = bench.run(&["procedures", "check", name, "--job", "job.toml"]);
        ended.expect(2);
        let said = said(&ended.err);
        assert!(said.contains(&expect), "{name}: `{expect}` is not said:\n{}", ended.err);
        assert!(said.contains(&mend), "{name}: the mend `{mend}` is not said:\n{}", ended.err);
        assert_eq!(said.matches("error: ").count(), 1, "{name} holds one mistake:\n{}", ended.err);
        assert!(said.contains(&format!("{name}:")) && said.contains('^'), "{name}: no place:\n{}", ended.err);
    }
}
