//! The file of readings that a search for a fault begins with.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::path::Path;

use super::failure::Failure;
use super::files::read_text;
use crate::circuit::{Engine, State};
use crate::diagnosis::Taken;
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::job::{ItemKind, Job, Terminal};
use crate::plan::{Measurement, Probes};
use crate::quantity::{Dimension, Reading};

/// The form of a file of readings, from one that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-reading.toml", include_str!("every-reading.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_source(&source, None, &problems);
    problems.into_inner().into_form()
}

pub(super) fn read_readings(path: &Path, job: &Job) -> Result<Vec<Taken>, Failure> {
    let source = Source::new(path.display().to_string(), read_text(path)?);
    let problems = RefCell::new(Problems::new(source.clone()));
    let taken = read_source(&source, Some(job), &problems);
    Ok(problems.into_inner().check(taken)?)
}

fn read_source(source: &Source, job: Option<&Job>, problems: &RefCell<Problems>) -> Vec<Taken> {
    let document = parse_toml(source, problems);
    if !problems.borrow().is_empty() {
        return Vec::new();
    }
    let top = Table::new(document.get_ref(), 0..0, "the file of readings", problems);
    top.check_format("readings");
    let mut taken = Vec::new();
    for table in top.list_of_tables("reading") {
        taken.extend(read_one(&table, job));
        table.finish();
    }
    top.finish();
    taken
}

fn read_one(table: &Table, job: Option<&Job>) -> Option<Taken> {
    let known =
        [("voltage", Dimension::Voltage), ("current", Dimension::Current), ("resistance", Dimension::Resistance)];
    let dimension = table.choice("measure", &known);
    let between = table.texts("between");
    let wire = table.text("in");
    let state = State {
        on: names(table, job, "on", ItemKind::Switch),
        engine: table.choice("engine", &[("off", Engine::Off), ("running", Engine::Running)]).unwrap_or_default(),
        pulled: names(table, job, "pulled", ItemKind::Fuse),
        unplugged: names(table, job, "unplugged", ItemKind::Connector),
        battery_off: table.flag("battery_off") || dimension == Some(Dimension::Resistance),
        in_line: None,
    };
    let instrument = table.text("instrument");
    let shows = table.required_text("shows")?;
    let at = |says: &str, label: &str, key: &str| {
        let place = if table.has(key) { table.place_of(key) } else { table.place.clone() };
        table.problem(Problem::at(place, says.to_owned(), label.to_owned()));
    };
    let terminal = |(name, place): &(String, std::ops::Range<usize>)| -> Option<Terminal> {
        let job = job?;
        let found = job.terminal(name);
        if let Err(unknown) = &found {
            table.problem(Problem::at(place.clone(), unknown.to_string(), "no such terminal"));
        }
        found.ok()
    };
    let (probes, usual) = match (between.as_slice(), wire) {
        ([red, black], None) => {
            let (red, black) = (terminal(red), terminal(black));
            (Probes::Between(red?, black?), Dimension::Voltage)
        }
        ([], Some(wire)) => {
            if job.is_some_and(|job| job.wire(&wire).is_none()) {
                at(&format!("no wire is called `{wire}`"), "no such wire", "in");
                return None;
            }
            (Probes::Wire(wire), Dimension::Current)
        }
        _ => {
            if job.is_some() {
                let says = "where the meter was put is not clear";
                at(says, "write between = [\"RED\", \"BLACK\"], or in = \"WIRE\"", "between");
            }
            return None;
        }
    };
    let dimension = dimension.unwrap_or(usual);
    if let Some(name) = instrument.as_deref()
        && job.is_some_and(|job| job.instrument(Some(name), dimension).is_none())
    {
        at(
            &format!("no instrument `{name}` of the job measures a {}", dimension.name()),
            "not in this job",
            "instrument",
        );
        return None;
    }
    if (dimension == Dimension::Current) != matches!(probes, Probes::Wire(_)) {
        at("this cannot be measured there", "a current is read in a wire, all else between two points", "measure");
        return None;
    }
    match Reading::parse(&shows, dimension) {
        Ok(reading) => {
            let measurement = Measurement { dimension, probes, state, rule: None };
            Some(Taken { measurement, reading, instrument })
        }
        Err(error) => {
            at(&format!("`{shows}` is no reading of a {}", dimension.name()), &error.to_string(), "shows");
            None
        }
    }
}

fn names(table: &Table, job: Option<&Job>, key: &str, kind: ItemKind) -> BTreeSet<String> {
    let texts = table.texts(key);
    let Some(job) = job else { return BTreeSet::new() };
    let all = job.names(kind);
    let mut chosen = BTreeSet::new();
    for (name, place) in texts {
        if all.contains(&name.as_str()) {
            chosen.insert(name);
            continue;
        }
        let mut problem = Problem::at(place, format!("no {} is called `{name}`", kind.word()), "not in this job");
        if let Some(meant) = closest(&name, &all) {
            problem = problem.help(format!("did you mean \"{meant}\"?"));
        }
        table.problem(problem);
    }
    chosen
}
