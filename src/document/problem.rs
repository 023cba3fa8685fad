use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::Form;

/// Most problems of a file that are shown: whoever has more wrote no file of this kind.
const MOST_SHOWN: usize = 100;

/// A text and the name it is shown under.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// File name as the person gave it.
    pub name: String,
    /// The whole text.
    pub text: Arc<str>,
}

impl Source {
    /// A text with its name.
    pub fn new(name: impl Into<String>, text: impl Into<Arc<str>>) -> Self {
        Self { name: name.into(), text: text.into() }
    }
}

/// One thing that is wrong in a text, with its place and the way out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong.
    pub title: String,
    /// The faulty bytes, where the problem has a place.
    pub at: Option<Range<usize>>,
    /// Said right under the faulty words: mostly what is allowed.
    pub label: String,
    /// The way out.
    pub help: Vec<String>,
}

impl Problem {
    /// A problem at a place.
    pub fn at(at: Range<usize>, title: impl Into<String>, label: impl Into<String>) -> Self {
        Self { title: title.into(), at: Some(at), label: label.into(), help: Vec::new() }
    }

    /// A problem of the file as a whole.
    pub fn general(title: impl Into<String>) -> Self {
        Self { title: title.into(), at: None, label: String::new(), help: Vec::new() }
    }

    /// Adds a way out.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help.push(help.into());
        self
    }
}

/// All problems of one text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problems {
    source: Source,
    list: Vec<Problem>,
    /// What the reader asks for, where that is wanted.
    pub(super) form: Option<Box<Form>>,
}

impl Problems {
    /// None yet.
    pub fn new(source: Source) -> Self {
        Self { source, list: Vec::new(), form: None }
    }

    /// None yet, and the reader's questions are noted as the form of the file.
    pub fn with_form(source: Source) -> Self {
        Self { form: Some(Box::default()), ..Self::new(source) }
    }

    /// The form of the file as its reader asked for it; empty where it was not noted.
    pub fn into_form(self) -> Form {
        self.form.map(|form| *form).unwrap_or_default()
    }

    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        if !self.list.contains(&problem) {
            self.list.push(problem);
        }
    }

    /// Whether the text is free of them.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// In the order of their places.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    /// `value` where there are no problems, else all of them in the order of the text.
    ///
    /// # Errors
    /// The problems.
    pub fn check<T>(mut self, value: T) -> Result<T, Box<Problems>> {
        if self.list.is_empty() {
            return Ok(value);
        }
        self.list.sort_by_key(|p| p.at.as_ref().map_or(0, |at| at.start));
        Err(Box::new(self))
    }

    /// As text for a person, each problem with the line it is in and the faulty words underlined.
    pub fn render(&self, coloured: bool) -> String {
        let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
        let mut shown = Vec::new();
        for problem in self.list.iter().take(MOST_SHOWN) {
            let title = Level::ERROR.primary_title(problem.title.as_str());
            let mut group = match &problem.at {
                Some(at) => {
                    let at = self.within_text(at.clone());
                    let mark = AnnotationKind::Primary.span(at).label(problem.label.as_str());
                    title.element(Snippet::source(&*self.source.text).path(self.source.name.as_str()).annotation(mark))
                }
                None => title.element(Level::NOTE.message(format!("in {}", self.source.name))),
            };
            for help in &problem.help {
                group = group.element(Level::HELP.message(help.as_str()));
            }
            shown.push(renderer.render(&[group]));
        }
        if self.list.len() > 1 {
            let first = if self.list.len() > MOST_SHOWN {
                format!("; the first {MOST_SHOWN} are shown")
            } else {
                String::new()
            };
            shown.push(format!("{} problems in {}{first}", self.list.len(), self.source.name));
        }
        shown.join("\n\n")
    }

    /// Keeps a span on character borders inside the text, whatever was asked for.
    fn within_text(&self, at: Range<usize>) -> Range<usize> {
        let text = &self.source.text;
        let mut start = at.start.min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let mut end = at.end.clamp(start, text.len());
        while !text.is_char_boundary(end) {
            end += 1;
        }
        start..end
    }
}

impl std::fmt::Display for Problems {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Problems {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_very_many_problems_the_first_are_shown_and_all_are_counted() {
        let mut problems = Problems::new(Source::new("job.toml", "a = 1\n".repeat(150)));
        (0..150).for_each(|n| problems.push(Problem::at(n * 6..n * 6 + 1, format!("problem {n}"), "here")));
        let shown = problems.render(false);
        assert!(shown.contains("problem 99\n") && !shown.contains("problem 100\n"), "{shown}");
        assert!(shown.ends_with("150 problems in job.toml; the first 100 are shown"), "{shown}");
    }
}
