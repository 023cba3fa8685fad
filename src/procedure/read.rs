//! Reads procedure and hazard files.

use std::cell::RefCell;
use std::collections::HashSet;

use super::{
    AcceptTemplate, AlternativeTemplate, AskTemplate, ConditionTemplate, Hazard, HoldsTemplate, MeasureTemplate,
    Procedure, ProcedureStep, REVEALED, Recorded, RepeatTemplate, Signal,
};
use crate::circuit::Engine;
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::job::{ForEach, ItemKind, Level};
use crate::quantity::Dimension;

/// The hazards of a hazard file.
pub(super) fn hazards(source: &Source) -> Result<Vec<Hazard>, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let hazards = read_hazards(source, &problems);
    problems.into_inner().check(hazards)
}

/// The forms of a procedure file and of a hazard file, from files that use every key.
pub(super) fn forms(procedures: &[Source], hazard_file: &Source) -> (Form, Form) {
    let noted = |source: &Source, read: &dyn Fn(&RefCell<Problems>)| {
        let problems = RefCell::new(Problems::with_form(source.clone()));
        read(&problems);
        problems.into_inner().into_form()
    };
    let hazards = noted(hazard_file, &|problems| drop(read_hazards(hazard_file, problems)));
    let mut form = Form::default();
    for source in procedures {
        form.join(noted(source, &|problems| drop(read_procedure(source, &[], problems))));
    }
    (form, hazards)
}

fn read_hazards(source: &Source, problems: &RefCell<Problems>) -> Vec<Hazard> {
    let document = parse_toml(source, problems);
    let mut hazards: Vec<Hazard> = Vec::new();
    if problems.borrow().is_empty() {
        let top = Table::new(document.get_ref(), 0..0, "the hazard file", problems);
        top.check_format("hazard file");
        for table in top.list_of_tables("hazard") {
            let id = table.required_text("id");
            let signal = table.required_choice("signal", Signal::WORDS);
            let hazard = table.required_text("hazard");
            let consequence = table.required_text("consequence");
            let avoid = table.required_text("avoid");
            let source = table.required_text("source");
            let words =
                [("verified", ""), ("partly verified", " (partly verified)"), ("from memory", " (from memory)")];
            let status = table.required_choice("status", &words);
            if let Some(id) = id.as_ref().filter(|id| hazards.iter().any(|h| h.id == **id)) {
                table.problem(Problem::at(
                    table.place_of("id"),
                    format!("two hazards are called `{id}`"),
                    "rename one",
                ));
            }
            table.finish();
            if let (Some(id), Some(signal), Some(hazard), Some(consequence), Some(avoid), Some(source), Some(status)) =
                (id, signal, hazard, consequence, avoid, source, status)
            {
                let source = if source == "none" { status.trim().to_owned() } else { format!("{source}{status}") };
                hazards.push(Hazard { id, signal, hazard, consequence, avoid, source });
            }
        }
        top.finish();
    }
    hazards
}

/// One procedure file; `known` are the hazards it may use.
pub(super) fn procedure(source: &Source, known: &[Hazard]) -> Result<Procedure, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let procedure = read_procedure(source, known, &problems);
    let mut problems = problems.into_inner();
    if procedure.is_none() && problems.is_empty() {
        problems.push(Problem::general("the procedure could not be read"));
    }
    match procedure {
        Some(procedure) => problems.check(procedure),
        None => problems.check(()).map(|()| unreachable!("there is a problem")),
    }
}

