//! How far this program agrees with what others wrote, and the page that says so: `tests/outside/README.md`.
//!
//! `.ci/refresh-outside` makes the page anew: it runs all checks with `RIGPROOF_AGREEMENT=FILE`, into which each comparison of two
//! numbers is written, and then this file's own test with the same setting. Without it the test looks whether the page has
//! every file, its sources and its checks.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

const FILE: &str = "RIGPROOF_AGREEMENT";
const PAGE: &str = "tests/outside/README.md";

/// Holds a number of this program against a published one, and notes how far they differ.
#[track_caller]
pub fn holds(place: &str, ours: f64, published: f64, allowed: f64, what: &str) {
    let apart = (ours - published).abs();
    if let Some(file) = std::env::var_os(FILE) {
        let line = format!("{}\t{published:e}\t{apart:e}\t{allowed:e}\n", place.rsplit("::").next().unwrap());
        let file = std::fs::OpenOptions::new().create(true).append(true).open(file);
        file.unwrap().write_all(line.as_bytes()).unwrap();
    }
    assert!(apart <= allowed, "{what}: {ours} here, {published} published, {allowed} apart at most");
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of checks: what it says of itself, and the names of its tests.
struct Checks {
    name: String,
    title: String,
    sources: String,
    tests: Vec<String>,
}

fn all_checks() -> Vec<Checks> {
    let files = std::fs::read_dir(root().join("tests/outside")).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> = files.filter(|path| path.extension().is_some_and(|ending| ending == "rs")).collect();
    files.sort();
    let checks = files.iter().filter_map(|path| {
        let name = path.file_stem()?.to_str()?.to_owned();
        let text = std::fs::read_to_string(path).unwrap();
        let tests = text.split("#[test]").skip(1);
        let tests: Vec<String> =
            tests.filter_map(|after| Some(after.split_once("fn ")?.1.split_once('(')?.0.replace('_', " "))).collect();
        let own = ["main", "agreement"].contains(&name.as_str());
        if own || tests.is_empty() {
            return None;
        }
        let head: Vec<&str> = text.lines().map_while(|line| line.strip_prefix("//!")).map(str::trim).collect();
        let head = head.join(" ");
        let (title, sources) = head.split_once(". ").map_or((head.as_str(), ""), |(title, rest)| (title, rest));
        let sources = sources.trim().trim_start_matches("Sources:").trim_start_matches("Source:").trim();
        Some(Checks { name, title: title.trim_end_matches('.').to_owned(), sources: sources.to_owned(), tests })
    });
    checks.collect()
}

/// How far the numbers of a file agree, in words.
fn in_words(rows: &[(f64, f64, f64)]) -> String {
    let share = |(published, apart, _): &(f64, f64, f64)| apart / published.abs();
    let relative: Vec<f64> = rows.iter().filter(|row| row.0 != 0.0).map(share).collect();
    let exact = relative.iter().filter(|share| **share <= 1e-6).count();
    let used = rows.iter().filter(|row| row.2 > 0.0).map(|row| row.1 / row.2).fold(0.0, f64::max);
    format!(
        "{} numbers compared; {exact} agree to a millionth of their value; the farthest takes {:.0} % of what the rounding or the \
         method of its source allows",
        rows.len(),
        used * 100.0
    )
}

/// The page, with how far each file agrees where that is known.
fn page(agree: &BTreeMap<String, String>) -> String {
    let mut text = String::from(
        "# Checks against what nobody here wrote\n\nMade by the tests: `.ci/refresh-outside`. Each file below holds this program \
         against published tables, worked\nexamples, or programs of others; the tests name the source beside each number.\n",
    );
    for checks in all_checks() {
        let _ = write!(text, "\n## `{}.rs`: {}\n\n", checks.name, checks.title);
        let _ =
            writeln!(text, "Sources: {}\n", if checks.sources.is_empty() { "named in it" } else { &checks.sources });
        if let Some(words) = agree.get(&checks.name) {
            let _ = writeln!(text, "Agreement: {words}.\n");
        }
        for test in &checks.tests {
            let _ = writeln!(text, "- {test}");
        }
    }
    text
}

/// What the page says of the agreement, file by file.
fn told(page: &str) -> BTreeMap<String, String> {
    let mut told = BTreeMap::new();
    let mut name = String::new();
    for line in page.lines() {
        if let Some(rest) = line.strip_prefix("## `") {
            rest.split('.').next().unwrap_or_default().clone_into(&mut name);
        } else if let Some(words) = line.strip_prefix("Agreement: ") {
            told.insert(name.clone(), words.trim_end_matches('.').to_owned());
        }
    }
    told
}

#[test]
fn the_page_names_every_check_with_its_sources() {
    let path = root().join(PAGE);
    let stored = std::fs::read_to_string(&path).unwrap_or_default();
    let written = std::env::var_os(FILE).map(|file| std::fs::read_to_string(file).unwrap_or_default());
    let Some(written) = written.filter(|_| std::env::var_os("RIGPROOF_WRITE_PAGE").is_some()) else {
        assert!(stored == page(&told(&stored)), "{PAGE} is not what the checks say: run .ci/refresh-outside");
        assert!(told(&stored).len() > 8, "{PAGE} does not say how far we agree");
        return;
    };
    let mut rows: BTreeMap<String, Vec<(f64, f64, f64)>> = BTreeMap::new();
    for line in written.lines() {
        let [name, published, apart, allowed] = line.split('\t').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let numbers = [published, apart, allowed].map(|number| number.parse().unwrap());
        rows.entry(name.to_owned()).or_default().push((numbers[0], numbers[1], numbers[2]));
    }
    let agree = rows.into_iter().map(|(name, rows)| (name, in_words(&rows))).collect();
    std::fs::write(&path, page(&agree)).unwrap();
}
