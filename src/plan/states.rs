//! Temporary states over the whole plan: what is taken off must come back, and nothing is measured that a temporary
//! state makes impossible.

use super::write_out::Written;
use super::{Ask, Plan, PlanError, Step};
use crate::document::{Problem, Problems};

/// The temporary state in which the battery is disconnected.
pub(crate) const BATTERY_OFF: &str = "battery off";

/// The temporary state in which a fuse is out of its holder.
fn fuse_out(fuse: &str) -> String {
    format!("{fuse} out")
}

/// Checks the temporary states of a plan.
///
/// # Errors
/// The first file whose steps leave a state open, or measure what it makes impossible.
pub(super) fn check(plan: &Plan, written: &[Written]) -> Result<(), PlanError> {
    for (at, step) in plan.steps.iter().enumerate() {
        let Some(state) = step.opens.as_deref() else { continue };
        let ends = |later: &Step| later.only_if.is_none() && later.closes.as_deref() == Some(state);
        if !plan.steps[at + 1..].iter().any(ends) {
            let title = format!("the temporary state `{state}` of step {} is never ended", step.key);
            let help = format!("a later step without a condition must say closes = \"{state}\"");
            return Err(problem(&written[at], title, "what is made here must be undone", &help));
        }
    }
    let mut open: Vec<(&str, usize)> = Vec::new();
    for (at, step) in plan.steps.iter().enumerate() {
        let phase = &plan.phases[step.phase];
        let first_of_phase = at == 0 || plan.steps[at - 1].phase != step.phase;
        if phase.only_all_closed
            && first_of_phase
            && let Some((state, by)) = open.first()
        {
            let title = format!("`{}` begins while `{state}` of step {} is open", phase.procedure, plan.steps[*by].key);
            let help = format!("end it before with closes = \"{state}\"");
            return Err(problem(&written[at], title, "every temporary state must be ended by now", &help));
        }
        // A step that ends a state does so before it measures.
        if let Some(state) = step.closes.as_deref().filter(|_| step.only_if.is_none()) {
            open.retain(|(name, _)| *name != state);
        }
        if let Some((state, by)) = impossible(step, &open) {
            let title = format!("step {} is measured while `{state}` is open", step.key);
            let label = format!("not possible since step {}", plan.steps[by].key);
            let help = format!("measure later, or end the state before with closes = \"{state}\"");
            return Err(problem(&written[at], title, &label, &help));
        }
        if let Some(state) = step.opens.as_deref() {
            open.push((state, at));
        }
    }
    Ok(())
}

/// The open state that makes the reading of a step impossible, and the step that made it.
fn impossible<'p>(step: &Step, open: &[(&'p str, usize)]) -> Option<(&'p str, usize)> {
    let Ask::Measure(measurement) = &step.ask else { return None };
    let stops = |state: &str| {
        let battery = state == BATTERY_OFF && !measurement.state.battery_off;
        let fuse = state.strip_suffix(" out").is_some_and(|fuse| {
            state == fuse_out(fuse) && !measurement.state.pulled.contains(fuse) && !measurement.state.battery_off
        });
        battery || fuse
    };
    open.iter().find(|(state, _)| stops(state)).copied()
}

fn problem(written: &Written, title: String, label: &str, help: &str) -> PlanError {
    let source = &written.procedure.source;
    let mut problems = Problems::new(source.clone());
    problems.push(Problem::at(written.template.place.clone(), title, label).help(help));
    PlanError::Procedure(Box::new(problems))
}
