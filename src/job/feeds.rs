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
    let seen = seen_from(job, item, through_coils);
    let reached = |load: &str| seen.contains(&format!("{load}.+")) || seen.contains(&format!("{load}.-"));
    job.loads.iter().filter(|l| reached(&l.name)).map(|l| l.name.clone()).collect()
}

/// Whether a relay's coil or another part lies behind an item.
fn reaches(job: &Job, item: &str, part: &str) -> bool {
    job.relays.iter().any(|r| r.name == part)
        && seen_from(job, item, true).iter().any(|terminal| terminal.split('.').next() == Some(part))
}

/// Every terminal from the item on towards the loads; a battery on the way is an end, since it feeds by itself.
fn seen_from(job: &Job, item: &str, through_coils: bool) -> BTreeSet<String> {
    let mut open: Vec<String> = starts(job, item);
    let mut seen: BTreeSet<String> = open.iter().cloned().collect();
    while let Some(terminal) = open.pop() {
        for next in onward(job, &terminal, through_coils) {
            if seen.insert(next.clone()) {
                open.push(next);
            }
        }
    }
    seen
}

/// The battery that feeds a load: one beside the first one where the load lies behind it.
pub fn source_of<'j>(job: &'j Job, load: &str) -> &'j str {
    let feeds = |battery: &&str| loads_behind(job, battery).iter().any(|name| name == load);
    job.further_batteries.iter().map(|b| b.name.as_str()).find(feeds).unwrap_or("battery")
}

/// The loads that lie on the way from the positive post of a battery, up to the next battery.
fn loads_behind(job: &Job, battery: &str) -> Vec<String> {
    let first = onward_wires(job, &format!("{battery}.+"));
    let mut open: Vec<String> = first.into_iter().map(|(_, end)| end.to_owned()).collect();
    let mut seen: BTreeSet<String> = open.iter().cloned().collect();
    while let Some(terminal) = open.pop() {
        for next in onward(job, &terminal, false) {
            if seen.insert(next.clone()) {
                open.push(next);
            }
        }
    }
    let reached = |load: &str| seen.contains(&format!("{load}.+"));
    job.loads.iter().filter(|l| reached(&l.name)).map(|l| l.name.clone()).collect()
}

/// The batteries beside the first one that still feed the load side of a fuse when that fuse alone is out.
pub fn fed_behind(job: &Job, fuse: &str) -> Vec<String> {
    let mut open = vec![format!("{fuse}.out")];
    let mut seen: BTreeSet<String> = open.iter().cloned().collect();
    while let Some(terminal) = open.pop() {
        let part = terminal.split('.').next().unwrap_or(&terminal);
        let mut next: Vec<String> = wires_at(job, &terminal).into_iter().map(|(_, end)| end.to_owned()).collect();
        next.extend(through_part(job, &terminal));
        // Another fuse stays in.
        if part != fuse && job.fuses.iter().any(|f| f.name == part) {
            next.extend(["in", "out"].map(|side| format!("{part}.{side}")));
        }
        if part == "battery" || is_further_battery(job, part) {
            continue;
        }
        for terminal in next {
            if seen.insert(terminal.clone()) {
                open.push(terminal);
            }
        }
    }
    let reached = |name: &str| seen.contains(&format!("{name}.+"));
    job.further_batteries.iter().filter(|b| reached(&b.name)).map(|b| b.name.clone()).collect()
}

fn is_further_battery(job: &Job, part: &str) -> bool {
    job.further_batteries.iter().any(|b| b.name == part)
}

/// The switches that must be on for a part or wire to do its work.
pub fn switches_of(job: &Job, item: &str) -> Vec<String> {
    let wanted = loads_of(job, item);
    let serves = |switch: &str| {
        // A relay that joins two batteries feeds no load, and has its switch all the same.
        loads_of(job, switch).iter().any(|load| wanted.contains(load)) || reaches(job, switch, item)
    };
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
    if terminal.split_once('.').is_some_and(|(part, _)| is_further_battery(job, part)) {
        return Vec::new();
    }
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

/// The wires that a fuse protects: from its load side on, up to the loads, coils and grounds, and up to the next fuse;
/// and where a battery beside the first one feeds back to it, those on its other side as well.
pub fn protected_wires<'j>(job: &'j Job, fuse: &str) -> Vec<&'j Wire> {
    let mut wires = wires_from(job, format!("{fuse}.out"), onward_wires);
    let ways = further_ways(job);
    for way in ways.iter().filter(|way| way.fuse.as_deref() == Some(fuse)) {
        // What lies between that battery and the fuse is not protected by it, but by nothing.
        wires.retain(|wire| !way.wires.iter().any(|w| w.name == wire.name));
        let side = if way.arrives_at_load_side { "in" } else { "out" };
        for wire in wires_from(job, format!("{fuse}.{side}"), wires_at) {
            let unprotected = way.wires.iter().any(|w| w.name == wire.name);
            if !unprotected && !wires.iter().any(|w| w.name == wire.name) {
                wires.push(wire);
            }
        }
    }
    wires
}

