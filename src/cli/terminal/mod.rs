//! The walk in a terminal.

mod brief;
mod key;
mod sheets;
mod show;
mod words;

pub(super) use brief::{Asked, Shown};
pub(super) use key::passphrase;

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use console::{Term, style};
use dialoguer::theme::{ColorfulTheme, SimpleTheme, Theme};
use dialoguer::{BasicHistory, Confirm, Input, Select};

use super::card::hazard_text;
use super::failure::Failure;
use super::findings::in_passing;
use super::layout::labelled;
use super::units::customary;
use super::walk::{Front, Paper, Reply, SignOff};
use crate::diagnosis::Weights;
use crate::judgement::Verdict;
use crate::plan::{Ask, Step, StepKey};
use crate::procedure::Hazard;
use crate::quantity::Duration;
use crate::record::SigningKey;
use crate::walk::{Answer, Attempt, Disposition, Event, Moment, Prompt, Refused, Walk};

use words::Word;

static BROKEN_OFF: AtomicBool = AtomicBool::new(false);

/// Ctrl-C just before a prompt waits for keys would go unheard until the next key. The signal is sent again after a
/// while, and so until the program ends: a prompt that waits is then broken off like any other.
#[cfg(unix)]
fn nudge() {
    std::thread::sleep(std::time::Duration::from_millis(50));
    let _ = rustix::process::kill_process(rustix::process::getpid(), rustix::process::Signal::INT);
}

#[cfg(not(unix))]
fn nudge() {}

/// A person at a terminal.
pub(super) struct TerminalFront {
    term: Term,
    theme: Box<dyn Theme>,
    plain: bool,
    inch: bool,
    named_key: Option<PathBuf>,
    /// Name and role that are offered where somebody is asked who works.
    person: (String, String),
    go_on: String,
    history: BasicHistory,
    last_phase: Option<usize>,
    last_step: Option<StepKey>,
    /// Where values are entered that were written on sheets.
    sheets: Option<sheets::Entering>,
}

impl TerminalFront {
    pub(super) fn new((plain, inch): (bool, bool), named_key: Option<PathBuf>, go_on: &str) -> Self {
        // The handler only takes note; the prompt then returns, and the cursor is put back in one place.
        let _ = ctrlc::set_handler(|| {
            BROKEN_OFF.store(true, Ordering::SeqCst);
            nudge();
        });
        let coloured = !plain && std::env::var_os("NO_COLOR").is_none();
        if !coloured {
            console::set_colors_enabled(false);
            console::set_colors_enabled_stderr(false);
        }
        let theme: Box<dyn Theme> = if coloured { Box::new(ColorfulTheme::default()) } else { Box::new(SimpleTheme) };
        Self {
            term: Term::stderr(),
            theme,
            plain,
            inch,
            named_key,
            person: (String::new(), String::new()),
            go_on: go_on.to_owned(),
            history: BasicHistory::new().max_entries(50),
            last_phase: None,
            last_step: None,
            sheets: None,
        }
    }

    fn width(&self) -> usize {
        usize::from(self.term.size().1).clamp(40, 90)
    }

    pub(in crate::cli) fn line(&self, text: &str) {
        let _ = self.term.write_line(text);
    }

    /// What a prompt brought, or the end of the walk for now.
    fn asked<T>(&self, result: dialoguer::Result<T>) -> Result<T, Failure> {
        let dialoguer::Error::IO(error) = match result {
            Ok(value) if !BROKEN_OFF.load(Ordering::SeqCst) => return Ok(value),
            Ok(_) => return Err(self.broken_off()),
            Err(error) => error,
        };
        if error.kind() == std::io::ErrorKind::Interrupted || BROKEN_OFF.load(Ordering::SeqCst) {
            return Err(self.broken_off());
        }
        let _ = self.term.show_cursor();
        Err(Failure::message(format!("the terminal went away ({error})\n  {}", self.go_on)))
    }

    /// Ctrl-C that was pressed while the program worked on an answer: no further question is asked.
    fn ready(&self) -> Result<(), Failure> {
        if BROKEN_OFF.load(Ordering::SeqCst) { Err(self.broken_off()) } else { Ok(()) }
    }

