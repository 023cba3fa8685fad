//! One fuse, one switch, one lamp, one ground: the smallest job that needs every kind of answer.

use std::path::Path;

use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::plan::Plan;
use rigproof::procedure::Library;
use rigproof::quantity::{Amount, Dimension};
use rigproof::walk::{Answer, Prompt, Walk};

use super::Answers;

pub const JOB: &str = r#"format = 1
title = "One work lamp"

[vehicle]
description = "Yard tractor"
system = "12 V"

[battery]
kind = "flooded"
rest_voltage = "12.6 V ± 0.2 V"
internal_resistance = "6 mohm"

[alternator]
voltage = "14.2 V ± 0.3 V"

[fuse.F1]
rating = "5 A"
style = "blade"
resistance = "15 mohm ± 20 %"

[switch.S1]
rating = "10 A"
resistance = "10 mohm ± 5 mohm"

[ground.G1]
place = "frame, bare metal"
torque = "5.3 N·m ± 10 %"

[load.lamp]
kind = "led"
power = "24 W ± 10 %"
works_from = "9 V"
needs = "10.5 V"

[wire.w1]
from = "battery.+"
to = "F1.in"
size = "1.5 mm²"
length = "0.15 m"

[wire.w2]
from = "F1.out"
to = "S1.in"
size = "1.5 mm²"
length = "1.2 m"

[wire.w3]
from = "S1.out"
to = "lamp.+"
size = "1.5 mm²"
length = "2 m"

[wire.w4]
from = "G1"
to = "lamp.-"
size = "1.5 mm²"
length = "1 m"
"#;

/// Own procedures: file name and steps. All other built-in files are replaced by empty ones.
const TINY: &[(&str, &str, &str)] = &[
    (
        "prepare",
        "job",
        r#"
[[hazard]]
use = "slip"
[[step]]
id = "chock"
do = "Chock one wheel."
[[step]]
id = "rest-voltage"
do = "Write the voltage of the battery at rest."
measure = "voltage"
between = ["battery.+", "battery.-"]
on = "none"
pull = "all"
"#,
    ),
    (
        "ground",
        "ground",
        r#"
[[step]]
id = "torque"
do = "Tighten the nut and write the torque."
record = "torque"
expect = "{{ thing.torque }}"
"#,
    ),
    (
        "fuse",
        "fuse",
        r#"
[[step]]
id = "rating"
do = "Write the number on the fuse."
record = "text"
expect = "{{ thing.rating }}"
[[step]]
id = "release"
do = "Hand the record to a second person."
hold = "second person"
"#,
    ),
    (
        "test",
        "load",
        r#"
[[step]]
id = "ground-drop"
do = "Write the drop on the ground side."
measure = "voltage"
between = ["{{ item }}.-", "battery.-"]
on = "own"
[[step]]
id = "look"
do = "Write what you see."
record = "text"
"#,
    ),
];

const TINY_HAZARDS: &str = r#"format = 1
[[hazard]]
id = "slip"
signal = "CAUTION"
hazard = "The ground is wet."
consequence = "You fall."
avoid = "Walk slowly."
source = "none"
status = "from memory"
"#;

fn tiny_file(id: &str) -> String {
    let (for_each, steps) =
        TINY.iter().find(|(own, _, _)| *own == id).map_or(("job", "step = []\n"), |own| (own.1, own.2));
    let after = match TINY.iter().position(|(own, _, _)| *own == id) {
        Some(at) if at > 0 => format!("\"{}\"", TINY[at - 1].0),
        _ => String::new(),
    };
    procedure_file(id, for_each, &after, steps)
}

/// A procedure file with nothing but its steps.
pub fn procedure_file(id: &str, for_each: &str, after: &str, steps: &str) -> String {
    let hazard = if steps.contains("hazard") { "" } else { "hazard = []\n" };
    format!(
        "format = 1\nid = \"{id}\"\ntitle = \"{id} {{{{ item }}}}\"\nwhy = \"To try it.\"\nfor_each = \"{for_each}\"\n\
         after = [{after}]\nconditions = []\npersons = []\ntools = []\nsupplies = []\nparts = []\nclose = []\n{hazard}{steps}"
    )
}

fn tiny_files() -> Vec<(String, String)> {
    let name = |source: &Source| source.name.rsplit('/').next().unwrap().to_owned();
    let text = |name: &str| match name {
        "hazards.toml" => TINY_HAZARDS.to_owned(),
        name => tiny_file(name.trim_end_matches(".toml")),
    };
    Library::embedded_sources().iter().map(name).map(|name| (name.clone(), text(&name))).collect()
}

pub fn write_tiny_procedures(folder: &Path) {
    std::fs::create_dir(folder).unwrap();
    for (name, text) in tiny_files() {
        std::fs::write(folder.join(name), text).unwrap();
    }
}

pub fn tiny_library() -> Library {
    let sources = tiny_files().into_iter().map(|(name, text)| Source::new(name, text)).collect();
    Library::read(sources).unwrap_or_else(|error| panic!("{error}"))
}