/// The wires that go on from a terminal towards the loads, each with its other end.
fn onward_wires<'j>(job: &'j Job, terminal: &str) -> Vec<(&'j Wire, &'j str)> {
    job.wires.iter().filter(|w| w.from.name() == terminal).map(|w| (w, w.to.name())).collect()
}

/// All wires at a terminal, each with its other end.
fn wires_at<'j>(job: &'j Job, terminal: &str) -> Vec<(&'j Wire, &'j str)> {
    let back = job.wires.iter().filter(|w| w.to.name() == terminal).map(|w| (w, w.from.name()));
    onward_wires(job, terminal).into_iter().chain(back).collect()
}

type WiresOf = for<'j> fn(&'j Job, &str) -> Vec<(&'j Wire, &'j str)>;

fn wires_from(job: &Job, start: String, wires_of: WiresOf) -> Vec<&Wire> {
    let mut open = vec![start];
    let mut wires: Vec<&Wire> = Vec::new();
    while let Some(terminal) = open.pop() {
        for (wire, end) in wires_of(job, &terminal) {
            if wires.iter().any(|w| w.name == wire.name) {
                continue;
            }
            wires.push(wire);
            open.extend(through_part(job, end));
        }
    }
    wires
}

/// Ways from one battery that are followed at most. Parallel wires that branch again and again have more ways than anybody
/// can follow; wiring of a vehicle has a handful.
pub const MOST_WAYS: usize = 1000;

/// Every way from the positive post of a battery up to the first fuse, or to whatever else comes first; of each battery
/// [`MOST_WAYS`] at most.
pub fn ways_to_protection(job: &Job) -> Vec<WayToProtection<'_>> {
    let mut ways = ways_from(job, "battery", onward_wires);
    ways.extend(further_ways(job));
    ways
}

/// The ways from the batteries beside the first one. They feed back along wires that are drawn towards them.
fn further_ways(job: &Job) -> Vec<WayToProtection<'_>> {
    job.further_batteries.iter().flat_map(|battery| ways_from(job, &battery.name, wires_at)).collect()
}

fn ways_from<'j>(job: &'j Job, battery: &str, wires_of: WiresOf) -> Vec<WayToProtection<'j>> {
    let mut ways = Vec::new();
    let way = |wires: Vec<&'j Wire>, fuse: Option<String>, arrives_at_load_side| WayToProtection {
        battery: battery.to_owned(),
        wires,
        fuse,
        arrives_at_load_side,
    };
    let mut open: Vec<(String, Vec<&Wire>)> = vec![(format!("{battery}.+"), Vec::new())];
    while let Some((terminal, so_far)) = open.pop().filter(|_| ways.len() < MOST_WAYS) {
        for (wire, end) in wires_of(job, &terminal) {
            if so_far.iter().any(|w| w.name == wire.name) {
                continue;
            }
            let mut wires = so_far.clone();
            wires.push(wire);
            let at = end.split('.').next().unwrap_or(end).to_owned();
            let onward = through_part(job, end);
            if job.fuses.iter().any(|f| f.name == at) {
                let arrives_at_load_side = end.strip_suffix(".out").is_some();
                ways.push(way(wires.clone(), Some(at), arrives_at_load_side));
                // Another wire may go on from the same terminal, past the fuse.
                open.extend(onward.into_iter().map(|t| (t, wires.clone())));
                continue;
            }
            let goes_on = onward
                .iter()
                .any(|t| wires_of(job, t).iter().any(|(next, _)| !wires.iter().any(|w| w.name == next.name)));
            if !goes_on {
                ways.push(way(wires.clone(), None, false));
            }
            open.extend(onward.into_iter().map(|t| (t, wires.clone())));
        }
    }
    ways
}

/// A run of wire that starts at a battery without protection.
#[derive(Debug, Clone)]
pub struct WayToProtection<'j> {
    /// The battery.
    pub battery: String,
    /// The wires of the run, from the battery on.
    pub wires: Vec<&'j Wire>,
    /// The fuse at its end; `None` where it ends without one.
    pub fuse: Option<String>,
    /// Whether it comes to the fuse from the side that is drawn as its load side.
    arrives_at_load_side: bool,
}

/// Where current can go on from a terminal: to other wires on it, and through the part that it belongs to. Nothing
/// goes on through a fuse, a load or a coil, and a battery ends the way.
fn through_part(job: &Job, terminal: &str) -> Vec<String> {
    let (part, pole) = terminal.split_once('.').unwrap_or((terminal, ""));
    if part == "battery" || is_further_battery(job, part) {
        return Vec::new();
    }
    let mut onward = vec![terminal.to_owned()];
    if job.relays.iter().any(|r| r.name == part) {
        match pole {
            "30" => onward.extend(["87", "87a"].map(|contact| format!("{part}.{contact}"))),
            "87" | "87a" => onward.push(format!("{part}.30")),
            _ => {}
        }
    } else if !job.fuses.iter().any(|f| f.name == part) && job.load(part).is_none() {
        onward.extend(terminal.strip_suffix(".in").map(|front| format!("{front}.out")));
        onward.extend(terminal.strip_suffix(".out").map(|front| format!("{front}.in")));
    }
    onward
}
