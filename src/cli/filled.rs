//! The filled table of printed sheets: read, checked cell by cell, and followed like a file of answers.

mod cells;
mod table;

use std::collections::HashMap;
use std::path::Path;

use super::answers::AnswersFront;
use super::failure::Failure;
use super::files::read_text;
use super::walk::{Front, Paper, Reply, SignOff};
use crate::document::closest;
use crate::plan::StepKey;
use crate::procedure::Hazard;
use crate::record::{SigningKey, sha256_hex};
use crate::report::sheets::{Code, Kind, Sheets};
use crate::walk::{Answer, Event, FrozenFile, Prompt, Refused, Walk};
pub(super) use cells::with_unit;
use table::{Row, Table};

/// What is allowed in `decision`.
const DECISIONS: &str = "measure again; rework STEP: reason; repair STEP: reason; explained: reason; nonconformity: reason; or \
                         concession by NAME for SCOPE: reason";

/// Where a blank stands: row of the table, page of the sheets, number of its step.
#[derive(Debug, Clone)]
struct Place {
    row: usize,
    page: String,
    number: usize,
}

/// A filled table being followed.
pub(super) struct SheetsFront {
    answers: AnswersFront,
    paper: Paper,
    places: HashMap<(StepKey, Kind), Place>,
    /// Boxes of hazards that are ticked, by the step before which they stand.
    read: HashMap<StepKey, Vec<String>>,
}

/// Whether somebody has written into a table.
pub(super) fn is_filled(path: &Path) -> bool {
    let table = read_text(path).map(|text| Table::read(&text));
    table.is_ok_and(|table| table.is_ok_and(|table| table.rows.iter().any(Row::is_filled)))
}

impl SheetsFront {
    /// Reads a table for a walk: all wrong cells are told at once.
    ///
    /// # Errors
    /// [`Failure`]: the table is none of this job and its procedures, or cells in it cannot be taken.
    pub(super) fn read(path: &Path, walk: &Walk, named_key: Option<&Path>) -> Result<Self, Failure> {
        let file = path.display().to_string();
        let text = read_text(path)?;
        let table = Table::read(&text).map_err(|says| Failure::message(format!("{file}: {says}")))?;
        let code = fitting_code(&table, walk, &file)?;
        let sheets = Sheets::of(walk, code.sheet());
        let known: HashMap<(&str, Kind), &str> = sheets
            .blanks()
            .iter()
            .map(|blank| ((blank.step.as_ref().map_or("", StepKey::as_str), blank.kind), blank.what.as_str()))
            .collect();
        let mut reader = cells::Cells::new(walk, &sheets, named_key, file.clone());
        let mut front_rows: HashMap<(String, Kind), usize> = HashMap::new();
        let mut places = HashMap::new();
        for row in &table.rows {
            let Some(kind) = row.kind() else {
                reader.wrong(
                    row,
                    "kind",
                    &format!("`{}` is no kind of blank; leave this column as it was", row.get("kind")),
                );
                continue;
            };
            let step = row.get("step").to_owned();
            if !known.contains_key(&(step.as_str(), kind)) {
                let all: Vec<&str> = known.keys().map(|(step, _)| *step).collect();
                let meant = closest(&step, &all).map(|near| format!("; meant: {near}?")).unwrap_or_default();
                reader.wrong(row, "step", &format!("these sheets have no {} of `{step}`{meant}", kind.word()));
                continue;
            }
            if let Some(first) = front_rows.insert((step.clone(), kind), row.number) {
                reader.wrong(row, "step", &format!("row {first} is about the same"));
                continue;
            }
            if !step.is_empty() {
                let key = StepKey::from_text(&step);
                let number = walk.plan().position(&key).map_or(0, |at| at + 1);
                let place = Place { row: row.number, page: row.get("page").to_owned(), number };
                places.insert((key, kind), place);
            }
            reader.take(row, kind);
        }
        let name = path.file_name().map_or_else(|| file.clone(), |name| name.to_string_lossy().into_owned());
        let frozen = FrozenFile { name, sha256: sha256_hex(text.as_bytes()) };
        let cells::Taken { answers, read, day, entered_by } = reader.finish()?;
        let paper = Paper { code: code.to_string(), day, entered_by, file: Some(frozen) };
        Ok(Self { answers, paper, places, read })
    }

    /// Whether hazards were read: each is ticked before this step, or before an earlier one of the same procedure.
    fn were_read(&self, walk: &Walk, step: &StepKey, hazards: &[&Hazard]) -> bool {
        let plan = walk.plan();
        let Some(at) = plan.position(step) else { return false };
        let procedure = |at: usize| plan.phases[plan.steps[at].phase].procedure.as_str();
        let ticked = |id: &str| {
            (0..=at)
                .filter(|earlier| procedure(*earlier) == procedure(at))
                .filter_map(|earlier| self.read.get(&plan.steps[earlier].key))
                .any(|ids| ids.iter().any(|own| own == id))
        };
        hazards.iter().all(|hazard| ticked(&hazard.id))
    }

    /// Row, step and page of a blank in words.
    fn place(&self, step: &StepKey, kind: Kind) -> String {
        let file = &self.answers.file;
        match self.places.get(&(step.clone(), kind)) {
            Some(Place { row, page, number }) => format!("{file}, row {row}: step {number} on page {page} ({step})"),
            None => format!("{file}: the row `{}` of {step}, which was taken out,", kind.word()),
        }
    }

    /// An empty blank stops here.
    fn missing(&self, prompt: &Prompt) -> Failure {
        let Some((step, kind, says, write)) = wanted(prompt) else {
            return Failure::message(format!("{} is at its end", self.answers.file));
        };
        Failure::message(format!(
            "{} {says}\n  write: {write}\n  everything before it is saved; the same call goes on from there",
            self.place(step, kind)
        ))
    }
}