pub fn library_of_the_program() -> Library {
    Library::read(Library::embedded_sources()).unwrap_or_else(|error| panic!("{error}"))
}

/// How far a reading lies beside the computed one, as a share of its half range: each step its own, and always the same.
/// (Readings that are all as computed close their loops exactly, and the walk asks about that.)
fn beside(step: &str) -> f64 {
    let sum = step.bytes().fold(7u32, |sum, byte| sum.wrapping_mul(31).wrapping_add(u32::from(byte)));
    (f64::from(sum % 21) - 10.0) / 100.0
}

/// A reading that the step expects: near the computed one, the middle of a range, half of a greatest value.
pub fn good_answer(prompt: &Prompt) -> String {
    let with_unit = |value: f64, dimension: Dimension| format!("{:.4} {}", value + 0.0, dimension.unit());
    match prompt {
        Prompt::Measure { step, expectation, .. } => match (expectation.nominal, expectation.high) {
            (Some(nominal), Some(high)) => {
                let off = (high.base() - nominal.base()) * beside(step.key.as_str());
                let least = if expectation.dimension == Dimension::Resistance { 0.0 } else { f64::NEG_INFINITY };
                with_unit((nominal.base() + off).max(least), expectation.dimension)
            }
            _ => "OL".to_owned(),
        },
        Prompt::Value { dimension, low, high, rule, .. } => {
            let range = low.zip(*high).map(|(low, high)| f64::midpoint(low.base(), high.base()));
            let most = rule.and_then(|rule| rule.at_most).map(Amount::base);
            let least = rule.and_then(|rule| rule.at_least).map(Amount::base);
            let between = least.zip(most).map(|(least, most)| f64::midpoint(least, most));
            let ruled = between.or(most.map(|most| most / 2.0)).or(least.map(|least| least * 2.0));
            let value = range.or(ruled).unwrap_or(600.0);
            let whole = if *dimension == Dimension::Count { value.floor() } else { value };
            with_unit(whole, *dimension)
        }
        Prompt::Text { expect, .. } => expect.unwrap_or("none").to_owned(),
        other => panic!("{other:?} asks for no reading"),
    }
}

/// Answers with which the one lamp conforms, found by walking it.
pub fn answers(library: &Library) -> Answers {
    answers_for(JOB, library)
}

/// Answers with which a job conforms, found by walking it: every reading is the one that the circuit must show.
pub fn answers_for(job: &str, library: &Library) -> Answers {
    let mut answers = Answers::read(
        "format = 1\nevery_do_step = \"done\"\nhazards = \"read\"\n\
         [person]\nname = \"Robin Alder\"\nrole = \"installer\"\n[answer]\n[release]\n[witness]\n\
         [sign]\nname = \"Robin Alder\"\nrole = \"installer\"\nstatement = \"I did this work.\"\nkey = \"own\"\n",
    );
    let job = Job::read(&Source::new("job.toml", job.to_owned())).unwrap_or_else(|problems| panic!("{problems}"));
    let plan = Plan::of(&job, library).unwrap_or_else(|error| panic!("{error}"));
    let mut walk = Walk::new(job, plan);
    loop {
        let prompt = walk.prompt();
        let answer = match &prompt {
            Prompt::SignOff | Prompt::Finished => return answers,
            Prompt::WhoWorks => {
                Answer::Person { name: "Robin Alder".into(), role: "installer".into(), from_file: true }
            }
            Prompt::Hazards { .. } | Prompt::Do { .. } => Answer::Yes,
            Prompt::Measure { step, .. } | Prompt::Value { step, .. } | Prompt::Text { step, .. } => {
                let text = good_answer(&prompt);
                answers = answers.with(step.key.as_str(), &[&text]);
                Answer::Typed(text)
            }
            Prompt::Wait { step, at_least, .. } => {
                let text = format!("{} s", at_least.as_seconds());
                answers = answers.with(step.key.as_str(), &[&text]);
                Answer::Typed(text)
            }
            Prompt::Choose { step, ways } => {
                answers = answers.with(step.key.as_str(), &[&ways[0].id]);
                Answer::Typed(ways[0].id.clone())
            }
            Prompt::Witness { step, .. } => {
                answers.table("witness").insert(step.key.to_string(), "nobody".into());
                Answer::Typed("nobody".to_owned())
            }
            Prompt::Hold { step, .. } => {
                let (by, statement) = ("Jo Birch".to_owned(), "every result read".to_owned());
                let release = toml::Table::from_iter(
                    [("by", by.clone()), ("statement", statement.clone())].map(|(k, v)| (k.to_owned(), v.into())),
                );
                answers.table("release").insert(step.key.to_string(), release.into());
                Answer::Release { by, statement, signature: None }
            }
            Prompt::Dispose { step, attempt } => panic!("{}: {}", step.key, attempt.judgement.says),
        };
        let event = walk.event_for(&prompt, answer).unwrap_or_else(|refused| panic!("{refused}"));
        walk.apply(&event).unwrap_or_else(|refused| panic!("{refused}"));
    }
}
