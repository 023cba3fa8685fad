//! Reads wires and cables, and finds the terminals on which they end.

use std::ops::Range;

use super::Job;
use super::parts::{Cable, Wire};
use super::read::Declared;
use super::terminal::{Side, Terminal};
use crate::document::{Problem, Table};
use crate::quantity::{Length, Temperature};

fn read_end(table: &Table, key: &str, job: &Job, declared: &Declared, side: Side) -> Option<Terminal> {
    let written = table.required_text(key)?;
    match job.terminal_on_side(&written, side) {
        Ok(terminal) => Some(terminal),
        Err(unknown) => {
            // A part whose own table is faulty is no unknown part: its table says what is wrong.
            let part = written.trim().split('.').next().unwrap_or_default();
            let has_terminals =
                declared.get(part).is_some_and(|kind| !["wire", "cable", "mount", "meter"].contains(kind));
            if has_terminals && !job.terminals().iter().any(|terminal| terminal.part() == part) {
                return None;
            }
            let title = format!("no terminal is called `{}`", unknown.written);
            let mut problem = Problem::at(table.place_of(key), title, unknown.says.clone());
            if let Some(meant) = unknown.meant {
                problem = problem.help(format!("did you mean \"{meant}\"?"));
            }
            table.problem(problem);
            None
        }
    }
}

fn check_ends(table: &Table, from: &Terminal, to: &Terminal) {
    if from == to {
        let title = format!("both ends of {} are {from}", table.title);
        table.problem(Problem::at(table.place_of("to"), title, "a wire joins two terminals"));
    }
}

pub(super) fn read_wires(top: &Table, job: &mut Job, declared: &Declared) {
    for (name, table) in top.named_tables("wire") {
        let from = read_end(&table, "from", job, declared, Side::Out);
        let to = read_end(&table, "to", job, declared, Side::In);
        let size = table.conductor_size("size");
        let length = table.required_positive("length");
        let common = read_run(&table);
        let colour = table.text("colour");
        let resistance = table.not_negative("resistance");
        if let (Some(from), Some(to)) = (&from, &to) {
            check_ends(&table, from, to);
        }
        let place_in_file = table.place.clone();
        table.finish();
        if let (Some(from), Some(to), Some(size), Some(length)) = (from, to, size, length) {
            job.wires.push(Wire {
                name,
                from,
                to,
                size,
                length,
                colour,
                zone: common.zone,
                insulation: common.insulation,
                outer: common.outer,
                bundle: common.bundle,
                sheathed: common.sheathed,
                resistance,
                cable: None,
                place_in_file,
            });
        }
    }
}

/// What a wire and a cable have in common.
struct Run {
    zone: Option<String>,
    insulation: Option<Temperature>,
    outer: Option<Length>,
    bundle: Option<usize>,
    sheathed: bool,
}

/// The table of allowable currents reaches from 60 to 200 °C.
fn read_insulation(table: &Table) -> Option<Temperature> {
    let rating = table.quantity::<Temperature>("insulation")?.nominal;
    if (60.0..=200.0).contains(&rating.as_celsius()) {
        return Some(rating);
    }
    let problem =
        Problem::at(table.place_of("insulation"), "no insulation is counted with this rating", "60 to 200 °C");
    table.problem(problem.help("for a higher rating write 200 °C: the table of allowable currents ends there"));
    None
}

fn read_run(table: &Table) -> Run {
    let bundle = table.integer("bundle").and_then(|n| {
        let count = usize::try_from(n).ok().filter(|c| (1..=500).contains(c));
        if count.is_none() {
            table.problem(Problem::at(table.place_of("bundle"), "no bundle has this many conductors", "1 to 500"));
        }
        count
    });
    Run {
        zone: table.text("zone"),
        insulation: read_insulation(table),
        outer: table.positive::<Length>("outer").map(|l| l.nominal),
        bundle,
        sheathed: table.flag("sheath"),
    }
}

pub(super) fn read_cables(top: &Table, job: &mut Job, declared: &Declared) {
    for (name, table) in top.named_tables("cable") {
        let size = table.conductor_size("size");
        let length = table.required_positive("length");
        let common = read_run(&table);
        let cores = table.list_of_tables("cores");
        let wanted = "a list such as [{ colour = \"red\", from = \"K1.87\", to = \"X1.A\" }]";
        if table.demands("cores", wanted) && cores.is_empty() {
            table.missing("cores", wanted);
        }
        let mut names: Vec<String> = Vec::new();
        for (index, core) in cores.into_iter().enumerate() {
            let from = read_end(&core, "from", job, declared, Side::Out);
            let to = read_end(&core, "to", job, declared, Side::In);
            let colour = core.required_text("colour");
            let outer = core.positive::<Length>("outer").map(|l| l.nominal);
            let resistance = core.not_negative("resistance");
            if let (Some(from), Some(to)) = (&from, &to) {
                check_ends(&core, from, to);
            }
            let place_in_file: Range<usize> = core.place.clone();
            core.finish();
            let word = colour.as_deref().unwrap_or("core").replace([' ', '.'], "-");
            let mut core_name = format!("{name}.{word}");
            while names.contains(&core_name) {
                core_name = format!("{core_name}-{}", index + 1);
            }
            names.push(core_name.clone());
            if let (Some(from), Some(to), Some(size), Some(length)) = (from, to, size, length) {
                job.wires.push(Wire {
                    name: core_name,
                    from,
                    to,
                    size,
                    length,
                    colour,
                    zone: common.zone.clone(),
                    insulation: common.insulation,
                    outer,
                    bundle: common.bundle,
                    sheathed: true,
                    resistance,
                    cable: Some(name.clone()),
                    place_in_file,
                });
            }
        }
        table.finish();
        if let (Some(size), Some(length)) = (size, length) {
            job.cables.push(Cable { name, size, length, outer: common.outer, zone: common.zone, cores: names });
        }
    }
}
