use super::charge;
use super::run_time::steady;
use super::{EnergyError, Question, given, none, on_post, state};
use crate::circuit::{Circuit, Engine, Solution, State};
use crate::handbook::assumption::percent;
use crate::handbook::battery::peukert_exponent;
use crate::handbook::{Cited, Status};
use crate::job::Job;
use crate::quantity::{Current, Duration, Toleranced};

/// What the alternator has left with the engine at idle.
#[derive(Debug, Clone, PartialEq)]
pub struct Idle {
    /// What the alternator gives at idle.
    pub available: Cited<Current>,
    /// What the circuit of the job draws from the battery post with the alternator at its voltage.
    pub drawn: Current,
    /// Of that, what further batteries take at their stated rest voltage: they take less as they fill.
    pub charging: Vec<(String, Current)>,
    /// What the vehicle itself draws, where it was said.
    pub vehicle: Option<Current>,
    /// What is left for the vehicle's own draw and the starter battery; negative where the job alone draws more.
    pub left: Current,
    /// What is left after the vehicle's own draw, where that is known; negative where the alternator cannot hold its
    /// voltage.
    pub balance: Option<Current>,
    /// What happens where the alternator cannot hold its voltage.
    pub sags: Option<Sag>,
}

/// The circuit with no more from the alternator than it gives: its voltage sags until the currents meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sag {
    /// What the starter battery gives; negative where it is still charged.
    pub battery_gives: Current,
    /// What further batteries take now.
    pub charging: Vec<(String, Current)>,
    /// How long from its present charge until the starter battery is half empty; `None` where it gives nothing, is
    /// there already, or its capacity is not known.
    pub to_half: Option<Duration>,
}

impl Idle {
    /// Whether the starter battery runs down with the engine at idle, by what is known.
    pub fn falls_short(&self) -> bool {
        self.sags.as_ref().is_some_and(|sag| sag.battery_gives > none())
    }
}

/// `None` where the job states no alternator, or neither its current nor that at idle.
pub(super) fn idle(job: &Job, question: &Question) -> Result<Option<Idle>, EnergyError> {
    let Some(alternator) = &job.alternator else { return Ok(None) };
    let available = match (&alternator.idle_current, &alternator.current) {
        (Some(idle), _) => Cited::new(idle.nominal, "the job: current of the alternator at idle", Status::Verified),
        (None, Some(rated)) => {
            let share = percent("alternator-at-idle");
            let source = format!("{} of the rated {}", share.value, rated.nominal.as_rating());
            Cited::new(rated.nominal * share.value.fraction(), source, share.status)
        }
        (None, None) => return Ok(None),
    };
    let running = state(&question.on, Engine::Running);
    let held = solved_with(job, None, &running)?;
    let wires = on_post(job, "battery");
    let drawn = wires.iter().fold(none(), |sum, (wire, sign)| sum + held.current(wire).unwrap_or(none()) * *sign);
    let left = available.value - drawn;
    let balance = question.vehicle.map(|vehicle| left - vehicle);
    let sags = if balance.unwrap_or(left) < none() {
        Some(sag(job, question, available.value - question.vehicle.unwrap_or(none()), &running)?)
    } else {
        None
    };
    Ok(Some(Idle { available, drawn, charging: charging(job, &held), vehicle: question.vehicle, left, balance, sags }))
}

/// What happens where this current is left for the job and the batteries; negative where the vehicle takes more than
/// the whole alternator gives.
fn sag(job: &Job, question: &Question, left: Current, running: &State) -> Result<Sag, EnergyError> {
    let (limit, beyond) = if left < none() { (none(), left.abs()) } else { (left, none()) };
    let solution = solved_with(job, Some(limit), running)?;
    let battery_gives = given(&solution, "battery") + beyond;
    let battery = &job.battery;
    let now = charge::present("battery", battery, job.vehicle.system, question.from.as_ref())?;
    let half = charge::end("battery", battery, job.vehicle.system, None)?;
    let exponent = peukert_exponent(battery.kind.word()).map_or(1.0, |cited| cited.value.1);
    let to_half = battery.capacity.and_then(|c| steady(c.nominal, now.likely, half.likely, battery_gives, exponent));
    Ok(Sag { battery_gives, charging: charging(job, &solution), to_half })
}

/// What flows into further batteries.
fn charging(job: &Job, solution: &Solution) -> Vec<(String, Current)> {
    let further = job.further_batteries.iter().map(|b| (b.name.clone(), -given(solution, &b.name)));
    further.filter(|(_, current)| *current > Current::amps(0.01)).collect()
}

/// The job with its alternator limited to a current, or without any limit.
fn solved_with(job: &Job, limit: Option<Current>, state: &State) -> Result<Solution, EnergyError> {
    let mut job = job.clone();
    if let Some(alternator) = &mut job.alternator {
        alternator.current = limit.map(Toleranced::exact);
    }
    Ok(Circuit::of(&job).solve(state)?)
}
