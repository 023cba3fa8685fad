//! The blanks of the sheets: everything that a person ticks or writes, in walking order.

use super::hazards;
use crate::plan::{Probes, Step, StepKey};
use crate::quantity::Dimension;
use crate::walk::{Prompt, Walk};

/// What is filled in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Who did the work, and on which day.
    Taken,
    /// Who entered what stands on the sheets.
    Entered,
    /// A box: the hazards before a step were read.
    Hazards,
    /// Who came to watch.
    Witness,
    /// A box: the step is done.
    Done,
    /// Which of several ways was taken.
    Choice,
    /// A reading of the circuit.
    Reading,
    /// Another value.
    Value,
    /// A text that was read off something.
    Text,
    /// How long was waited.
    Wait,
    /// The release of a hold point.
    Release,
    /// The sign-off.
    Sign,
}

impl Kind {
    /// Each with its word in the table.
    pub const WORDS: [(&'static str, Kind); 12] = [
        ("work", Kind::Taken),
        ("entered", Kind::Entered),
        ("hazards", Kind::Hazards),
        ("witness", Kind::Witness),
        ("done", Kind::Done),
        ("choice", Kind::Choice),
        ("reading", Kind::Reading),
        ("value", Kind::Value),
        ("text", Kind::Text),
        ("wait", Kind::Wait),
        ("release", Kind::Release),
        ("sign", Kind::Sign),
    ];

    /// Its word in the table.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("", |(word, _)| word)
    }
}

/// Something that is filled in.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// The number of its step, from 1; none for what belongs to the sheets as a whole.
    pub number: Option<usize>,
    /// Its step.
    pub step: Option<StepKey>,
    /// What is filled in.
    pub kind: Kind,
    /// What is asked for, in a line.
    pub what: String,
    /// What is expected, with the rule on it; empty where nothing is.
    pub expected: String,
    /// The unit that is printed into it; empty where there is none.
    pub unit: String,
}

impl Blank {
    fn whole(kind: Kind, what: &str) -> Blank {
        Blank { number: None, step: None, kind, what: what.to_owned(), expected: String::new(), unit: String::new() }
    }
}

/// All blanks of a walk at its beginning.
pub(super) fn blanks(walk: &Walk) -> Vec<Blank> {
    let plan = walk.plan();
    let mut all = vec![
        Blank::whole(Kind::Taken, "who did the work (name, role), and the day as written on the sheets (value)"),
        Blank::whole(Kind::Entered, "who enters this table (name)"),
    ];
    for (at, step) in plan.steps.iter().enumerate() {
        let of = |kind, what: String| Blank {
            number: Some(at + 1),
            step: Some(step.key.clone()),
            kind,
            what,
            expected: String::new(),
            unit: String::new(),
        };
        let hazards: Vec<&str> = hazards::before(plan, at).iter().map(|hazard| hazard.id.as_str()).collect();
        if !hazards.is_empty() {
            all.push(of(Kind::Hazards, format!("read before this step: {}", hazards.join(", "))));
        }
        if let Some(party) = &step.witness {
            all.push(of(Kind::Witness, format!("the {party} was told; name of who came, or `nobody`")));
        }
        all.push(asked(walk, step, of));
        if let Some(who) = &step.hold {
            all.push(of(Kind::Release, format!("hold point: released by a {who}; what was checked and seen")));
        }
    }
    all.push(Blank::whole(Kind::Sign, "sign-off of the work (name, role, statement)"));
    all
}

/// What a step itself asks for.
fn asked(walk: &Walk, step: &Step, of: impl Fn(Kind, String) -> Blank) -> Blank {
    let ruled = |range: String, rule: Option<String>| match rule {
        Some(rule) if range.is_empty() => format!("rule: {rule}"),
        Some(rule) => format!("{range}; rule: {rule}"),
        None => range,
    };
    match walk.prompt_at(step) {
        Prompt::Measure { measurement, expectation, .. } => {
            let what = format!(
                "{}, {}; {}",
                measurement.dimension.name(),
                probes(&measurement.probes),
                measurement.state.describe(walk.job())
            );
            let expected = ruled(expectation.range(), measurement.rule.as_ref().map(ToString::to_string));
            let unit = match expectation.high {
                Some(_) => unit_of(&expectation.range(), measurement.dimension),
                // What a meter shows where nothing conducts.
                None if measurement.dimension == Dimension::Resistance => "MΩ".to_owned(),
                None => sign(measurement.dimension.unit()),
            };
            Blank { expected, unit, ..of(Kind::Reading, what) }
        }
        Prompt::Value { dimension, unit, low, high, rule, no_limit, .. } => {
            let range = low.zip(high).map(|(low, high)| low.range_to(high));
            let range = range.or(no_limit.map(|why| format!("no limit: {why}"))).unwrap_or_default();
            let expected = ruled(range, rule.map(ToString::to_string));
            Blank { expected, unit: sign(unit), ..of(Kind::Value, dimension.name().to_owned()) }
        }
        Prompt::Text { expect, .. } => {
            let expected = expect.map(str::to_owned).unwrap_or_default();
            Blank { expected, ..of(Kind::Text, "write what you see".to_owned()) }
        }
        Prompt::Choose { ways, .. } => {
            let ways: Vec<String> = ways.iter().enumerate().map(|(at, way)| format!("{} {}", at + 1, way.id)).collect();
            of(Kind::Choice, format!("number of the way that was taken: {}", ways.join(", ")))
        }
        Prompt::Wait { at_least, .. } => {
            let expected = format!("at least {at_least}");
            Blank { expected, unit: "min".to_owned(), ..of(Kind::Wait, "how long was waited".to_owned()) }
        }
        _ => of(Kind::Done, "done".to_owned()),
    }
}

/// `red on pump.+, black on pump.-`, `in wire w1`.
pub(super) fn probes(probes: &Probes) -> String {
    match probes {
        Probes::Between(red, black) => format!("red on {red}, black on {black}"),
        Probes::Wire(wire) => format!("in wire {wire}, positive towards its load end"),
    }
}

/// The unit as it is printed.
fn sign(unit: &str) -> String {
    if unit == "ohm" { "Ω".to_owned() } else { unit.to_owned() }
}

/// The unit that a range is printed in.
fn unit_of(range: &str, dimension: Dimension) -> String {
    let last = range.rsplit(' ').next().unwrap_or_default();
    let is_unit = last.chars().next().is_some_and(char::is_alphabetic);
    if is_unit { last.to_owned() } else { sign(dimension.unit()) }
}
