//! What the readings of a walk say about what is wrong.

use super::state::Walk;
use crate::diagnosis::{Findings, Taken, Weights, find};
use crate::plan::Ask;

/// The last readings that are looked at: older ones are of parts that were not in place yet.
const LAST: usize = 60;

impl Walk {
    /// The readings of the circuit that still count, in the order of the plan.
    pub fn taken(&self) -> Vec<Taken> {
        let steps = self.plan().steps.iter();
        let taken = steps.filter_map(|step| {
            let Ask::Measure(measurement) = &step.ask else { return None };
            let attempt = self.latest(&step.key)?;
            let reading = attempt.reading.clone()?;
            let instrument = attempt.judgement.instrument.clone();
            Some(Taken { measurement: measurement.clone(), reading, instrument })
        });
        let all: Vec<Taken> = taken.collect();
        all[all.len().saturating_sub(LAST)..].to_vec()
    }

    /// The faults that explain the readings so far, the likeliest first, and what to read next.
    pub fn likely_faults(&self, weights: &Weights) -> Findings {
        find(self.job(), weights, &self.taken())
    }
}
