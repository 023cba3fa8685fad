//! From nothing: what a layman can say of one load, and the job that follows from it.
//!
//! A [`Brief`] asks question after question, each with its reason and, where one makes sense, an answer that is taken
//! when nobody knows better. [`Proposal::of`] works the job out: conductors, fuses, relay or not, connector; it says why,
//! with the numbers, and writes the job file. The order of the questions depends on the answers, and any answer can be
//! changed.

mod answers;
mod choose;
mod file;
mod layout;
mod names;
mod question;
mod questions;
mod write;

pub use choose::{Choice, Proposal, Unfit};
pub use question::{Asking, Question, Refused, Usual, WantedForm, are_numbers};

use std::collections::BTreeMap;

use crate::job::Job;

/// How a question was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Said {
    /// By a person.
    Given(String),
    /// The usual answer was taken, whatever it is by the answers before it.
    Usual,
}

/// What is known of the load that is to be fitted, and what is still to be asked.
#[derive(Debug, Clone, Default)]
pub struct Brief {
    said: BTreeMap<&'static str, Said>,
    /// The job that the load is added to.
    onto: Option<Box<Job>>,
}

impl Brief {
    /// For a new job.
    pub fn new() -> Self {
        Self::default()
    }

    /// For a load that is added to a job.
    pub fn onto(job: Job) -> Self {
        Self { onto: Some(Box::new(job)), ..Self::default() }
    }

    /// The job that the load is added to.
    pub fn existing(&self) -> Option<&Job> {
        self.onto.as_deref()
    }

    /// The answer that holds: a person's, else the usual one.
    pub fn holds(&self, id: &str) -> Option<String> {
        if let Some(text) = self.given(id) {
            return Some(text.to_owned());
        }
        let entry = questions::ALL.iter().find(|entry| entry.id == id)?;
        (entry.usual)(self).map(|usual| usual.text)
    }
}

impl Asking<'static> for Brief {
    fn questions(&self) -> Vec<Question<'static>> {
        questions::ALL.iter().filter(|entry| (entry.when)(self)).map(|entry| entry.question(self)).collect()
    }

    fn answer(&mut self, id: &str, text: &str) -> Result<(), Refused> {
        let entry = questions::ALL.iter().find(|entry| entry.id == id);
        let entry = entry.ok_or_else(|| Refused { says: format!("there is no question `{id}`") })?;
        let question = entry.question(self);
        if text.trim().is_empty() {
            if question.usual.is_none() {
                return Err(Refused { says: question.find_out.to_owned() });
            }
            self.said.insert(entry.id, Said::Usual);
            return Ok(());
        }
        let text = question.form.read(text)?;
        entry.check(self, &text)?;
        self.said.insert(entry.id, Said::Given(text));
        Ok(())
    }

    fn forget(&mut self, id: &str) -> Option<String> {
        match self.said.remove(id)? {
            Said::Given(text) => Some(text),
            Said::Usual => None,
        }
    }

    fn given(&self, id: &str) -> Option<&str> {
        match self.said.get(id)? {
            Said::Given(text) => Some(text),
            Said::Usual => None,
        }
    }

    fn answered(&self, id: &str) -> bool {
        self.said.contains_key(id)
    }
}
