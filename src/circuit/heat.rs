//! Conductor temperature: surroundings plus the heating by the wire's own current.

use crate::handbook::ampacity;
use crate::job::{Job, Wire};
use crate::quantity::{Current, Temperature, Toleranced};

/// Temperature around a wire, and the name under which all wires of that zone share it.
///
/// The job's own conductor temperature where it fixes one; else its engine bay or its ambient.
pub(crate) fn surroundings(job: &Job, wire: &Wire) -> (Toleranced<Temperature>, &'static str) {
    if let Some(fixed) = &job.environment.conductor {
        return (*fixed, "all wires");
    }
    match (&job.environment.engine_bay, wire.in_engine_bay()) {
        (Some(bay), true) => (*bay, "wires in the engine bay"),
        _ => (job.environment.ambient, "wires outside the engine bay"),
    }
}

/// Heating of a conductor by its own current in kelvin, once steady.
///
/// By the heat balance behind 33 CFR 183.425 table 5: the allowable current brings the conductor from 30 °C to the
/// rating of its insulation, and the rise grows with the square of the current. A bundle carries less, so it heats
/// more. A conductor thinner than the table reaches takes 10 A/mm² as its allowable current (vehicle trade rule).
pub(crate) fn rise(wire: &Wire, current: Current) -> f64 {
    let insulation = wire.insulation_or_usual();
    let allowable = ampacity::allowable(wire.size, insulation)
        .map_or_else(|| Current::amps(10.0 * wire.size.area().as_mm2()), |cited| cited.value);
    let allowable = allowable * ampacity::bundle_factor(wire.bundle.unwrap_or(1)).value;
    let share = current / allowable;
    (insulation.as_celsius() - 30.0) * share * share
}
