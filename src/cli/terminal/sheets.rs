//! Values from printed sheets, entered in a terminal: a line for each field, a question for the boxes of a page.

use std::collections::{HashMap, HashSet};

use console::style;

use super::super::failure::Failure;
use super::super::filled::with_unit;
use super::super::layout::labelled;
use super::super::walk::{Paper, Reply};
use super::TerminalFront;
use super::words::Word;
use crate::plan::{Ask, Step};
use crate::report::Sheet;
use crate::report::sheets::{Blank, Code, Kind, Sheets};
use crate::walk::{Answer, Prompt, Walk};

/// A box on paper: the place of its step in the plan, and what it is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Tick {
    /// The hazards before the step were read.
    Hazards(usize),
    /// The step is done.
    Done(usize),
}

impl Tick {
    /// As it is typed: `13`, and `h13` for the hazards before step 13.
    fn name(self) -> String {
        match self {
            Tick::Hazards(at) => format!("h{}", at + 1),
            Tick::Done(at) => (at + 1).to_string(),
        }
    }
}

/// Sheets that are being entered.
#[derive(Default)]
pub(super) struct Entering {
    printed: Option<Sheets>,
    pages: HashMap<usize, usize>,
    paper: Option<Paper>,
    /// Boxes that are ticked on paper; each is taken once.
    ticked: HashSet<Tick>,
    /// Boxes that are not.
    empty: HashSet<Tick>,
}

impl TerminalFront {
    /// The same front, for what was written on sheets.
    pub(in super::super) fn for_sheets(self) -> Self {
        Self { sheets: Some(Entering::default()), ..self }
    }

    /// The sheets that are being entered.
    pub(super) fn paper_of_sheets(&self) -> Option<Paper> {
        self.sheets.as_ref()?.paper.clone()
    }

    /// What stands on the first sheet: its code, who did the work, when; and who enters it now.
    pub(super) fn ask_cover(&mut self, walk: &Walk) -> Result<Answer, Failure> {
        let width = self.width();
        self.line(&style(&walk.job().title).for_stderr().bold().to_string());
        let intro = "Values from printed sheets are entered in the order of the sheets, as they stand there. Where a field is \
                     empty, write: empty";
        self.line(&labelled("  ", intro, width));
        let code = loop {
            let typed = self.input("Code at the foot of the sheets", false)?;
            let Some(code) = Code::read(&typed) else {
                self.line(&labelled("  ", &format!("`{typed}` is no code, such as 3fa1-b2c4-A4"), width));
                continue;
            };
            let now = Code::of(walk.stated(), walk.plan(), code.sheet());
            match code.differs_from(&now) {
                None => break code,
                Some(what) => {
                    let says = format!(
                        "the sheets are others: this job and its procedures have the code {now}; {what}. Ctrl-C stops."
                    );
                    self.line(&labelled("  ", &says, width));
                }
            }
        };
        self.open_sheets(walk, code.sheet())?;
        let name = self.name("Who did the work, as on the sheet? Name")?;
        let role = self.name("Role (installer, apprentice, ...)")?;
        let day = loop {
            let day = self.input("Day of the work, as on the sheet", false)?;
            if day.chars().any(|c| c.is_ascii_digit()) {
                break day;
            }
            self.line("  a day has a number in it, such as 2026-03-04");
        };
        let entered_by = self.name("Who enters it now? Name")?;
        if let Some(entering) = &mut self.sheets {
            entering.paper = Some(Paper { code: code.to_string(), day, entered_by, file: None });
        }
        Ok(Answer::Person { name, role, from_file: false })
    }

    fn open_sheets(&mut self, walk: &Walk, paper: Sheet) -> Result<(), Failure> {
        let sheets = Sheets::of(walk, paper);
        let pages = sheets.pages().map_err(Failure::message)?;
        if let Some(entering) = &mut self.sheets {
            entering.pages = pages;
            entering.printed = Some(sheets);
        }
        Ok(())
    }

