//! `rigproof new FOLDER --kit KIT`: the same job on one more vehicle; only what differs is asked.

use std::fmt::Write;
use std::io::IsTerminal;
use std::path::PathBuf;

use serde_json::json;

use super::given::{self, Given};
use super::{JOB, WIDTH, findings_in_words, make_folder, missing_in_words, refuse_begun};
use crate::brief::Asking;
use crate::cli::arguments::New;
use crate::cli::failure::{Failure, Outcome};
use crate::cli::files::read_text;
use crate::cli::kits;
use crate::cli::layout::{self, labelled};
use crate::cli::terminal::{Asked, Shown, TerminalFront};
use crate::document::Source;
use crate::kit::{Filling, Kit, Proposal};
use crate::record::{sha256_hex, write_durably};

/// The answers, beside the job that comes of them.
const ANSWERS: &str = "differs.toml";

pub(super) fn run(arguments: &New, named: &str) -> Result<Outcome, Failure> {
    let folder = &arguments.folder;
    refuse_begun(folder)?;
    let place = kits::find(named, folder)?;
    let kit = kits::read(&place)?;
    let work = Work { kit: &kit, named, called: kits::called(&place), folder: folder.clone(), job: folder.join(JOB) };
    let Some(file) = &arguments.brief else { return work.ask(arguments.plain) };
    work.refuse_foreign()?;
    let source = Source::new(file.display().to_string(), read_text(file)?);
    let filling = Filling::read(&kit, &source)?;
    let missing = filling.missing();
    if !missing.is_empty() {
        return Err(Failure::message(format!("{}: {}", file.display(), missing_in_words(&missing))));
    }
    let made = work.made(&filling)?;
    if made.proposal.conforms() {
        work.write(&filling, &made)?;
    }
    let text = if arguments.json { made.as_json().to_string() } else { work.in_words(&made) };
    layout::print(&text)?;
    Ok(if made.proposal.conforms() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

struct Work<'k> {
    kit: &'k Kit,
    /// As the call named it.
    named: &'k str,
    called: String,
    folder: PathBuf,
    job: PathBuf,
}

/// A job that comes of the answers, with all that stands in its file.
struct Made {
    proposal: Proposal,
    given: Given,
}

impl Work<'_> {
    fn answers(&self) -> PathBuf {
        self.folder.join(ANSWERS)
    }

    /// A job file that is there already, and is not what the answers beside it make, is somebody's work.
    fn refuse_foreign(&self) -> Result<(), Failure> {
        if !self.job.exists() || self.is_as_written() {
            return Ok(());
        }
        Err(Failure::message(format!(
            "{} is there already and is not touched\n  name another folder",
            self.job.display()
        )))
    }

    fn is_as_written(&self) -> bool {
        let Ok(Some(filling)) = self.before() else { return false };
        let made = filling.missing().is_empty().then(|| self.made(&filling).ok()).flatten();
        made.is_some_and(|made| read_text(&self.job).is_ok_and(|text| text == made.given.text))
    }

    /// What was answered before.
    fn before(&self) -> Result<Option<Filling<'_>>, Failure> {
        let file = self.answers();
        if !file.exists() {
            return Ok(None);
        }
        let source = Source::new(file.display().to_string(), read_text(&file)?);
        Ok(Some(Filling::read(self.kit, &source)?))
    }

    fn made(&self, filling: &Filling) -> Result<Made, Failure> {
        let proposal = Proposal::of(filling)?;
        let text = self.head(&proposal) + &proposal.text;
        Ok(Made { given: given::by_shop(&text, &self.folder)?, proposal })
    }

    /// Where the file comes from, so that a reader can tell which kit in which state.
    fn head(&self, proposal: &Proposal) -> String {
        let mut head = format!(
            "# Made from the kit {}: {}\n# (its job.toml has the SHA-256 {}).\n# What differs stands in {ANSWERS}.\n",
            self.called,
            self.kit.title.split_whitespace().collect::<Vec<_>>().join(" "),
            sha256_hex(self.kit.job.text.as_bytes()),
        );
        for raised in &proposal.raised {
            let _ = writeln!(
                head,
                "# {} has {} in place of the kit's {}: {} asks for it.",
                raised.name, raised.now, raised.kit, raised.because
            );
        }
        head + "\n"
    }

    fn ask(&self, plain: bool) -> Result<Outcome, Failure> {
        if !std::io::stdin().is_terminal() || !std::io::stderr().is_terminal() {
            let says = "new asks in a terminal\n  without one, give the answers in a file: --brief FILE";
            return Err(Failure::message(says));
        }
        self.refuse_foreign()?;
        let mut filling = self.before()?.unwrap_or_else(|| Filling::of(self.kit));
        let answers = self.answers();
        let (folder, kept) = (self.folder.display(), answers.display());
        let go_on = format!("What was said is kept in {kept}.\nGo on with: rigproof new {folder} --kit {}", self.named);
        let mut front = TerminalFront::new((plain, false), None, &go_on);
        front.line(&format!("{}: {}", self.called, self.kit.title));
        let asked = front.ask_all(&mut filling, |filling| {
            let made = self.made(filling)?;
            Ok(Shown { words: self.in_words(&made), conforms: made.proposal.conforms(), proposal: made })
        });
        match asked {
            Ok(Asked::Agreed(made)) => {
                self.write(&filling, &made)?;
                layout::print(&super::next_commands(&self.job))?;
                Ok(Outcome::Conforms)
            }
            Ok(Asked::Missing(questions)) => {
                self.keep(&filling)?;
                let says = missing_in_words(&questions);
                Err(Failure::message(format!("{says}\n  {}", go_on.replace('\n', "\n  "))))
            }
            Err(failure) => {
                self.keep(&filling)?;
                Err(failure)
            }
        }
    }

    fn keep(&self, filling: &Filling) -> Result<(), Failure> {
        make_folder(&self.folder)?;
        Ok(write_durably(&self.answers(), filling.text().as_bytes())?)
    }

    /// The answers first: a job file is never without them.
    fn write(&self, filling: &Filling, made: &Made) -> Result<(), Failure> {
        self.keep(filling)?;
        Ok(write_durably(&self.job, made.given.text.as_bytes())?)
    }

    fn in_words(&self, made: &Made) -> String {
        let proposal = &made.proposal;
        let mut text = format!("from the kit {}\n", self.called);
        for (path, value) in &proposal.filled {
            let _ = writeln!(text, "{}", labelled(&format!("  {path:<24} "), value, WIDTH));
        }
        if !proposal.raised.is_empty() {
            text.push_str("\nthicker than in the kit, since the rules ask for it here\n");
        }
        for raised in &proposal.raised {
            let words = format!("{} in place of {}: {}", raised.now, raised.kit, raised.because);
            let _ = writeln!(text, "{}", labelled(&format!("  {:<24} ", raised.name), &words, WIDTH));
        }
        if !made.given.what.is_empty() {
            let _ = writeln!(text, "\nfrom the shop\n{}", labelled("  ", &made.given.what.join(", "), WIDTH));
        }
        text.push_str(&findings_in_words(&proposal.findings));
        let verdict = if proposal.conforms() {
            "The design keeps the rules that were checked."
        } else {
            "The design does not keep the rules, and no thicker conductor mends it; nothing was written. Where the \
             answers are right, this vehicle needs a design of its own."
        };
        let _ = writeln!(text, "\n{}", labelled("", verdict, WIDTH));
        if proposal.conforms() {
            let words = "The vehicle maker's manual, local codes and licensed practice come before what stands here.";
            let (job, answers) = (self.job.display(), self.answers());
            let _ = writeln!(text, "{}\n\njob     {job}\nanswers {}", labelled("", words, WIDTH), answers.display());
        }
        text
    }
}

impl Made {
    fn as_json(&self) -> serde_json::Value {
        let proposal = &self.proposal;
        let filled: Vec<_> = proposal.filled.iter().map(|(at, value)| json!({ "at": at, "value": value })).collect();
        let raised = proposal.raised.iter().map(|own| {
            json!({
                "name": own.name, "kit": own.kit.to_string(), "now": own.now.to_string(), "because": own.because,
            })
        });
        json!({
            "conforms": proposal.conforms(),
            "filled": filled,
            "raised": raised.collect::<Vec<_>>(),
            "from_shop": self.given.what,
            "findings": super::findings_as_json(&proposal.findings),
            "job": self.given.text,
        })
    }
}
