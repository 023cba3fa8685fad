use super::charge::{self, ChargeRange};
use super::{EnergyError, Question, given, none, share_of_tolerance, state};
use crate::circuit::{Circuit, Engine, NoOperatingPoint, Solution};
use crate::handbook::Cited;
use crate::handbook::battery::{peukert_exponent, rated_time, rest_table};
use crate::job::{Battery, Job};
use crate::quantity::{Charge, Current, Duration, Quantity, Share, Toleranced, Voltage};

/// How a battery ends with the engine off.
#[derive(Debug, Clone, PartialEq)]
pub enum Ending {
    /// It runs down.
    RunsDown(Box<RunTime>),
    /// It runs down, but nobody said what it holds.
    NoCapacity {
        /// What it gives.
        current: Current,
    },
    /// It has no more than the charge that it is to keep.
    AlreadyThere {
        /// Its charge now.
        now: ChargeRange,
        /// What it is to keep.
        to: Share,
    },
    /// Nothing is drawn from it.
    Rests,
    /// Another battery charges it.
    Charged {
        /// By this current.
        current: Current,
    },
}

/// A value with its worst and its best case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span<Q> {
    /// The least.
    pub low: Q,
    /// With every value as stated.
    pub likely: Q,
    /// The most.
    pub high: Q,
}

/// How long a battery lasts.
#[derive(Debug, Clone, PartialEq)]
pub struct RunTime {
    /// What it holds when full, as the job states it.
    pub capacity: Toleranced<Charge>,
    /// Its charge at the beginning.
    pub from: ChargeRange,
    /// Its charge at the end.
    pub to: ChargeRange,
    /// Its current at the beginning.
    pub first: Current,
    /// Its current at the end.
    pub last: Current,
    /// The time; the worst case has the lowest charge at the start, the least capacity and the largest current that the
    /// tolerances of the job allow.
    pub time: Span<Duration>,
    /// The time with the values as stated, were nothing lost at a high current.
    pub without_loss: Duration,
    /// Peukert's exponent that the time was reckoned with, between the least and the greatest that were read.
    pub exponent: Cited<(f64, f64, f64)>,
    /// Up to this current nothing is lost: that of the 20-hour rate.
    pub rated_current: Current,
    /// What comes out of the battery on the way, with the values as stated.
    pub delivered: Charge,
    /// Loads that get less than their maker allows before the end, and what they get then.
    pub starved: Vec<(String, Voltage)>,
}

/// Below this a battery counts as unused: a meter's own draw is of this size.
const NOTHING: Current = Current::amps(1e-4);
/// Pieces into which a discharge is cut; the current hardly moves within one.
const PIECES: u32 = 10;

pub(super) fn ending(job: &Job, name: &str, question: &Question) -> Result<Ending, EnergyError> {
    let Some(battery) = job.battery_named(name) else { return Ok(Ending::Rests) };
    let system = job.vehicle.system;
    let from = charge::present(name, battery, system, question.from.as_ref())?;
    let to = charge::end(name, battery, system, question.to.as_ref())?;
    let discharge = Discharge { job, name, battery, question };
    let first = given(&discharge.at(from.likely)?, name);
    if first < -NOTHING {
        return Ok(Ending::Charged { current: first.abs() });
    }
    if first < NOTHING {
        return Ok(Ending::Rests);
    }
    let Some(capacity) = battery.capacity else { return Ok(Ending::NoCapacity { current: first }) };
    if from.likely <= to.likely {
        return Ok(Ending::AlreadyThere { now: from, to: to.likely });
    }
    let now = state(&question.on, Engine::Off);
    let moves = share_of_tolerance(job, name, &now, first);
    let exponent = exponent(battery)?;
    let plain = discharge.run(from.likely, to.likely, capacity.nominal, 1.0, exponent.value.1)?;
    let worst = discharge.run(from.low, to.high, capacity.low(), 1.0 + moves, exponent.value.1)?;
    let best = discharge.run(from.high, to.low, capacity.high(), 1.0 - moves, exponent.value.1)?;
    let without = discharge.run(from.likely, to.likely, capacity.nominal, 1.0, 1.0)?;
    let end = discharge.at(to.likely)?;
    let starved = job.loads.iter().filter_map(|load| {
        let (needs, gets) = (load.needs?, end.load_voltage(&load.name)?);
        // A load that is off needs nothing.
        let on = end.current(&load.name).is_some_and(|amps| amps.abs() > NOTHING);
        (on && gets < needs).then(|| (load.name.clone(), gets))
    });
    Ok(Ending::RunsDown(Box::new(RunTime {
        capacity,
        first,
        last: given(&end, name),
        time: Span { low: worst.time, likely: plain.time, high: best.time },
        without_loss: without.time,
        rated_current: rated_current(capacity.nominal),
        delivered: plain.delivered,
        starved: starved.collect(),
        exponent,
        from,
        to,
    })))
}

