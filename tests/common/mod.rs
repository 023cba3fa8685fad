//! What the tests of the program share: a bench with its own home folder, the program run on it, its journal read.
#![allow(dead_code, unreachable_pub, missing_docs)]

pub mod by_hand;
pub mod engines;
pub mod small_job;
pub mod terminal;
pub mod yard;
pub mod year;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_rigproof");

/// A file of the demo, as it lies in the repository.
pub fn demo_file(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/orchard-flatbed").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A folder with a job, its answers, a home of its own, and room for a record.
pub struct Bench {
    folder: TempDir,
    own_procedures: bool,
}

impl Bench {
    pub fn new(job: &str, answers: &Answers) -> Self {
        let bench = Self { folder: TempDir::new().unwrap(), own_procedures: false };
        std::fs::create_dir(bench.path("home")).unwrap();
        std::fs::write(bench.path("job.toml"), job).unwrap();
        bench.answer_with(answers);
        bench
    }

    pub fn demo() -> Self {
        Self::new(&demo_file("job.toml"), &Answers::demo())
    }

    /// One lamp by the procedures of the program.
    pub fn one_lamp() -> Self {
        Self::new(small_job::JOB, &small_job::answers(&small_job::library_of_the_program()))
    }

    /// One lamp by a handful of own procedures: a record of a few kilobytes.
    pub fn tiny() -> Self {
        let mut bench = Self::new(small_job::JOB, &small_job::answers(&small_job::tiny_library()));
        small_job::write_tiny_procedures(&bench.path("procedures"));
        bench.own_procedures = true;
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn record(&self) -> PathBuf {
        self.path("record")
    }

    pub fn journal(&self) -> PathBuf {
        self.record().join("journal.jsonl")
    }

    pub fn answer_with(&self, answers: &Answers) {
        std::fs::write(self.path("answers.toml"), answers.text()).unwrap();
    }

    /// What every call is given beside its arguments.
    pub fn surroundings(&self) -> [(&'static str, String); 4] {
        let home = self.path("home");
        [
            ("HOME", home.display().to_string()),
            ("XDG_CONFIG_HOME", home.join(".config").display().to_string()),
            ("TERM", "xterm-256color".to_owned()),
            ("LANG", "C.UTF-8".to_owned()),
        ]
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(arguments).envs(self.surroundings()).current_dir(self.folder.path()).stdin(Stdio::null());
        command
    }

    /// The call of a walk by answers.
    pub fn walk_arguments(&self) -> Vec<&'static str> {
        let mut arguments = vec!["walk", "job.toml", "--answers", "answers.toml"];
        if self.own_procedures {
            arguments.extend(["--procedures", "procedures"]);
        }
        arguments
    }

    pub fn run(&self, arguments: &[&str]) -> Ended {
        Ended::of(&self.command(arguments).output().unwrap())
    }

    pub fn walk(&self) -> Ended {
        self.run(&self.walk_arguments())
    }

    /// A walk that must end well.
    pub fn walked(self) -> Self {
        self.walk().expect(0);
        self
    }

    pub fn verify(&self) -> Ended {
        self.run(&["verify", "record"])
    }

    pub fn verify_json(&self) -> (Ended, Value) {
        let ended = self.run(&["verify", "record", "--json"]);
        let findings = serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {ended:?}"));
        (ended, findings)
    }

    pub fn events(&self) -> Vec<Value> {
        events(&std::fs::read(self.journal()).unwrap())
    }

    pub fn events_of(&self, kind: &str) -> Vec<Value> {
        self.events().into_iter().filter(|event| event["kind"] == kind).collect()
    }
}

/// How a call ended.
#[derive(Debug)]
pub struct Ended {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Ended {
    fn of(output: &Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    #[track_caller]
    pub fn expect(&self, code: i32) -> &Self {
        assert_eq!(self.code, Some(code), "stdout:\n{}\nstderr:\n{}", self.out, self.err);
        self
    }

    /// Words that a person must have read, wherever the lines were broken.
    #[track_caller]
    pub fn says(&self, words: &str) -> &Self {
        let told = format!("{}\n{}", self.out, self.err);
        let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(plain(&told).contains(&plain(words)), "it does not say `{words}`:\n{told}");
        self
    }
}

/// The bytes up to the last line feed.
pub fn complete(journal: &[u8]) -> &[u8] {
    let end = journal.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    &journal[..end]
}

/// The events of the complete lines of a journal.
pub fn events(journal: &[u8]) -> Vec<Value> {
    let text = std::str::from_utf8(complete(journal)).unwrap();
    text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()["event"].take()).collect()
}

/// A file of answers that can be changed before it is written.
#[derive(Debug, Clone)]
pub struct Answers(pub toml::Table);

impl Answers {
    pub fn read(text: &str) -> Self {
        Self(text.parse().unwrap())
    }

    pub fn demo() -> Self {
        Self::read(&demo_file("answers.toml"))
    }

    pub fn text(&self) -> String {
        toml::to_string(&self.0).unwrap()
    }

    pub fn table(&mut self, name: &str) -> &mut toml::Table {
        self.0.entry(name).or_insert_with(|| toml::Table::new().into()).as_table_mut().unwrap()
    }

    /// The answers to each step, first to last.
    pub fn lists(&self) -> Vec<(String, Vec<String>)> {
        let text = |value: &toml::Value| value.as_str().unwrap().to_owned();
        let list = |value: &toml::Value| match value.as_array() {
            Some(several) => several.iter().map(text).collect(),
            None => vec![text(value)],
        };
        self.0["answer"].as_table().unwrap().iter().map(|(step, value)| (step.clone(), list(value))).collect()
    }

    #[must_use]
    pub fn without(mut self, table: &str, key: &str) -> Self {
        assert!(self.table(table).remove(key).is_some(), "there is no {key} in [{table}]");
        self
    }

    #[must_use]
    pub fn without_top(mut self, key: &str) -> Self {
        assert!(self.0.remove(key).is_some(), "there is no {key}");
        self
    }

    #[must_use]
    pub fn with(mut self, step: &str, answers: &[&str]) -> Self {
        let list: Vec<toml::Value> = answers.iter().map(|text| (*text).into()).collect();
        self.table("answer").insert(step.to_owned(), list.into());
        self
    }

    /// Without the signature: the record stays open at its end.
    #[must_use]
    pub fn unsigned(self) -> Self {
        self.without_top("sign")
    }
}

/// Every file of a folder with its bytes, in the order of the names.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    fn collect(root: &Path, folder: &Path, found: &mut Vec<(String, Vec<u8>)>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                collect(root, &path, found);
            } else {
                let name = path.strip_prefix(root).unwrap().to_str().unwrap().replace('\\', "/");
                found.push((name, std::fs::read(&path).unwrap()));
            }
        }
    }
    let mut found = Vec::new();
    collect(folder, folder, &mut found);
    found.sort();
    found
}

/// Writes files as [`files`] read them.
pub fn write_files(folder: &Path, files: &[(String, Vec<u8>)]) {
    for (name, bytes) in files {
        let path = folder.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
}

/// Numbers that look random and are the same in every run (SplitMix64).
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((mixed ^ (mixed >> 31)) % end as u64).unwrap()
    }
}
