//! `rigproof` alone: where the work in this folder stands, and what comes next.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use super::failure::{Failure, Outcome};
use super::files::read_job;
use super::layout;
use crate::design::{self, Severity};
use crate::record::Record;
use crate::walk::Standing;

/// Most folders that are told.
const MOST: usize = 12;

pub(super) fn run() -> Result<Outcome, Failure> {
    let here = Path::new(".");
    let text = if here.join("job.toml").is_file() {
        one_job(here)
    } else {
        let folders = folders_with_jobs(here);
        if folders.is_empty() { from_nothing() } else { several(&folders) }
    };
    layout::print(&(text + "\nrigproof --help lists all commands; rigproof COMMAND --help has examples.\n"))?;
    Ok(Outcome::Conforms)
}

fn folders_with_jobs(here: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(here) else { return Vec::new() };
    let paths = entries.filter_map(|entry| Some(entry.ok()?.path()));
    let mut folders: Vec<PathBuf> = paths.filter(|path| path.join("job.toml").is_file()).collect();
    folders.sort();
    folders
}

fn from_nothing() -> String {
    "There is no job in this folder yet.\n\
     \n  rigproof new LAMP   asks what you fit and writes LAMP/job.toml\n"
        .to_owned()
}

/// A path without the `./` in front.
fn plain(path: &Path) -> String {
    path.strip_prefix(".").unwrap_or(path).display().to_string()
}

/// How one job stands: in a few words, and the commands that come next.
struct State {
    words: String,
    next: Vec<(String, &'static str)>,
}

fn state(folder: &Path) -> State {
    let (job_file, folder_of_record) = (folder.join("job.toml"), folder.join("record"));
    let (job_path, record_path) = (plain(&job_file), plain(&folder_of_record));
    let Ok(job) = read_job(&job_file) else {
        let next = vec![(format!("rigproof check {job_path}"), "says what is wrong, and where")];
        return State { words: format!("{job_path} cannot be read as a job"), next };
    };
    if Record::exists(&folder_of_record) {
        return of_record(&folder_of_record, &job_path, &record_path);
    }
    let findings = design::check(&job);
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
    if errors > 0 {
        let next = vec![(format!("rigproof check {job_path}"), "says what to change")];
        return State { words: format!("{}: designed; {errors} errors of the design are open", job.title), next };
    }
    let next = vec![
        (format!("rigproof check {job_path}"), "the design against its rules"),
        (format!("rigproof materials {job_path}"), "what to buy, how long to cut"),
        (format!("rigproof expect {job_path}"), "what the meter must show"),
        (format!("rigproof sheet {job_path} --out sheets"), "all steps on paper, for the garage"),
        (format!("rigproof walk {job_path}"), "do it, step by step"),
    ];
    State { words: format!("{}: designed, not begun; no errors, {warnings} warnings", job.title), next }
}

fn of_record(folder: &Path, job: &str, record: &str) -> State {
    let Ok((_, walk)) = Record::read(folder) else {
        let next = vec![(format!("rigproof verify {record}"), "says what is wrong with the record")];
        return State { words: format!("{record} cannot be read"), next };
    };
    let (title, (done, all)) = (walk.job().title.clone(), walk.count());
    if let Some((name, role)) = walk.signed() {
        let verdict = match walk.standing() {
            Standing::Conforms => "it conforms",
            _ => "it does not conform",
        };
        let next = vec![
            (format!("rigproof verify {record}"), "is it what was signed?"),
            (format!("rigproof report {record} --out report"), "writes the report again"),
        ];
        return State { words: format!("{title}: signed by {name}, {role}; {verdict}"), next };
    }
    let mut next = vec![(format!("rigproof walk {job}"), "goes on")];
    if !walk.nonconformities().is_empty() {
        next.push((format!("rigproof diagnose {job} --record {record}"), "looks for the fault"));
    }
    State { words: format!("{title}: {done} of {all} steps closed"), next }
}

fn one_job(folder: &Path) -> String {
    let state = state(folder);
    let mut text = format!("{}\n\n", state.words);
    let longest = state.next.iter().map(|(command, _)| command.chars().count()).max().unwrap_or(0);
    for (command, says) in &state.next {
        let _ = writeln!(text, "  {command:<longest$}  {says}");
    }
    text
}

fn several(folders: &[PathBuf]) -> String {
    let mut text = String::from("Jobs in this folder:\n");
    for folder in folders.iter().take(MOST) {
        let state = state(folder);
        let _ = writeln!(text, "\n{}: {}", plain(folder), state.words);
        if let Some((command, says)) = state.next.last() {
            let _ = writeln!(text, "  {command}  {says}");
        }
    }
    if folders.len() > MOST {
        let _ = writeln!(text, "\nand {} more", folders.len() - MOST);
    }
    text
}
