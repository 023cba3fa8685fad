//! Switches, relays and connectors against what they carry; seals against the wires they close on.

use super::facts::Facts;
use super::{Finding, Severity, by_status};
use crate::handbook::workmanship::contact_factor;
use crate::handbook::{Cited, Status};
use crate::job::powers;
use crate::quantity::{Amount, Current};

pub(super) fn check(facts: &Facts, findings: &mut Vec<Finding>) {
    for switch in &facts.job.switches {
        contact(facts, &switch.name, switch.rating, findings);
    }
    for relay in &facts.job.relays {
        contact(facts, &relay.name, relay.contact, findings);
        pulls_in(facts, relay, findings);
    }
    connectors(facts, findings);
    seals(facts, findings);
}

/// A contact needs more than the steady current of its load: the factor depends on the kind of load.
fn contact(facts: &Facts, name: &str, rating: Option<Current>, findings: &mut Vec<Finding>) {
    let Some(needed) = needed_rating(facts, name) else { return };
    let Some(rating) = rating else {
        findings.push(Finding {
            rule: "contact-not-rated",
            severity: Severity::Note,
            subject: name.to_owned(),
            says: format!("the job does not state the rating of {name}; it needs {}", needed.value),
            change: "read the rating off the part and write it into the job".to_owned(),
            value: None,
            limit: Some(Amount::of(needed.value)),
            source: needed.citation(),
        });
        return;
    };
    if needed.value <= rating {
        return;
    }
    findings.push(Finding {
        rule: "contact-overloaded",
        severity: by_status(needed.status),
        subject: name.to_owned(),
        says: format!("{name} is rated {} and needs {} for the loads it switches", rating.as_rating(), needed.value),
        change: "a relay for the load and this contact for its coil; or a contact of higher rating".to_owned(),
        value: Some(Amount::of(rating)),
        limit: Some(Amount::of(needed.value)),
        source: needed.citation(),
    });
}

/// Sum over the loads and coils behind a contact: current times the factor of its kind.
fn needed_rating(facts: &Facts, contact: &str) -> Option<Cited<Current>> {
    let twenty_four = facts.job.vehicle.system.as_volts() > 18.0;
    let mut parts: Vec<(Current, &str)> = Vec::new();
    let mut inrush = Current::amps(0.0);
    for name in powers(facts.job, contact) {
        let load = facts.job.load(&name)?;
        inrush = inrush + load.inrush.unwrap_or(Current::amps(0.0));
        parts.push((facts.current(&name), load.kind.word()));
    }
    for relay in facts.job.relays.iter().filter(|r| r.name != contact && feeds_coil(facts, contact, &r.name)) {
        parts.push((facts.current(&format!("{} coil", relay.name)), "coil"));
    }
    let mut sum = Current::amps(0.0);
    let mut source = String::new();
    let mut status = Status::Verified;
    for (current, kind) in parts {
        let factor = contact_factor(kind, twenty_four)?;
        sum = sum + current * factor.value;
        status = status.max(factor.status);
        source = factor.source;
    }
    if inrush > sum {
        // What the maker states of the first moment goes before the factor of the kind.
        return Some(Cited::new(inrush, "the job: current of the loads in the first moment", Status::Verified));
    }
    (sum.as_amps() > 0.0).then(|| Cited::new(sum, source, status))
}

/// Whether a contact feeds a relay's coil: its loads without the coils leave out what the relay switches.
fn feeds_coil(facts: &Facts, contact: &str, relay: &str) -> bool {
    let behind = powers(facts.job, relay);
    let all = crate::job::loads_of(facts.job, contact);
    let own = powers(facts.job, contact);
    !behind.is_empty() && behind.iter().all(|load| all.contains(load) && !own.contains(load))
}

fn pulls_in(facts: &Facts, relay: &crate::job::Relay, findings: &mut Vec<Finding>) {
    let name = &relay.name;
    let (plus, minus) = (crate::job::Terminal::of(name, "86"), crate::job::Terminal::of(name, "85"));
    let wired = |t: &crate::job::Terminal| facts.job.wires.iter().any(|w| w.from == *t || w.to == *t);
    if !wired(&plus) || !wired(&minus) {
        return; // the layout rules name the missing wire
    }
    let Ok(coil) = facts.circuit.voltage(&plus, &minus, &facts.state) else { return };
    let Some(low) = coil.low else { return };
    if low.base().abs() >= relay.pull_in.high().as_volts() {
        return;
    }
    let surely_not = coil.high.is_some_and(|high| high.base().abs() < relay.pull_in.low().as_volts());
    findings.push(Finding {
        rule: "relay-does-not-pull-in",
        severity: if surely_not { Severity::Error } else { Severity::Warning },
        subject: name.clone(),
        says: format!(
            "the coil of {name} gets {} with everything on; it pulls in from {}",
            coil.range(),
            relay.pull_in.nominal
        ),
        change: "a shorter or larger trigger wire, or a relay of lower pull-in voltage".to_owned(),
        value: Some(low),
        limit: Some(Amount::of(relay.pull_in.nominal)),
        source: "the solved circuit against the relay's pull-in voltage".to_owned(),
    });
}

fn connectors(facts: &Facts, findings: &mut Vec<Finding>) {
    for connector in &facts.job.connectors {
        let Some(rating) = connector.rating else { continue };
        for cavity in &connector.cavities {
            let element = format!("{}.{cavity}", connector.name);
            let current = facts.current(&element);
            if current <= rating {
                continue;
            }
            findings.push(Finding {
                rule: "connector-overloaded",
                severity: Severity::Error,
                subject: element.clone(),
                says: format!("{element} carries {current}; one contact is rated {}", rating.as_rating()),
                change: "a larger connector, or two cavities for this line".to_owned(),
                value: Some(Amount::of(current)),
                limit: Some(Amount::of(rating)),
                source: "the job: rating of the connector".to_owned(),
            });
        }
    }
}

fn seals(facts: &Facts, findings: &mut Vec<Finding>) {
    for connector in &facts.job.connectors {
        let Some(seal) = &connector.seal else { continue };
        let source =
            "the cavity seal takes a range of insulation diameters, not of conductor sizes (seal maker's sheet)";
        let lands = |w: &&crate::job::Wire| w.from.part() == connector.name || w.to.part() == connector.name;
        for wire in facts.job.wires.iter().filter(lands) {
            let finding = |severity, says, value| Finding {
                rule: "seal-does-not-fit",
                severity,
                subject: format!("{} at {}", wire.name, connector.name),
                says,
                change: "another seal, or a wire whose insulation fits".to_owned(),
                value,
                limit: None,
                source: source.to_owned(),
            };
            let range = Amount::of(seal.low()).range_to(Amount::of(seal.high()));
            match wire.outer {
                None => findings.push(finding(
                    Severity::Note,
                    format!("measure the insulation of {}: the seal of {} takes {range}", wire.name, connector.name),
                    None,
                )),
                Some(outer) if outer < seal.low() || outer > seal.high() => findings.push(finding(
                    Severity::Error,
                    format!("the insulation of {} is {outer}; the seal of {} takes {range}", wire.name, connector.name),
                    Some(Amount::of(outer)),
                )),
                Some(_) => {}
            }
        }
    }
}
