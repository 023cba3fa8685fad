//! `rigproof diagnose`: which fault explains the readings, and what to read next.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::io::IsTerminal;
use std::path::Path;

use serde_json::{Value, json};

use super::arguments::Diagnose;
use super::failure::{Failure, Outcome};
use super::files::{read_job, read_text};
use super::layout;
use crate::circuit::{Engine, State};
use crate::diagnosis::{Findings, Kind, Next, Ranked, Taken, find};
use crate::document::{Form, Problem, Problems, Source, Table, closest, parse_toml};
use crate::job::{ItemKind, Job, Terminal};
use crate::plan::{Measurement, Probes};
use crate::quantity::{Amount, Dimension, Reading};

/// Faults shown to a person; the JSON has all.
const SHOWN: usize = 6;
/// Faults named in one line.
const NAMED: usize = 6;
/// Columns of a line.
const WIDTH: usize = 80;
/// A fault below this share is not worth a line.
const WORTH_A_LINE: f64 = 0.01;

pub(super) fn run(arguments: &Diagnose) -> Result<Outcome, Failure> {
    let job = read_job(&arguments.job)?;
    let mut taken = match &arguments.readings {
        Some(path) => read_readings(path, &job)?,
        None => Vec::new(),
    };
    let asks = arguments.readings.is_none() && !arguments.json;
    if asks && !std::io::stdin().is_terminal() {
        return Err(Failure::message("without a terminal, name the readings with --readings FILE"));
    }
    let mut findings = find(&job, &taken);
    if asks {
        layout::print(
            "Before you set a state: hands, tools and cloth clear of live metal and of all\n\
             that turns or gets hot. The vehicle maker's manual comes first.\n\
             An empty line ends the search.\n",
        )?;
        while let Some(next) = &findings.next {
            layout::print(&next_in_words(&job, next))?;
            let Some(reading) = ask(next.measurement.dimension)? else { break };
            taken.push(Taken { measurement: next.measurement.clone(), reading });
            findings = find(&job, &taken);
            layout::print(&ranking(&findings))?;
        }
        layout::print(&ending(&findings))?;
    } else if arguments.json {
        layout::print(&to_json(&findings).to_string())?;
    } else {
        let mut text = ranking(&findings);
        match &findings.next {
            Some(next) => text.push_str(&next_in_words(&job, next)),
            None => text.push_str(&ending(&findings)),
        }
        layout::print(&text)?;
    }
    let as_designed = findings.ranked.first().is_some_and(|first| first.fault.kind == Kind::AsDesigned);
    Ok(if as_designed && !findings.unexplained { Outcome::Conforms } else { Outcome::DoesNotConform })
}

/// Asks until a reading is typed that can be one; `None` for an empty line.
fn ask(dimension: Dimension) -> Result<Option<Reading>, Failure> {
    loop {
        let typed: String = dialoguer::Input::new()
            .with_prompt("  The meter shows")
            .allow_empty(true)
            .interact_text()
            .map_err(|error| Failure::message(format!("the terminal does not answer: {error}")))?;
        if typed.trim().is_empty() {
            return Ok(None);
        }
        match Reading::parse(&typed, dimension) {
            Ok(reading) => return Ok(Some(reading)),
            Err(error) => layout::print(&format!("  {error}\n"))?,
        }
    }
}

fn ranking(findings: &Findings) -> String {
    let mut text = String::new();
    for ranked in findings.ranked.iter().filter(|r| r.probability >= WORTH_A_LINE).take(SHOWN) {
        let _ = writeln!(text, "  {:>4}  {}", percent(ranked.probability), ranked.fault.says());
        if let Some([low, middle, high]) = ranked.strength {
            let _ = writeln!(text, "        about {middle}, 95 % between {low} and {high}");
        }
    }
    if findings.unexplained {
        text.push_str(
            "  No single fault of the list explains these readings. Take the oddest one again; there may be two faults.\n",
        );
    }
    text
}