    fn broken_off(&self) -> Failure {
        let _ = self.term.show_cursor();
        Failure::BrokenOff(self.go_on.clone())
    }

    fn input(&mut self, prompt: &str, allow_empty: bool) -> Result<String, Failure> {
        self.ready()?;
        let term = self.term.clone();
        let result = Input::<String>::with_theme(&*self.theme)
            .with_prompt(prompt)
            .allow_empty(allow_empty)
            .history_with(&mut self.history)
            .interact_text_on(&term);
        self.asked(result).map(|text| text.trim().to_owned())
    }

    fn confirm(&self, prompt: &str) -> Result<bool, Failure> {
        self.ready()?;
        let confirm = Confirm::with_theme(&*self.theme).with_prompt(prompt).wait_for_newline(true);
        self.asked(confirm.interact_on(&self.term))
    }

    /// The place of the choice in the list.
    fn select(&mut self, prompt: &str, choices: &[&str]) -> Result<usize, Failure> {
        self.ready()?;
        if self.plain {
            return self.select_by_number(prompt, choices);
        }
        let select = Select::with_theme(&*self.theme).with_prompt(prompt).items(choices).default(0).max_length(12);
        self.asked(select.interact_on(&self.term))
    }

    /// A line in which something stands already, to be taken or changed.
    fn offered(&mut self, prompt: &str, text: &str) -> Result<String, Failure> {
        if text.is_empty() {
            return if prompt.starts_with("Role") { self.input(prompt, false) } else { self.name(prompt) };
        }
        self.ready()?;
        let term = self.term.clone();
        let result = Input::<String>::with_theme(&*self.theme).with_prompt(prompt).with_initial_text(text);
        let result = result.interact_text_on(&term);
        self.asked(result).map(|text| text.trim().to_owned())
    }

    /// A name; `?` is none.
    fn name(&mut self, prompt: &str) -> Result<String, Failure> {
        loop {
            let name = self.input(prompt, false)?;
            if name.chars().any(char::is_alphabetic) {
                return Ok(name);
            }
            self.line("  a name is needed here: every entry says who made it");
        }
    }

    /// A list that is read line by line and answered with a number: nothing on the screen is drawn anew.
    fn select_by_number(&mut self, prompt: &str, choices: &[&str]) -> Result<usize, Failure> {
        for (index, choice) in choices.iter().enumerate() {
            self.line(&format!("  {}) {choice}", index + 1));
        }
        loop {
            let typed = self.input(&format!("{prompt} 1 to {}", choices.len()), false)?;
            match typed.parse::<usize>() {
                Ok(number) if (1..=choices.len()).contains(&number) => return Ok(number - 1),
                _ => self.line("  write the number of one of them"),
            }
        }
    }

    /// The same, with a person that the settings name: the question is asked all the same.
    pub(super) fn with_person(self, name: Option<String>, role: Option<String>) -> Self {
        Self { person: (name.unwrap_or_default(), role.unwrap_or_default()), ..self }
    }

    fn ask_person(&mut self, prompt: &str) -> Result<Answer, Failure> {
        let (name, role) = self.person.clone();
        let name = self.offered(prompt, &name)?;
        let role = self.offered("Role (installer, apprentice, ...)", &role)?;
        Ok(Answer::Person { name, role, from_file: false })
    }

    /// What was typed for a prompt; the prompt comes again after a word that asked for help.
    fn typed(&mut self, walk: &Walk, prompt: &Prompt, step: &Step, text: &str) -> Result<Reply, Failure> {
        let word = self.reply(walk, text, step, false)?;
        self.taken(walk, prompt, word, |text| Ok(Answer::Typed(text)))
    }