fn read_procedure(source: &Source, known: &[Hazard], problems: &RefCell<Problems>) -> Option<Procedure> {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return None;
    }
    let top = Table::new(document.get_ref(), 0..0, "the procedure file", problems);
    top.check_format("procedure");
    let id = top.required_text("id");
    let title = top.required_text("title");
    let why = top.required_text("why");
    let for_each = read_for_each(&top);
    let level = top.choice("level", Level::WORDS).unwrap_or(Level::Essential);
    let after = plain(top.texts("after"));
    let list = |key: &str| {
        top.demands(key, "a list; [] states that there are none");
        plain(top.texts(key))
    };
    let (conditions, persons, tools) = (list("conditions"), list("persons"), list("tools"));
    let (supplies, parts, close) = (list("supplies"), list("parts"), list("close"));
    let only_all_closed = top.flag("only_all_closed");
    let mut hazards = Vec::new();
    for table in top.list_of_tables("hazard") {
        if let Some(id) = table.required_text("use") {
            check_hazard(&table, "use", &id, table.place_of("use"), known);
            hazards.push(id);
        }
        table.finish();
    }
    let mut steps = Vec::new();
    let mut seen = HashSet::new();
    for table in top.list_of_tables("step") {
        if let Some(step) = read_step(&table, known) {
            if !seen.insert(step.id.clone()) {
                let title = format!("two steps are called `{}`", step.id);
                table.problem(Problem::at(table.place_of("id"), title, "rename one of the two"));
            }
            check_earlier(&table, &step, &steps);
            steps.push(step);
        }
        table.finish();
    }
    top.demands("step", "at least one [[step]]");
    if !top.has("hazard") && steps.iter().all(|s: &ProcedureStep| s.hazards.is_empty()) {
        top.missing("hazard", "a list; [] states that there is no hazard");
    }
    top.finish();
    let read = id.zip(title).zip(why).zip(for_each);
    read.map(|(((id, title), why), for_each)| Procedure {
        id,
        title,
        why,
        for_each,
        level,
        after,
        conditions,
        persons,
        tools,
        supplies,
        parts,
        close,
        only_all_closed,
        hazards,
        steps,
        source: source.clone(),
    })
}

fn plain(texts: Vec<(String, std::ops::Range<usize>)>) -> Vec<String> {
    texts.into_iter().map(|(text, _)| text).collect()
}

fn check_hazard(table: &Table, key: &str, id: &str, place: std::ops::Range<usize>, known: &[Hazard]) {
    if known.iter().any(|h| h.id == id) {
        return;
    }
    let names: Vec<&str> = known.iter().map(|h| h.id.as_str()).collect();
    let mut problem =
        Problem::at(place, format!("no hazard is called `{id}`"), format!("`{key}` names an id of hazards.toml"));
    if let Some(meant) = closest(id, &names) {
        problem = problem.help(format!("did you mean \"{meant}\"?"));
    }
    table.problem(problem);
}

fn read_for_each(top: &Table) -> Option<ForEach> {
    let words: Vec<&str> = ItemKind::WORDS.iter().map(|(word, _)| *word).collect();
    let allowed = || format!("{}, or a group such as \"wire of splice\", \"load of ground\"", words.join(", "));
    if !top.demands("for_each", &format!("one of {}", allowed())) {
        return None;
    }
    let text = top.text("for_each")?;
    let read = ForEach::from_words(&text);
    if read.is_none() {
        let title = format!("`{text}` is no kind of thing that a procedure is walked for");
        let mut problem = Problem::at(top.place_of("for_each"), title, format!("allowed: {}", allowed()));
        if let Some(meant) = closest(&text, &words) {
            problem = problem.help(format!("did you mean \"{meant}\"?"));
        }
        top.problem(problem);
    }
    read
}

/// What a step says about earlier steps of its own procedure.
fn check_earlier(table: &Table, step: &ProcedureStep, before: &[ProcedureStep]) {
    let names: Vec<&str> = before.iter().map(|s| s.id.as_str()).collect();
    let unknown = |id: &str, place: std::ops::Range<usize>, what: &str| {
        let earlier = if names.is_empty() { "there is none before it".to_owned() } else { names.join(", ") };
        let title = format!("`{what}` of step `{}` names `{id}`, which is no earlier step", step.id);
        let mut problem = Problem::at(place, title, format!("earlier steps: {earlier}"));
        if let Some(meant) = closest(id, &names) {
            problem = problem.help(format!("did you mean \"{meant}\"?"));
        }
        table.problem(problem);
    };
    if let Some(condition) = &step.only_if
        && !condition.step.contains('/')
    {
        match before.iter().find(|s| s.id == condition.step) {
            None => unknown(&condition.step, condition.place.clone(), "only_if"),
            Some(earlier) => check_condition(table, condition, earlier),
        }
    }
    if let Some(repeat) = step.repeat.as_ref().filter(|r| r.from != step.id && !names.contains(&r.from.as_str())) {
        unknown(&repeat.from, repeat.place.clone(), "repeat");
    }
}

