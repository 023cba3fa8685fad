//! Energy of a job: how long each battery lasts, what the alternator has left at idle, what a parked vehicle draws.
//!
//! Currents come from the solved circuit; charge from the rest voltage by a published table, where the kind of battery
//! has one. Age and cold take capacity away, which nobody here knows: the results hold for the stated capacity.

mod charge;
mod discharge;
mod idle;
mod parked;
mod run_time;

pub use charge::{ChargeRange, Level, present};
pub use idle::{Idle, Sag};
pub use parked::{Drawn, Parked, ParkedBattery, lasts};
pub use run_time::{Ending, RunTime, Span, share_at};

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Engine, NoOperatingPoint, Solution, State};
use crate::job::{Job, Terminal};
use crate::quantity::{Current, Duration, Toleranced};

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Switches that are on.
    pub on: BTreeSet<String>,
    /// Only the run time, or only the alternator; both where `None`.
    pub engine: Option<Engine>,
    /// Charge or rest voltage at the beginning, in the place of the job's rest voltage.
    pub from: Option<Level>,
    /// Charge or rest voltage down to which a battery is used; half of its charge where `None`.
    pub to: Option<Level>,
    /// What the vehicle itself draws with the engine at idle, where it was measured.
    pub vehicle: Option<Current>,
    /// What the vehicle itself draws asleep with the key off, where it was measured.
    pub key_off: Option<Current>,
    /// How long it is parked.
    pub parked: Duration,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Energy {
    /// Each battery, its name, and how it runs down with the engine off; none where only the alternator was asked for.
    pub batteries: Vec<(String, Ending)>,
    /// What the alternator has left at idle; `None` where the job states no alternator, or not what it gives.
    pub idle: Option<Idle>,
    /// The vehicle while it is parked with every switch off.
    pub parked: Parked,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyError {
    /// In words, with the way out.
    pub says: String,
}

impl std::fmt::Display for EnergyError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.says)
    }
}

impl std::error::Error for EnergyError {}

impl From<NoOperatingPoint> for EnergyError {
    fn from(error: NoOperatingPoint) -> Self {
        Self { says: error.says }
    }
}

impl Energy {
    /// Reckons the energy of a job.
    ///
    /// # Errors
    /// [`EnergyError`] where a voltage is to tell the charge of a battery whose voltage does not, where the start lies
    /// not above the end, or where the circuit has no steady state.
    pub fn of(job: &Job, question: &Question) -> Result<Self, EnergyError> {
        let batteries =
            if question.engine == Some(Engine::Running) { Vec::new() } else { run_time::endings(job, question)? };
        let idle = if question.engine == Some(Engine::Off) { None } else { idle::idle(job, question)? };
        Ok(Self { batteries, idle, parked: parked::parked(job, question)? })
    }

    /// Whether nothing that was reckoned falls short: the alternator at idle, and the rule on key-off current.
    pub fn holds(&self) -> bool {
        !self.idle.as_ref().is_some_and(Idle::falls_short)
            && !self.parked.batteries.iter().any(ParkedBattery::above_rule)
    }
}

/// The state with these switches on.
fn state(on: &BTreeSet<String>, engine: Engine) -> State {
    State { on: on.clone(), engine, ..State::rest() }
}

fn none() -> Current {
    Current::amps(0.0)
}

/// What a battery gives in a state: positive where it feeds the circuit.
fn given(solution: &Solution, battery: &str) -> Current {
    solution.current(battery).unwrap_or(none())
}

/// The wires on a battery's positive post, each with its sign: 1 where its current leaves the post.
fn on_post<'j>(job: &'j Job, battery: &str) -> Vec<(&'j str, f64)> {
    let post = Terminal::of(battery, "+");
    let at = |from: &Terminal, to: &Terminal| match (*from == post, *to == post) {
        (true, false) => Some(1.0),
        (false, true) => Some(-1.0),
        _ => None,
    };
    job.wires.iter().filter_map(|w| at(&w.from, &w.to).map(|sign| (w.name.as_str(), sign))).collect()
}

/// How far the tolerances of the job let the current of a battery move, as a share of that current: the sum over the
/// wires on its post, so never too small. The rest voltages are left out: their say is in the charge at the start.
fn share_of_tolerance(job: &Job, battery: &str, state: &State, nominal: Current) -> f64 {
    let mut job = job.clone();
    job.battery.rest_voltage = Toleranced::exact(job.battery.rest_voltage.nominal);
    for further in &mut job.further_batteries {
        further.battery.rest_voltage = Toleranced::exact(further.battery.rest_voltage.nominal);
    }
    let circuit = Circuit::of(&job);
    let half = |wire: &str| {
        let expectation = circuit.current(wire, state).ok()?;
        Some((expectation.high?.base() - expectation.low?.base()).abs() / 2.0)
    };
    let sum: f64 = on_post(&job, battery).iter().filter_map(|(wire, _)| half(wire)).sum();
    // A current that could as well be none tells no time.
    (sum / nominal.as_amps().abs()).min(0.9)
}
