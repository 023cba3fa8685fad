//! The answers to what differs.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::Write;

use super::{Differing, Kit};
use crate::brief::{Asking, Question, Refused, Usual};
use crate::document::{Problem, Problems, Source, Table, parse_toml};

/// A kit and what was answered so far.
#[derive(Debug, Clone)]
pub struct Filling<'k> {
    /// The kit.
    pub kit: &'k Kit,
    /// The answer of a person, or `None` where the usual one was taken.
    said: BTreeMap<&'k str, Option<String>>,
}

impl<'k> Filling<'k> {
    /// Nothing is answered yet.
    pub fn of(kit: &'k Kit) -> Self {
        Self { kit, said: BTreeMap::new() }
    }

    /// Reads a file of answers, by the names of what differs.
    ///
    /// # Errors
    /// All problems of the file at once, each with its place.
    pub fn read(kit: &'k Kit, source: &Source) -> Result<Self, Box<Problems>> {
        let problems = RefCell::new(Problems::new(source.clone()));
        let filling = read_file(kit, source, &problems);
        problems.into_inner().check(filling)
    }

    /// The answers as a file. What was not answered stands in it as a remark.
    pub fn text(&self) -> String {
        let mut text = format!(
            "# What differs on this vehicle from the kit \"{}\". Change an answer and make the job anew from it.\n\
             format = 1\n",
            one_line(&self.kit.title)
        );
        for question in self.questions() {
            let _ = writeln!(text, "\n# {}", one_line(&question.asks));
            let value = |text: &str| toml::Value::String(text.to_owned());
            let _ = match (self.given(question.id), &question.usual) {
                (Some(given), _) => writeln!(text, "{} = {}", question.id, value(given)),
                (None, Some(usual)) => writeln!(text, "# {} = {}   (as usual)", question.id, value(&usual.text)),
                (None, None) => writeln!(text, "# {} = ...   to be found out", question.id),
            };
        }
        text
    }

    /// The answer that holds for one thing; `None` where there is none.
    pub(super) fn holds(&self, differing: &Differing) -> Option<String> {
        self.given(&differing.name).map(str::to_owned).or_else(|| differing.usual.clone())
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn read_file<'k>(kit: &'k Kit, source: &Source, problems: &RefCell<Problems>) -> Filling<'k> {
    let mut filling = Filling::of(kit);
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return filling;
    }
    let top = Table::new(document.get_ref(), 0..0, "the file of answers", problems);
    top.check_format("file of answers");
    for differing in &kit.differs {
        let Some(text) = top.text(&differing.name) else { continue };
        if let Err(refused) = filling.answer(&differing.name, &text) {
            let title = format!("`{}`: {}", differing.name, refused.says);
            let problem = Problem::at(top.place_of(&differing.name), title, differing.form().written());
            top.problem(problem.help(&differing.asks));
        }
    }
    top.finish();
    filling
}

impl<'k> Asking<'k> for Filling<'k> {
    fn questions(&self) -> Vec<Question<'k>> {
        let question = |differing: &'k Differing| Question {
            id: &differing.name,
            asks: differing.asks.clone(),
            why: &differing.why,
            form: differing.form(),
            usual: differing.usual.as_ref().map(|text| Usual::new(text, "as the kit has it")),
            find_out: &differing.find_out,
        };
        self.kit.differs.iter().map(question).collect()
    }

    fn answer(&mut self, id: &str, text: &str) -> Result<(), Refused> {
        let Some(differing) = self.kit.differs.iter().find(|differing| differing.name == id) else {
            return Err(Refused { says: format!("the kit does not ask for `{id}`") });
        };
        if !text.trim().is_empty() {
            let text = differing.form().read(text)?;
            self.said.insert(&differing.name, Some(text));
        } else if differing.usual.is_some() {
            self.said.insert(&differing.name, None);
        } else {
            let says =
                if differing.find_out.is_empty() { "nothing can be taken for this" } else { &differing.find_out };
            return Err(Refused { says: says.to_owned() });
        }
        Ok(())
    }

    fn forget(&mut self, id: &str) -> Option<String> {
        self.said.remove(id)?
    }

    fn given(&self, id: &str) -> Option<&str> {
        self.said.get(id)?.as_deref()
    }

    fn answered(&self, id: &str) -> bool {
        self.said.contains_key(id)
    }
}
