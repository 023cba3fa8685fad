//! What the program is built from: each library is used, and may be handed on with it.

#![allow(missing_docs, reason = "tests speak through their names")]

use std::path::{Path, PathBuf};
use std::process::Command;

/// Licences that ask for nothing but their text and the names of the authors, or for less.
const ALLOWED: &[&str] = &[
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-1-Clause",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "0BSD",
    "BSL-1.0",
    "CC0-1.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// All code below these folders.
fn code(folders: &[&str]) -> String {
    let mut files = Vec::new();
    for folder in folders {
        rust_files(&root().join(folder), &mut files);
    }
    files.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect()
}

fn names_in(table: Option<&toml::Value>) -> Vec<String> {
    table.and_then(toml::Value::as_table).map(|table| table.keys().cloned().collect()).unwrap_or_default()
}

#[test]
fn every_library_that_is_named_is_used() {
    let manifest: toml::Table = std::fs::read_to_string(root().join("Cargo.toml")).unwrap().parse().unwrap();
    let target = manifest["target"].as_table().unwrap().values().flat_map(|own| names_in(own.get("dependencies")));
    let own: Vec<String> = names_in(manifest.get("dependencies")).into_iter().chain(target).collect();
    let (src, all) = (code(&["src"]), code(&["src", "tests", "benches"]));
    assert!(own.len() > 20);
    for (names, code) in [(own, src), (names_in(manifest.get("dev-dependencies")), all)] {
        for name in names {
            let path = format!("{}::", name.replace('-', "_"));
            assert!(code.contains(&path), "nothing uses {name}");
        }
    }
}

/// Whether an expression of licences leaves a choice that is allowed.
fn allows(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], "").replace('/', " OR ");
    let good = |name: &str| ALLOWED.contains(&name.trim());
    plain.split(" AND ").all(|part| part.split(" OR ").any(good))
}

#[test]
fn every_library_may_be_handed_on() {
    let host = Command::new("rustc").arg("-vV").output().unwrap();
    let host = String::from_utf8(host.stdout).unwrap();
    let host = host.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let mut cargo = Command::new(env!("CARGO"));
    cargo.args(["metadata", "--offline", "--locked", "--format-version", "1", "--filter-platform", host]);
    let output = cargo.current_dir(root()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 100);
    let refused: Vec<String> = packages
        .iter()
        .filter(|package| !package["license"].as_str().is_some_and(allows))
        .map(|package| format!("{} {}: {}", package["name"], package["version"], package["license"]))
        .collect();
    assert!(refused.is_empty(), "{refused:#?}");
    assert!(
        !allows("GPL-3.0-only") && !allows("MIT AND GPL-3.0-only") && allows("(MIT OR Apache-2.0) AND Unicode-3.0")
    );
    println!("{} packages", packages.len());
}
