//! `rigproof walk`: leads through the plan and saves every entry before the next question.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::answers::AnswersFront;
use super::arguments::Walk as Arguments;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_library};
use super::filled::SheetsFront;
use super::house::House;
use super::layout;
use super::ledger::keep_up;
use super::lines::LinesFront;
use super::settings;
use super::terminal::TerminalFront;
use crate::design::{self, Severity};
use crate::job::Job;
use crate::plan::{Plan, StepKey};
use crate::record::{self, Entry, Opened, Record, RecordError, SigningKey, day_of, sha256_hex};
use crate::report;
use crate::walk::{
    Answer, Event, FromPaper, FrozenFile, Prompt, Refused, ReleaseSignature, Standing, Walk, release_text,
};

/// What a front brings back from a prompt.
pub(super) enum Reply {
    /// An answer to the prompt.
    Answer(Answer),
    /// A remark on the step; the prompt stays.
    Remark(String),
    /// The step is put off, with the reason.
    PutOff(String),
    /// The step before was closed too early, with the reason.
    Back(String),
    /// A picture for the step; the prompt stays.
    Photo(PathBuf),
    /// Somebody else takes the work over; the prompt stays.
    Shift { name: String, role: String },
    /// A hold point is released with that person's own key.
    Release { by: String, statement: String, key: Box<SigningKey> },
}

/// Printed sheets that are entered: their code, the day that stands on them, who enters them, and from which file.
#[derive(Debug, Clone)]
pub(super) struct Paper {
    pub code: String,
    pub day: String,
    pub entered_by: String,
    pub file: Option<FrozenFile>,
}

/// Who signs, and with which key.
pub(super) struct SignOff {
    pub name: String,
    pub role: String,
    pub statement: String,
    pub key: SigningKey,
}

