//! The cells of a filled table: what may stand in each, and the answers that they add up to.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::super::answers::{AnswersFront, KeyChoice, Person, Release, Sign, disposition};
use super::super::failure::Failure;
use super::DECISIONS;
use super::table::Row;
use crate::plan::{Step, StepKey};
use crate::report::sheets::{Kind, Sheets};
use crate::walk::{Answer, Event, Prompt, Walk};

/// What stands for a ticked box.
const TICKED: [&str; 9] = ["x", "✓", "✔", "yes", "y", "done", "read", "1", "true"];

/// Most wrong cells that are told: a table of another kind has nothing else.
const MOST_TOLD: usize = 20;

/// What the cells say.
pub(super) struct Taken {
    pub answers: AnswersFront,
    pub read: HashMap<StepKey, Vec<String>>,
    pub day: String,
    pub entered_by: String,
}

/// Takes cell after cell, and notes those that cannot be taken.
pub(super) struct Cells<'w> {
    walk: &'w Walk,
    sheets: &'w Sheets,
    /// At its beginning, with whoever did the work on duty: answers are tried on it.
    trial: Walk,
    folder: PathBuf,
    taken: Taken,
    wrong: Vec<String>,
}

impl<'w> Cells<'w> {
    pub(super) fn new(walk: &'w Walk, sheets: &'w Sheets, named_key: Option<&Path>, file: String) -> Self {
        let folder = Path::new(&file).parent().unwrap_or(Path::new("")).to_owned();
        let answers = AnswersFront::of_file(file, named_key);
        let taken = Taken { answers, read: HashMap::new(), day: String::new(), entered_by: String::new() };
        let trial = Walk::new(walk.stated().clone(), walk.plan().clone());
        Self { walk, sheets, trial, folder, taken, wrong: Vec::new() }
    }

    /// Notes a cell that cannot be taken.
    pub(super) fn wrong(&mut self, row: &Row, column: &str, says: &str) {
        let step = self.step(row).map(|(number, step)| format!(", step {number} ({})", step.key)).unwrap_or_default();
        self.wrong.push(format!("row {}, `{column}`{step}: {says}", row.number));
    }

    fn step(&self, row: &Row) -> Option<(usize, &'w Step)> {
        let at = self.walk.plan().position(&StepKey::from_text(row.get("step")))?;
        Some((at + 1, &self.walk.plan().steps[at]))
    }

    /// Takes a row of a kind; what is empty is left for the walk to ask about.
    pub(super) fn take(&mut self, row: &Row, kind: Kind) {
        match (kind, self.step(row)) {
            (Kind::Taken, _) => self.who_worked(row),
            (Kind::Entered, _) => {
                self.taken.entered_by = self.name(row, "who enters the table").unwrap_or_default();
            }
            (Kind::Sign, _) => self.sign(row),
            (_, Some((_, step))) => {
                self.beside(row, step);
                match kind {
                    Kind::Hazards => self.hazards(row, step),
                    Kind::Witness => self.witness(row, step),
                    Kind::Done => {
                        if self.ticked(row) {
                            self.answer(step, vec!["done".to_owned()]);
                        }
                    }
                    Kind::Release => self.release(row, step),
                    _ => self.values(row, step),
                }
            }
            (_, None) => self.wrong(row, "step", "this row belongs to no step"),
        }
    }

    /// A name that must be there.
    fn name(&mut self, row: &Row, whose: &str) -> Option<String> {
        let name = row.get("name");
        if name.chars().any(char::is_alphabetic) {
            return Some(name.to_owned());
        }
        self.wrong(row, "name", &format!("a name is needed here: {whose}"));
        None
    }

    fn who_worked(&mut self, row: &Row) {
        let name = self.name(row, "who did the work, as it stands on the first sheet");
        let role = row.get("role").to_owned();
        if !role.chars().any(char::is_alphabetic) {
            self.wrong(row, "role", "a role is needed here: installer, apprentice, ...");
        }
        row.get("value").clone_into(&mut self.taken.day);
        if !self.taken.day.chars().any(|c| c.is_ascii_digit()) {
            self.wrong(row, "value", "the day of the work is needed here, as it stands on the first sheet");
        }
        if let Some(name) = name {
            let duty = Event::OnDuty { name: name.clone(), role: role.clone(), from_file: true };
            // What is wrong with it is noted above.
            let _ = self.trial.apply(&duty);
            self.taken.answers.person = Some(Person { name, role });
        }
    }

    fn sign(&mut self, row: &Row) {
        let [name, role, statement] = ["name", "role", "statement"].map(|column| row.get(column).to_owned());
        if name.is_empty() && role.is_empty() && statement.is_empty() {
            return;
        }
        for (column, text) in [("name", &name), ("role", &role), ("statement", &statement)] {
            if !text.chars().any(char::is_alphabetic) {
                self.wrong(row, column, "a sign-off has a name, a role and a statement; or leave all three empty");
            }
        }
        let person = Person { name, role };
        self.taken.answers.sign = Some(Sign { person, statement, key: KeyChoice::Own });
    }

    /// Remark and picture of a step.
    fn beside(&mut self, row: &Row, step: &Step) {
        let key = step.key.to_string();
        let [remark, picture] = ["remark", "picture"].map(|column| row.get(column).to_owned());
        if !remark.is_empty() {
            self.taken.answers.remarks.entry(key.clone()).or_default().push(remark);
        }
        if !picture.is_empty() {
            let path = self.folder.join(&picture);
            if path.is_file() {
                self.taken.answers.photos.entry(key).or_default().push(path);
            } else {
                self.wrong(row, "picture", &format!("there is no file {}", path.display()));
            }
        }
    }

