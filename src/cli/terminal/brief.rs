//! The questions of a new job, or of a kit, put to a person.

use console::style;

use super::super::failure::Failure;
use super::super::layout::labelled;
use super::TerminalFront;
use crate::brief::{Asking, Question, WantedForm, are_numbers};

/// How the questions ended.
pub(in crate::cli) enum Asked<'q, P> {
    /// The person agreed to the job that comes of the answers.
    Agreed(P),
    /// Something cannot be taken, and the person does not know it yet.
    Missing(Vec<Question<'q>>),
}

/// A job that comes of the answers.
pub(in crate::cli) struct Shown<P> {
    /// What is shown of it.
    pub words: String,
    /// Whether its design keeps the rules.
    pub conforms: bool,
    pub proposal: P,
}

/// What was typed at a question.
enum Typed {
    Answer(String),
    Back,
    Help,
    List,
}

impl TerminalFront {
    /// Asks question after question, shows what comes of the answers, and lets the person change any of them.
    pub(in crate::cli) fn ask_all<'q, A: Asking<'q>, P>(
        &mut self,
        asking: &mut A,
        propose: impl Fn(&A) -> Result<Shown<P>, Failure>,
    ) -> Result<Asked<'q, P>, Failure> {
        let width = self.width();
        let intro = "Enter takes the answer in brackets. `?` says more, `back` goes one question back, `list` shows what \
                     was said. Ctrl-C stops; nothing that was said is lost.";
        self.line(&labelled("", intro, width));
        loop {
            let mut nothing_known = 0;
            while let Some(question) = asking.next() {
                if !self.put(asking, &question, &mut nothing_known)? {
                    return Ok(Asked::Missing(asking.missing()));
                }
            }
            let shown = propose(asking)?;
            self.line("");
            self.line(shown.words.trim_end());
            let Some(id) = self.agree(asking, shown.conforms)? else {
                return Ok(Asked::Agreed(shown.proposal));
            };
            if let Some(before) = asking.forget(id) {
                self.line(&format!("  until now: {before}"));
            }
        }
    }

    /// Puts one question; false where the person does not know what nothing can be taken for.
    fn put<'q>(
        &mut self,
        asking: &mut impl Asking<'q>,
        question: &Question,
        nothing_known: &mut usize,
    ) -> Result<bool, Failure> {
        self.show_question(asking, question);
        loop {
            match self.typed_answer(question)? {
                Typed::Help => self.show_help(question),
                Typed::List => self.show_answers(asking),
                Typed::Back => {
                    let before = asking.questions().into_iter().take_while(|q| q.id != question.id).last();
                    match before {
                        Some(before) => {
                            asking.forget(before.id);
                            return Ok(true);
                        }
                        None => self.line("  this is the first question"),
                    }
                }
                Typed::Answer(text) => match asking.answer(question.id, &text) {
                    Ok(()) => return Ok(true),
                    Err(refused) => {
                        if text.is_empty() {
                            *nothing_known += 1;
                            if *nothing_known > 1 {
                                return Ok(false);
                            }
                        }
                        self.line(&labelled("  ", &refused.says, self.width()));
                        if text.is_empty() {
                            self.line("  Enter once more stops here and keeps what was said.");
                        }
                    }
                },
            }
        }
    }

    fn typed_answer(&mut self, question: &Question) -> Result<Typed, Failure> {
        let prompt = match &question.usual {
            Some(usual) => format!("{} [{}]", question.id.replace('_', " "), usual.text),
            None => question.id.replace('_', " "),
        };
        let text = self.input(&prompt, true)?;
        Ok(match text.as_str() {
            "?" => Typed::Help,
            "back" => Typed::Back,
            "list" => Typed::List,
            _ => Typed::Answer(text),
        })
    }

    fn show_question<'q>(&mut self, asking: &impl Asking<'q>, question: &Question) {
        let all = asking.questions();
        let place = all.iter().position(|q| q.id == question.id).map_or(1, |at| at + 1);
        let width = self.width();
        self.line("");
        let head = labelled(&format!("{place}/{} ", all.len()), &question.asks, width);
        for line in head.lines() {
            self.line(&style(line).for_stderr().bold().to_string());
        }
        self.line(&labelled("  why:   ", question.why, width));
        if let WantedForm::OneOf(choices) = question.form {
            let longest = choices.iter().map(|(word, _)| word.chars().count()).max().unwrap_or(0);
            for (number, (word, says)) in choices.iter().enumerate() {
                let count = if are_numbers(choices) { "  ".to_owned() } else { format!("{})", number + 1) };
                self.line(&labelled(&format!("  {count} {word:<longest$}  "), says, width));
            }
        } else {
            self.line(&labelled("  write: ", &question.form.written(), width));
        }
        if let Some(usual) = &question.usual {
            self.line(&labelled("  Enter: ", &format!("{}; {}", usual.text, usual.because), width));
        }
    }

    fn show_help(&self, question: &Question) {
        let width = self.width();
        if !question.find_out.is_empty() {
            self.line(&labelled("  ", question.find_out, width));
        }
        self.line(&labelled("  write: ", &question.form.written(), width));
        self.line("  ?     this help");
        self.line("  back  the question before comes again");
        self.line("  list  what was said so far");
        self.line("  Ctrl-C stops for now; what was said is kept");
    }

    fn show_answers<'q>(&self, asking: &impl Asking<'q>) {
        for (number, question) in asking.questions().iter().enumerate() {
            let (answer, how) = match (asking.given(question.id), &question.usual) {
                (Some(given), _) => (given.to_owned(), ""),
                (None, Some(usual)) if asking.answered(question.id) => (usual.text.clone(), "  (taken)"),
                _ => ("not asked yet".to_owned(), ""),
            };
            let label = format!("  {:>2}) {:<14}", number + 1, question.id.replace('_', " "));
            self.line(&labelled(&label, &format!("{answer}{how}"), self.width()));
        }
    }

    /// The question whose answer is to be changed; none where the person agrees.
    fn agree<'q>(&mut self, asking: &impl Asking<'q>, conforms: bool) -> Result<Option<&'q str>, Failure> {
        self.line("");
        let questions = asking.questions();
        let prompt = if conforms {
            "Enter writes the job; `list` shows the answers, a number changes one"
        } else {
            self.show_answers(asking);
            "Which answer is changed? Its number"
        };
        loop {
            let typed = self.input(prompt, true)?;
            match typed.as_str() {
                "" if conforms => return Ok(None),
                "list" | "?" => {
                    self.show_answers(asking);
                    continue;
                }
                "back" => return Ok(questions.last().map(|question| question.id)),
                _ => {}
            }
            let named = questions.iter().find(|q| q.id == typed.replace(' ', "_"));
            let numbered = typed.parse::<usize>().ok().and_then(|n| questions.get(n.checked_sub(1)?));
            match named.or(numbered) {
                Some(question) => return Ok(Some(question.id)),
                None => self.line(&format!("  write a number from 1 to {}, or Ctrl-C to stop", questions.len())),
            }
        }
    }
}