/// Notes where the earlier step does not give what the condition looks at.
fn check_condition(table: &Table, condition: &ConditionTemplate, earlier: &ProcedureStep) {
    if let Some(problem) = unfit(condition, earlier) {
        table.problem(problem);
    }
}

/// What is wrong where the earlier step does not give what the condition looks at.
pub(super) fn unfit(condition: &ConditionTemplate, earlier: &ProcedureStep) -> Option<Problem> {
    let gives = match (&condition.holds, &earlier.ask) {
        (HoldsTemplate::Chosen(id), AskTemplate::Choose(ways)) => {
            let ids: Vec<&str> = ways.iter().map(|w| w.id.as_str()).collect();
            if ids.contains(&id.as_str()) {
                return None;
            }
            format!("its ways are {}", ids.join(", "))
        }
        (HoldsTemplate::Below(_) | HoldsTemplate::Above(_), ask) if ask.dimension().is_some() => return None,
        (HoldsTemplate::Is(_), AskTemplate::Record { what: Recorded::Text | Recorded::Rating, .. }) => return None,
        (_, AskTemplate::Choose(_)) => "it gives a choice: ask for `chosen`".to_owned(),
        (_, AskTemplate::Record { what: Recorded::Text | Recorded::Rating, .. }) => {
            "it gives a text: ask for `is`".to_owned()
        }
        (_, AskTemplate::Measure(_) | AskTemplate::Record { .. }) => {
            "it gives a reading: ask for `below` or `above`".to_owned()
        }
        (_, AskTemplate::Do | AskTemplate::Wait { .. }) => "it gives no answer to look at".to_owned(),
    };
    let title = format!("step `{}` does not give what this condition looks at", earlier.id);
    Some(Problem::at(condition.place.clone(), title, gives))
}

fn read_reveals(table: &Table) -> Vec<String> {
    let mut words = Vec::new();
    for (word, place) in table.texts("reveals") {
        if REVEALED.contains(&word.as_str()) {
            words.push(word);
            continue;
        }
        let label = format!("there are {}", REVEALED.join(", "));
        let problem = Problem::at(place, format!("no fault is called `{word}`"), label);
        table.problem(match closest(&word, REVEALED) {
            Some(meant) => problem.help(format!("did you mean \"{meant}\"?")),
            None => problem,
        });
    }
    if !words.is_empty() && table.has("measure") {
        let title = "`reveals` beside a reading";
        let label = "what a reading of the circuit reveals is computed; leave this away";
        table.problem(Problem::at(table.place_of("reveals"), title, label));
    }
    words
}