    fn ticked(&mut self, row: &Row) -> bool {
        let value = row.get("value");
        if value.is_empty() {
            return false;
        }
        let ticked = TICKED.contains(&value.to_lowercase().as_str());
        if !ticked {
            self.wrong(row, "value", &format!("`{value}` is no tick: write x where the box is ticked, else nothing"));
        }
        ticked
    }

    fn hazards(&mut self, row: &Row, step: &Step) {
        if self.ticked(row) {
            let ids = self.sheets.hazards_before(&step.key).iter().map(|hazard| hazard.id.clone()).collect();
            self.taken.read.insert(step.key.clone(), ids);
        }
    }

    fn witness(&mut self, row: &Row, step: &Step) {
        let came = row.get("name").to_owned();
        let Some(party) = step.witness.as_deref().filter(|_| !came.is_empty()) else { return };
        let answer = Answer::Typed(came.clone());
        match self.trial.event_for(&Prompt::Witness { step, party }, answer) {
            Ok(_) => {
                self.taken.answers.witnesses.insert(step.key.to_string(), came);
            }
            Err(refused) => self.wrong(row, "name", &refused.says),
        }
    }

    fn release(&mut self, row: &Row, step: &Step) {
        let (by, statement) = (row.get("name").to_owned(), row.get("statement").to_owned());
        if by.is_empty() && statement.is_empty() {
            return;
        }
        if let Err(refused) = self.trial.may_release(&step.key, &by, &statement) {
            let column = if by.is_empty() { "name" } else { "statement" };
            return self.wrong(row, column, &refused.says);
        }
        self.taken.answers.releases.insert(step.key.to_string(), vec![Release { by, statement, key: None }]);
    }

    /// Readings and what was done about each, in their order.
    fn values(&mut self, row: &Row, step: &Step) {
        let list =
            |column: &str| -> Vec<String> { row.get(column).split('|').map(|part| part.trim().to_owned()).collect() };
        let (values, decisions) = (list("value"), list("decision"));
        let most = values.len().max(decisions.len());
        let mut answers = Vec::new();
        for at in 0..most {
            let value = values.get(at).filter(|value| !value.is_empty());
            let decision = decisions.get(at).filter(|decision| !decision.is_empty());
            if let Some(value) = value {
                let text = with_unit(value, row.get("unit"), row.get("instrument"));
                if let Err(says) = self.fits(step, &text) {
                    self.wrong(row, "value", &format!("`{value}`: {says}"));
                }
                answers.push(text);
            } else if decision.is_some() || at + 1 < values.len() {
                self.wrong(row, "value", "a reading is missing: one stands before each bar, and one for each decision");
            }
            if let Some(decision) = decision {
                if disposition(decision).is_none() {
                    self.wrong(row, "decision", &format!("`{decision}` is none of: {DECISIONS}"));
                }
                answers.push(decision.clone());
            }
        }
        if !answers.is_empty() {
            self.answer(step, answers);
        }
    }

    /// Whether a step takes an answer: what is said of it where not.
    fn fits(&self, step: &Step, text: &str) -> Result<(), String> {
        let prompt = self.trial.prompt_at(step);
        self.trial.event_for(&prompt, Answer::Typed(text.to_owned())).map(|_| ()).map_err(|refused| refused.says)
    }

    fn answer(&mut self, step: &Step, texts: Vec<String>) {
        self.taken.answers.answers.insert(step.key.to_string(), texts);
    }

    /// What was taken, unless a cell was wrong.
    ///
    /// # Errors
    /// [`Failure`] with all wrong cells.
    pub(super) fn finish(mut self) -> Result<Taken, Failure> {
        let whole = [
            (self.taken.answers.person.is_some(), "work", "who did the work"),
            (!self.taken.entered_by.is_empty(), "entered", "who enters it"),
        ];
        if self.wrong.is_empty() {
            let missing = whole.into_iter().filter(|(there, ..)| !there);
            self.wrong.extend(missing.map(|(_, row, what)| format!("the row `{row}` is missing: it says {what}")));
        }
        let count = self.wrong.len();
        if count == 0 {
            return Ok(self.taken);
        }
        let told = self.wrong.iter().take(MOST_TOLD).cloned().collect::<Vec<_>>().join("\n  ");
        let more = count.saturating_sub(MOST_TOLD);
        let more = if more == 0 { String::new() } else { format!("\n  and {more} more") };
        let cells = if count == 1 { "a cell".to_owned() } else { format!("{count} cells") };
        Err(Failure::message(format!(
            "{cells} of {} cannot be taken; nothing was entered\n  {told}{more}",
            self.taken.answers.file
        )))
    }
}

/// A value with the unit of its row, where it is written without one, and with the instrument.
pub(in super::super) fn with_unit(value: &str, unit: &str, instrument: &str) -> String {
    let bare =
        !unit.is_empty() && value.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | ' '));
    let value = if bare { format!("{value} {unit}") } else { value.to_owned() };
    let instrument = instrument.trim_start_matches('@');
    if instrument.is_empty() { value } else { format!("{value} @{instrument}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_number_has_the_unit_that_is_printed_in_its_box() {
        assert_eq!(with_unit("344", "mV", ""), "344 mV");
        assert_eq!(with_unit("12,61", "V", "M2"), "12,61 V @M2");
        assert_eq!(with_unit("0.34 V", "mV", ""), "0.34 V");
        assert_eq!(with_unit("OL", "MΩ", "@M1"), "OL @M1");
        assert_eq!(with_unit("7", "", ""), "7");
    }
}