    /// The reply that a word stands for; an answer is what `answer` makes of it, or a hint and the question again.
    fn taken(
        &mut self,
        walk: &Walk,
        prompt: &Prompt,
        word: Word,
        answer: impl FnOnce(String) -> Result<Answer, String>,
    ) -> Result<Reply, Failure> {
        Ok(match word {
            Word::Reply(text) => match answer(text) {
                Ok(answer) => Reply::Answer(answer),
                Err(hint) => {
                    self.line(&labelled("  ", &hint, self.width()));
                    return self.ask(walk, prompt);
                }
            },
            Word::Remark(text) => Reply::Remark(text),
            Word::PutOff(reason) => Reply::PutOff(reason),
            Word::Back(reason) => Reply::Back(reason),
            Word::Photo(path) => Reply::Photo(path),
            Word::Shift => {
                let name = self.name("Who works now? Name")?;
                Reply::Shift { name, role: self.name("Role (installer, apprentice, ...)")? }
            }
            Word::Again => return self.ask(walk, prompt),
        })
    }

    /// Hazards, no more at once than the screen holds: none scrolls away unread.
    fn show_hazards(&mut self, hazards: &[&Hazard]) -> Result<(), Failure> {
        let rows = usize::from(self.term.size().0).max(20);
        let mut used = 0;
        for hazard in hazards {
            let text = hazard_text(hazard, self.width(), self.plain);
            let height = text.lines().count() + 1;
            if used > 0 && used + height > rows - 3 {
                self.line("");
                self.input("Enter shows the next ones", true)?;
                used = 0;
            }
            self.line("");
            self.line(&text);
            used += height;
        }
        self.line("");
        Ok(())
    }

    /// What comes before hands go to a live circuit again.
    fn warn_before_rework(&mut self) {
        self.line("  Before anything is unfastened: every switch off, the fuse of that circuit out.");
        self.line("  Begin where the joint was made, so that its readings are taken again.");
    }

    fn ask_disposition(&mut self, walk: &Walk, step: &Step, explainable: bool) -> Result<Answer, Failure> {
        let mut choices = vec!["Measure again", "Rework, then measure again", "Repair, then measure again"];
        if explainable {
            choices.push("It is right: explain why");
        }
        if step.no_concession {
            self.line("  This reading protects people: nothing can be recorded in its place.");
        } else {
            choices.push("Record a nonconformity");
            choices.push("Concession by a named person");
        }
        let disposition = match choices[self.select("What is done about it?", &choices)?] {
            "Measure again" => Disposition::MeasureAgain,
            "Rework, then measure again" => {
                self.warn_before_rework();
                let from = self.ask_rework_start(walk, step)?;
                Disposition::Rework { from, reason: self.input("What was wrong, and what is done", false)? }
            }
            "Repair, then measure again" => {
                self.warn_before_rework();
                let from = self.ask_rework_start(walk, step)?;
                Disposition::Repair { from, reason: self.input("What was wrong, and what is done", false)? }
            }
            "Concession by a named person" => Disposition::Concession {
                by: self.name("Who has the right and permits it")?,
                reason: self.input("Why it stays", false)?,
                scope: self.input("For what use, and how long", false)?,
            },
            "It is right: explain why" => Disposition::Explained { reason: self.input("Why it is right", false)? },
            _ => Disposition::Nonconformity { reason: self.input("Why it stays", false)? },
        };
        Ok(Answer::Dispose(disposition))
    }

    fn dispose(&mut self, walk: &Walk, step: &Step, attempt: &Attempt) -> Result<Answer, Failure> {
        let width = self.width();
        self.show_step(walk, step);
        let head = match attempt.judgement.verdict {
            Verdict::Unexpected => style("UNEXPECTED").for_stderr().yellow().bold(),
            Verdict::Undecided => style("UNDECIDED").for_stderr().yellow().bold(),
            _ => style("DOES NOT CONFORM").for_stderr().red().bold(),
        };
        self.line(&format!("  {head}"));
        self.line(&labelled("  ", &attempt.judgement.says, width));
        if let Ask::Measure(_) = step.ask {
            let findings = walk.likely_faults(&Weights::default());
            self.line(in_passing(walk.job(), &findings, width).trim_end());
        }
        self.ask_disposition(walk, step, attempt.judgement.verdict == Verdict::Unexpected)
    }

