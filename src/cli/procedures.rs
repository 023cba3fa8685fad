//! `rigproof procedures`: the library as a list, one procedure as it reads for a job, and the check of files.

use std::fmt::Write;
use std::path::PathBuf;

use super::arguments::{Procedures, ProceduresCommand};
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_library, read_text};
use super::layout::{self, labelled};
use crate::document::{Problems, Source};
use crate::job::Job;
use crate::plan::{Ask, Plan, Step};
use crate::procedure::{Library, style};

const WIDTH: usize = 80;

pub(super) fn run(arguments: &Procedures) -> Result<Outcome, Failure> {
    match &arguments.command {
        ProceduresCommand::List { own } => {
            layout::print(&list(&read_library(own.procedures.as_deref())?))?;
            Ok(Outcome::Conforms)
        }
        ProceduresCommand::Show { id, job, own } => {
            let library = read_library(own.procedures.as_deref())?;
            layout::print(&show(&library, id, &read_job(job)?)?)?;
            Ok(Outcome::Conforms)
        }
        ProceduresCommand::Check { files, job } => check(files, job.as_deref().map(read_job).transpose()?.as_ref()),
    }
}

fn list(library: &Library) -> String {
    let mut text = String::from("in walking order:\n");
    for procedure in &library.procedures {
        let title = without_templates(&procedure.title);
        let _ = writeln!(
            text,
            "  {:<15} for each {:<17} {:>2} steps  {}",
            procedure.id,
            procedure.for_each.words(),
            procedure.steps.len(),
            title
        );
    }
    text.push_str("\none as it reads for a job: rigproof procedures show ID --job job.toml\n");
    text
}

/// A title with dots for what a job fills in.
fn without_templates(title: &str) -> String {
    let plain = title.split("{%").next().unwrap_or("");
    let mut text = String::new();
    let mut rest = plain;
    while let Some(open) = rest.find("{{") {
        text.push_str(&rest[..open]);
        text.push_str("...");
        rest = rest[open..].find("}}").map_or("", |close| &rest[open + close + 2..]);
    }
    text.push_str(rest);
    text.trim().to_owned()
}

fn show(library: &Library, id: &str, job: &Job) -> Result<String, Failure> {
    if !library.procedures.iter().any(|p| p.id == id) {
        let ids: Vec<&str> = library.procedures.iter().map(|p| p.id.as_str()).collect();
        let mut text = format!("no procedure is called `{id}`\n  there are {}", ids.join(", "));
        if let Some(meant) = crate::document::closest(id, &ids) {
            let _ = write!(text, "\n  did you mean `{meant}`?");
        }
        return Err(Failure::message(text));
    }
    let plan = Plan::of(job, library)?;
    let mut text = String::new();
    for (place, phase) in plan.phases.iter().enumerate().filter(|(_, p)| p.procedure == id) {
        let _ = writeln!(text, "{}\n{}", phase.title, labelled("  ", &phase.why, WIDTH));
        let lists = [
            ("  before:   ", &phase.conditions),
            ("  persons:  ", &phase.persons),
            ("  tools:    ", &phase.tools),
            ("  supplies: ", &phase.supplies),
            ("  parts:    ", &phase.parts),
        ];
        for (label, list) in lists {
            let words = if list.is_empty() { "none".to_owned() } else { list.join(" · ") };
            let _ = writeln!(text, "{}", labelled(label, &words, WIDTH));
        }
        for hazard in &phase.hazards {
            let _ = writeln!(text, "{}", labelled(&format!("  {}: ", hazard.signal.word()), &hazard.avoid, WIDTH));
        }
        for step in plan.steps.iter().filter(|s| s.phase == place) {
            show_step(&mut text, step, job);
        }
        for close in &phase.close {
            let _ = writeln!(text, "{}", labelled("  then:     ", close, WIDTH));
        }
        text.push('\n');
    }
    if text.is_empty() {
        text = format!("the job has nothing that `{id}` applies to at level {}\n", job.level.word());
    }
    Ok(text)
}