/// The code of the table, where it is that of the job and its procedures as they are now.
fn fitting_code(table: &Table, walk: &Walk, file: &str) -> Result<Code, Failure> {
    let mut codes: Vec<&str> = table.rows.iter().map(|row| row.get("code")).filter(|code| !code.is_empty()).collect();
    codes.dedup();
    let [written] = codes[..] else {
        let says = if codes.is_empty() {
            "no row has a code: the column `code` tells for which job it was printed".to_owned()
        } else {
            format!("the rows have several codes ({}): they are of different sheets", codes.join(", "))
        };
        return Err(Failure::message(format!("{file}: {says}")));
    };
    let code = Code::read(written)
        .ok_or_else(|| Failure::message(format!("{file}: `{written}` is no code, such as 3fa1-b2c4-A4")))?;
    let now = Code::of(walk.stated(), walk.plan(), code.sheet());
    match code.differs_from(&now) {
        None => Ok(code),
        Some(what) => Err(Failure::message(format!(
            "{file} is filled for other sheets: their code is {code}, that of this job and its procedures is {now}\n  \
             {what}\n  name the job that the sheets were printed for, with --procedures as then; nothing was entered"
        ))),
    }
}

/// What an empty blank lacks: its step and kind, what is said, and what is to be written where.
fn wanted<'p>(prompt: &Prompt<'p>) -> Option<(&'p StepKey, Kind, String, String)> {
    let empty = "is empty".to_owned();
    let tick = "x into `value`, where the box on paper is ticked".to_owned();
    Some(match prompt {
        Prompt::Hazards { step, hazards } => {
            let ids: Vec<&str> = hazards.iter().map(|hazard| hazard.id.as_str()).collect();
            let says = format!("does not say that these hazards were read before it: {}", ids.join(", "));
            (&step.key, Kind::Hazards, says, tick)
        }
        Prompt::Do { step } => (&step.key, Kind::Done, "is not ticked".to_owned(), tick),
        Prompt::Choose { step, ways } => {
            let ways: Vec<String> =
                ways.iter().enumerate().map(|(at, way)| format!("{} ({})", at + 1, way.id)).collect();
            (&step.key, Kind::Choice, empty, format!("into `value` the way that was taken: {}", ways.join(", ")))
        }
        Prompt::Witness { step, party } => {
            let says = format!("does not say whether the {party} was told and came");
            (&step.key, Kind::Witness, says, "into `name` who came, or: nobody".to_owned())
        }
        Prompt::Measure { step, expectation, .. } => {
            let write = format!("into `value` what the meter showed; expected {}", expectation.range());
            (&step.key, Kind::Reading, empty, write)
        }
        Prompt::Value { step, dimension, unit, .. } => {
            (&step.key, Kind::Value, empty, format!("into `value` the {} in {unit}", dimension.name()))
        }
        Prompt::Text { step, .. } => (&step.key, Kind::Text, empty, "into `value` what was seen".to_owned()),
        Prompt::Wait { step, at_least, .. } => {
            (&step.key, Kind::Wait, empty, format!("into `value` how long was waited, at least {at_least}"))
        }
        Prompt::Dispose { step, attempt } => {
            let kind = if attempt.reading.is_none() {
                Kind::Text
            } else if matches!(step.ask, crate::plan::Ask::Measure(_)) {
                Kind::Reading
            } else {
                Kind::Value
            };
            let says = format!("asks what was done about it: {}", attempt.judgement.says);
            let write = format!(
                "into `decision` one of: {DECISIONS}\n  a reading that was taken after it stands in `value` behind a bar: \
                 FIRST | SECOND"
            );
            (&step.key, kind, says, write)
        }
        Prompt::Hold { step, who } => {
            let says = format!("is a hold point, and no {who} has released it");
            (
                &step.key,
                Kind::Release,
                says,
                "into `name` who looked, into `statement` what was checked and seen".to_owned(),
            )
        }
        Prompt::WhoWorks | Prompt::SignOff | Prompt::Finished => return None,
    })
}

impl Front for SheetsFront {
    fn ask(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure> {
        if let Prompt::Hazards { step, hazards } = prompt
            && self.were_read(walk, &step.key, hazards)
        {
            return Ok(Reply::Answer(Answer::Yes));
        }
        if self.answers.has_answer(walk, prompt) { self.answers.ask(walk, prompt) } else { Err(self.missing(prompt)) }
    }

    fn refused(&mut self, walk: &Walk, refused: &Refused) -> Result<(), Failure> {
        let prompt = walk.prompt();
        let place = wanted(&prompt).map_or(self.answers.file.clone(), |(step, kind, ..)| self.place(step, kind));
        Err(Failure::message(format!("{place}: {refused}\n  everything before it is saved")))
    }

    fn noted(&mut self, text: &str) {
        self.answers.noted(text);
    }

    fn job_differs(&mut self, _: &str) -> Result<Option<String>, Failure> {
        Ok(None)
    }

    fn saved(&mut self, walk: &Walk, event: &Event) {
        self.answers.saved(walk, event);
    }

    fn sign_off(&mut self, walk: &Walk) -> Result<Option<SignOff>, Failure> {
        self.answers.sign_off(walk)
    }

    fn resumed(&mut self, walk: &Walk) -> Result<Option<Answer>, Failure> {
        self.answers.resumed(walk)
    }

    fn key_again(&mut self) -> Result<SigningKey, Failure> {
        self.answers.key_again()
    }

    fn paper(&self) -> Option<Paper> {
        Some(self.paper.clone())
    }
}
