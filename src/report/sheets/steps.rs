//! Part by part: needs, hazards, and the steps with their boxes.

use super::blanks::{self, Blank, Kind};
use super::{Sheets, hazards};
use crate::plan::{Alternative, Ask, Condition, Holds, Plan, Step};
use crate::procedure::{Hazard, Signal};
use crate::report::pdf::{Block, Field, Form, Run, Strip, Tone};
use crate::report::print::heading;

/// Letters of what must be seen that are printed each time, two lines: what is longer stands at the first thing alone.
const SHORT: usize = 110;

/// The steps of all parts of the work.
pub(super) fn steps(sheets: &Sheets, blocks: &mut Vec<Block>) {
    let plan = sheets.walk.plan();
    let mut blanks = sheets.blanks.iter().filter(|blank| blank.number.is_some()).peekable();
    for (at, step) in plan.steps.iter().enumerate() {
        if at == 0 || plan.steps[at - 1].phase != step.phase {
            phase(plan, step.phase, blocks);
        }
        let mut own = Vec::new();
        while let Some(blank) = blanks.next_if(|blank| blank.number == Some(at + 1)) {
            own.push(blank);
        }
        let has = |kind: Kind| own.iter().any(|blank| blank.kind == kind);
        if has(Kind::Hazards) {
            blocks.push(hazard_frame(&hazards::before(plan, at), at + 1));
        }
        if let Some(party) = step.witness.as_deref() {
            blocks.push(witness(party, at + 1));
        }
        blocks.push(Block::Form(form(sheets, at, step, &own)));
    }
}

fn plain(text: &str) -> Vec<Run> {
    vec![Run::plain(text)]
}

/// A word in bold with what belongs to it.
fn named(word: &str, text: impl Into<String>) -> Vec<Run> {
    vec![Run::plain(format!("{word} ")).bold(), Run::plain(text)]
}

/// The title of a part; what it needs where a procedure begins; parts wherever they are others.
fn phase(plan: &Plan, place: usize, blocks: &mut Vec<Block>) {
    let phase = &plan.phases[place];
    blocks.push(heading(3, &phase.title));
    let before = place.checked_sub(1).map(|at| &plan.phases[at]).filter(|before| before.procedure == phase.procedure);
    // What holds for all things of a procedure stands before the first of them, as in the terminal.
    let lists = [
        ("before:", &phase.conditions, before.is_none()),
        ("persons:", &phase.persons, before.is_none()),
        ("tools:", &phase.tools, before.is_none_or(|before| before.tools != phase.tools)),
        ("supplies:", &phase.supplies, before.is_none_or(|before| before.supplies != phase.supplies)),
        ("parts:", &phase.parts, before.is_none_or(|before| before.parts != phase.parts)),
    ];
    let mut runs: Vec<Run> = Vec::new();
    for (word, list, shown) in lists {
        if !list.is_empty() && shown {
            let gap = if runs.is_empty() { "" } else { "   " };
            runs.push(Run::plain(format!("{gap}{word} ")).bold());
            runs.push(Run::plain(list.join(" · ")));
        }
    }
    if !runs.is_empty() {
        blocks.push(Block::Lead(runs));
    }
}

fn tone(signal: Signal) -> Tone {
    match signal {
        Signal::Danger => Tone::Bad,
        Signal::Warning | Signal::Caution => Tone::Odd,
        Signal::Notice => Tone::Plain,
    }
}

/// Hazards in a frame, with one box for all of them.
fn hazard_frame(hazards: &[&Hazard], number: usize) -> Block {
    let words = hazards.iter().enumerate().map(|(at, hazard)| {
        let before = Run::plain(if at == 0 { format!("Before step {number}: ") } else { String::new() });
        let word = Run { bold: true, tone: tone(hazard.signal), ..Run::plain(format!("{} ", hazard.signal.word())) };
        let what = Run::plain(format!("{} {} ", hazard.hazard, hazard.consequence));
        vec![before, word, what, Run::plain(hazard.avoid.as_str()).bold()]
    });
    Block::Form(Form {
        words: words.collect(),
        tick: true,
        frame: Some(hazards.first().map_or(Tone::Plain, |hazard| tone(hazard.signal))),
        ..Form::default()
    })
}