/// Something that puts the walk's prompts to a person, or to a file of answers.
pub(super) trait Front {
    /// Brings the reply to a prompt.
    fn ask(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure>;
    /// The reply was not accepted.
    fn refused(&mut self, walk: &Walk, refused: &Refused) -> Result<(), Failure>;
    /// Something was done beside the questions.
    fn noted(&mut self, text: &str);
    /// The job file is another than the one the record was begun with: the reason to go on by the old one.
    fn job_differs(&mut self, says: &str) -> Result<Option<String>, Failure>;
    /// An event is on the disk.
    fn saved(&mut self, walk: &Walk, event: &Event);
    /// All steps are closed; `None` leaves the record unsigned.
    fn sign_off(&mut self, walk: &Walk) -> Result<Option<SignOff>, Failure>;
    /// An earlier walk goes on: whoever works now may be somebody else.
    fn resumed(&mut self, walk: &Walk) -> Result<Option<Answer>, Failure>;
    /// The key for a seal that was broken off.
    fn key_again(&mut self) -> Result<SigningKey, Failure>;
    /// The printed sheets that its answers come from, where they do. Who took the values is who is on duty.
    fn paper(&self) -> Option<Paper> {
        None
    }
    /// The walk is at its end for now: what is said about it.
    fn ended(&mut self, _: &Walk, summary: &str) -> Result<(), Failure> {
        layout::print(summary)
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let folder = record_folder(arguments);
    let ended = walk_on(arguments, &folder);
    keep_up(&folder);
    ended
}

fn walk_on(arguments: &Arguments, folder: &Path) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let house = House::around(&arguments.job)?;
    let (mut front, mut record, mut walk) = if Record::exists(folder) {
        // The record goes on by the procedures that it was begun with.
        let Opened { mut record, mut walk, recovered } = Record::open(folder, Timestamp::now())?;
        if recovered {
            say("The last entry was torn by a power cut or a kill. It is set aside; the question comes again.");
        }
        let mut front = front(arguments, &walk, folder)?;
        if let Some(house) = house {
            house.rule(&mut record, &mut walk)?;
        }
        if let Some((says, line)) = other_job(&job, &walk, &arguments.job, folder) {
            let known = |e: &Entry| matches!(&e.event, Event::JobDiffers { sha256, .. } if *sha256 == sha256_hex(job.source.text.as_bytes()));
            if walk.signed().is_some() {
                return Err(Failure::message(says));
            }
            if !record.entries().iter().any(known) {
                let Some(reason) = front.job_differs(&says)? else { return Err(Failure::message(says)) };
                let sha256 = sha256_hex(job.source.text.as_bytes());
                record.write(&mut walk, Timestamp::now(), &Event::JobDiffers { sha256, line, reason })?;
            }
        }
        if !arguments.again.is_empty() {
            open_again(arguments, &mut *front, &mut record, &mut walk)?;
        } else if walk.signed().is_none() {
            go_on_duty(&mut *front, &mut record, &mut walk)?;
        }
        (front, record, walk)
    } else if !arguments.again.is_empty() {
        let says = format!("{} holds no record of work that could be done again", folder.display());
        return Err(Failure::message(says));
    } else {
        if let Some(house) = &house {
            house.refuse_job(&job)?;
        }
        let library = read_library(arguments.own.procedures.as_deref())?;
        let plan = Plan::of(&job, &library)?;
        let design = design_errors(&job, &arguments.job, arguments.despite.as_deref());
        let mut walk = Walk::new(job, plan);
        let front = front(arguments, &walk, folder)?;
        let design = design?;
        let mut record = Record::create(folder, &walk, &library, design, Timestamp::now())?;
        if let Some(house) = house {
            house.rule(&mut record, &mut walk)?;
        }
        (front, record, walk)
    };
    let today = day_of(Timestamp::now());
    for instrument in walk.job().instruments.iter().filter(|i| i.overdue(today)) {
        let due = instrument.calibration_due.map_or(String::new(), |due| due.to_string());
        front.noted(&format!(
            "calibration of {} was due on {due}: its accuracy is not assured, and the report says so",
            instrument.called()
        ));
    }
    lead(&mut *front, &mut record, &mut walk)?;
    finish(&mut *front, &mut record, &mut walk)
}

/// Whoever works now comes on duty, where that is somebody else, or the entries no longer come from paper.
fn go_on_duty(front: &mut dyn Front, record: &mut Record, walk: &mut Walk) -> Result<(), Failure> {
    let before = walk.person().map(|(name, role)| (name.to_owned(), role.to_owned()));
    let now = match front.resumed(walk)? {
        Some(Answer::Person { name, role, from_file }) => Some(((name, role), from_file)),
        _ => before.clone().map(|person| (person, false)),
    };
    let Some((person, from_file)) = now else { return Ok(()) };
    let off_paper = walk.paper().is_some() && front.paper().is_none();
    if before.as_ref() != Some(&person) || off_paper {
        let (name, role) = person;
        record.write(walk, Timestamp::now(), &Event::OnDuty { name, role, from_file })?;
    }
    Ok(())
}

/// Notes that what follows was on paper first, before the first entry that was.
fn note_paper(front: &dyn Front, record: &mut Record, walk: &mut Walk) -> Result<(), Failure> {
    let (Some(paper), Some((name, role))) = (front.paper(), walk.person()) else { return Ok(()) };
    let Paper { code, day, entered_by, file } = paper;
    let paper = FromPaper { code, taken_by: name.to_owned(), role: role.to_owned(), day, entered_by, file };
    if walk.paper() != Some(&paper) {
        record.write(walk, Timestamp::now(), &Event::FromPaper(paper))?;
    }
    Ok(())
}

/// Work that was signed off goes on: the steps that are named are open again.
fn open_again(
    arguments: &Arguments,
    front: &mut dyn Front,
    record: &mut Record,
    walk: &mut Walk,
) -> Result<(), Failure> {
    if record.waits_for().is_some() {
        let says = "the work is signed off but its seal was not written yet; call the walk without --again first";
        return Err(Failure::message(says));
    }
    refuse_changed(record)?;
    let steps = named_steps(&arguments.again, walk.plan())?;
    let (mut name, mut role) = walk.person().map(|(n, r)| (n.to_owned(), r.to_owned())).unwrap_or_default();
    if let Some(Answer::Person { name: now, role: as_now, .. }) = front.resumed(walk)? {
        (name, role) = (now, as_now);
    }
    let reason = arguments.reason.clone().unwrap_or_default();
    record.write(walk, Timestamp::now(), &Event::Reopened { name, role, steps, reason })?;
    Ok(())
}

/// Nobody puts a name to what is not what was signed before.
pub(super) fn refuse_changed(record: &Record) -> Result<(), Failure> {
    let findings = record::verify(record.folder(), &record::Reader::default(), Timestamp::now())?;
    if findings.intact {
        return Ok(());
    }
    let problems = findings.problems.join("\n  - ");
    Err(Failure::message(format!("the record is not intact, and nothing is added to it\n  - {problems}")))
}

/// The steps that words name: whole keys, or the beginning of keys up to a slash.
fn named_steps(words: &[String], plan: &Plan) -> Result<Vec<StepKey>, Failure> {
    let mut steps = Vec::new();
    for word in words {
        let word = word.trim().trim_end_matches('/');
        let fits = |key: &str| key == word || key.strip_prefix(word).is_some_and(|rest| rest.starts_with('/'));
        let found: Vec<StepKey> = plan.steps.iter().map(|s| s.key.clone()).filter(|key| fits(key.as_str())).collect();
        if found.is_empty() {
            let all = plan.steps.iter().map(|step| step.key.as_str());
            let near = all.max_by(|a, b| strsim::jaro_winkler(a, word).total_cmp(&strsim::jaro_winkler(b, word)));
            let near = near.map(|key| format!("\n  meant: {key}? A whole operation is named by its first two words"));
            return Err(Failure::message(format!("the plan has no step `{word}`{}", near.unwrap_or_default())));
        }
        steps.extend(found);
    }
    Ok(steps)
}

/// A file of answers where one is named, else the terminal.
fn front(arguments: &Arguments, walk: &Walk, folder: &Path) -> Result<Box<dyn Front>, Failure> {
    if let Some(path) = &arguments.answers {
        return Ok(Box::new(AnswersFront::read(path, walk.plan(), arguments.key.as_deref())?));
    }
    if let Some(Some(path)) = &arguments.from_sheets {
        return Ok(Box::new(SheetsFront::read(path, walk, arguments.key.as_deref())?));
    }
    let go_on = go_on(arguments, folder);
    if arguments.lines {
        return Ok(Box::new(LinesFront::new(arguments.key.clone(), &go_on)));
    }
    let paper = arguments.from_sheets.is_some();
    if !(std::io::stdin().is_terminal() && std::io::stderr().is_terminal()) {
        let way = if paper { "--from-sheets FILE" } else { "--answers FILE" };
        let says = format!("a walk needs a terminal\n  without one, give the answers in a file: {way}");
        return Err(Failure::message(says));
    }
    let settings = settings::read()?;
    let terminal = TerminalFront::new((arguments.plain, arguments.inch), arguments.key.clone(), &go_on)
        .with_person(settings.name, settings.role);
    Ok(Box::new(if paper { terminal.for_sheets() } else { terminal }))
}

/// Errors of the design: the work begins only with a reason to begin in spite of them.
pub(super) fn design_errors(
    job: &Job,
    path: &Path,
    despite: Option<&str>,
) -> Result<(Vec<String>, Option<String>), Failure> {
    let errors: Vec<String> = design::check(job)
        .into_iter()
        .filter(|f| f.severity == Severity::Error)
        .map(|f| format!("{}: {}", f.subject, f.says))
        .collect();
    if errors.is_empty() {
        return Ok((errors, None));
    }
    match despite.map(str::trim).filter(|reason| reason.split_whitespace().count() >= 3) {
        Some(reason) => Ok((errors, Some(reason.to_owned()))),
        None => Err(Failure::message(format!(
            "the design does not conform; the work does not begin on it\n  - {}\n  `rigproof check {}` says what to change. \
             To begin all the same, say why in a few words: --despite REASON",
            errors.join("\n  - "),
            path.display()
        ))),
    }
}

/// Says something to the person; a standard error that cannot be written to stops nothing.
pub(super) fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

fn record_folder(arguments: &Arguments) -> PathBuf {
    let beside = || arguments.job.parent().unwrap_or(Path::new("")).join("record");
    arguments.record.clone().unwrap_or_else(beside)
}

/// The command that goes on with this walk.
fn go_on(arguments: &Arguments, folder: &Path) -> String {
    let record = match &arguments.record {
        Some(record) => format!(" --record {}", record.display()),
        None => String::new(),
    };
    let sheets = match &arguments.from_sheets {
        Some(Some(path)) => format!(" --from-sheets {}", path.display()),
        Some(None) => " --from-sheets".to_owned(),
        None => String::new(),
    };
    format!(
        "Everything entered is saved in {}.\nGo on with: rigproof walk {}{record}{sheets}",
        folder.display(),
        arguments.job.display()
    )
}

/// A job that was changed after the record was begun is another job: what differs in words, and the line.
pub(super) fn other_job(job: &Job, walk: &Walk, path: &Path, folder: &Path) -> Option<(String, String)> {
    if job.source.text == walk.job().source.text {
        return None;
    }
    let ours = walk.job().source.text.lines().collect::<Vec<_>>();
    let now = job.source.text.lines().collect::<Vec<_>>();
    let line = ours.iter().zip(&now).position(|(a, b)| a != b).unwrap_or(ours.len().min(now.len()));
    let (then, now) =
        (ours.get(line).unwrap_or(&"(the file ended here)"), now.get(line).unwrap_or(&"(the file ends here)"));
    let says = format!(
        "{} is not the job that the record in {} was begun with: line {} differs\n  \
         then: {then}\n  now:  {now}\n  bring the file back as it was, or begin a new record with --record DIR",
        path.display(),
        folder.display(),
        line + 1,
    );
    Some((says, format!("line {}: `{then}` then, `{now}` now", line + 1)))
}

/// Puts prompt after prompt until all steps are closed.
fn lead(front: &mut dyn Front, record: &mut Record, walk: &mut Walk) -> Result<(), Failure> {
    loop {
        if walk.current().is_some() {
            note_paper(front, record, walk)?;
        }
        let prompt = walk.prompt();
        if matches!(prompt, Prompt::SignOff | Prompt::Finished) {
            return Ok(());
        }
        let event = match front.ask(walk, &prompt)? {
            Reply::Answer(answer) => match walk.event_for(&prompt, answer) {
                Ok(event) => event,
                Err(refused) => {
                    front.refused(walk, &refused)?;
                    continue;
                }
            },
            Reply::Remark(text) => match walk.current() {
                Some(step) => Event::Remark { step: step.key.clone(), text },
                None => continue,
            },
            Reply::PutOff(reason) => match walk.current() {
                Some(step) => Event::PutOff { step: step.key.clone(), reason },
                None => continue,
            },
            Reply::Back(reason) => {
                let Some(step) = walk.step_before().map(|step| step.key.clone()) else {
                    front.refused(walk, &Refused { says: "no step was closed yet".to_owned() })?;
                    continue;
                };
                Event::TakenBack { step, reason }
            }
            Reply::Shift { name, role } => Event::OnDuty { name, role, from_file: false },
            Reply::Photo(path) => {
                let Some(step) = walk.current().map(|step| step.key.clone()) else { continue };
                match record.take_photo(walk, Timestamp::now(), &step, &path) {
                    Ok(()) => front.noted(&format!("picture of {step} taken into the record: {}", path.display())),
                    Err(error @ (RecordError::Photo { .. } | RecordError::File { tried: "read", .. })) => {
                        front.refused(walk, &Refused { says: error.to_string() })?;
                    }
                    Err(error) => return Err(error.into()),
                }
                continue;
            }
            Reply::Release { by, statement, key } => {
                let Some(step) = walk.current().map(|step| step.key.clone()) else { continue };
                let text = release_text(record.head(), &step, by.trim(), statement.trim());
                let signature = ReleaseSignature { key: key.public_line()?, signature: key.sign(text.as_bytes())? };
                Event::Released {
                    step,
                    by: by.trim().to_owned(),
                    statement: statement.trim().to_owned(),
                    signature: Some(signature),
                }
            }
        };
        match record.write(walk, Timestamp::now(), &event) {
            Ok(()) => front.saved(walk, &event),
            Err(RecordError::Refused(refused)) => front.refused(walk, &refused)?,
            Err(error) => return Err(error.into()),
        }
    }
}

fn finish(front: &mut dyn Front, record: &mut Record, walk: &mut Walk) -> Result<Outcome, Failure> {
    if !record.is_signed_off() {
        let key = loop {
            let Some(sign_off) = front.sign_off(walk)? else {
                let says = format!(
                    "All steps are closed; the record in {} is not signed. Call the walk again to sign it.",
                    record.folder().display()
                );
                front.ended(walk, &says)?;
                return Ok(outcome(walk));
            };
            let who = (sign_off.name.as_str(), sign_off.role.as_str(), sign_off.statement.as_str());
            match record.sign_off(walk, Timestamp::now(), who, &sign_off.key) {
                Ok(()) => break sign_off.key,
                Err(RecordError::Refused(refused)) => front.refused(walk, &refused)?,
                Err(error) => return Err(error.into()),
            }
        };
        seal(record, walk, &key)?;
    } else if let Some(named) = record.waits_for().map(str::to_owned) {
        // Signed off, then broken off before the seal was written.
        let key = front.key_again()?;
        if key.public_line()? != named {
            return Err(Failure::message(
                "this record was signed off with another key; the seal needs the same one\n  name it with --key FILE",
            ));
        }
        seal(record, walk, &key)?;
    }
    front.ended(walk, &summary(walk, record))?;
    Ok(outcome(walk))
}

/// Writes the report and seals the part that was signed off.
pub(super) fn seal(record: &mut Record, walk: &Walk, key: &SigningKey) -> Result<(), Failure> {
    let name = walk.signed().map_or("signer", |(name, _)| name).to_owned();
    let pictures = super::report::pictures_of(record.folder());
    let report = report::Report::of(walk, record.entries(), record.head(), &pictures);
    drop(pictures);
    let files = report.files(&report::Style::default()).map_err(Failure::message)?;
    record.seal(&name, key, &files)?;
    Ok(())
}

pub(super) fn outcome(walk: &Walk) -> Outcome {
    if walk.standing() == Standing::Conforms { Outcome::Conforms } else { Outcome::DoesNotConform }
}

/// How the work stands, and where its record and report lie.
pub(super) fn summary(walk: &Walk, record: &Record) -> String {
    let (done, all) = walk.count();
    let verdict = match walk.standing() {
        Standing::Conforms => "every reading conforms to its limits".to_owned(),
        Standing::DoesNotConform => {
            let open: Vec<String> =
                walk.nonconformities().iter().map(|n| format!("\n  {}: {} ({})", n.step, n.found, n.reason)).collect();
            format!("{} nonconformities{}", open.len(), open.join(""))
        }
        Standing::InProgress => "steps are open".to_owned(),
    };
    let signed = walk.signed().map_or(String::new(), |(name, role)| format!("signed by {name}, {role}"));
    let folder = record.folder();
    format!(
        "{}: {done} of {all} steps closed, {verdict}; {signed}\n  record  {}\n  report  {}\n  verify  rigproof verify {}\n",
        walk.job().title,
        folder.display(),
        folder.join(record.part().report()).join("report.html").display(),
        folder.display(),
    )
}
