//! The floors of `src/`: each folder may use only those below it, and the pure core does no input or output.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::path::{Path, PathBuf};

/// From the ground up; the order is that of `src/lib.rs`.
const FLOORS: [&str; 22] = [
    "quantity",
    "document",
    "handbook",
    "statistics",
    "job",
    "shop",
    "circuit",
    "design",
    "aim",
    "energy",
    "materials",
    "brief",
    "kit",
    "procedure",
    "plan",
    "judgement",
    "diagnosis",
    "walk",
    "record",
    "ledger",
    "report",
    "cli",
];

/// The floors that take no file, clock, terminal or random source.
const PURE: usize = 18;

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

#[test]
fn every_folder_of_the_source_is_a_floor() {
    let mut folders: Vec<String> = std::fs::read_dir(source())
        .unwrap()
        .map(|e| e.unwrap())
        .filter(|e| e.path().is_dir())
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .collect();
    folders.sort();
    let mut floors = FLOORS.map(str::to_owned).to_vec();
    floors.sort();
    assert_eq!(folders, floors);
}

#[test]
fn dependencies_point_down_only() {
    let mut arrows = 0;
    for (level, floor) in FLOORS.iter().enumerate() {
        for file in files(&source().join(floor)) {
            let text = std::fs::read_to_string(&file).unwrap();
            for (number, line) in text.lines().enumerate() {
                for (other_level, other) in FLOORS.iter().enumerate() {
                    let used =
                        line.contains(&format!("crate::{other}::")) || line.contains(&format!("crate::{other};"));
                    if used {
                        arrows += 1;
                        assert!(
                            other_level <= level,
                            "{}:{}: {floor} may not use {other}, which stands above it",
                            file.display(),
                            number + 1
                        );
                    }
                }
                assert!(
                    !line.contains("use crate::{"),
                    "{}:{}: name one floor a line, so that this test can read it",
                    file.display(),
                    number + 1
                );
            }
        }
    }
    assert!(arrows > 50, "only {arrows} arrows were found: does this test still read the code?");
}

#[test]
fn the_pure_core_does_no_input_or_output() {
    let forbidden = [
        "std::fs",
        "std::net",
        "std::process",
        "std::env::",
        "std::io",
        "SystemTime",
        "Instant::",
        "println!",
        "eprintln!",
        "jiff::",
        "OsRng",
        "thread_rng",
        "rand::rng",
        "dialoguer",
        "indicatif",
        "console::",
    ];
    let mut read = 0;
    for floor in &FLOORS[..PURE] {
        for file in files(&source().join(floor)) {
            let text = std::fs::read_to_string(&file).unwrap();
            read += 1;
            let code: Vec<&str> = text.lines().take_while(|line| !line.contains("#[cfg(test)]")).collect();
            for word in forbidden {
                let line = code.iter().position(|line| {
                    // A calendar has no clock: its days, and nothing else of that crate.
                    let line = line.split("//").next().unwrap_or("").replace("jiff::civil::Date", "");
                    line.contains(word)
                });
                assert!(line.is_none(), "{}:{}: `{word}` in the pure core", file.display(), line.unwrap_or(0) + 1);
            }
        }
    }
    assert!(read > 30, "only {read} files were read");
}
