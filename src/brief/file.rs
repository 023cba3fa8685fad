//! A brief as a file: what a person answered, by the name of the question.

use std::cell::RefCell;
use std::fmt::Write;

use super::{Asking, Brief, questions};
use crate::document::{Form, Problem, Problems, Source, Table, parse_toml};
use crate::job::Job;

impl Brief {
    /// Reads a file of answers; what it does not answer is taken as usual, where that is possible.
    ///
    /// # Errors
    /// All problems of the file at once, each with its place.
    pub fn read(source: &Source, onto: Option<Job>) -> Result<Brief, Box<Problems>> {
        let problems = RefCell::new(Problems::new(source.clone()));
        let brief = read_file(source, onto, &problems);
        problems.into_inner().check(brief)
    }

    /// The form of such a file, from one that uses every key.
    pub fn form() -> Form {
        let source = Source::new("every-wish.toml", include_str!("every-wish.toml"));
        let problems = RefCell::new(Problems::with_form(source.clone()));
        let _ = read_file(&source, None, &problems);
        problems.into_inner().into_form()
    }

    /// The answers as a file. What was taken stands in it as a remark, so that whoever reads it can put the real answer
    /// there.
    pub fn text(&self) -> String {
        let mut text = String::from(
            "# What was said of the load that is fitted. Change an answer and make the job anew from it.\n\
             # A line with # in front was not answered: what stands there was taken.\nformat = 1\n",
        );
        for question in self.questions() {
            let _ = writeln!(text, "\n# {}", question.asks);
            match (self.given(question.id), &question.usual) {
                (Some(given), _) => {
                    let _ = writeln!(text, "{} = {}", question.id, toml::Value::String(given.to_owned()));
                }
                (None, Some(usual)) => {
                    let value = toml::Value::String(usual.text.clone());
                    let _ = writeln!(text, "# {} = {value}   ({})", question.id, usual.because);
                }
                (None, None) => {
                    let _ = writeln!(text, "# {} = ...   to be found out", question.id);
                }
            }
        }
        text
    }
}

fn read_file(source: &Source, onto: Option<Job>, problems: &RefCell<Problems>) -> Brief {
    let mut brief = onto.map_or_else(Brief::new, Brief::onto);
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return brief;
    }
    let top = Table::new(document.get_ref(), 0..0, "the brief", problems);
    top.check_format("brief");
    for entry in questions::ALL {
        let Some(text) = top.text(entry.id) else { continue };
        if let Err(refused) = brief.answer(entry.id, &text) {
            let title = format!("`{}`: {}", entry.id, refused.says);
            let question = entry.question(&brief);
            top.problem(Problem::at(top.place_of(entry.id), title, question.form.written()).help(question.asks));
        }
    }
    top.finish();
    brief
}
