//! What several rules need, computed once.

use std::fmt::Write;

use super::{Severity, by_status};
use crate::circuit::{Circuit, Engine, NoOperatingPoint, Solution, State};
use crate::handbook::{Cited, Status, ampacity};
use crate::job::{Job, Wire};
use crate::quantity::{Current, Temperature};

/// A job with its circuit solved, every switch on, engine off.
pub(super) struct Facts<'j> {
    pub job: &'j Job,
    pub circuit: Circuit<'j>,
    pub state: State,
    pub solution: Solution,
    /// With the engine running as well, where a battery beside the first one is charged through the wiring.
    charging: Option<Solution>,
}

impl<'j> Facts<'j> {
    pub(super) fn of(job: &'j Job) -> Result<Self, NoOperatingPoint> {
        let circuit = Circuit::of(job);
        let state = State::all_on(job);
        let solution = circuit.solve(&state)?;
        let charging = if job.further_batteries.is_empty() || job.alternator.is_none() {
            None
        } else {
            Some(circuit.solve(&State { engine: Engine::Running, ..state.clone() })?)
        };
        Ok(Self { job, circuit, state, solution, charging })
    }

    /// Current in an element with everything on; the larger one of engine off and charging.
    pub(super) fn current(&self, element: &str) -> Current {
        let charging = self.charging.as_ref().and_then(|s| s.current(element)).unwrap_or(Current::amps(0.0)).abs();
        let off = self.engine_off(element);
        if charging > off { charging } else { off }
    }

    /// Current in an element with everything on and the engine off.
    pub(super) fn engine_off(&self, element: &str) -> Current {
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

/// The current that a wire may carry.
pub(super) struct Ampacity {
    /// Table by size and insulation, times ambient, times bundle.
    pub limit: Cited<Current>,
    /// The same by the factors that were read in their source, where the table was read too.
    verified: Option<Cited<Current>>,
}

impl Ampacity {
    /// How grave a current is, and the limit that it breaks. What only a factor of common practice forbids is a warning.
    pub(super) fn broken_by(&self, current: Current) -> Option<(Severity, &Cited<Current>)> {
        match &self.verified {
            Some(verified) if current > verified.value => Some((Severity::Error, verified)),
            _ => (current > self.limit.value).then(|| (by_status(self.limit.status), &self.limit)),
        }
    }
}

pub(super) fn ampacity_of(job: &Job, wire: &Wire) -> Option<Ampacity> {
    let insulation = wire.insulation_or_usual();
    let base = ampacity::allowable(wire.size, insulation)?;
    let at = hottest(job, wire);
    let ambient = ampacity::ambient_factor(insulation, at);
    let bundle = ampacity::bundle_factor(wire.bundle.unwrap_or(1));
    let limit = |at: Temperature, ambient: &Cited<f64>| {
        let mut source = format!("{} at {:.0} °C around it", base.source, at.as_celsius());
        if bundle.value < 1.0 {
            let _ = write!(source, ", bundle factor {}", bundle.value);
        }
        if wire.insulation.is_none() {
            let _ =
                write!(source, "; insulation taken as {:.0} °C, the job does not state it", insulation.as_celsius());
        }
        let status = base.status.max(ambient.status).max(bundle.status);
        Cited::new(base.value * ambient.value * bundle.value, source, status)
    };
    let reference = Temperature::celsius(30.0);
    let verified = [limit(at, &ambient), limit(reference, &ampacity::ambient_factor(insulation, reference))];
    let verified = verified.into_iter().find(|limit| limit.status == Status::Verified);
    Some(Ampacity { limit: limit(at, &ambient), verified })
}
