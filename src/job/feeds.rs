//! Which loads a thing serves, and which switches a load needs: followed along the wires from battery to load.

use std::collections::BTreeSet;

use super::{Job, Wire};

/// The loads that a part or wire feeds or grounds, in the order of the job.
pub fn loads_of(job: &Job, item: &str) -> Vec<String> {
    if job.load(item).is_some() {
        return vec![item.to_owned()];
    }
    let mount_of = job.mounts.iter().find(|m| m.name == item).and_then(|m| m.of.clone());
    if let Some(part) = mount_of {
        return loads_of(job, &part);
    }
    reached_from(job, item, true)
}

/// The loads whose own current runs through a part, not only that of a relay's coil.
pub fn powers(job: &Job, item: &str) -> Vec<String> {
    reached_from(job, item, false)
}

fn reached_from(job: &Job, item: &str, through_coils: bool) -> Vec<String> {
    let mut open: Vec<String> = starts(job, item);
    let mut seen: BTreeSet<String> = open.iter().cloned().collect();
    while let Some(terminal) = open.pop() {
        for next in onward(job, &terminal, through_coils) {
            if seen.insert(next.clone()) {
                open.push(next);
            }
        }
    }
    let reached = |load: &str| seen.contains(&format!("{load}.+")) || seen.contains(&format!("{load}.-"));
    job.loads.iter().filter(|l| reached(&l.name)).map(|l| l.name.clone()).collect()
}

/// The switches that must be on for a part or wire to do its work.
pub fn switches_of(job: &Job, item: &str) -> Vec<String> {
    let wanted = loads_of(job, item);
    let serves = |switch: &str| loads_of(job, switch).iter().any(|load| wanted.contains(load));
    job.switches.iter().filter(|s| s.name == item || serves(&s.name)).map(|s| s.name.clone()).collect()
}

/// The terminals from which an item's current goes on towards the loads.
fn starts(job: &Job, item: &str) -> Vec<String> {
    if let Some(wire) = job.wire(item) {
        return vec![wire.to.name().to_owned()];
    }
    if let Some(cable) = job.cables.iter().find(|c| c.name == item) {
        return cable.cores.iter().filter_map(|c| job.wire(c)).map(|w| w.to.name().to_owned()).collect();
    }
    // A terminal without a wire leads nowhere that one with a wire does not.
    let ends = job.wires.iter().flat_map(|w| [&w.from, &w.to]);
    ends.filter(|t| t.part() == item).map(|t| t.name().to_owned()).collect()
}

/// Where current goes from a terminal, one step towards the loads.
fn onward(job: &Job, terminal: &str, through_coils: bool) -> Vec<String> {
    let wires = job.wires.iter().filter(|w| w.from.name() == terminal);
    let mut next: Vec<String> = wires.map(|w| w.to.name().to_owned()).collect();
    if let Some(part) = terminal.strip_suffix(".in") {
        next.push(format!("{part}.out"));
    }
    if let Some((part, pole)) = terminal.split_once('.')
        && job.relays.iter().any(|r| r.name == part)
        && (pole == "30" || through_coils && matches!(pole, "85" | "86"))
    {
        // What reaches the coil switches the contact's loads.
        next.push(format!("{part}.87"));
        next.push(format!("{part}.87a"));
    }
    next
}

/// The wires that a fuse protects: from its load side on, up to the loads, coils and grounds, and up to the next fuse.
pub fn protected_wires<'j>(job: &'j Job, fuse: &str) -> Vec<&'j Wire> {
    let mut open = vec![format!("{fuse}.out")];
    let mut wires: Vec<&Wire> = Vec::new();
    while let Some(terminal) = open.pop() {
        for wire in job.wires.iter().filter(|w| w.from.name() == terminal) {
            if wires.iter().any(|w| w.name == wire.name) {
                continue;
            }
            wires.push(wire);
            open.extend(through_part(job, wire.to.name()));
        }
    }
    wires
}

/// Every way from the positive post up to the first fuse, or to whatever else comes first.
pub fn ways_to_protection(job: &Job) -> Vec<WayToProtection<'_>> {
    let mut ways = Vec::new();
    let mut open: Vec<(String, Vec<&Wire>)> = vec![("battery.+".to_owned(), Vec::new())];
    while let Some((terminal, so_far)) = open.pop() {
        for wire in job.wires.iter().filter(|w| w.from.name() == terminal) {
            if so_far.iter().any(|w| w.name == wire.name) {
                continue;
            }
            let mut wires = so_far.clone();
            wires.push(wire);
            let at = wire.to.part().to_owned();
            if job.fuses.iter().any(|f| f.name == at) {
                ways.push(WayToProtection { wires, fuse: Some(at) });
                continue;
            }
            let onward = through_part(job, wire.to.name());
            let goes_on = onward.iter().any(|t| job.wires.iter().any(|w| w.from.name() == *t));
            if !goes_on {
                ways.push(WayToProtection { wires: wires.clone(), fuse: None });
            }
            open.extend(onward.into_iter().map(|t| (t, wires.clone())));
        }
    }
    ways
}

/// A run of wire that starts at the battery without protection.
#[derive(Debug, Clone)]
pub struct WayToProtection<'j> {
    /// The wires of the run, from the battery on.
    pub wires: Vec<&'j Wire>,
    /// The fuse at its end; `None` where it ends without one.
    pub fuse: Option<String>,
}

/// Where current can go on through the part that a terminal belongs to; a fuse and a load end the way.
fn through_part(job: &Job, terminal: &str) -> Vec<String> {
    let (part, pole) = terminal.split_once('.').unwrap_or((terminal, ""));
    if job.fuses.iter().any(|f| f.name == part) || job.load(part).is_some() {
        return Vec::new();
    }
    if job.relays.iter().any(|r| r.name == part) {
        let contacts = vec![format!("{part}.87"), format!("{part}.87a")];
        return if pole == "30" { contacts } else { Vec::new() };
    }
    match terminal.strip_suffix(".in") {
        Some(front) => vec![format!("{front}.out")],
        None => vec![terminal.to_owned()],
    }
}