fn read_step(table: &Table, known: &[Hazard]) -> Option<ProcedureStep> {
    let id = table.required_text("id");
    let instruction = match (table.has("do"), table.has("look")) {
        (false, true) => Some(String::new()),
        _ => table.required_text("do"),
    };
    let why = table.text("why").unwrap_or_default();
    let look = plain(table.texts("look"));
    let reveals = read_reveals(table);
    let photo = table.text("photo");
    let hold = table.text("hold");
    let when = table.text("when");
    let mut hazards = Vec::new();
    for (id, place) in table.texts("hazard") {
        check_hazard(table, "hazard", &id, place, known);
        hazards.push(id);
    }
    let asked = ["measure", "record", "wait", "choose"].into_iter().filter(|key| table.has(key)).count();
    if asked > 1 {
        let label = "a step takes one reading, records one value, waits once or offers one choice";
        let problem = Problem::at(table.place.clone(), "a step asks for two things", label);
        table.problem(problem.help("make two steps of it"));
        for key in ["measure", "record", "wait", "choose", "expect"] {
            table.leave(key);
        }
    }
    let ask = if table.has("wait") {
        table.required_text("wait").map(|at_least| AskTemplate::Wait { at_least })
    } else if table.has("measure") {
        read_measure(table).map(AskTemplate::Measure)
    } else if table.has("record") {
        table.choice("record", RECORDED).map(|what| AskTemplate::Record { what, expect: table.text("expect") })
    } else if table.has("choose") {
        read_choose(table)
    } else {
        Some(AskTemplate::Do)
    };
    let accept = read_accept(table);
    let no_concession = table.flag("no_concession");
    let level = table.choice("level", Level::WORDS).unwrap_or(Level::Essential);
    if level > Level::Essential && (no_concession || !hazards.is_empty()) {
        let label = "leave `level` away here";
        let title = "no level drops a hazard or a check of protection";
        table.problem(Problem::at(table.place_of("level"), title, label));
    }
    let explainable = table.flag("explainable");
    let (opens, closes) = (table.text("opens"), table.text("closes"));
    let no_limit = table.text("no_limit");
    let reads = matches!(ask, Some(AskTemplate::Measure(_) | AskTemplate::Record { what: Recorded::Value(_), .. }));
    for key in ["accept", "repeat", "no_limit"] {
        // What could not be read is said already.
        if table.has(key) && !reads && ask.is_some() {
            let title = format!("`{key}` without a reading");
            table.problem(Problem::at(table.place_of(key), title, "add `measure`, or `record` with a quantity"));
        }
    }
    let (only_if, repeat) = (read_condition(table), read_repeat(table));
    Some(ProcedureStep {
        id: id?,
        hazards,
        level,
        when,
        only_if,
        instruction: instruction?,
        why,
        look,
        reveals,
        photo,
        hold,
        witness: table.text("witness"),
        repeat,
        ask: ask?,
        accept,
        no_concession,
        explainable,
        no_limit,
        opens,
        closes,
        place: table.place.clone(),
    })
}

const RECORDED: &[(&str, Recorded)] = &[
    ("text", Recorded::Text),
    ("rating", Recorded::Rating),
    ("torque", Recorded::Value(Dimension::Torque)),
    ("length", Recorded::Value(Dimension::Length)),
    ("force", Recorded::Value(Dimension::Force)),
    ("temperature", Recorded::Value(Dimension::Temperature)),
    ("time", Recorded::Value(Dimension::Duration)),
    ("angle", Recorded::Value(Dimension::Angle)),
    ("illuminance", Recorded::Value(Dimension::Illuminance)),
    ("count", Recorded::Value(Dimension::Count)),
    ("voltage", Recorded::Value(Dimension::Voltage)),
    ("current", Recorded::Value(Dimension::Current)),
    ("resistance", Recorded::Value(Dimension::Resistance)),
];

fn read_choose(table: &Table) -> Option<AskTemplate> {
    let mut ways: Vec<AlternativeTemplate> = Vec::new();
    let written = table.list_of_tables("choose");
    let count = written.len();
    for way in written {
        let (id, instruction) = (way.required_text("id"), way.required_text("do"));
        let look = plain(way.texts("look"));
        if let Some(id) = id.as_ref().filter(|id| ways.iter().any(|w| w.id == **id)) {
            let title = format!("two ways are called `{id}`");
            way.problem(Problem::at(way.place_of("id"), title, "rename one of the two"));
        }
        way.finish();
        if let (Some(id), Some(instruction)) = (id, instruction) {
            ways.push(AlternativeTemplate { id, instruction, look });
        }
    }
    if count < 2 {
        let problem = Problem::at(table.place_of("choose"), "`choose` offers no choice", "two ways or more");
        table.problem(problem.help("add a second way, or write the one as `do`"));
        return None;
    }
    (ways.len() == count).then_some(AskTemplate::Choose(ways))
}

