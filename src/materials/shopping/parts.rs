//! The parts that the job names: loads, fuses, relays, switches, connectors.

use std::collections::BTreeSet;

use super::{Amount, Group, List};
use crate::handbook::fuse::{FuseStyle, colour};
use crate::handbook::materials::count;
use crate::job::{Connector, Job};

pub(super) fn add(job: &Job, list: &mut List) {
    for load in &job.loads {
        let item = format!("{}, {}", load.kind.word(), load.draws());
        list.add(Group::Loads, item, Amount::pieces(1), &load.name, "the job");
    }
    for further in &job.further_batteries {
        let capacity = further.battery.capacity.map(|c| format!(", {}", c.nominal.as_rating())).unwrap_or_default();
        let item = format!("battery, {}{capacity}", further.battery.kind.word());
        list.add(Group::Loads, item, Amount::pieces(1), &further.name, "the job");
    }
    fuses(job, list);
    for relay in &job.relays {
        let contact = relay.contact.map(|c| format!(", contact {}", c.as_rating())).unwrap_or_default();
        let item =
            format!("relay, coil {}{contact}, coil with suppression, with its socket", relay.coil.nominal.as_rating());
        let source = "the job; a suppressed coil: a city's purchase specification for fire engines. A diode in it has a polarity.";
        list.add(Group::Switching, item, Amount::pieces(1), &relay.name, source);
    }
    for switch in &job.switches {
        let rating = switch.rating.map(|r| format!(", {}", r.as_rating())).unwrap_or_default();
        let item = format!("switch, one make contact{rating}");
        list.add(Group::Switching, item, Amount::pieces(1), &switch.name, "the job");
    }
    for connector in &job.connectors {
        self::connector(job, connector, list);
    }
}

fn fuses(job: &Job, list: &mut List) {
    let spares = count("fuse-spares");
    let mut blades = BTreeSet::new();
    for fuse in &job.fuses {
        let rating = fuse.rating.as_rating();
        let Some(style) = fuse.style else {
            list.add(Group::Protection, format!("circuit breaker, {rating}"), Amount::pieces(1), &fuse.name, "the job");
            continue;
        };
        let look = colour(style, fuse.rating);
        let shown = look.as_ref().map(|c| format!(", {}", c.value)).unwrap_or_default();
        let source = look.map(|c| format!("colour: {}; ", c.citation())).unwrap_or_default();
        let source = format!("{source}spare: {}", spares.citation());
        let breaks = fuse.breaking_capacity.map(|c| format!(", breaks {}", c.as_rating())).unwrap_or_default();
        let item = format!("{} fuse {rating}{shown}{breaks}", style.word());
        list.add(Group::Protection, &item, Amount::pieces(1), &fuse.name, &source);
        blades.insert(item);
        let holder = match style {
            FuseStyle::Strip => "bolted holder with cover for a strip fuse".to_owned(),
            _ => format!("holder for a {} fuse, one way", style.word()),
        };
        let source = "one for each fuse; a box with as many ways does as well where they sit together";
        list.add(Group::Protection, holder, Amount::pieces(1), &fuse.name, source);
    }
    // One spare of each kind, not of each fuse.
    for row in list.0.iter_mut().filter(|row| blades.contains(&row.item)) {
        if let Amount::Pieces { spare, .. } = &mut row.amount {
            *spare = whole(spares.value);
        }
    }
}

/// A figure of the handbook as pieces, rounded up.
pub(super) fn whole(figure: f64) -> usize {
    (1..1_000_000).find(|n| f64::from(*n) >= figure - 1e-9).and_then(|n: i32| usize::try_from(n).ok()).unwrap_or(0)
}

fn connector(job: &Job, connector: &Connector, list: &mut List) {
    let rating = connector.rating.map(|r| format!(", {} a contact", r.as_rating())).unwrap_or_default();
    let seal = connector.seal.map(|s| format!("{} to {}", s.low(), s.high()));
    let sealed = match &seal {
        Some(range) => format!(", sealed for {range}"),
        None => ", no seal stated".to_owned(),
    };
    let ways = connector.cavities.len();
    let item = format!("connector of {ways} cavities{rating}{sealed}: both halves");
    list.add(Group::Connectors, item, Amount::pieces(1), &connector.name, "the job");
    let Some(range) = seal else { return };
    let at = |cavity: &str, side: &str| format!("{}.{cavity}.{side}", connector.name);
    for side in ["in", "out"] {
        for cavity in &connector.cavities {
            let terminal = at(cavity, side);
            let used = job.wires.iter().any(|w| w.from.name() == terminal || w.to.name() == terminal);
            let (item, source) = if used {
                (
                    format!("cavity seal for {range}"),
                    "one a wire end; chosen by the measured diameter of the insulation (trade guides)",
                )
            } else {
                ("cavity plug".to_owned(), "FAA AC 43.13-1B: every cavity of a sealed connector is filled")
            };
            list.add(Group::Connectors, item, Amount::pieces(1), &connector.name, source);
        }
    }
}
