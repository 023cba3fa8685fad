//! Bolts against their stack, and torque against the table.

use super::{Finding, by_status};
use crate::job::{BoltLength, Fastener, Job};
use crate::quantity::{Amount, Length};

pub(super) fn check(job: &Job, findings: &mut Vec<Finding>) {
    let grounds = job.grounds.iter().map(|g| (&g.name, &g.fastener));
    let mounts = job.mounts.iter().map(|m| (&m.name, &m.fastener));
    for (name, fastener) in grounds.chain(mounts) {
        bolt_length(name, fastener, findings);
        over_torque(name, fastener, findings);
    }
}

/// Rounding of a length that is written in whole millimetres.
const GRAIN: Length = Length::metres(1e-6);

/// A bolt that is too short leaves threads of its nut empty; one that reaches the bottom of its hole holds nothing.
fn bolt_length(name: &str, fastener: &Fastener, findings: &mut Vec<Finding>) {
    let Some(needed) = fastener.needed_length() else { return };
    let fits = fastener.needed_length_in_words().unwrap_or_default();
    let mut add = |says: String, change: String, value: Option<Length>, limit: Length| {
        findings.push(Finding {
            rule: "bolt-length",
            severity: by_status(needed.status),
            subject: name.to_owned(),
            says,
            change,
            value: value.map(Amount::of),
            limit: Some(Amount::of(limit)),
            source: needed.citation(),
        });
    };
    let stated = fastener.stated_length();
    match needed.value {
        BoltLength::Blind(hole) if hole.at_most < hole.at_least => {
            let says =
                format!("no bolt fits the hole of {name}: it would bottom out before one diameter of thread holds");
            add(says, "a deeper thread, a smaller bolt, or a nut behind".to_owned(), stated, hole.at_most);
        }
        BoltLength::Blind(hole) => {
            let Some(length) = stated else { return };
            if length > hole.at_most + GRAIN {
                let says = format!(
                    "the bolt of {name} is {length} long and bottoms out: torque is reached, the part stays loose"
                );
                add(says, format!("a bolt of {fits}"), Some(length), hole.at_most);
            } else if length + GRAIN < hole.at_least {
                let says = format!("the bolt of {name} is {length} long: less than one diameter of its thread holds");
                add(says, format!("a bolt of {fits}"), Some(length), hole.at_least);
            }
        }
        BoltLength::Through(least) => {
            let Some(length) = stated.filter(|length| *length + GRAIN < least) else { return };
            let says = format!("the bolt of {name} is {length} long: its nut is not filled with thread");
            add(says, format!("a bolt of {fits}"), Some(length), least);
        }
    }
}

/// The stated torque, its tolerance included, against the table for the same thread, class and friction.
fn over_torque(name: &str, fastener: &Fastener, findings: &mut Vec<Finding>) {
    let (Some(stated), Some(table)) = (&fastener.torque, fastener.table_torque()) else { return };
    // A wrench that is set to the table's figure is off by its own few per cent.
    if stated.nominal <= table.value * 1.05 {
        return;
    }
    findings.push(Finding {
        rule: "torque-above-table",
        severity: super::Severity::Warning,
        subject: name.to_owned(),
        says: format!("{name} is tightened to {}; the table for this bolt says {}", stated.nominal, table.value),
        change: format!("at most {}, or a stronger bolt; the maker's figure for the part wins", table.value),
        value: Some(Amount::of(stated.nominal)),
        limit: Some(Amount::of(table.value)),
        source: table.citation(),
    });
}
