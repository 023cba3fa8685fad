//! Words that concern the walk and not the question: `?`, `remark`, `skip`, `back`, `photo`, `find`, `list`, `pause`.

use std::path::PathBuf;

use super::super::card::hazard_text;
use super::super::failure::Failure;
use super::super::layout::labelled;
use super::TerminalFront;
use crate::plan::{Ask, Step};
use crate::quantity::Dimension;
use crate::walk::Walk;

/// What was typed at a prompt.
pub(super) enum Word {
    /// An answer.
    Reply(String),
    Remark(String),
    PutOff(String),
    Back(String),
    Photo(PathBuf),
    Shift,
    /// It was dealt with here: the question comes again.
    Again,
}

/// Parts of the work that are listed at once: as many as a screen of 24 rows holds.
const AT_ONCE: usize = 14;

/// The words, and what they do.
const WORDS: [(&str, &str); 9] = [
    ("?", "this help"),
    ("remark TEXT", "writes a remark on this step"),
    ("photo FILE", "takes a picture into the record, without its place and time"),
    ("skip REASON", "puts this step off; the walk comes back to it"),
    ("back REASON", "the step before was closed too early: opens it again"),
    ("find WORDS", "lists the steps that speak of them"),
    ("shift", "somebody else takes the work over"),
    ("list", "lists the work and where it stands"),
    ("pause", "stops for now, as Ctrl-C does; nothing that was entered is lost"),
];

impl TerminalFront {
    /// A reply, or a word that concerns the walk.
    pub(super) fn reply(&mut self, walk: &Walk, prompt: &str, step: &Step, allow_empty: bool) -> Result<Word, Failure> {
        let text = self.input(prompt, allow_empty)?;
        let (word, rest) = text.split_once(' ').unwrap_or((&text, ""));
        let rest = rest.trim().to_owned();
        match (word, rest.is_empty()) {
            ("?" | "help", true) => self.help(step),
            ("list", true) => self.list(walk),
            ("find", false) => self.find(walk, &rest),
            ("shift", true) => return Ok(Word::Shift),
            ("pause" | "p", true) => return Err(self.broken_off()),
            ("remark" | "r", false) => return Ok(Word::Remark(rest)),
            ("skip" | "s", false) => return Ok(Word::PutOff(rest)),
            ("back" | "b", empty) => {
                return Ok(Word::Back(if empty { "closed too early".to_owned() } else { rest }));
            }
            ("photo", false) => return Ok(Word::Photo(PathBuf::from(rest.trim_matches(['"', '\''])))),
            ("remark" | "r" | "skip" | "s" | "photo" | "find", true) => {
                let what = WORDS.iter().find(|(known, _)| known.starts_with(word)).map_or("", |(known, _)| known);
                self.line(&format!("  `{word}` needs more: {what}"));
            }
            _ => return Ok(Word::Reply(text)),
        }
        Ok(Word::Again)
    }

    fn help(&self, step: &Step) {
        let width = self.width();
        self.line("");
        for hazard in &step.hazards {
            self.line(&hazard_text(hazard, width, self.plain));
        }
        for (label, text) in how_to(step) {
            self.line(&labelled(label, text, width));
        }
        self.line(&labelled("  step    ", step.key.as_str(), width));
        for (word, does) in WORDS {
            self.line(&labelled(&format!("  {word:<12} "), does, width));
        }
    }

    /// All phases, and how many of their steps are closed.
    fn list(&self, walk: &Walk) {
        let plan = walk.plan();
        let here = walk.current().map(|step| step.phase);
        self.line("");
        let from = here.unwrap_or(0).saturating_sub(2);
        if from > 0 {
            self.line(&format!("  {from} parts of the work come before these"));
        }
        for (place, phase) in plan.phases.iter().enumerate().skip(from).take(AT_ONCE) {
            let steps: Vec<&Step> = plan.steps.iter().filter(|s| s.phase == place).collect();
            let closed = steps.iter().filter(|s| walk.is_settled(&s.key)).count();
            let mark = if here == Some(place) { ">" } else { " " };
            self.line(&labelled(&format!("{mark} {closed:>2} of {:<2} ", steps.len()), &phase.title, self.width()));
        }
        let behind = plan.phases.len().saturating_sub(from + AT_ONCE);
        if behind > 0 {
            self.line(&format!("  and {behind} more behind them"));
        }
        for step in plan.steps.iter().filter(|s| walk.put_off(&s.key).is_some()) {
            let reason = walk.put_off(&step.key).unwrap_or_default();
            self.line(&labelled("  put off: ", &format!("{}: {reason}", step.key), self.width()));
        }
    }

