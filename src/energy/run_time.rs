use super::charge::{self, ChargeRange};
use super::discharge::{Cell, discharge, solved_at};
use super::{EnergyError, Question, given, none, share_of_tolerance, state};
use crate::circuit::Engine;
use crate::handbook::Cited;
use crate::handbook::battery::{peukert_exponent, rated_time};
use crate::job::{Battery, ItemKind, Job};
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
    /// Nothing is drawn from it, or nothing for long.
    Rests,
    /// Another battery charges it, and it does not come down to its end.
    Charged {
        /// By this current.
        current: Current,
    },
}

/// A time with its worst and its best case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The shortest.
    pub low: Duration,
    /// With every value as stated.
    pub likely: Duration,
    /// The longest; `None` where it does not end then.
    pub high: Option<Duration>,
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
    /// What it gives at the beginning; negative where another battery charges it first.
    pub first: Current,
    /// What it gives with every battery at its own end.
    pub last: Current,
    /// The time, by all batteries running down together. The worst case has the lowest charge at the start, the least capacity and the largest current that the
    /// tolerances of the job allow.
    pub time: Span,
    /// The time with the values as stated, were nothing lost at a high current.
    pub without_loss: Option<Duration>,
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
pub(super) const NOTHING: Current = Current::amps(1e-4);

/// A battery with its charges.
struct Known<'j> {
    name: &'j str,
    battery: &'j Battery,
    from: ChargeRange,
    to: ChargeRange,
    exponent: Cited<(f64, f64, f64)>,
    /// What the tolerances let its current move, as a share of it.
    moves: f64,
}

/// How each battery ends.
pub(super) fn endings(job: &Job, question: &Question) -> Result<Vec<(String, Ending)>, EnergyError> {
    let system = job.vehicle.system;
    let mut known = Vec::new();
    for name in job.names(ItemKind::Battery) {
        let Some(battery) = job.battery_named(name) else { continue };
        let word = battery.kind.word();
        let exponent = peukert_exponent(word)
            .ok_or_else(|| EnergyError { says: format!("no exponent is at hand for a battery of kind {word}") })?;
        let from = charge::present(name, battery, system, question.from.as_ref())?;
        let to = charge::end(name, battery, system, question.to.as_ref())?;
        known.push(Known { name, battery, from, to, exponent, moves: 0.0 });
    }
    let cells = |known: &[Known], case| known.iter().map(|one| one.cell(case)).collect::<Vec<Cell>>();
    let likely = cells(&known, Case::Likely);
    let start: Vec<Share> = likely.iter().map(|cell| cell.from).collect();
    let end: Vec<Share> = likely.iter().map(|cell| cell.to).collect();
    let first = solved_at(job, &question.on, &likely, &start)?;
    let last = solved_at(job, &question.on, &likely, &end)?;
    let now = state(&question.on, Engine::Off);
    for one in &mut known {
        let current = given(&first, one.name);
        one.moves = if current > NOTHING { share_of_tolerance(job, one.name, &now, current) } else { 0.0 };
    }
    let run = |case| discharge(job, &question.on, &cells(&known, case));
    let (plain, worst, best) = (run(Case::Likely)?, run(Case::Worst)?, run(Case::Best)?);
    let without = run(Case::WithoutLoss)?;
    let starved: Vec<(String, Voltage)> = job
        .loads
        .iter()
        .filter_map(|load| {
            let (needs, gets) = (load.needs?, last.load_voltage(&load.name)?);
            // A load that is off needs nothing.
            let on = last.current(&load.name).is_some_and(|amps| amps.abs() > NOTHING);
            (on && gets < needs).then(|| (load.name.clone(), gets))
        })
        .collect();
    let endings = known.into_iter().enumerate().map(|(at, one)| {
        let current = given(&first, one.name);
        let name = one.name.to_owned();
        let Some(capacity) = one.battery.capacity else {
            let ending = if current > NOTHING { Ending::NoCapacity { current } } else { idle(current) };
            return (name, ending);
        };
        if one.from.likely <= one.to.likely && current > NOTHING {
            return (name, Ending::AlreadyThere { now: one.from, to: one.to.likely });
        }
        let Some(arrival) = plain[at].filter(|_| one.from.likely > one.to.likely) else { return (name, idle(current)) };
        let run = RunTime {
            capacity,
            first: current,
            last: given(&last, one.name),
            time: Span {
                low: worst[at].map_or(arrival.time, |a| a.time),
                likely: arrival.time,
                high: best[at].map(|a| a.time),
            },
            without_loss: without[at].map(|a| a.time),
            exponent: one.exponent,
            rated_current: rated_current(capacity.nominal),
            delivered: arrival.delivered,
            starved: starved.clone(),
            from: one.from,
            to: one.to,
        };
        (name, Ending::RunsDown(Box::new(run)))
    });
    Ok(endings.collect())
}

/// A battery that does not come down.
fn idle(current: Current) -> Ending {
    if current < -NOTHING { Ending::Charged { current: current.abs() } } else { Ending::Rests }
}

/// With which of the values that are known within limits a discharge is reckoned.
#[derive(Debug, Clone, Copy)]
enum Case {
    /// All as stated.
    Likely,
    /// Lowest charge, least capacity, largest current.
    Worst,
    /// The opposite.
    Best,
    /// All as stated, and nothing lost at a high current.
    WithoutLoss,
}

impl Known<'_> {
    fn cell(&self, case: Case) -> Cell {
        let capacity = self.battery.capacity.as_ref();
        let likely = Cell {
            name: self.name.to_owned(),
            kind: self.battery.kind.word(),
            capacity: capacity.map(|c| c.nominal),
            from: self.from.likely,
            to: self.to.likely,
            factor: 1.0,
            exponent: self.exponent.value.1,
        };
        match case {
            Case::Likely => likely,
            Case::WithoutLoss => Cell { exponent: 1.0, ..likely },
            Case::Worst => Cell {
                capacity: capacity.map(Toleranced::low),
                from: self.from.low,
                to: self.to.high,
                factor: 1.0 + self.moves,
                ..likely
            },
            Case::Best => Cell {
                capacity: capacity.map(Toleranced::high),
                from: self.from.high,
                to: self.to.low,
                factor: 1.0 - self.moves,
                ..likely
            },
        }
    }
}

/// The current that empties the stated capacity in the time of the label.
pub(super) fn rated_current(capacity: Charge) -> Current {
    Current::amps(capacity.as_amp_hours() * 3600.0 / rated_time().value.as_seconds())
}

/// The share of the capacity that comes out at a current: (I20 / I)^(exponent − 1) (Peukert),
/// never more than all of it. `rated` is the current I20 that empties the stated capacity in 20 hours.
pub fn share_at(current: Current, rated: Current, exponent: f64) -> f64 {
    (rated / current).powf(exponent - 1.0).min(1.0)
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