fn witness(party: &str, number: usize) -> Block {
    let says = format!(
        "Tell the {party} that step {number} is next. Who wants to may watch; the work goes on without. Tick the box where the \
         {party} was told and nobody came."
    );
    let fields = vec![Field::new("Who came", 150.0)];
    let strips = vec![Strip { words: vec![named("WITNESS POINT", says)], fields, tick: true }];
    Block::Form(Form { strips, frame: Some(Tone::Plain), ..Form::default() })
}

fn form(sheets: &Sheets, at: usize, step: &Step, own: &[&Blank]) -> Form {
    let plan = sheets.walk.plan();
    let mut words = Vec::new();
    words.extend(step.only_if.as_ref().map(|condition| vec![Run::plain(only_if(plan, condition)).bold()]));
    words.extend(step.instructions.iter().map(|sentence| plain(sentence)));
    let mut form = Form {
        number: (at + 1).to_string(),
        words,
        tick: own.iter().any(|blank| blank.kind == Kind::Done),
        struck: sheets.settled.contains(&step.key),
        ..Form::default()
    };
    if !step.look.is_empty() {
        let look = step.look.join(" •\u{a0}");
        let look = match same_look(plan, at).filter(|_| look.chars().count() > SHORT) {
            Some(number) => format!("as in step {number}"),
            None => look,
        };
        form.beside.push(plain(&format!("•\u{a0}{look}")));
    }
    form.beside.extend(step.photo.as_ref().map(|what| named("Picture:", what.as_str())));
    for blank in own {
        match blank.kind {
            Kind::Hazards | Kind::Witness | Kind::Done => {}
            Kind::Release => form.strips.extend(hold(step.hold.as_deref().unwrap_or("second person"))),
            _ => asked(sheets, step, blank, &mut form),
        }
    }
    // Where there is nothing to do but to look, that takes the whole width.
    if form.words.is_empty() && form.fields.is_empty() {
        form.words = std::mem::take(&mut form.beside);
    }
    let last = plan.steps.get(at + 1).is_none_or(|next| next.phase != step.phase);
    let close = &plan.phases[step.phase].close;
    if last && !close.is_empty() {
        form.strips.push(Strip { words: vec![named("Then:", close.join(" "))], ..Strip::default() });
    }
    form
}

/// The number of the step that said the same of the first thing of its procedure: whoever crimps the tenth wire has read it
/// nine times.
fn same_look(plan: &Plan, at: usize) -> Option<usize> {
    let step = &plan.steps[at];
    let procedure = |step: &Step| plan.phases[step.phase].procedure.as_str();
    let same = |s: &Step| procedure(s) == procedure(step) && s.look == step.look && s.only_if.is_none();
    plan.steps[..at].iter().position(same).map(|first| first + 1)
}

/// When a step with a condition is needed.
fn only_if(plan: &Plan, condition: &Condition) -> String {
    let number = plan.position(&condition.step).map_or(0, |at| at + 1);
    let holds = match &condition.holds {
        Holds::Below(limit) => format!("the value of step {number} is below {limit}"),
        Holds::Above(limit) => format!("the value of step {number} is above {limit}"),
        Holds::Is(text) => format!("step {number} says: {text}"),
        Holds::Chosen(way) => {
            let ways = plan.steps.iter().find(|s| s.key == condition.step).map(|s| &s.ask);
            let place = match ways {
                Some(Ask::Choose { ways }) => ways.iter().position(|own| own.id == *way).map_or(0, |at| at + 1),
                _ => 0,
            };
            format!("in step {number} it was way {place} ({way})")
        }
    };
    format!("Only if {holds}:")
}