    fn hold(&mut self, walk: &Walk, step: &Step, who: &str) -> Result<Reply, Failure> {
        let width = self.width();
        // Who checks has the text of the step before the eyes, also after a restart.
        self.show_step(walk, step);
        self.line("");
        self.line(&style(format!("HOLD POINT: {}", step.key)).for_stderr().bold().to_string());
        let text = format!(
            "The work stops here until a {who} has looked at it, from the text of the step and not from what \
             was said. Who works alone leaves, comes back, checks from the text, and begins with `self-check`."
        );
        self.line(&labelled("  ", &text, width));
        for open in walk.nonconformities() {
            self.line(&labelled("  open: ", &format!("{}: {} ({})", open.step, open.found, open.reason), width));
        }
        for state in walk.temporary_states() {
            self.line(&labelled("  now: ", state, width));
        }
        let by = self.name("Released by")?;
        let statement = self.input("What was checked, and what was seen", false)?;
        let key = self.input("Key file that signs the release (Enter: none)", true)?;
        if key.is_empty() {
            return Ok(Reply::Answer(Answer::Release { by, statement, signature: None }));
        }
        match self.read_key_file(Path::new(key.trim_matches(['"', '\'']))) {
            Ok(key) => Ok(Reply::Release { by, statement, key: Box::new(key) }),
            Err(Failure::Message(says)) => {
                self.line(&labelled("  ", &says, width));
                self.hold(walk, step, who)
            }
            Err(other) => Err(other),
        }
    }

    /// A wait is begun by Enter and ended by Enter; the clock says whether it was long enough.
    fn wait(
        &mut self,
        walk: &Walk,
        prompt: &Prompt,
        step: &Step,
        at_least: Duration,
        begun: Option<Moment>,
    ) -> Result<Reply, Failure> {
        self.show_step(walk, step);
        let now = || Moment(jiff::Timestamp::now().as_second());
        let text = match begun {
            None => format!("a wait of {at_least}: Enter starts it; you may stop the program meanwhile"),
            Some(begun) => format!("{} of {at_least} have passed: Enter when it is over", now().since(begun)),
        };
        self.line(&labelled("  wait:   ", &text, self.width()));
        let word = self.reply(walk, "Enter, or the time that was waited", step, true)?;
        self.taken(walk, prompt, word, |text| {
            Ok(if text.is_empty() { Answer::Now(now()) } else { Answer::Typed(text) })
        })
    }

    /// Where the work begins again: this step, the beginning of its phase, or an earlier phase.
    fn ask_rework_start(&mut self, walk: &Walk, step: &Step) -> Result<StepKey, Failure> {
        let plan = walk.plan();
        let here = plan.position(&step.key).unwrap_or(0);
        let mut starts: Vec<(String, StepKey)> = vec![(format!("this step, {}", step.key), step.key.clone())];
        for place in (0..=step.phase).rev() {
            let first = plan.steps[..=here].iter().find(|s| s.phase == place);
            if let Some(first) = first.filter(|first| first.key != step.key) {
                starts.push((plan.phases[place].title.clone(), first.key.clone()));
            }
        }
        let labels: Vec<&str> = starts.iter().map(|(label, _)| label.as_str()).collect();
        let chosen = self.select("Where does the work begin again?", &labels)?;
        Ok(starts.swap_remove(chosen).1)
    }
}

