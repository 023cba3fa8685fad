use std::collections::BTreeSet;

use super::charge::times_12;
use super::run_time::{NOTHING, rated_current, share_at};
use super::{given, state};
use crate::circuit::{Circuit, Engine, NoOperatingPoint, Solution};
use crate::handbook::battery::rest_table;
use crate::job::Job;
use crate::quantity::{Charge, Duration, Share, Toleranced};

/// One battery in one case of a discharge.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    pub name: String,
    /// The word of its kind, by which its rest voltage follows its charge.
    pub kind: &'static str,
    /// What it holds; `None` where the job does not say: its charge and voltage then stay as they are.
    pub capacity: Option<Charge>,
    pub from: Share,
    pub to: Share,
    /// What its current is in this case over that of the solved circuit.
    pub factor: f64,
    /// Peukert's exponent; 1 where nothing is lost.
    pub exponent: f64,
}

/// When a battery came down to its end, and what it gave until then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arrival {
    pub time: Duration,
    pub delivered: Charge,
}

/// The largest part of a battery that goes within one step.
const PART: f64 = 0.02;
/// Steps after which batteries that only fill each other are left alone.
const STEPS: usize = 600;

/// All batteries together as they run down with these switches on, engine off. A battery that falls below another one
/// is fed by it, as the circuit says.
///
/// Midpoint steps: the current in the middle of a step counts for all of it. `None` for a battery that does not come
/// down to its end.
pub(super) fn discharge(
    job: &Job,
    on: &BTreeSet<String>,
    cells: &[Cell],
) -> Result<Vec<Option<Arrival>>, NoOperatingPoint> {
    let mut charge: Vec<f64> = cells.iter().map(|cell| cell.from.fraction()).collect();
    let mut delivered = vec![0.0; cells.len()];
    let mut seconds = 0.0;
    let mut arrived: Vec<Option<Arrival>> = cells
        .iter()
        .map(|cell| {
            let there = cell.from <= cell.to;
            there.then(|| Arrival { time: Duration::seconds(0.0), delivered: Charge::amp_hours(0.0) })
        })
        .collect();
    for _ in 0..STEPS {
        let waiting = |at: usize| arrived[at].is_none() && cells[at].capacity.is_some();
        if !(0..cells.len()).any(waiting) {
            break;
        }
        let rates = rates(job, on, cells, &charge)?;
        let fastest = rates.iter().map(|rate| rate.1.abs()).fold(0.0, f64::max);
        if fastest == 0.0 {
            break;
        }
        let step = PART / fastest;
        let middle: Vec<f64> = charge.iter().zip(&rates).map(|(s, rate)| s - rate.1 * step / 2.0).collect();
        let rates = self::rates(job, on, cells, &middle)?;
        for (at, (amps, rate)) in rates.iter().enumerate() {
            let before = charge[at];
            charge[at] = (before - rate * step).clamp(0.0, 1.0);
            let to = cells[at].to.fraction();
            if arrived[at].is_none() && charge[at] <= to && before > charge[at] {
                let part = (before - to) / (before - charge[at]);
                arrived[at] = Some(Arrival {
                    time: Duration::seconds(seconds + step * part),
                    delivered: Charge::amp_hours(delivered[at] + amps * step * part / 3600.0),
                });
            }
            delivered[at] += amps * step / 3600.0;
        }
        seconds += step;
    }
    Ok(arrived)
}

/// Of each battery the current that it gives, in amperes, and the part of its charge that goes in a second.
fn rates(
    job: &Job,
    on: &BTreeSet<String>,
    cells: &[Cell],
    charge: &[f64],
) -> Result<Vec<(f64, f64)>, NoOperatingPoint> {
    let shares: Vec<Share> = charge.iter().map(|s| Share::of(*s)).collect();
    let solution = solved_at(job, on, cells, &shares)?;
    let rate = |cell: &Cell| {
        let current = given(&solution, &cell.name);
        let Some(capacity) = cell.capacity.filter(|_| current.abs() >= NOTHING) else { return (0.0, 0.0) };
        let full = capacity.as_amp_hours() * 3600.0;
        if current < -NOTHING {
            return (current.as_amps(), current.as_amps() / full);
        }
        let current = current * cell.factor;
        let share = share_at(current, rated_current(capacity), cell.exponent);
        (current.as_amps(), current.as_amps() / (full * share))
    };
    Ok(cells.iter().map(rate).collect())
}

/// The circuit with each battery at a charge. Its rest voltage follows the charge where a table says how, else it stays
/// as the job states it.
pub(super) fn solved_at(
    job: &Job,
    on: &BTreeSet<String>,
    cells: &[Cell],
    charge: &[Share],
) -> Result<Solution, NoOperatingPoint> {
    let mut job = job.clone();
    let times = times_12(job.vehicle.system);
    for (cell, charge) in cells.iter().zip(charge) {
        let Some(table) = rest_table(cell.kind).filter(|_| cell.capacity.is_some()) else { continue };
        let battery = match job.further_batteries.iter_mut().find(|b| b.name == cell.name) {
            Some(further) => &mut further.battery,
            None => &mut job.battery,
        };
        battery.rest_voltage = Toleranced::exact(table.volts_at(*charge) * times);
    }
    Circuit::of(&job).solve(&state(on, Engine::Off))
}
