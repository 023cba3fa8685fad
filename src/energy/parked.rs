use std::collections::BTreeSet;

use super::charge::{self, ChargeRange};
use super::{EnergyError, Question, given, none, state};
use crate::circuit::{Circuit, Engine};
use crate::handbook::battery::key_off;
use crate::job::{ItemKind, Job, LoadKind};
use crate::quantity::{Charge, Current, Duration, Resistance, Share, Toleranced};

/// Something that draws while every switch is off.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// The load, or the relay whose coil it is.
    pub name: String,
    /// What it draws.
    pub current: Current,
    /// Whether it is the standby current that the job states, and not its full current.
    pub standby: bool,
}

/// The vehicle while it is parked, every switch and the key off.
#[derive(Debug, Clone, PartialEq)]
pub struct Parked {
    /// Each battery.
    pub batteries: Vec<ParkedBattery>,
    /// What of the job draws, from whichever battery.
    pub draws: Vec<Drawn>,
    /// Loads with a standby current that no battery feeds while every switch is off.
    pub unfed: Vec<String>,
}

/// A battery while the vehicle is parked.
#[derive(Debug, Clone, PartialEq)]
pub struct ParkedBattery {
    /// Its name.
    pub battery: String,
    /// What the circuit of the job draws from it with every switch off; negative where another battery charges it.
    pub by_job: Current,
    /// What the vehicle itself draws asleep, where it was said; of the battery that starts the engine only.
    pub by_vehicle: Option<Current>,
    /// Both together.
    pub total: Current,
    /// What is gone after the time that was asked for.
    pub gone: Charge,
    /// That as a share of the capacity; above 1 the battery is empty before. `None` where the job states no capacity.
    pub share: Option<f64>,
    /// How long a full battery takes to be half empty: 0.5 × capacity / current. `None` where nothing is drawn.
    pub full_to_half: Option<Duration>,
    /// The same from its present charge; `None` also where it is half empty already.
    pub now_to_half: Option<Duration>,
    /// Its present charge.
    pub now: ChargeRange,
    /// The greatest current that the rule allows; of the battery that starts the engine only.
    pub rule: Option<Current>,
}

impl ParkedBattery {
    /// Whether the current is above the rule.
    pub fn above_rule(&self) -> bool {
        self.rule.is_some_and(|rule| self.total > rule)
    }
}

/// How long a current takes for a part of a capacity: part × capacity / current. `None` where nothing is drawn.
pub fn lasts(capacity: Charge, part: Share, current: Current) -> Option<Duration> {
    let hours = capacity.as_amp_hours() * part.fraction() / current.as_amps();
    (current > none() && hours > 0.0).then(|| Duration::seconds(hours * 3600.0))
}

/// Smaller currents are the leakage of nothing in particular.
const LEAST: Current = Current::amps(1e-5);

pub(super) fn parked(job: &Job, question: &Question) -> Result<Parked, EnergyError> {
    let standing = standing_by(job);
    let rest = state(&BTreeSet::new(), Engine::Off);
    let solution = Circuit::of(&standing).solve(&rest)?;
    let current = |element: &str| solution.current(element).unwrap_or(none()).abs();
    let loads = job.loads.iter().map(|load| (load.name.clone(), current(&load.name), load.standby.is_some()));
    let coils = job.relays.iter().map(|r| (format!("coil of {}", r.name), current(&format!("{} coil", r.name)), false));
    let draws: Vec<Drawn> = loads
        .chain(coils)
        .filter(|(_, current, _)| *current > LEAST)
        .map(|(name, current, standby)| Drawn { name, current, standby })
        .collect();
    let unfed =
        |load: &&crate::job::Load| load.standby.is_some_and(|s| s.nominal > LEAST) && current(&load.name) <= LEAST;
    let unfed: Vec<String> = job.loads.iter().filter(unfed).map(|load| load.name.clone()).collect();
    let mut batteries = Vec::new();
    for name in job.names(ItemKind::Battery) {
        let Some(battery) = job.battery_named(name) else { continue };
        let first = name == "battery";
        let given = given(&solution, name);
        let by_job = if given.abs() > LEAST { given } else { none() };
        let by_vehicle = question.key_off.filter(|_| first);
        let total = by_job + by_vehicle.unwrap_or(none());
        let gone = Charge::amp_hours(total.as_amps() * question.parked.as_seconds() / 3600.0);
        let now = charge::present(name, battery, job.vehicle.system, question.from.as_ref())?;
        let half = charge::end(name, battery, job.vehicle.system, None)?.likely;
        let above_half = |share: Share| Share::of(share.fraction() - half.fraction());
        batteries.push(ParkedBattery {
            battery: name.to_owned(),
            by_job,
            by_vehicle,
            total,
            gone,
            share: battery.capacity.map(|capacity| gone / capacity.nominal),
            full_to_half: battery.capacity.and_then(|c| lasts(c.nominal, above_half(Share::percent(100.0)), total)),
            now_to_half: battery.capacity.and_then(|c| lasts(c.nominal, above_half(now.likely), total)),
            now,
            rule: first.then(|| key_off().value.limit),
        });
    }
    Ok(Parked { batteries, draws, unfed })
}

/// The job with each load that states a standby current drawing just that: off by its own switch, and yet fed. It is
/// put in as a motor, whose current does not depend on its voltage.
fn standing_by(job: &Job) -> Job {
    let mut standing = job.clone();
    let at = job.vehicle.system;
    for load in &mut standing.loads {
        let Some(current) = load.standby else { continue };
        // Only an ohmmeter would see the winding.
        let winding = Toleranced::exact(Resistance::ohms(1.0));
        load.kind = LoadKind::Motor { current, at, stall: None, winding };
    }
    standing
}