fn exponent(battery: &Battery) -> Result<Cited<(f64, f64, f64)>, EnergyError> {
    let word = battery.kind.word();
    peukert_exponent(word).ok_or_else(|| EnergyError { says: format!("no exponent for a battery of kind {word}") })
}

/// The current that empties the stated capacity in the time of the label.
fn rated_current(capacity: Charge) -> Current {
    Current::amps(capacity.as_amp_hours() * 3600.0 / rated_time().value.as_seconds())
}

/// The share of the capacity that comes out at a current: (I20 / I)^(exponent − 1), never more than all of it.
pub(super) fn share_at(current: Current, rated: Current, exponent: f64) -> f64 {
    (rated / current).powf(exponent - 1.0).min(1.0)
}

/// One battery of a job that runs down.
struct Discharge<'j> {
    job: &'j Job,
    name: &'j str,
    battery: &'j Battery,
    question: &'j Question,
}

struct Run {
    time: Duration,
    delivered: Charge,
}

impl Discharge<'_> {
    /// The circuit at a charge of this battery. Its rest voltage follows the charge where a table says how, else it
    /// stays as the job states it.
    fn at(&self, charge: Share) -> Result<Solution, NoOperatingPoint> {
        let mut job = self.job.clone();
        if let Some(table) = rest_table(self.battery.kind.word()) {
            let volts = table.volts_at(charge) * charge::times_12(job.vehicle.system);
            let battery = match job.further_batteries.iter_mut().find(|b| b.name == self.name) {
                Some(further) => &mut further.battery,
                None => &mut job.battery,
            };
            battery.rest_voltage = Toleranced::exact(volts);
        }
        Circuit::of(&job).solve(&state(&self.question.on, Engine::Off))
    }

    /// From one charge to another: t = Σ C · Δs · share(I) / I, with the current of the middle of each piece.
    fn run(
        &self,
        from: Share,
        to: Share,
        capacity: Charge,
        current_factor: f64,
        exponent: f64,
    ) -> Result<Run, NoOperatingPoint> {
        let rated = rated_current(capacity);
        let step = (from.fraction() - to.fraction()).max(0.0) / f64::from(PIECES);
        let (mut hours, mut amp_hours) = (0.0, 0.0);
        for piece in 0..PIECES {
            let charge = Share::of(from.fraction() - step * (f64::from(piece) + 0.5));
            let current = given(&self.at(charge)?, self.name) * current_factor;
            // Another battery may come to feed the loads as this one falls: then it lasts on.
            let current = if current < NOTHING { NOTHING } else { current };
            let out = capacity.as_amp_hours() * step * share_at(current, rated, exponent);
            amp_hours += out;
            hours += out / current.as_amps();
        }
        Ok(Run { time: Duration::seconds(hours * 3600.0), delivered: Charge::amp_hours(amp_hours) })
    }
}

/// How long a steady current takes from one charge to another of a capacity, with its loss at a high current.
pub(super) fn steady(capacity: Charge, from: Share, to: Share, current: Current, exponent: f64) -> Option<Duration> {
    if current <= none() || from <= to {
        return None;
    }
    let out =
        capacity.base() * (from.fraction() - to.fraction()) * share_at(current, rated_current(capacity), exponent);
    Some(Duration::seconds(out / current.as_amps() * 3600.0))
}