fn read_condition(table: &Table) -> Option<ConditionTemplate> {
    let inside = table.table("only_if")?;
    let step = inside.required_text("step");
    let (below, above) = (inside.text("below"), inside.text("above"));
    let (is, chosen) = (inside.text("is"), inside.text("chosen"));
    let mut holds = Vec::new();
    holds.extend(below.map(HoldsTemplate::Below));
    holds.extend(above.map(HoldsTemplate::Above));
    holds.extend(is.map(HoldsTemplate::Is));
    holds.extend(chosen.map(HoldsTemplate::Chosen));
    let place = table.place_of("only_if");
    inside.note_unknown_keys();
    if holds.len() != 1 {
        let label = "one of: below, above, is, chosen";
        table.problem(Problem::at(place, "`only_if` asks for one thing", label));
        return None;
    }
    Some(ConditionTemplate { step: step?, holds: holds.pop()?, place })
}

fn read_repeat(table: &Table) -> Option<RepeatTemplate> {
    let inside = table.table("repeat")?;
    let from = inside.required_text("from");
    let times = inside.integer("at_most");
    let place = table.place_of("repeat");
    inside.note_unknown_keys();
    let at_most = times.and_then(|n| usize::try_from(n).ok()).filter(|n| (2..=20).contains(n));
    if at_most.is_none() {
        let title = "`repeat` must end somewhere";
        table.problem(Problem::at(place.clone(), title, "at_most: how often at most, 2 to 20"));
    }
    Some(RepeatTemplate { from: from?, at_most: at_most?, place })
}

fn read_measure(table: &Table) -> Option<MeasureTemplate> {
    let words =
        [("voltage", Dimension::Voltage), ("current", Dimension::Current), ("resistance", Dimension::Resistance)];
    let dimension = table.choice("measure", &words)?;
    let between = plain(table.texts("between"));
    let wire = table.text("in");
    let between = match (dimension, <[String; 2]>::try_from(between)) {
        (Dimension::Current, Ok(_)) => {
            let label = "a current is read in a wire: write `in = \"w1\"`";
            table.problem(Problem::at(table.place_of("between"), "a current has no two probe points", label));
            None
        }
        (Dimension::Current, Err(_)) => {
            if wire.is_none() {
                table.missing("in", "the wire whose current is read");
            }
            None
        }
        (_, Ok(two)) => Some(two),
        (_, Err(_)) => {
            if table.has("between") {
                let label = "two terminals: red probe, black probe";
                table.problem(Problem::at(table.place_of("between"), "`between` needs two probe points", label));
            } else {
                table.missing("between", "two terminals, such as [\"battery.+\", \"battery.-\"]");
            }
            None
        }
    };
    let battery_off = table.choice("battery", &[("disconnected", true), ("connected", false)]).unwrap_or(false);
    if dimension == Dimension::Resistance && !battery_off {
        let problem =
            Problem::at(table.place_of("measure"), "an ohmmeter on a live circuit", "the battery is connected here");
        table.problem(problem.help("add battery = \"disconnected\""));
    }
    Some(MeasureTemplate {
        dimension,
        between,
        wire,
        on: plain(table.texts("on")),
        engine: table.choice("engine", &[("off", Engine::Off), ("running", Engine::Running)]).unwrap_or_default(),
        pull: plain(table.texts("pull")),
        unplug: plain(table.texts("unplug")),
        battery_off,
    })
}

fn read_accept(table: &Table) -> Option<AcceptTemplate> {
    let accept = table.table("accept")?;
    let at_least = accept.text("at_least");
    let at_most = accept.text("at_most");
    let because = accept.required_text("because");
    if at_least.is_none() && at_most.is_none() {
        accept.problem(Problem::at(accept.place.clone(), "`accept` states no limit", "add at_least or at_most"));
    }
    accept.note_unknown_keys();
    Some(AcceptTemplate { at_least, at_most, because: because? })
}
