//! Reads procedure and hazard files.

use std::cell::RefCell;
use std::collections::HashSet;

use super::{AcceptTemplate, AskTemplate, Hazard, MeasureTemplate, Procedure, ProcedureStep, Signal};
use crate::circuit::Engine;
use crate::document::{Problem, Problems, Source, Table, parse_toml};
use crate::job::{ItemKind, Level};
use crate::quantity::Dimension;

/// The hazards of a hazard file.
pub(super) fn hazards(source: &Source) -> Result<Vec<Hazard>, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let document = parse_toml(source, &problems);
    let mut hazards: Vec<Hazard> = Vec::new();
    if problems.borrow().is_empty() {
        let top = Table::new(document.get_ref(), 0..0, "the hazard file", &problems);
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
    problems.into_inner().check(hazards)
}

/// One procedure file; `known` are the hazards it may use.
pub(super) fn procedure(source: &Source, known: &[Hazard]) -> Result<Procedure, Box<Problems>> {
    let problems = RefCell::new(Problems::new(source.clone()));
    let document = parse_toml(source, &problems);
    if !problems.borrow().is_empty() {
        return problems.into_inner().check(()).map(|()| unreachable!("there is a problem"));
    }
    let top = Table::new(document.get_ref(), 0..0, "the procedure file", &problems);
    top.check_format("procedure");
    let id = top.required_text("id");
    let title = top.required_text("title");
    let why = top.required_text("why");
    let for_each = top.required_choice("for_each", ItemKind::WORDS);
    let level = top.choice("level", Level::WORDS).unwrap_or(Level::Essential);
    let after = plain(top.texts("after"));
    let list = |key: &str| {
        if !top.has(key) {
            top.missing(key, "a list; [] states that there are none");
        }
        plain(top.texts(key))
    };
    let (conditions, persons, tools) = (list("conditions"), list("persons"), list("tools"));
    let (supplies, parts, close) = (list("supplies"), list("parts"), list("close"));
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
            steps.push(step);
        }
        table.finish();
    }
    if steps.is_empty() && !top.has("step") {
        top.missing("step", "at least one [[step]]");
    }
    top.finish();
    let read = id.zip(title).zip(why).zip(for_each);
    let procedure = read.map(|(((id, title), why), for_each)| Procedure {
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
        hazards,
        steps,
        source: source.clone(),
    });
    let mut problems = problems.into_inner();
    if procedure.is_none() && problems.is_empty() {
        problems.push(Problem::general("the procedure could not be read"));
    }
    match procedure {
        Some(procedure) => problems.check(procedure),
        None => problems.check(()).map(|()| unreachable!("there is a problem")),
    }
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
    if let Some(meant) = crate::document::closest(id, &names) {
        problem = problem.help(format!("did you mean \"{meant}\"?"));
    }
    table.problem(problem);
}

fn read_step(table: &Table, known: &[Hazard]) -> Option<ProcedureStep> {
    let id = table.required_text("id");
    let instruction = table.required_text("do");
    let why = table.text("why").unwrap_or_default();
    let look = plain(table.texts("look"));
    let photo = table.text("photo");
    let hold = table.text("hold");
    let when = table.text("when");
    let mut hazards = Vec::new();
    for (id, place) in table.texts("hazard") {
        check_hazard(table, "hazard", &id, place, known);
        hazards.push(id);
    }
    let asked = ["measure", "record", "wait"].into_iter().filter(|key| table.has(key)).count();
    if asked > 1 {
        let label = "a step takes one reading, records one value or waits once";
        table.problem(Problem::at(table.place.clone(), "a step asks for two things", label));
    }
    let ask = if table.has("wait") {
        table.required_text("wait").map(|at_least| AskTemplate::Wait { at_least })
    } else if table.has("measure") {
        read_measure(table).map(AskTemplate::Measure)
    } else if table.has("record") {
        table
            .choice("record", RECORDED)
            .map(|dimension| AskTemplate::Record { dimension, expect: table.text("expect") })
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
    if accept.is_some() && matches!(ask, Some(AskTemplate::Do)) {
        let place = table.place_of("accept");
        table.problem(Problem::at(place, "`accept` without a reading", "add `measure` or `record`"));
    }
    Some(ProcedureStep {
        id: id?,
        hazards,
        level,
        when,
        instruction: instruction?,
        why,
        look,
        photo,
        hold,
        ask: ask?,
        accept,
        no_concession,
        explainable,
        opens,
        closes,
        place: table.place.clone(),
    })
}

const RECORDED: &[(&str, Option<Dimension>)] = &[
    ("text", None),
    ("torque", Some(Dimension::Torque)),
    ("length", Some(Dimension::Length)),
    ("force", Some(Dimension::Force)),
    ("temperature", Some(Dimension::Temperature)),
    ("time", Some(Dimension::Duration)),
    ("angle", Some(Dimension::Angle)),
    ("illuminance", Some(Dimension::Illuminance)),
    ("count", Some(Dimension::Count)),
    ("voltage", Some(Dimension::Voltage)),
    ("current", Some(Dimension::Current)),
    ("resistance", Some(Dimension::Resistance)),
];

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
