//! How the circuit is put together, whatever its values.

use super::{Finding, Severity};
use crate::job::{Job, Terminal};
use crate::quantity::{Amount, Dimension};

pub(super) fn check(job: &Job, findings: &mut Vec<Finding>) {
    crowded_grounds(job, findings);
    switches_in_the_return(job, findings);
    ends_without_a_wire(job, findings);
    thin_wires(job, findings);
}

/// Rings that one stud may carry.
const RINGS: usize = 4;

fn crowded_grounds(job: &Job, findings: &mut Vec<Finding>) {
    for ground in &job.grounds {
        let here = |t: &Terminal| t.name() == ground.name;
        let rings = job.wires.iter().filter(|w| here(&w.from) || here(&w.to)).count();
        if rings <= RINGS {
            continue;
        }
        findings.push(Finding {
            rule: "ground-crowded",
            severity: Severity::Error,
            subject: ground.name.clone(),
            says: format!("{} carries {rings} rings on one stud", ground.name),
            change: "a second ground point or a bus bar".to_owned(),
            value: Some(Amount::new(rings as f64, Dimension::Count)),
            limit: Some(Amount::new(RINGS as f64, Dimension::Count)),
            source: "FAA AC 43.13-1B chapter 11: at most four rings on a stud".to_owned(),
        });
    }
}

/// A switch in the return leaves both terminals of its load at battery voltage while it is off.
fn switches_in_the_return(job: &Job, findings: &mut Vec<Finding>) {
    for switch in &job.switches {
        let fed = fed_from_battery(job, &Terminal::of(&switch.name, "in"));
        let grounded = comes_from_ground(job, &Terminal::of(&switch.name, "in"));
        if fed || !grounded {
            continue;
        }
        findings.push(Finding {
            rule: "switch-in-return",
            severity: Severity::Warning,
            subject: switch.name.clone(),
            says: format!("{} lies in the return: switched off, its load still stands at battery voltage", switch.name),
            change: "the switch in the positive wire".to_owned(),
            value: None,
            limit: None,
            source: "California DOT Equipment Quality Standards: branch switches are in the positive wire".to_owned(),
        });
    }
}

/// Follows the wires backwards to where they come from.
fn origins(job: &Job, start: &Terminal) -> Vec<String> {
    let mut open = vec![start.name().to_owned()];
    let mut seen: Vec<String> = Vec::new();
    while let Some(terminal) = open.pop() {
        if seen.contains(&terminal) {
            continue;
        }
        if let Some(front) = terminal.strip_suffix(".out") {
            open.push(format!("{front}.in"));
        }
        if let Some(relay) = terminal.strip_suffix(".87").or_else(|| terminal.strip_suffix(".87a")) {
            open.push(format!("{relay}.30"));
        }
        open.extend(job.wires.iter().filter(|w| w.to.name() == terminal).map(|w| w.from.name().to_owned()));
        seen.push(terminal);
    }
    seen
}

fn fed_from_battery(job: &Job, terminal: &Terminal) -> bool {
    origins(job, terminal).iter().any(|t| t == "battery.+")
}

fn comes_from_ground(job: &Job, terminal: &Terminal) -> bool {
    let origins = origins(job, terminal);
    origins.iter().any(|t| t == "battery.-" || t == "chassis" || job.grounds.iter().any(|g| g.name == *t))
}

fn ends_without_a_wire(job: &Job, findings: &mut Vec<Finding>) {
    let mut needed: Vec<Terminal> = Vec::new();
    for load in &job.loads {
        needed.extend(["+", "-"].map(|p| Terminal::of(&load.name, p)));
    }
    for name in job.fuses.iter().map(|f| &f.name).chain(job.switches.iter().map(|s| &s.name)) {
        needed.extend(["in", "out"].map(|p| Terminal::of(name, p)));
    }
    for relay in &job.relays {
        needed.extend(["30", "85", "86"].map(|p| Terminal::of(&relay.name, p)));
    }
    for terminal in needed {
        if job.wires.iter().any(|w| w.from == terminal || w.to == terminal) {
            continue;
        }
        findings.push(Finding {
            rule: "no-wire",
            severity: Severity::Warning,
            subject: terminal.part().to_owned(),
            says: format!("no wire ends at {terminal}"),
            change: format!("add the wire, or leave {} out of the job", terminal.part()),
            value: None,
            limit: None,
            source: "the job file".to_owned(),
        });
    }
}

/// Least conductor that is run on its own.
fn thin_wires(job: &Job, findings: &mut Vec<Finding>) {
    for wire in &job.wires {
        let area = wire.size.area();
        // 33 CFR 183.425(e): 16 AWG, 1.31 mm²; ISO 10133 7.7: 1 mm². The milder one is taken.
        if wire.sheathed || area.as_mm2() >= 0.999 || wire.length.nominal.as_metres() <= 0.2 {
            continue;
        }
        findings.push(Finding {
            rule: "thin-on-its-own",
            severity: Severity::Note,
            subject: wire.name.clone(),
            says: format!("{} is {} and runs on its own; it breaks easily", wire.name, wire.size),
            change: "at least 1 mm², or a sheath over its whole length".to_owned(),
            value: Some(Amount::of(area)),
            limit: Some(Amount::new(1.0, Dimension::Area)),
            source: "ISO 10133 7.7; 33 CFR 183.425(e) asks 16 AWG (boats; a yardstick)".to_owned(),
        });
    }
}
