//! `rigproof new`: from what a layman can say, or from a kit and what differs, to a job file that is checked.

mod given;
mod kit;

use std::fmt::Write;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use serde_json::json;

use self::given::Given;
use super::arguments::New;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_text};
use super::layout::{self, labelled};
use super::terminal::{Asked, Shown, TerminalFront};
use crate::brief::{Brief, Proposal, Question, Unfit};
use crate::design::{Finding, Severity};
use crate::document::Source;
use crate::record::{Record, RecordError, write_durably};

/// Width of what is printed.
pub(super) const WIDTH: usize = 78;
const JOB: &str = "job.toml";
const BRIEF: &str = "brief.toml";

pub(super) fn run(arguments: &New) -> Result<Outcome, Failure> {
    if let Some(kit) = &arguments.kit {
        return kit::run(arguments, kit);
    }
    let place = Place::of(arguments)?;
    let Some(file) = &arguments.brief else { return place.ask(arguments.plain) };
    let source = Source::new(file.display().to_string(), read_text(file)?);
    let brief = Brief::read(&source, place.existing.clone())?;
    let made = place.made(&brief, file)?;
    if made.proposal.conforms() {
        place.write(&brief, &made)?;
    }
    let text = if arguments.json { made.as_json().to_string() } else { place.in_words(&made, true) };
    layout::print(&text)?;
    Ok(if made.proposal.conforms() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

/// A job that is being done is not changed.
fn refuse_begun(folder: &Path) -> Result<(), Failure> {
    let record = folder.join("record");
    if !Record::exists(&record) {
        return Ok(());
    }
    Err(Failure::message(format!(
        "the work on {} has begun: its record lies in {}\n  a job that is being done is not changed; another load is a \
         job of its own, in a folder of its own",
        folder.join(JOB).display(),
        record.display()
    )))
}

/// A job that comes of a brief, with all that stands in its file.
struct Made {
    proposal: Proposal,
    given: Given,
}

/// The folder of a job, and what lies in it.
struct Place {
    folder: PathBuf,
    job: PathBuf,
    /// The job that a load is added to.
    existing: Option<crate::job::Job>,
    /// What was said before, and may be changed.
    before: Option<Source>,
}

impl Place {
    fn of(arguments: &New) -> Result<Self, Failure> {
        let folder = arguments.folder.clone();
        let job = folder.join(JOB);
        refuse_begun(&folder)?;
        let mut place = Self { before: None, existing: None, job, folder };
        if arguments.add {
            if !place.job.exists() {
                let says = format!("{} is not there, so nothing can be added to it", place.job.display());
                return Err(Failure::message(format!("{says}\n  without --add a new job is made")));
            }
            place.existing = Some(read_job(&place.job)?);
            return Ok(place);
        }
        let brief = place.folder.join(BRIEF);
        if brief.exists() {
            place.before = Some(Source::new(brief.display().to_string(), read_text(&brief)?));
        }
        if place.job.exists() && !place.is_as_written() {
            return Err(Failure::message(format!(
                "{} is there already and is not touched\n  add a load to it with --add, or name another folder",
                place.job.display()
            )));
        }
        Ok(place)
    }

    /// Whether the job file is still what its brief makes: then an answer may be changed and the file made anew.
    fn is_as_written(&self) -> bool {
        let Some(source) = &self.before else { return false };
        let brief = Brief::read(source, None).ok();
        let made = brief.and_then(|brief| self.made(&brief, Path::new(BRIEF)).ok());
        made.is_some_and(|made| read_text(&self.job).is_ok_and(|text| text == made.given.text))
    }

    /// Works the job out, a new one with what the shop gives it; or says what is missing.
    fn made(&self, brief: &Brief, file: &Path) -> Result<Made, Failure> {
        let proposal = propose(brief, file)?;
        let given = match self.existing {
            None => given::by_shop(&proposal.text, &self.folder)?,
            Some(_) => Given { text: proposal.text.clone(), what: Vec::new() },
        };
        Ok(Made { proposal, given })
    }

    fn brief_file(&self, proposal: Option<&Proposal>) -> PathBuf {
        let added = proposal.filter(|_| self.existing.is_some()).and_then(|proposal| proposal.loads.first());
        match (added, &self.existing) {
            (Some(name), _) => self.folder.join(format!("brief-{name}.toml")),
            (None, Some(_)) => self.folder.join("brief-added.toml"),
            (None, None) => self.folder.join(BRIEF),
        }
    }

    /// Asks a person until the job is written, or the person leaves.
    fn ask(&self, plain: bool) -> Result<Outcome, Failure> {
        if !std::io::stdin().is_terminal() || !std::io::stderr().is_terminal() {
            let says = "new asks in a terminal\n  without one, give the answers in a file: --brief FILE";
            return Err(Failure::message(says));
        }
        let mut brief = self.existing.clone().map_or_else(Brief::new, Brief::onto);
        let left = self.brief_file(None);
        let before = match (&self.before, left.exists()) {
            (Some(source), _) => Some(source.clone()),
            (None, true) => Some(Source::new(left.display().to_string(), read_text(&left)?)),
            (None, false) => None,
        };
        if let Some(source) = before {
            brief = Brief::read(&source, self.existing.clone())?;
        }
        let folder = self.folder.display();
        let add = if self.existing.is_some() { " --add" } else { "" };
        let go_on = format!("What was said is kept in {}.\nGo on with: rigproof new {folder}{add}", left.display());
        let mut front = TerminalFront::new((plain, false), None, &go_on);
        let asked = front.ask_all(&mut brief, |brief| {
            let made = self.made(brief, &left)?;
            Ok(Shown { words: self.in_words(&made, false), conforms: made.proposal.conforms(), proposal: made })
        });
        match asked {
            Ok(Asked::Agreed(made)) => {
                self.write(&brief, &made)?;
                if self.existing.is_some() && left.exists() {
                    let _ = std::fs::remove_file(&left);
                }
                layout::print(&next_commands(&self.job))?;
                Ok(Outcome::Conforms)
            }
            Ok(Asked::Missing(questions)) => {
                self.keep(&left, &brief)?;
                Err(Failure::message(format!("{}\n  {}", missing_in_words(&questions), go_on.replace('\n', "\n  "))))
            }
            Err(failure) => {
                self.keep(&left, &brief)?;
                Err(failure)
            }
        }
    }

    fn keep(&self, file: &Path, brief: &Brief) -> Result<(), Failure> {
        make_folder(&self.folder)?;
        Ok(write_durably(file, brief.text().as_bytes())?)
    }

    /// The brief first: a job file is never without the answers that it came from.
    fn write(&self, brief: &Brief, made: &Made) -> Result<(), Failure> {
        make_folder(&self.folder)?;
        write_durably(&self.brief_file(Some(&made.proposal)), brief.text().as_bytes())?;
        Ok(write_durably(&self.job, made.given.text.as_bytes())?)
    }

    /// What was chosen, what was taken where nobody said otherwise, and what the rules say.
    fn in_words(&self, Made { proposal, given }: &Made, with_taken: bool) -> String {
        let mut text = String::from("chosen\n");
        for choice in &proposal.choices {
            let _ = writeln!(text, "{}", labelled("  ", &format!("{}: {}", choice.subject, choice.chosen), WIDTH));
            let _ = writeln!(text, "{}", labelled("      ", &choice.because, WIDTH));
        }
        if !proposal.taken.is_empty() && with_taken {
            text.push_str("\ntaken, since nobody said otherwise\n");
            for (question, usual) in &proposal.taken {
                let label = format!("  {:<14} ", question.id.replace('_', " "));
                let words = format!("{}; {}", usual.text, usual.because);
                let _ = writeln!(text, "{}", labelled(&label, &words, WIDTH));
            }
        }
        if !given.what.is_empty() {
            let _ = writeln!(text, "\nfrom the shop\n{}", labelled("  ", &given.what.join(", "), WIDTH));
        }
        text.push_str(&findings_in_words(&proposal.findings));
        let verdict = if proposal.conforms() {
            "The design keeps the rules that were checked."
        } else {
            "The design does not keep the rules; nothing was written. Another answer is needed: a larger switch or a \
             relay, a shorter way, a thicker lead, a load of its own."
        };
        let _ = write!(text, "\n{}\n", labelled("", verdict, WIDTH));
        if proposal.conforms() {
            let where_to = self.job.display();
            let words = "The vehicle maker's manual, local codes and licensed practice come before what stands here.";
            let _ = writeln!(text, "{}", labelled("", words, WIDTH));
            let _ = writeln!(text, "\njob     {where_to}\nanswers {}", self.brief_file(Some(proposal)).display());
        }
        text
    }
}

/// What the rules say, errors first.
fn findings_in_words(findings: &[Finding]) -> String {
    let mut text = String::new();
    for (title, severity) in [("\nERRORS of the design", Severity::Error), ("\nwarnings", Severity::Warning)] {
        let found: Vec<&Finding> = findings.iter().filter(|f| f.severity == severity).collect();
        if !found.is_empty() {
            let _ = writeln!(text, "{title}");
        }
        for finding in found {
            let _ = writeln!(text, "{}", labelled("  ", &format!("{}: {}", finding.subject, finding.says), WIDTH));
            let _ = writeln!(text, "{}", labelled("      change: ", &finding.change, WIDTH));
            let _ = writeln!(text, "{}", labelled("      by: ", &finding.source, WIDTH));
        }
    }
    text
}

fn make_folder(folder: &Path) -> Result<(), Failure> {
    let made = std::fs::create_dir_all(folder);
    Ok(made.map_err(|error| RecordError::File { tried: "create", path: folder.to_owned(), error })?)
}

fn next_commands(job: &Path) -> String {
    let job = job.display();
    format!(
        "written {job}\nnext\n  rigproof check {job}      the whole check of the design\n  \
             rigproof materials {job}  what to buy, how long to cut\n  \
             rigproof walk {job}       do it, step by step"
    )
}

/// Works the job out, or says what is missing.
fn propose(brief: &Brief, file: &Path) -> Result<Proposal, Failure> {
    Proposal::of(brief).map_err(|unfit| match unfit {
        Unfit::Missing(questions) => Failure::message(format!("{}: {}", file.display(), missing_in_words(&questions))),
        Unfit::Unreadable(problems) => Failure::from(problems),
    })
}

fn missing_in_words(questions: &[Question]) -> String {
    let mut text = String::from("still missing, and nothing can be taken for it");
    for question in questions {
        let _ = write!(text, "\n  {} = ...   {}", question.id, question.asks);
        let _ = write!(text, "\n{}", labelled("    ", question.find_out, WIDTH));
    }
    text
}

impl Made {
    fn as_json(&self) -> serde_json::Value {
        let Self { proposal, given } = self;
        let choices: Vec<_> = proposal
            .choices
            .iter()
            .map(|c| json!({ "subject": c.subject, "chosen": c.chosen, "because": c.because }))
            .collect();
        let taken: Vec<_> = proposal
            .taken
            .iter()
            .map(|(question, usual)| json!({ "id": question.id, "answer": usual.text, "because": usual.because }))
            .collect();
        json!({
            "conforms": proposal.conforms(),
            "loads": proposal.loads,
            "choices": choices,
            "taken": taken,
            "findings": findings_as_json(&proposal.findings),
            "from_shop": given.what,
            "job": given.text,
        })
    }
}

fn findings_as_json(findings: &[Finding]) -> Vec<serde_json::Value> {
    let one = |f: &Finding| json!({ "rule": f.rule, "severity": f.severity, "subject": f.subject, "says": f.says, "source": f.source });
    findings.iter().map(one).collect()
}
