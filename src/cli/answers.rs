//! The walk without a terminal: a file of answers. It answers only what the file says; a reading or a hold that is
//! not in the file stops the walk, with everything before it saved.

use std::cell::RefCell;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::files::read_text;
use super::signing;
use super::walk::{Front, Reply, SignOff, say};
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::plan::{Plan, StepKey};
use crate::record::SigningKey;
use crate::walk::{Answer, Disposition, Event, Prompt, Refused, Walk};

#[derive(Debug, Clone)]
pub(super) struct Person {
    pub name: String,
    pub role: String,
}

#[derive(Debug, Clone)]
pub(super) struct Sign {
    pub person: Person,
    pub statement: String,
    pub key: KeyChoice,
}

/// A release of a hold point.
#[derive(Debug, Clone)]
pub(super) struct Release {
    pub by: String,
    pub statement: String,
    pub key: Option<PathBuf>,
}

#[derive(Debug, Clone)]
pub(super) enum KeyChoice {
    File(PathBuf),
    Own,
}

/// A file of answers being followed, or a filled table of sheets.
#[derive(Default)]
pub(super) struct AnswersFront {
    pub file: String,
    pub person: Option<Person>,
    every_do_step: bool,
    hazards_read: bool,
    pub answers: HashMap<String, Vec<String>>,
    /// For each hold point the releases in their order: one for each time that the work was done.
    pub releases: HashMap<String, Vec<Release>>,
    /// Pictures of a step, taken into the record before it is answered.
    pub photos: HashMap<String, Vec<PathBuf>>,
    /// Why a step is put off the first time.
    put_off: HashMap<String, String>,
    /// Remarks on a step.
    pub remarks: HashMap<String, Vec<String>>,
    /// Why the work goes on though the job file was changed.
    job_differs: Option<String>,
    /// Who came to watch a witness point.
    pub witnesses: HashMap<String, String>,
    pub sign: Option<Sign>,
    named_key: Option<PathBuf>,
}

/// The form of a file of answers, from one that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-answer.toml", include_str!("every-answer.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let nothing = Plan { phases: Vec::new(), steps: Vec::new() };
    let _ = AnswersFront::read_source(&source, Path::new(""), &nothing, None, &problems);
    problems.into_inner().into_form()
}

/// Whether a file of answers is sound for a plan.
///
/// # Errors
/// All problems of the file at once, each with its place.
pub fn check(source: &Source, plan: &Plan) -> Result<(), Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let _ = AnswersFront::read_source(source, Path::new(""), plan, None, &problems);
    problems.into_inner().check(())
}

impl AnswersFront {
    /// A file that says nothing yet.
    pub(super) fn of_file(file: String, named_key: Option<&Path>) -> Self {
        Self { file, named_key: named_key.map(Path::to_owned), ..Self::default() }
    }

    pub(super) fn read(path: &Path, plan: &Plan, named_key: Option<&Path>) -> Result<Self, Failure> {
        let source = Source::new(path.display().to_string(), read_text(path)?);
        let problems = RefCell::new(Problems::new(source.clone()));
        let front = Self::read_source(&source, path, plan, named_key, &problems);
        Ok(problems.into_inner().check(front)?)
    }

    fn read_source(
        source: &Source,
        path: &Path,
        plan: &Plan,
        named_key: Option<&Path>,
        problems: &RefCell<Problems>,
    ) -> Self {
        let document = parse_toml(source, problems);
        let mut front = Self::of_file(source.name.clone(), named_key);
        if problems.borrow().is_empty() {
            let top = Table::new(document.get_ref(), 0..0, "the file of answers", problems);
            front.read_tables(&top, plan, path);
            top.finish();
        }
        front
    }