    /// Puts a prompt as the sheet has it: boxes together, everything else in a line.
    pub(super) fn ask_from_sheet(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure> {
        let here = |step: &Step| walk.plan().position(&step.key).unwrap_or(0);
        match prompt {
            Prompt::WhoWorks => self.ask_cover(walk).map(Reply::Answer),
            Prompt::Hazards { step, .. } => self.ask_boxes(walk, step, Tick::Hazards(here(step))),
            Prompt::Do { step } => self.ask_boxes(walk, step, Tick::Done(here(step))),
            Prompt::Choose { step, ways } => {
                let ways = ways.len();
                self.ask_blank(walk, prompt, step, Kind::Choice, &format!("Way on the sheet, 1 to {ways}"))
            }
            Prompt::Witness { step, .. } => {
                self.ask_blank(walk, prompt, step, Kind::Witness, "Who came, as on the sheet? A name, or nobody")
            }
            Prompt::Measure { step, .. } => self.ask_blank(walk, prompt, step, Kind::Reading, "On the sheet"),
            Prompt::Value { step, .. } => self.ask_blank(walk, prompt, step, Kind::Value, "On the sheet"),
            Prompt::Text { step, .. } => self.ask_blank(walk, prompt, step, Kind::Text, "On the sheet"),
            Prompt::Wait { step, .. } => self.ask_blank(walk, prompt, step, Kind::Wait, "On the sheet"),
            Prompt::Hold { step, .. } => {
                self.show_blank(walk, step, Kind::Release);
                let by = self.input("Released by, as on the sheet", false)?;
                if is_empty(&by) {
                    return Err(self.empty_on_sheet(step, Kind::Release));
                }
                let statement = self.input("What was checked and seen, as on the sheet", false)?;
                if is_empty(&statement) {
                    return Err(self.empty_on_sheet(step, Kind::Release));
                }
                Ok(Reply::Answer(Answer::Release { by, statement, signature: None }))
            }
            Prompt::Dispose { .. } | Prompt::SignOff | Prompt::Finished => {
                Err(Failure::message("this is not on the sheets"))
            }
        }
    }

    fn blank(&self, step: &Step, kind: Kind) -> Option<&Blank> {
        let printed = self.sheets.as_ref()?.printed.as_ref()?;
        printed.blanks().iter().find(|blank| blank.kind == kind && blank.step.as_ref() == Some(&step.key))
    }

    fn page(&self, number: usize) -> usize {
        self.sheets.as_ref().and_then(|entering| entering.pages.get(&number)).copied().unwrap_or(0)
    }

    /// `[12] voltage, red on ..., mV (expect 253 to 447 mV)`, with the page where a new one begins.
    fn show_blank(&mut self, walk: &Walk, step: &Step, kind: Kind) {
        let number = walk.plan().position(&step.key).map_or(0, |at| at + 1);
        self.show_page(walk, step, number);
        let Some(blank) = self.blank(step, kind) else { return };
        let unit = if blank.unit.is_empty() { String::new() } else { format!(", {}", blank.unit) };
        let subject = match kind {
            Kind::Value | Kind::Text => walk.plan().phases[step.phase].item.clone() + " ",
            _ => String::new(),
        };
        let expect = if blank.expected.is_empty() { String::new() } else { format!(" (expect {})", blank.expected) };
        let text = format!("{subject}{}{unit}{expect}", blank.what);
        self.line(&labelled(&format!("[{number}] "), &text, self.width()));
    }

    fn show_page(&mut self, walk: &Walk, step: &Step, number: usize) {
        if self.last_phase == Some(step.phase) {
            return;
        }
        self.last_phase = Some(step.phase);
        let title = &walk.plan().phases[step.phase].title;
        self.line("");
        let head = format!("page {}: {title}", self.page(number));
        for line in labelled("", &head, self.width()).lines() {
            self.line(&style(line).for_stderr().bold().to_string());
        }
    }

    /// A field: what stands there, with the unit that is printed in it.
    fn ask_blank(
        &mut self,
        walk: &Walk,
        prompt: &Prompt,
        step: &Step,
        kind: Kind,
        question: &str,
    ) -> Result<Reply, Failure> {
        self.show_blank(walk, step, kind);
        let unit = self.blank(step, kind).map(|blank| blank.unit.clone()).unwrap_or_default();
        let in_unit = if unit.is_empty() { String::new() } else { format!(", in {unit}") };
        let word = self.reply(walk, &format!("{question}{in_unit}"), step, false)?;
        if let Word::Reply(text) = &word
            && is_empty(text)
        {
            return Err(self.empty_on_sheet(step, kind));
        }
        self.taken(walk, prompt, word, |text| Ok(Answer::Typed(with_unit(&text, &unit, ""))))
    }

    /// Boxes that follow each other on a page are asked for together; each is taken in its turn.
    fn ask_boxes(&mut self, walk: &Walk, step: &Step, own: Tick) -> Result<Reply, Failure> {
        let Some(entering) = &mut self.sheets else { return Err(self.broken_off()) };
        if entering.ticked.remove(&own) {
            return Ok(Reply::Answer(Answer::Yes));
        }
        let kind = if matches!(own, Tick::Hazards(_)) { Kind::Hazards } else { Kind::Done };
        if entering.empty.contains(&own) {
            return Err(self.empty_on_sheet(step, kind));
        }
        let run = self.boxes_from(walk, own);
        self.show_page(walk, step, walk.plan().position(&step.key).map_or(0, |at| at + 1));
        loop {
            self.line(&labelled("  ", &self.in_words(&run), self.width()));
            let word = self.reply(walk, "All boxes ticked? Enter, or those that are not", step, true)?;
            let Word::Reply(typed) = word else {
                return self.taken(walk, &walk.prompt(), word, |_| Ok(Answer::Yes));
            };
            let named: Vec<&str> = typed.split([',', ' ']).filter(|word| !word.is_empty()).collect();
            let find = |word: &&str| run.iter().find(|own| own.name().eq_ignore_ascii_case(word)).copied();
            if let Some(unknown) = named.iter().find(|word| find(word).is_none()) {
                let all: Vec<_> = run.iter().map(|own| own.name()).collect();
                let says = format!("`{unknown}` is none of these boxes ({}); name those not ticked", all.join(", "));
                self.line(&labelled("  ", &says, self.width()));
                continue;
            }
            let empty: HashSet<Tick> = named.iter().filter_map(find).collect();
            if let Some(entering) = &mut self.sheets {
                entering.ticked.extend(run.iter().filter(|own| !empty.contains(own)));
                entering.empty.extend(empty);
            }
            return self.ask_boxes(walk, step, own);
        }
    }

    /// The boxes of a page from one on. Those of steps that only some answers ask for are asked for in their turn.
    fn boxes_from(&self, walk: &Walk, own: Tick) -> Vec<Tick> {
        let (Tick::Hazards(first) | Tick::Done(first)) = own;
        let page = self.page(first + 1);
        let mut run = vec![own];
        let on_page = walk.plan().steps.iter().enumerate().skip(first);
        for (at, step) in on_page.take_while(|(at, _)| self.page(at + 1) == page) {
            if at > first && (walk.is_settled(&step.key) || step.only_if.is_some()) {
                continue;
            }
            if at > first && self.blank(step, Kind::Hazards).is_some() {
                run.push(Tick::Hazards(at));
            }
            if step.ask == Ask::Do && own != Tick::Done(at) {
                run.push(Tick::Done(at));
            }
        }
        run
    }

    /// `page 4, hazards read before 13 and 20 (h13, h20); steps 13 to 17, 20`.
    fn in_words(&self, run: &[Tick]) -> String {
        let done: Vec<usize> =
            run.iter().filter_map(|own| if let Tick::Done(at) = own { Some(at + 1) } else { None }).collect();
        let read: Vec<String> =
            run.iter().filter(|own| matches!(own, Tick::Hazards(_))).map(|own| own.name()).collect();
        let frames = (!read.is_empty()).then(|| format!("hazards read ({})", read.join(", ")));
        let word = if done.len() == 1 { "step" } else { "steps" };
        let steps = (!done.is_empty()).then(|| format!("{word} {}", spans(&done)));
        let place = run.first().map_or(0, |(Tick::Hazards(at) | Tick::Done(at))| self.page(at + 1));
        let both: Vec<String> = frames.into_iter().chain(steps).collect();
        format!("page {place}: {}", both.join("; "))
    }

    /// An empty place on paper ends the entering for now.
    fn empty_on_sheet(&self, step: &Step, kind: Kind) -> Failure {
        let (number, what) = match self.blank(step, kind) {
            Some(blank) => (blank.number.unwrap_or(0), blank.what.clone()),
            None => (0, kind.word().to_owned()),
        };
        let lacks = match kind {
            Kind::Hazards => "its hazards are not ticked as read".to_owned(),
            Kind::Done => "its box is not ticked".to_owned(),
            _ => format!("nothing is written there ({what})"),
        };
        Failure::message(format!(
            "step {number} on page {} ({}): {lacks}\n  {}",
            self.page(number),
            step.key,
            self.go_on
        ))
    }
}

/// `13 to 17, 20, 22`.
fn spans(numbers: &[usize]) -> String {
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match spans.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            _ => spans.push((*number, *number)),
        }
    }
    let word = |(first, last): &(usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    spans.iter().map(word).collect::<Vec<_>>().join(", ")
}

fn is_empty(text: &str) -> bool {
    text.eq_ignore_ascii_case("empty")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_each_other_are_a_span() {
        assert_eq!(spans(&[13, 14, 15, 17, 20, 21]), "13 to 15, 17, 20, 21");
        assert_eq!(spans(&[4]), "4");
    }
}
