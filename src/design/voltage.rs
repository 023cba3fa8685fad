//! What reaches the loads.

use super::facts::Facts;
use super::{Finding, Severity};
use crate::circuit::State;
use crate::job::{Load, Terminal, switches_of};
use crate::quantity::{Amount, Voltage};

/// Share of the system voltage that wiring may take on circuits that are not vital.
const OTHER_CIRCUITS: f64 = 0.10;
const DROP_SOURCE: &str = "ABYC E-11 / ISO 10133: 3 % for vital circuits, 10 % for others (boats; a yardstick)";

pub(super) fn check(facts: &Facts, findings: &mut Vec<Finding>) {
    for notice in &facts.solution.notices {
        findings.push(Finding {
            rule: "load-below-its-limit",
            severity: Severity::Error,
            subject: notice.subject.clone(),
            says: notice.says.clone(),
            change: "a larger conductor or a shorter run".to_owned(),
            value: None,
            limit: None,
            source: "the job: the voltage the load works from".to_owned(),
        });
    }
    for load in &facts.job.loads {
        fed(facts, load, findings);
        needs(facts, load, findings);
        drop(facts, load, findings);
    }
}

/// Nothing reaches a load with every switch on and every fuse in.
fn fed(facts: &Facts, load: &Load, findings: &mut Vec<Finding>) {
    let battery = facts.solution.voltage(&Terminal::battery_plus()).unwrap_or(Voltage::volts(0.0));
    let across = facts.solution.load_voltage(&load.name).unwrap_or(Voltage::volts(0.0));
    if across.as_volts() > 0.1 * battery.as_volts() {
        return;
    }
    findings.push(Finding {
        rule: "load-not-fed",
        severity: Severity::Error,
        subject: load.name.clone(),
        says: format!(
            "{} gets {across} with every switch on: its way from the battery or back is not closed",
            load.name
        ),
        change: "follow the wires from battery.+ to its plus terminal, and from its minus terminal back".to_owned(),
        value: Some(Amount::of(across)),
        limit: None,
        source: "the solved circuit".to_owned(),
    });
}

/// With everything on, which is worse than alone: shared wires carry more.
fn needs(facts: &Facts, load: &Load, findings: &mut Vec<Finding>) {
    let Some(needs) = load.needs else { return };
    let (plus, minus) = (Terminal::of(&load.name, "+"), Terminal::of(&load.name, "-"));
    let Ok(expected) = facts.circuit.voltage(&plus, &minus, &facts.state) else { return };
    let (Some(nominal), Some(low)) = (expected.nominal, expected.low) else { return };
    if low.base() >= needs.as_volts() || nominal.base() < 0.1 * needs.as_volts() {
        return; // not fed at all is a finding of its own
    }
    let surely = nominal.base() < needs.as_volts();
    findings.push(Finding {
        rule: "load-gets-too-little",
        severity: if surely { Severity::Error } else { Severity::Warning },
        subject: load.name.clone(),
        says: format!("{} gets {} with everything on, engine off; it needs {needs}", load.name, expected.range()),
        change: "a larger conductor, a shorter run, or fewer joints; see `rigproof size`".to_owned(),
        value: Some(nominal),
        limit: Some(Amount::of(needs)),
        source: "the job: the least voltage that the maker allows".to_owned(),
    });
}

fn drop(facts: &Facts, load: &Load, findings: &mut Vec<Finding>) {
    let state = State { on: switches_of(facts.job, &load.name).into_iter().collect(), ..State::rest() };
    let Ok(solution) = facts.circuit.solve(&state) else { return };
    let posts = solution.voltage(&Terminal::battery_plus());
    let (Some(battery), Some(across)) = (posts, solution.load_voltage(&load.name)) else { return };
    if across.as_volts() < 0.1 * battery.as_volts() {
        return; // not fed in this state
    }
    let system = facts.job.vehicle.system;
    let lost = battery - across;
    let (allowed, severity, source) = match load.allowed_drop {
        Some(share) => (share, Severity::Error, format!("the job: at most {:.1} % for {}", 100.0 * share, load.name)),
        None => (OTHER_CIRCUITS, Severity::Warning, DROP_SOURCE.to_owned()),
    };
    let limit = Voltage::volts(system.as_volts() * allowed);
    if lost <= limit {
        return;
    }
    findings.push(Finding {
        rule: "drop-too-large",
        severity,
        subject: load.name.clone(),
        says: format!(
            "the way to {} and back loses {lost}, {:.1} % of {}",
            load.name,
            100.0 * (lost / system),
            system.as_rating()
        ),
        change: "a larger conductor or a shorter run; see `rigproof size`".to_owned(),
        value: Some(Amount::of(lost)),
        limit: Some(Amount::of(limit)),
        source,
    });
}