impl Front for TerminalFront {
    fn ask(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure> {
        if self.sheets.is_some() && !matches!(prompt, Prompt::Dispose { .. } | Prompt::SignOff | Prompt::Finished) {
            return self.ask_from_sheet(walk, prompt);
        }
        let width = self.width();
        let answer = match prompt {
            Prompt::WhoWorks => {
                self.line(&style(&walk.job().title).for_stderr().bold().to_string());
                let intro = "This program shows what must be done and what a meter must read. The vehicle maker's manual, \
                             local codes and licensed practice come first.";
                self.line(&labelled("  ", intro, width));
                self.ask_person("Who works? Name")?
            }
            Prompt::Hazards { step, hazards } => {
                self.show_phase(walk, step.phase);
                self.show_hazards(hazards)?;
                if !self.confirm("Read and understood?")? {
                    let text =
                        "The work does not go on before that. Read again, ask somebody, or press Ctrl-C to stop.";
                    self.line(&labelled("  ", text, width));
                    return self.ask(walk, prompt);
                }
                Answer::Yes
            }
            Prompt::Do { step } => {
                self.show_step(walk, step);
                let word = self.reply(walk, "Done? Enter, or ? for more", step, true)?;
                return self.taken(walk, prompt, word, |text| {
                    if text.is_empty() || text.eq_ignore_ascii_case("done") {
                        return Ok(Answer::Yes);
                    }
                    Err(format!("`{text}` is not understood here: Enter when it is done, ? for more"))
                });
            }
            Prompt::Choose { step, ways } => {
                self.show_step(walk, step);
                for (index, way) in ways.iter().enumerate() {
                    self.line(&labelled(&format!("  {}) ", index + 1), &way.instructions.join(" "), width));
                    for look in &way.look {
                        self.line(&labelled("     look: ", look, width));
                    }
                }
                return self.typed(walk, prompt, step, &format!("Which one did you do? 1 to {}", ways.len()));
            }
            Prompt::Witness { step, party } => {
                self.show_step(walk, step);
                self.line("");
                self.line(
                    &style(format!("WITNESS POINT: {}", Self::place(walk, step))).for_stderr().bold().to_string(),
                );
                let text =
                    format!("Tell the {party} that this is next. Who wants to may watch; the work goes on without.");
                self.line(&labelled("  ", &text, width));
                let word = self.reply(walk, "Who came? Enter when told and nobody came", step, true)?;
                return self.taken(walk, prompt, word, |text| Ok(Answer::Typed(text)));
            }
            Prompt::Measure { step, measurement, expectation } => {
                self.show_step(walk, step);
                self.show_measurement(walk, measurement, expectation);
                return self.typed(walk, prompt, step, &format!("Reading in {}", measurement.dimension.unit()));
            }
            Prompt::Value { step, dimension, unit, low, high, rule, no_limit } => {
                self.show_step(walk, step);
                if let (Some(low), Some(high)) = (low, high) {
                    let also = customary(*low, *high).filter(|_| self.inch).map(|also| format!(" ({also})"));
                    let range = style(low.range_to(*high)).for_stderr().bold();
                    self.line(&format!("  expect: {range}{}", also.unwrap_or_default()));
                }
                if let Some(rule) = rule {
                    let limit = rule.at_least.or(rule.at_most);
                    let ends = rule.at_least.zip(rule.at_most).or(limit.zip(limit));
                    let also = ends.filter(|_| self.inch).and_then(|(low, high)| customary(low, high));
                    let also = also.map(|also| format!(" ({also})")).unwrap_or_default();
                    self.line(&labelled("  rule:   ", &format!("{rule}{also}"), width));
                }
                if let Some(reason) = no_limit {
                    self.line(&labelled("  limit:  ", &format!("none; {reason}"), width));
                }
                let in_unit = if unit.is_empty() { String::new() } else { format!(" in {unit}") };
                return self.typed(walk, prompt, step, &format!("Value of the {}{in_unit}", dimension.name()));
            }
            Prompt::Wait { step, at_least, begun } => {
                return self.wait(walk, prompt, step, *at_least, *begun);
            }
            Prompt::Text { step, expect } => {
                self.show_step(walk, step);
                if let Some(expect) = expect {
                    self.line(&format!("  expect: {}", style(expect).for_stderr().bold()));
                }
                return self.typed(walk, prompt, step, "Write what you see");
            }
            Prompt::Dispose { step, attempt } => self.dispose(walk, step, attempt)?,
            Prompt::Hold { step, who } => return self.hold(walk, step, who),
            Prompt::SignOff | Prompt::Finished => Answer::Yes,
        };
        Ok(Reply::Answer(answer))
    }

    fn refused(&mut self, _: &Walk, refused: &Refused) -> Result<(), Failure> {
        self.line(&labelled("  not taken: ", &refused.says, self.width()));
        Ok(())
    }

    fn noted(&mut self, text: &str) {
        self.line(&labelled("  ", text, self.width()));
    }

    fn job_differs(&mut self, says: &str) -> Result<Option<String>, Failure> {
        for line in says.lines() {
            self.line(&labelled("  ", line, self.width()));
        }
        if !self.confirm("Go on with the job as it was begun?")? {
            return Ok(None);
        }
        self.input("Why the change does not matter for this record", false).map(Some)
    }

    fn saved(&mut self, walk: &Walk, event: &Event) {
        let judgement = match event {
            Event::Read { step, judgement, .. } if walk.attempts(step).last().is_some_and(|a| a.repeated) => {
                let tries = walk.attempts(step).iter().rev().take_while(|a| a.repeated).count();
                let step = walk.plan().position(step).map(|at| &walk.plan().steps[at]);
                let (from, most) =
                    step.and_then(|s| s.repeat.as_ref()).map_or(("", 0), |r| (r.from.as_str(), r.at_most));
                self.line(&format!("  {}", style("DOES NOT CONFORM").for_stderr().yellow().bold()));
                let text = format!("{}; again from {from}, reading {} of {most}", judgement.says, tries + 1);
                self.line(&labelled("  ", &text, self.width()));
                self.last_step = None;
                return;
            }
            Event::Read { judgement, .. } | Event::Noted { judgement, .. } => judgement,
            Event::TakenBack { .. } | Event::PutOff { .. } | Event::Disposed { .. } => {
                self.last_step = None;
                return;
            }
            _ => return,
        };
        if judgement.verdict == Verdict::Conforms {
            // Wrapped as plain text first: colours have no width.
            let text = labelled("  conforms: ", &judgement.says, self.width());
            let word = style("conforms").for_stderr().green().bold().to_string();
            self.line(&text.replacen("conforms", &word, 1));
        } else if judgement.verdict == Verdict::Recorded {
            self.line("  recorded");
        }
    }

    fn sign_off(&mut self, walk: &Walk) -> Result<Option<SignOff>, Failure> {
        let (done, all) = walk.count();
        self.line("");
        self.progress(done, all);
        let open = walk.nonconformities();
        for nonconformity in &open {
            self.line(&labelled(
                "  nonconformity: ",
                &format!("{}: {}", nonconformity.step, nonconformity.found),
                self.width(),
            ));
        }
        let (name, role) = walk.person().map_or(("", ""), |p| p);
        let (name, role) = (name.to_owned(), role.to_owned());
        let proposed = if open.is_empty() {
            "I did this work as the record says; every reading is one that I took."
        } else {
            "I did this work as the record says; the nonconformities are stated in it."
        };
        self.line("All steps are closed. Sign off:");
        if !self.confirm(&format!("{name}, {role}: sign now?"))? {
            return Ok(None);
        }
        self.line(&labelled("  ", proposed, self.width()));
        let own = self.input("Statement (Enter takes the one above)", true)?;
        let statement = if own.is_empty() { proposed.to_owned() } else { own };
        let key = self.choose_key(&name)?;
        Ok(Some(SignOff { name, role, statement, key }))
    }

    fn resumed(&mut self, walk: &Walk) -> Result<Option<Answer>, Failure> {
        if self.sheets.is_some() {
            return self.ask_cover(walk).map(Some);
        }
        let Some((name, role)) = walk.person() else { return Ok(None) };
        self.line(&style(&walk.job().title).for_stderr().bold().to_string());
        if self.confirm(&format!("{name}, {role}, goes on?"))? {
            return Ok(None);
        }
        self.ask_person("Who works now? Name").map(Some)
    }

    fn paper(&self) -> Option<Paper> {
        self.paper_of_sheets()
    }

    fn key_again(&mut self) -> Result<SigningKey, Failure> {
        self.line("The record is signed off but its seal was not written yet.");
        self.choose_key("signer")
    }
}
