//! The single faults that a job may have.

use std::collections::BTreeSet;

use super::fault::{Fault, Kind};
use super::weights::Weights;
use crate::job::{ItemKind, Job, protected_wires};

/// Every single fault of the model on a job, after "as designed".
pub fn faults_of(job: &Job, weights: &Weights) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut add = |kind: Kind, at: &[&str]| {
        let at = at.iter().map(|name| (*name).to_owned()).collect();
        faults.push(Fault { kind, at, weight: weights.of(kind) });
    };
    add(Kind::AsDesigned, &[]);
    add(Kind::LowBattery, &["battery"]);
    for element in in_line(job) {
        add(Kind::Open, &[&element]);
        add(Kind::PoorJoint, &[&element]);
    }
    for relay in &job.relays {
        let name = relay.name.as_str();
        add(Kind::Open, &[&format!("{name} coil")]);
        add(Kind::StuckClosed, &[name]);
        // Without a wire at 87a an armature at rest is a contact that does not close.
        if has_wire(job, &format!("{name}.87a")) {
            add(Kind::StuckOpen, &[name]);
        }
        add(Kind::CoilAndContactExchanged, &[name]);
        add(Kind::ContactsExchanged, &[name]);
        add(Kind::StrayPath, &[&format!("{name}.86"), &format!("{name}.87")]);
    }
    for switch in &job.switches {
        add(Kind::StuckClosed, &[&switch.name]);
        if let Some(back) = return_of(job, &switch.name) {
            add(Kind::SwitchInReturn, &[&switch.name, back]);
        }
    }
    for load in &job.loads {
        add(Kind::Reversed, &[&load.name]);
        add(Kind::DeadLoad, &[&load.name]);
        add(Kind::WrongLoad, &[&load.name]);
    }
    for connector in &job.connectors {
        for pair in connector.cavities.windows(2) {
            let [a, b] = [&pair[0], &pair[1]].map(|cavity| format!("{}.{cavity}", connector.name));
            add(Kind::CavitiesExchanged, &[&a, &b]);
            add(Kind::StrayPath, &[&format!("{a}.out"), &format!("{b}.out")]);
        }
    }
    job.fuses.iter().for_each(|fuse| add(Kind::WrongFuse, &[&fuse.name]));
    job.wires.iter().for_each(|wire| add(Kind::ThinConductor, &[&wire.name]));
    let fed: BTreeSet<&str> =
        job.fuses.iter().flat_map(|fuse| protected_wires(job, &fuse.name)).map(|wire| wire.to.name()).collect();
    // What is meant to be on the body is no short.
    let grounds: Vec<&str> = job.names(ItemKind::Ground);
    for terminal in fed.into_iter().filter(|terminal| !grounds.contains(terminal)) {
        add(Kind::ShortToBody, &[terminal]);
    }
    for kind in [Kind::LeadsExchanged, Kind::LeadOpen, Kind::MeterOff] {
        add(kind, &["meter"]);
    }
    faults
}

/// Every element that current runs through on its way: each may break, each may have a poor joint.
fn in_line(job: &Job) -> Vec<String> {
    let names = |kind| job.names(kind).into_iter().map(str::to_owned);
    let mut elements: Vec<String> = names(ItemKind::Wire).collect();
    elements.extend(names(ItemKind::Fuse).chain(names(ItemKind::Switch)).chain(names(ItemKind::Ground)));
    elements.extend(job.relays.iter().map(|relay| format!("{} contact", relay.name)));
    for connector in &job.connectors {
        elements.extend(connector.cavities.iter().map(|cavity| format!("{}.{cavity}", connector.name)));
    }
    // The way from the body back to the battery is the vehicle's own, and fails as any other.
    elements.extend((!job.grounds.is_empty()).then(|| "chassis".to_owned()));
    elements
}

fn has_wire(job: &Job, terminal: &str) -> bool {
    job.wires.iter().any(|wire| wire.from.name() == terminal || wire.to.name() == terminal)
}

/// The wire that takes the current of a switch's only load back, where there is one such wire.
fn return_of<'j>(job: &'j Job, switch: &str) -> Option<&'j str> {
    let loads = job.members(ItemKind::Load, switch);
    let [load] = loads.as_slice() else { return None };
    let minus = format!("{load}.-");
    let mut back = job.wires.iter().filter(|wire| wire.from.name() == minus || wire.to.name() == minus);
    match (back.next(), back.next()) {
        (Some(wire), None) => Some(&wire.name),
        _ => None,
    }
}