/// What a step asks for beside a box.
fn asked(sheets: &Sheets, step: &Step, blank: &Blank, form: &mut Form) {
    match &step.ask {
        Ask::Measure(measurement) => {
            let meter = format!("{}, {}.", measurement.dimension.name(), blanks::probes(&measurement.probes));
            let state = measurement.state.describe(sheets.walk.job());
            form.words.push(named("Meter:", format!("{meter} State: {state}.")));
            form.beside.extend(expected(blank));
            value(sheets, step, blank, form);
        }
        Ask::Value { .. } => {
            form.beside.extend(expected(blank));
            value(sheets, step, blank, form);
        }
        Ask::Text { expect } => {
            form.beside.extend(expect.as_ref().map(|expect| vec![Run::plain(format!("Expect: {expect}")).bold()]));
            let label = if expect.is_some() { "" } else { "What you see; none where there is nothing" };
            form.fields.push(Field::new(label, Field::REST));
        }
        Ask::Choose { ways } => form.strips.extend(ways.iter().enumerate().map(|(at, way)| way_strip(at + 1, way))),
        Ask::Wait { at_least } => {
            form.beside.push(vec![Run::plain(format!("Wait: at least {at_least}")).bold()]);
            form.fields.push(Field::new("from (clock)", 50.0));
            form.fields.push(Field::new("to (clock)", 50.0));
            form.fields.push(Field { unit: blank.unit.clone(), ..Field::new("waited", 50.0) });
        }
        Ask::Do => {}
    }
}

/// The range, and whose rule it is, each in a line.
fn expected(blank: &Blank) -> Vec<Vec<Run>> {
    if blank.expected.is_empty() {
        return Vec::new();
    }
    let (range, rule) = match blank.expected.split_once("; rule: ") {
        Some((range, rule)) => (range, Some(rule)),
        None => match blank.expected.strip_prefix("rule: ") {
            Some(rule) => ("", Some(rule)),
            None => (blank.expected.as_str(), None),
        },
    };
    let mut lines = Vec::new();
    if let Some(why) = range.strip_prefix("no limit: ") {
        lines.push(named("No limit:", why));
    } else if !range.is_empty() {
        lines.push(vec![Run::plain(format!("Expect: {range}")).bold()]);
    }
    lines.extend(rule.map(|rule| vec![Run::plain(format!("Rule: {rule}"))]));
    lines
}

/// The fields of a value: with the instrument where several measure it, and a second one where it is taken again.
fn value(sheets: &Sheets, step: &Step, blank: &Blank, form: &mut Form) {
    let dimension = match &step.ask {
        Ask::Measure(measurement) => Some(measurement.dimension),
        Ask::Value { dimension, .. } => Some(*dimension),
        _ => None,
    };
    let instruments = sheets.walk.job().instruments.iter().filter(|i| dimension.is_some_and(|d| i.measures(d))).count();
    if instruments > 1 {
        form.fields.push(Field::new("instrument", 56.0));
    }
    let field = |label: &str| Field { unit: blank.unit.clone(), ..Field::new(label, Field::READING) };
    if let Some(repeat) = &step.repeat {
        let from = sheets.walk.plan().position(&repeat.from).map_or(0, |at| at + 1);
        let says = format!("Outside: again from step {from} on, at most {} readings in all.", repeat.at_most);
        form.beside.push(plain(&says));
        form.fields.extend([field("first"), field("last")]);
    } else {
        form.fields.push(field(""));
    }
}

fn way_strip(number: usize, way: &Alternative) -> Strip {
    let mut words = vec![named(&format!("{number})"), way.instructions.join(" "))];
    words.extend(way.look.iter().map(|look| plain(&format!("• {look}"))));
    Strip { words, fields: Vec::new(), tick: true }
}

fn hold(who: &str) -> [Strip; 2] {
    let says = format!(
        "The work stops here until a {who} has looked at it, from the text of the step and not from what was said. Who works \
         alone leaves, comes back, checks from the text, and begins what was seen with: self-check."
    );
    [
        Strip {
            words: vec![named("HOLD POINT", says)],
            fields: vec![Field::new("What was checked, and what was seen", Field::REST)],
            tick: false,
        },
        Strip {
            fields: vec![Field::new("Released by: name", 180.0), Field::new("Signature", Field::REST)],
            ..Strip::default()
        },
    ]
}