fn show_step(text: &mut String, step: &Step, job: &Job) {
    let _ = writeln!(text, "\n  {}", step.key);
    for hazard in &step.hazards {
        let _ = writeln!(text, "{}", labelled(&format!("    {}: ", hazard.signal.word()), &hazard.avoid, WIDTH));
    }
    for (index, sentence) in step.instructions.iter().enumerate() {
        let _ = writeln!(text, "{}", labelled(&format!("    {:>2}. ", index + 1), sentence, WIDTH));
    }
    let _ = writeln!(text, "{}", labelled("    why: ", &step.why, WIDTH));
    for look in &step.look {
        let _ = writeln!(text, "{}", labelled("    look: ", look, WIDTH));
    }
    let asks = match &step.ask {
        Ask::Do => String::new(),
        Ask::Choose { ways } => {
            for (index, way) in ways.iter().enumerate() {
                let label = format!("    {}) ", index + 1);
                let _ = writeln!(text, "{}", labelled(&label, &way.instructions.join(" "), WIDTH));
                for look in &way.look {
                    let _ = writeln!(text, "{}", labelled("       look: ", look, WIDTH));
                }
            }
            "which of these was done".to_owned()
        }
        Ask::Measure(measurement) => {
            let range = measurement.expect(job).map_or_else(|e| e.to_string(), |e| e.range());
            let rule = measurement.rule.as_ref().map_or(String::new(), |r| format!("; {r}"));
            let state = measurement.state.describe(job);
            format!("{}, {}; {state}; expect {range}{rule}", measurement.dimension.name(), measurement.probes)
        }
        Ask::Value { dimension, low, high, rule, no_limit } => {
            let range = low.zip(*high).map(|(low, high)| low.range_to(high));
            let rule = rule.as_ref().map(ToString::to_string);
            let no_limit = no_limit.as_ref().map(|reason| format!("no limit: {reason}"));
            let limits: Vec<String> = [range, rule, no_limit].into_iter().flatten().collect();
            format!("{} {}", dimension.name(), limits.join("; "))
        }
        Ask::Wait { at_least } => format!("wait {at_least}"),
        Ask::Text { expect } => {
            expect.as_ref().map_or("what you see".to_owned(), |e| format!("what you read; it must be {e}"))
        }
    };
    if !asks.is_empty() {
        let _ = writeln!(text, "{}", labelled("    write: ", &asks, WIDTH));
    }
    if step.no_concession {
        text.push_str("    no concession: it must conform before the work goes on\n");
    }
    if let Some(condition) = &step.only_if {
        let _ = writeln!(text, "{}", labelled("    only if: ", &condition.to_string(), WIDTH));
    }
    if let Some(repeat) = &step.repeat {
        let says = format!("if it does not conform, from {} on; {} readings at most", repeat.from, repeat.at_most);
        let _ = writeln!(text, "{}", labelled("    again: ", &says, WIDTH));
    }
    if let Some(party) = &step.witness {
        let _ = writeln!(text, "    witness point: {party}");
    }
    if let Some(hold) = &step.hold {
        let _ = writeln!(text, "    hold point: {hold}");
    }
}

/// Reads the files in the place of the built-in ones of the same name, checks their sentences, and writes them out for
/// a job where one is named.
fn check(files: &[PathBuf], job: Option<&Job>) -> Result<Outcome, Failure> {
    let mut own = Vec::new();
    for path in files {
        own.push(Source::new(path.display().to_string(), read_text(path)?));
    }
    let names: Vec<String> = own.iter().map(|s| s.name.clone()).collect();
    let library = Library::read(Library::sources_with(own))?;
    let mine = |source: &Source| names.is_empty() || names.contains(&source.name);
    let mut wrong: Vec<Problems> = library
        .procedures
        .iter()
        .filter(|p| mine(&p.source))
        .map(style::check)
        .filter(|problems| !problems.is_empty())
        .collect();
    if library.sources.iter().any(|s| s.name.ends_with("hazards.toml") && mine(s)) {
        wrong.extend(style::check_hazards(&library));
    }
    if !wrong.is_empty() {
        return Err(Failure::Problems(wrong));
    }
    if let Some(job) = job {
        Plan::of(job, &library)?;
    }
    let count = library.procedures.iter().filter(|p| mine(&p.source)).count();
    let procedures = if count == 1 { "procedure" } else { "procedures" };
    layout::print(&format!("{count} {procedures} read and checked, nothing to mend"))?;
    Ok(Outcome::Conforms)
}