/// Never 100 %: a list of faults is never complete.
fn percent(share: f64) -> String {
    if share > 0.99 { ">99 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

fn next_in_words(job: &Job, next: &Next) -> String {
    let mut text = format!("\nRead next, with {}:\n", next.measurement.state.describe(job));
    let _ = match &next.measurement.probes {
        Probes::Between(red, black) => writeln!(text, "  voltage, red probe on {red}, black probe on {black}"),
        Probes::Wire(wire) => writeln!(text, "  current in {wire}"),
    };
    // Faults that show the same there stand together.
    let mut shows: Vec<(String, Vec<String>)> = Vec::new();
    for (fault, predicted) in &next.predicts {
        let Some(predicted) = predicted.map(|p| p.to_string()) else { continue };
        match shows.iter_mut().find(|(shown, _)| *shown == predicted) {
            Some((_, faults)) => faults.push(fault.in_short()),
            None => shows.push((predicted, vec![fault.in_short()])),
        }
    }
    for (shown, faults) in shows.iter().take(SHOWN) {
        let several = faults.len().saturating_sub(NAMED);
        let mut names = faults.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
        if several > 0 {
            let _ = write!(names, "; {several} more");
        }
        text.push_str(&layout::labelled(&format!("  {shown:>10}  if "), &names, WIDTH));
        text.push('\n');
    }
    text
}

fn ending(findings: &Findings) -> String {
    let Some(first) = findings.ranked.first() else { return String::new() };
    // What no reading can split stays together.
    let group: Vec<&Ranked> = findings.ranked.iter().filter(|r| r.probability >= first.probability / 4.0).collect();
    let mut text = String::from("\n");
    if findings.next.is_some() {
        text.push_str("More readings would tell more. So far, to look at:\n");
    } else if group.len() > 1 {
        text.push_str("No reading at the points of this job splits these further. Look at them one after the other:\n");
    } else {
        text.push_str("The search ends here. By the readings so far:\n");
    }
    for ranked in group {
        let _ = writeln!(text, "  {}\n    {}", ranked.fault.says(), ranked.fault.mend());
    }
    text.push_str(
        "The weights of the faults are estimates without field data. After the mend, take the readings again.\n",
    );
    text
}

fn to_json(findings: &Findings) -> Value {
    let fault = |ranked: &Ranked| {
        let mut value = json!({
            "fault": ranked.fault.kind.word(),
            "where": ranked.fault.at,
            "probability": ranked.probability,
            "says": ranked.fault.says(),
            "mend": ranked.fault.mend(),
        });
        if let Some([low, middle, high]) = ranked.strength {
            value["ohms"] = json!({ "low": low.as_ohms(), "middle": middle.as_ohms(), "high": high.as_ohms() });
        }
        value
    };
    let next = findings.next.as_ref().map(|next| {
        let mut value = json!({ "on": next.measurement.state.on, "bits": next.bits });
        if let Probes::Between(red, black) = &next.measurement.probes {
            value["between"] = json!([red.name(), black.name()]);
        }
        let splits: Vec<Value> = next
            .predicts
            .iter()
            .map(|(fault, shows)| {
                json!({ "fault": fault.kind.word(), "where": fault.at, "shows": shows.map(Amount::base) })
            })
            .collect();
        value["splits"] = Value::Array(splits);
        value
    });
    json!({
        "faults": findings.ranked.iter().map(fault).collect::<Vec<_>>(),
        "next": next,
        "unexplained": findings.unexplained,
    })
}

/// The form of a file of readings, from one that uses every key.
pub(super) fn form() -> Form {
    let source = Source::new("every-reading.toml", include_str!("every-reading.toml"));
    let problems = RefCell::new(Problems::with_form(source.clone()));
    let _ = read_source(&source, None, &problems);
    problems.into_inner().into_form()
}

fn read_readings(path: &Path, job: &Job) -> Result<Vec<Taken>, Failure> {
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
    if (dimension == Dimension::Current) != matches!(probes, Probes::Wire(_)) {
        at("this cannot be measured there", "a current is read in a wire, all else between two points", "measure");
        return None;
    }
    match Reading::parse(&shows, dimension) {
        Ok(reading) => Some(Taken { measurement: Measurement { dimension, probes, state, rule: None }, reading }),
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
