//! Battery and alternator against what the job draws.

use super::facts::Facts;
use super::{Finding, Severity};
use crate::circuit::Engine;
use crate::handbook::assumption::percent;
use crate::job::ItemKind;
use crate::quantity::{Amount, Current, Duration};

/// Below this time on the battery the person is warned.
const SHORT_RUN: Duration = Duration::seconds(3600.0);

pub(super) fn check(facts: &Facts, findings: &mut Vec<Finding>) {
    for battery in facts.job.names(ItemKind::Battery) {
        run_down(facts, battery, findings);
    }
    idle(facts, findings);
}

fn run_down(facts: &Facts, battery: &str, findings: &mut Vec<Finding>) {
    let Some(capacity) = facts.job.battery_named(battery).and_then(|b| b.capacity.as_ref()) else { return };
    let drawn = facts.engine_off(battery);
    if drawn.as_amps() < 0.05 {
        return;
    }
    let seconds =
        3600.0 * capacity.nominal.as_amp_hours() * percent("usable-charge").value.fraction() / drawn.as_amps();
    let time = Duration::seconds(seconds);
    findings.push(Finding {
        rule: "battery-run-down",
        severity: if time < SHORT_RUN { Severity::Warning } else { Severity::Note },
        subject: battery.to_owned(),
        says: format!("with everything on and the engine off, half of the battery is used in {time} at {drawn}"),
        change: "run long loads with the engine on, or fit a low-voltage cut-out".to_owned(),
        value: Some(Amount::of(time)),
        limit: None,
        source: "half of the stated capacity, full at the start (common practice)".to_owned(),
    });
}

fn idle(facts: &Facts, findings: &mut Vec<Finding>) {
    let Some(alternator) = &facts.job.alternator else { return };
    let (available, stated) = match (&alternator.idle_current, &alternator.current) {
        (Some(idle), _) => (idle.nominal, true),
        (None, Some(rated)) => (rated.nominal * percent("alternator-at-idle").value.fraction(), false),
        (None, None) => return,
    };
    let mut state = facts.state.clone();
    state.engine = Engine::Running;
    let Ok(solution) = facts.circuit.solve(&state) else { return };
    let draw = |name: &str| solution.current(name).unwrap_or(Current::amps(0.0));
    let loads = facts.job.loads.iter().fold(Current::amps(0.0), |sum, load| sum + draw(&load.name));
    if loads <= available {
        return;
    }
    let source = if stated { "the job: alternator current at idle" } else { "40 % of the rated current (from memory)" };
    findings.push(Finding {
        rule: "alternator-at-idle",
        severity: Severity::Warning,
        subject: "alternator".to_owned(),
        says: format!("the new loads alone draw {loads} with the engine running; at idle about {available} is there"),
        change: "fewer loads at idle, or a larger alternator; the vehicle's own loads come on top".to_owned(),
        value: Some(Amount::of(loads)),
        limit: Some(Amount::of(available)),
        source: source.to_owned(),
    });
}