    /// The steps whose name or text holds all of the words.
    fn find(&self, walk: &Walk, words: &str) {
        let words: Vec<String> = words.to_lowercase().split_whitespace().map(str::to_owned).collect();
        let plan = walk.plan();
        let holds = |step: &&Step| {
            let text = format!("{} {}", step.key, step.instructions.join(" ")).to_lowercase();
            words.iter().all(|word| text.contains(word.as_str()))
        };
        let found: Vec<&Step> = plan.steps.iter().filter(holds).collect();
        self.line("");
        for step in found.iter().take(12) {
            let place = plan.position(&step.key).map_or(0, |at| at + 1);
            let done = if walk.is_settled(&step.key) { "closed" } else { "open" };
            self.line(&format!("  {place:>4}  {done:<6}  {}", step.key));
            if let Some(attempt) = walk.latest(&step.key) {
                self.line(&labelled("                ", &attempt.judgement.says, self.width()));
            }
        }
        match found.len() {
            0 => self.line("  no step speaks of that"),
            count if count > 12 => self.line(&format!("  and {} more: add a word", count - 12)),
            _ => {}
        }
    }
}

/// How a reading is taken, and what most often goes wrong (common practice; the lead check: a meter maker's manual).
fn how_to(step: &Step) -> Vec<(&'static str, &'static str)> {
    let dimension = match &step.ask {
        Ask::Measure(measurement) => measurement.dimension,
        Ask::Value { dimension, .. } => *dimension,
        Ask::Wait { .. } => {
            return vec![(
                "  wait    ",
                "Enter starts the time and ends it; or write how long was waited. It runs on while the program is stopped.",
            )];
        }
        Ask::Choose { .. } => return vec![("  choose  ", "Write the number or the name of the way that you took.")],
        Ask::Text { .. } => {
            return vec![("  write   ", "Write what you see, not that you looked. `none` where there is nothing.")];
        }
        Ask::Do => {
            return vec![("  done    ", "Enter when every sentence of the step is done and every look is as it says.")];
        }
    };
    match dimension {
        Dimension::Voltage => vec![
            (
                "  probes  ",
                "Leads in COM and V. Red on the first point, black on the second. Press the tip through dirt onto bare metal.",
            ),
            (
                "  range   ",
                "Drops below 2 V on the low range, with all digits. Write what the display shows, the minus sign too.",
            ),
            (
                "  mistake ",
                "The load is off; the probe is on the wire and not on the terminal; a lead sits in the amps socket.",
            ),
        ],
        Dimension::Current => vec![
            (
                "  clamp   ",
                "Zero it beside the wire. One wire alone in the middle of the jaws, arrow towards the load.",
            ),
            (
                "  in line ",
                "Leads in COM and the amps socket, circuit off while you clip on. Afterwards the lead goes back to V.",
            ),
            (
                "  mistake ",
                "Both wires of a cable in the clamp; the zero taken somewhere else; the meter left in the amps socket.",
            ),
        ],
        Dimension::Resistance => vec![
            ("  probes  ", "Only on a dead circuit. Touch the tips together first: more than 0.5 ohm means bad leads."),
            ("  range   ", "Take what the leads show off the reading. OL is written as OL."),
            ("  mistake ", "Fingers on the tips; a load or a lamp still plugged in; a battery still connected."),
        ],
        _ => vec![(
            "  write   ",
            "A number with or without its unit; a comma or a point. The digits you write tell how finely you read.",
        )],
    }
}
