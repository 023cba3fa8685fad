//! Which hazards stand before which step on paper.

use crate::plan::Plan;
use crate::procedure::Hazard;

/// The hazards that are printed before a step, gravest first.
///
/// As in the walk, those of a procedure come once, before its first step, and those of a step before the first one that
/// has them. A step with a condition may be passed over on paper, its hazards with it: what stands there is printed again.
pub(super) fn before(plan: &Plan, at: usize) -> Vec<&Hazard> {
    let step = &plan.steps[at];
    let phase = &plan.phases[step.phase];
    let same = |place: usize| plan.phases[place].procedure == phase.procedure;
    let earlier = || plan.steps[..at].iter().filter(|s| same(s.phase) && s.only_if.is_none());
    let mut hazards: Vec<&Hazard> = Vec::new();
    let begun = earlier().next().is_some();
    if !begun {
        hazards.extend(&phase.hazards);
    }
    for hazard in &step.hazards {
        let printed = begun && phase.hazards.iter().any(|h| h.id == hazard.id)
            || earlier().flat_map(|s| &s.hazards).any(|h| h.id == hazard.id)
            || hazards.iter().any(|h| h.id == hazard.id);
        if !printed {
            hazards.push(hazard);
        }
    }
    hazards.sort_by_key(|h| std::cmp::Reverse(h.signal));
    hazards
}
