//! What several rules need, computed once.

use std::fmt::Write;

use crate::circuit::{Circuit, NoOperatingPoint, Solution, State, USUAL_INSULATION};
use crate::handbook::{Cited, Status, ampacity};
use crate::job::{Job, Wire};
use crate::quantity::{Current, Temperature};

/// A job with its circuit solved, every switch on, engine off.
pub(super) struct Facts<'j> {
    pub job: &'j Job,
    pub circuit: Circuit<'j>,
    pub state: State,
    pub solution: Solution,
}

impl<'j> Facts<'j> {
    pub(super) fn of(job: &'j Job) -> Result<Self, NoOperatingPoint> {
        let circuit = Circuit::of(job);
        let state = State::all_on(job);
        let solution = circuit.solve(&state)?;
        Ok(Self { job, circuit, state, solution })
    }

    /// Current in an element with everything on.
    pub(super) fn current(&self, element: &str) -> Current {
        self.solution.current(element).unwrap_or(Current::amps(0.0)).abs()
    }
}

/// The hottest surroundings of a wire.
pub(super) fn hottest(job: &Job, wire: &Wire) -> Temperature {
    let ambient = job.environment.ambient.high();
    match (&job.environment.engine_bay, wire.in_engine_bay()) {
        (Some(bay), true) => bay.high(),
        // A conductor temperature that the job fixes holds for readings; heat is judged by the surroundings.
        _ => ambient,
    }
}

/// The current that a wire may carry: table by size and insulation, times ambient, times bundle.
pub(super) fn ampacity_of(job: &Job, wire: &Wire) -> Option<Cited<Current>> {
    let insulation = wire.insulation.unwrap_or(USUAL_INSULATION);
    let base = ampacity::allowable(wire.size, insulation)?;
    let ambient = ampacity::ambient_factor(insulation, hottest(job, wire));
    let bundle = wire.bundle.map_or_else(|| Cited::new(1.0, "", Status::Verified), ampacity::bundle_factor);
    let amps = base.value * ambient.value * bundle.value;
    let at = hottest(job, wire);
    let mut source = format!("{} at {:.0} °C around it", base.source, at.as_celsius());
    if bundle.value < 1.0 {
        let _ = write!(source, ", bundle factor {}", bundle.value);
    }
    if wire.insulation.is_none() {
        source.push_str("; insulation taken as 105 °C, the job does not state it");
    }
    Some(Cited::new(amps, source, base.status))
}
