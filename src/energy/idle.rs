use super::charge;
use super::run_time::steady;
use super::{EnergyError, Question, given, none, on_post, state};
use crate::circuit::{Circuit, Engine};
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
    /// What is left after the vehicle's own draw, where that is known; negative where it falls short.
    pub balance: Option<Current>,
    /// What the starter battery gives to make up for a shortfall, by the circuit solved with what the alternator has.
    pub battery_gives: Current,
    /// How long from its present charge until the starter battery is half empty by that; `None` where it gives nothing,
    /// is there already, or its capacity is not known.
    pub to_half: Option<Duration>,
}

impl Idle {
    /// Whether the alternator gives less than is drawn, by what is known.
    pub fn falls_short(&self) -> bool {
        self.balance.unwrap_or(self.left) < none()
    }
}

/// `None` where the job states no alternator, or neither its current nor that at idle.
pub(super) fn idle(job: &Job, question: &Question) -> Result<Option<Idle>, EnergyError> {
    let Some(alternator) = &job.alternator else { return Ok(None) };
    let available = match (&alternator.idle_current, &alternator.current) {
        (Some(idle), _) => Cited::new(idle.nominal, "the job: current of the alternator at idle", Status::Verified),
        (None, Some(rated)) => {
            let share = percent("alternator-at-idle");
            let (value, status) = (share.value, share.status);
            Cited::new(rated.nominal * value.fraction(), format!("{value} of the rated {}", rated.nominal), status)
        }
        (None, None) => return Ok(None),
    };
    let running = state(&question.on, Engine::Running);
    let held = solved_with(job, None, &running)?;
    let sum = |battery: &str| {
        let wires = on_post(job, battery);
        wires.iter().fold(none(), |sum, (wire, sign)| sum + held.current(wire).unwrap_or(none()) * *sign)
    };
    let drawn = sum("battery");
    let further = job.further_batteries.iter().map(|b| (b.name.clone(), -given(&held, &b.name)));
    let charging = further.filter(|(_, current)| *current > Current::amps(0.01)).collect();
    let left = available.value - drawn;
    let balance = question.vehicle.map(|vehicle| left - vehicle);
    let short = balance.unwrap_or(left) < none();
    let battery_gives = if short {
        let for_job = available.value - question.vehicle.unwrap_or(none());
        // What the vehicle draws beyond the whole alternator comes from the battery too.
        let (limit, beyond) = if for_job < none() { (none(), for_job.abs()) } else { (for_job, none()) };
        given(&solved_with(job, Some(limit), &running)?, "battery") + beyond
    } else {
        none()
    };
    let battery = &job.battery;
    let now = charge::present("battery", battery, job.vehicle.system, question.from.as_ref())?;
    let half = charge::end("battery", battery, job.vehicle.system, None)?;
    let exponent = peukert_exponent(battery.kind.word()).map_or(1.0, |cited| cited.value.1);
    let to_half = battery.capacity.and_then(|c| steady(c.nominal, now.likely, half.likely, battery_gives, exponent));
    Ok(Some(Idle { available, drawn, charging, vehicle: question.vehicle, left, balance, battery_gives, to_half }))
}

/// The job with its alternator limited to a current, or without any limit.
fn solved_with(
    job: &Job,
    limit: Option<Current>,
    state: &crate::circuit::State,
) -> Result<crate::circuit::Solution, EnergyError> {
    let mut job = job.clone();
    if let Some(alternator) = &mut job.alternator {
        alternator.current = limit.map(Toleranced::exact);
    }
    Ok(Circuit::of(&job).solve(state)?)
}