    fn read_tables(&mut self, top: &Table, plan: &Plan, path: &Path) {
        top.check_format("answers");
        self.person = top.table("person").and_then(|table| {
            let person = read_person(&table);
            table.finish();
            person
        });
        self.every_do_step = top.choice("every_do_step", &[("done", true)]).unwrap_or(false);
        self.hazards_read = top.choice("hazards", &[("read", true)]).unwrap_or(false);
        let keys: Vec<&str> = plan.steps.iter().map(|s| s.key.as_str()).collect();
        let check = |key: &str, place: std::ops::Range<usize>| {
            if keys.contains(&key) {
                return;
            }
            let mut problem =
                Problem::at(place, format!("the plan has no step `{key}`"), "this answer belongs to no step");
            if let Some(meant) = closest(key, &keys) {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            top.problem(problem);
        };
        if let Some(table) = top.table("answer") {
            for (key, texts, place) in table.text_entries() {
                check(&key, place);
                self.answers.insert(key, texts);
            }
        }
        if let Some(table) = top.table("witness") {
            for (key, texts, place) in table.text_entries() {
                check(&key, place);
                self.witnesses.extend(texts.into_iter().next().map(|text| (key, text)));
            }
        }
        let beside = |file: String| path.parent().unwrap_or(Path::new("")).join(file);
        let by_step = |name: &str| {
            let entries = top.table(name).map(|table| table.text_entries()).unwrap_or_default();
            for (key, _, place) in &entries {
                check(key, place.clone());
            }
            entries.into_iter().map(|(key, texts, _)| (key, texts)).collect::<Vec<_>>()
        };
        self.photos =
            by_step("photo").into_iter().map(|(k, files)| (k, files.into_iter().map(beside).collect())).collect();
        self.remarks = by_step("remark").into_iter().collect();
        let first = |(key, texts): (String, Vec<String>)| Some((key, texts.into_iter().next()?));
        self.put_off = by_step("skip").into_iter().filter_map(first).collect();
        self.job_differs = top.text("job_differs");
        for (key, table) in top.named_tables("release") {
            check(&key, table.place.clone());
            let again = table.list_of_tables("again");
            let mut releases = Vec::new();
            for release in std::iter::once(&table).chain(&again) {
                if let (Some(by), Some(statement)) = (release.required_text("by"), release.required_text("statement")) {
                    let key = release.text("key").map(|file| path.parent().unwrap_or(Path::new("")).join(file));
                    releases.push(Release { by, statement, key });
                }
            }
            self.releases.insert(key, releases);
            again.into_iter().for_each(Table::finish);
            table.finish();
        }
        self.sign = top.table("sign").and_then(|table| {
            let person = read_person(&table);
            let statement = table.required_text("statement");
            let key = match table.text("key") {
                Some(file) if file != "own" => KeyChoice::File(path.parent().unwrap_or(Path::new("")).join(file)),
                _ => KeyChoice::Own,
            };
            table.finish();
            Some(Sign { person: person?, statement: statement?, key })
        });
    }

    fn stop(&self, step: &StepKey, says: &str, add: &str) -> Failure {
        Failure::message(format!(
            "{} {says} {step}\n  add: {add}\n  everything before it is saved; the same call goes on from there",
            self.file
        ))
    }

    /// The answer that comes next for a step: as many as it has had before are passed over, so that a walk that goes
    /// on later takes up at the right one. What was answered before the last sign-off is in that sign-off's file.
    fn next(&self, walk: &Walk, step: &StepKey) -> Option<&String> {
        let used = walk.times_answered(step) - walk.before(step).answers;
        self.answers.get(step.as_str())?.get(used)
    }

    /// What the file says of a step beside its answer, where that was not done yet: a picture, a remark, putting off.
    fn beside(&self, walk: &Walk, prompt: &Prompt) -> Option<Reply> {
        let step = match prompt {
            Prompt::Do { step }
            | Prompt::Choose { step, .. }
            | Prompt::Measure { step, .. }
            | Prompt::Value { step, .. }
            | Prompt::Wait { step, .. }
            | Prompt::Text { step, .. } => &step.key,
            _ => return None,
        };
        let before = walk.before(step);
        // Only what is done again has more to say after a sign-off.
        let own = |count: usize, all: usize| (count < all).then_some(count);
        if let Some(reason) = self.put_off.get(step.as_str()).filter(|_| walk.times_put_off(step) == 0) {
            return Some(Reply::PutOff(reason.clone()));
        }
        let remarks = self.remarks.get(step.as_str()).map_or(&[][..], Vec::as_slice);
        if let Some(next) = own(walk.remarks(step).len() - before.remarks, remarks.len()) {
            return Some(Reply::Remark(remarks[next].clone()));
        }
        let photos = self.photos.get(step.as_str()).map_or(&[][..], Vec::as_slice);
        own(walk.photos(step).len() - before.photos, photos.len()).map(|next| Reply::Photo(photos[next].clone()))
    }

    fn release(&self, walk: &Walk, step: &StepKey) -> Option<&Release> {
        self.releases.get(step.as_str())?.get(walk.times_released(step) - walk.before(step).releases)
    }

    fn typed(&self, walk: &Walk, step: &StepKey, wanted: &str) -> Result<Reply, Failure> {
        self.given(self.next(walk, step), step, wanted)
    }

    /// The answer of a step that leaves no reading behind: the first one, and a further one for each time that the
    /// step was opened again; the last one stands for all that follow.
    fn of_round(&self, walk: &Walk, step: &StepKey, wanted: &str) -> Result<Reply, Failure> {
        self.given(self.in_round(walk, step), step, wanted)
    }

    fn in_round(&self, walk: &Walk, step: &StepKey) -> Option<&String> {
        let all = self.answers.get(step.as_str())?;
        all.get(walk.rounds(step).saturating_sub(walk.before(step).rounds)).or(all.last())
    }

    fn is_done(&self, step: &StepKey) -> bool {
        self.every_do_step || self.answers.get(step.as_str()).is_some_and(|texts| texts.iter().any(|t| t == "done"))
    }

    /// Whether the file has something to say at a prompt about a step.
    pub(super) fn has_answer(&self, walk: &Walk, prompt: &Prompt) -> bool {
        self.beside(walk, prompt).is_some()
            || match prompt {
                Prompt::WhoWorks => self.person.is_some(),
                Prompt::Hazards { .. } => self.hazards_read,
                Prompt::Do { step } => self.is_done(&step.key),
                Prompt::Choose { step, .. } | Prompt::Wait { step, .. } => self.in_round(walk, &step.key).is_some(),
                Prompt::Witness { step, .. } => self.witnesses.contains_key(step.key.as_str()),
                Prompt::Measure { step, .. }
                | Prompt::Value { step, .. }
                | Prompt::Text { step, .. }
                | Prompt::Dispose { step, .. } => self.next(walk, &step.key).is_some(),
                Prompt::Hold { step, .. } => self.release(walk, &step.key).is_some(),
                Prompt::SignOff | Prompt::Finished => false,
            }
    }

    fn given(&self, text: Option<&String>, step: &StepKey, wanted: &str) -> Result<Reply, Failure> {
        match text {
            Some(text) => Ok(Reply::Answer(Answer::Typed(text.clone()))),
            None => Err(self.stop(step, "has no answer for", &format!("\"{step}\" = \"{wanted}\" below [answer]"))),
        }
    }
}

fn read_person(table: &Table) -> Option<Person> {
    Some(Person { name: table.required_text("name")?, role: table.required_text("role")? })
}

/// `measure again`, `rework STEP: reason`, `repair STEP: reason`, `explained: reason`, `nonconformity: reason`,
/// `concession by NAME for SCOPE: reason`.
pub(super) fn disposition(text: &str) -> Option<Disposition> {
    let text = text.trim();
    if text == "measure again" {
        return Some(Disposition::MeasureAgain);
    }
    let (what, reason) = text.split_once(':')?;
    let reason = reason.trim().to_owned();
    match what.trim() {
        "explained" => Some(Disposition::Explained { reason }),
        "nonconformity" => Some(Disposition::Nonconformity { reason }),
        other => {
            if let Some(given) = other.strip_prefix("concession by ") {
                let (by, scope) = given.split_once(" for ")?;
                return Some(Disposition::Concession { by: by.to_owned(), reason, scope: scope.to_owned() });
            }
            if let Some(from) = other.strip_prefix("repair ") {
                return Some(Disposition::Repair { from: StepKey::from_text(from), reason });
            }
            let from = StepKey::from_text(other.strip_prefix("rework ")?);
            Some(Disposition::Rework { from, reason })
        }
    }
}

impl Front for AnswersFront {
    fn ask(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure> {
        if let Some(reply) = self.beside(walk, prompt) {
            return Ok(reply);
        }
        match prompt {
            Prompt::WhoWorks => match &self.person {
                Some(Person { name, role }) => {
                    Ok(Reply::Answer(Answer::Person { name: name.clone(), role: role.clone(), from_file: true }))
                }
                None => Err(Failure::message(format!(
                    "{} does not say who works\n  add: [person] with name and role",
                    self.file
                ))),
            },
            Prompt::Hazards { step, hazards } => {
                if self.hazards_read {
                    return Ok(Reply::Answer(Answer::Yes));
                }
                let names: Vec<&str> = hazards.iter().map(|h| h.id.as_str()).collect();
                let says = format!("does not say that the hazards {} were read before", names.join(", "));
                Err(self.stop(&step.key, &says, "hazards = \"read\" at the top"))
            }
            Prompt::Do { step } => {
                if self.is_done(&step.key) {
                    return Ok(Reply::Answer(Answer::Yes));
                }
                Err(self.stop(
                    &step.key,
                    "does not say that this step is done:",
                    &format!("\"{}\" = \"done\" below [answer]", step.key),
                ))
            }
            Prompt::Choose { step, ways } => {
                let ids: Vec<&str> = ways.iter().map(|w| w.id.as_str()).collect();
                self.of_round(walk, &step.key, &format!("the way that was taken: {}", ids.join(" or ")))
            }
            Prompt::Witness { step, party } => match self.witnesses.get(step.key.as_str()) {
                Some(came) => Ok(Reply::Answer(Answer::Typed(came.clone()))),
                None => Err(self.stop(
                    &step.key,
                    &format!("does not say whether the {party} was told and came to"),
                    &format!("\"{}\" = \"NAME\", or \"nobody\", below [witness]", step.key),
                )),
            },
            Prompt::Measure { step, expectation, .. } => {
                self.typed(walk, &step.key, &format!("the reading, expected {}", expectation.range()))
            }
            Prompt::Value { step, dimension, unit, low, high, .. } => {
                let expected =
                    low.zip(*high).map_or(String::new(), |(low, high)| format!(", expected {}", low.range_to(high)));
                self.typed(walk, &step.key, &format!("the {} in {unit}{expected}", dimension.name()))
            }
            Prompt::Wait { step, at_least, .. } => {
                self.of_round(walk, &step.key, &format!("how long was waited, at least {at_least}"))
            }
            Prompt::Text { step, expect } => self.typed(walk, &step.key, expect.unwrap_or("what you see")),
            Prompt::Dispose { step, attempt } => {
                let text = self.next(walk, &step.key).ok_or_else(|| {
                    let says = format!("does not say what to do: {}\n  step", attempt.judgement.says);
                    let add = "a further answer: \"measure again\", \"rework STEP: reason\", \"repair STEP: reason\", \"explained: reason\", \"nonconformity: reason\" or \"concession by NAME for SCOPE: reason\"";
                    self.stop(&step.key, &says, add)
                })?;
                match disposition(text) {
                    Some(disposition) => Ok(Reply::Answer(Answer::Dispose(disposition))),
                    None => Err(Failure::message(format!(
                        "{}: `{text}` says nothing about the reading of {}: {}\n  write \"measure again\", \"rework STEP: reason\", \
                         \"repair STEP: reason\", \"explained: reason\", \"nonconformity: reason\" or \
                         \"concession by NAME for SCOPE: reason\"",
                        self.file, step.key, attempt.judgement.says
                    ))),
                }
            }
            Prompt::Hold { step, who } => {
                if let Some(Release { by, statement, key }) = self.release(walk, &step.key).cloned() {
                    match key {
                        Some(path) => {
                            let key = Box::new(signing::read(&path, |_| None)?);
                            Ok(Reply::Release { by, statement, key })
                        }
                        None => Ok(Reply::Answer(Answer::Release { by, statement, signature: None })),
                    }
                } else {
                    let add = format!(
                        "[release.\"{}\"] with `by` (a {who}) and `statement`; for work that was done again one more, in `again`",
                        step.key
                    );
                    Err(self.stop(&step.key, "does not release the hold point", &add))
                }
            }
            Prompt::SignOff | Prompt::Finished => Err(Failure::message("the walk is at its end")),
        }
    }

    fn refused(&mut self, walk: &Walk, refused: &Refused) -> Result<(), Failure> {
        let step = walk.current().map_or(String::new(), |step| format!(" at {}", step.key));
        Err(Failure::message(format!("{}{step}: {refused}\n  everything before it is saved", self.file)))
    }

    fn noted(&mut self, text: &str) {
        say(text);
    }

    fn job_differs(&mut self, _: &str) -> Result<Option<String>, Failure> {
        Ok(self.job_differs.clone())
    }

    fn saved(&mut self, _: &Walk, event: &Event) {
        match event {
            Event::Read { step, reading, judgement, .. } => {
                say(&format!("{step}: {} -> {}", reading.typed, judgement.says));
            }
            Event::Disposed { step, disposition } => {
                say(&format!("{step}: {disposition}"));
            }
            Event::Released { step, by, .. } => say(&format!("{step}: released by {by}")),
            _ => {}
        }
    }

    fn sign_off(&mut self, _: &Walk) -> Result<Option<SignOff>, Failure> {
        let Some(Sign { person, statement, .. }) = self.sign.clone() else { return Ok(None) };
        let key = self.key_again()?;
        Ok(Some(SignOff { name: person.name, role: person.role, statement, key }))
    }

    fn resumed(&mut self, _: &Walk) -> Result<Option<Answer>, Failure> {
        let person = self.person.clone();
        Ok(person.map(|Person { name, role }| Answer::Person { name, role, from_file: true }))
    }

    fn key_again(&mut self) -> Result<SigningKey, Failure> {
        let no_passphrase = |_: &Path| None;
        let choice = self.sign.as_ref().map_or(KeyChoice::Own, |s| s.key.clone());
        match (&self.named_key, choice) {
            (Some(path), _) => signing::read(path, no_passphrase),
            (None, KeyChoice::File(path)) => signing::read(&path, no_passphrase),
            (None, KeyChoice::Own) => {
                let name = self.sign.as_ref().map_or("signer", |s| s.person.name.as_str());
                let (key, new) = signing::own(name, no_passphrase)?;
                if new {
                    say(&signing::introduce(&key));
                }
                Ok(key)
            }
        }
    }
}
