//! Readings that their limits let pass and that are doubtful all the same: asked about in plain words, never refused.
//!
//! Readings in one state must add up around a loop; the loads of a pair are never alike to the last digit; sums that
//! close exactly, again and again, were made up and not read.

use super::closure;
use super::state::Walk;
use crate::circuit::Circuit;
use crate::job::Terminal;
use crate::plan::{Ask, Measurement, Probes, Step};
use crate::quantity::{Dimension, Reading, Voltage};

/// How many readings of two like loads must be equal before that is asked about.
const ALIKE: usize = 3;
/// How many loops must close without any rest before that is asked about.
const EXACT: usize = 2;

/// What is doubtful about a reading that conforms, in words.
pub(super) fn doubt(walk: &Walk, step: &Step, measurement: &Measurement, reading: &Reading) -> Option<String> {
    if measurement.dimension != Dimension::Voltage {
        return None;
    }
    let volts = Voltage::volts(reading.value?);
    closure::gap(walk, step, measurement, volts)
        .or_else(|| twins(walk, step, reading))
        .or_else(|| closes_too_well(walk, step, measurement, volts))
}

/// The phase of another thing whose readings are all equal to those of this one.
fn twins(walk: &Walk, step: &Step, reading: &Reading) -> Option<String> {
    let plan = walk.plan();
    let here = &plan.phases[step.phase];
    let others = plan.phases.iter().enumerate();
    let mut others = others.filter(|(at, p)| *at != step.phase && p.procedure == here.procedure);
    others.find_map(|(place, other)| {
        let mut alike = 0;
        for mine in plan.steps.iter().filter(|s| s.phase == step.phase) {
            let Ask::Measure(measurement) = &mine.ask else { continue };
            // The battery is one and the same.
            if measurement.dimension != Dimension::Voltage || at_the_posts(measurement) {
                continue;
            }
            let own = if mine.key == step.key { Some(reading) } else { latest(walk, mine) };
            let name = last(mine.key.as_str());
            let theirs = plan.steps.iter().find(|s| s.phase == place && last(s.key.as_str()) == name);
            let (Some(own), Some(theirs)) = (own, theirs.and_then(|s| latest(walk, s))) else { continue };
            if own.value != theirs.value || own.resolution != theirs.resolution {
                return None;
            }
            // A plain zero is no sign of anything.
            alike += usize::from(own.value.is_some_and(|value| value.abs() > 2.0 * own.resolution));
        }
        (alike >= ALIKE).then(|| {
            format!(
                "all {alike} readings of {} are those of {} to the last digit; two loads never are quite alike: was each \
                 of them measured for itself?",
                here.item, other.item
            )
        })
    })
}

/// Several loops that close without any rest.
fn closes_too_well(walk: &Walk, step: &Step, measurement: &Measurement, volts: Voltage) -> Option<String> {
    let exact = |rest: Voltage| rest.abs() < Voltage::volts(1e-6);
    if !exact(closure::rest(walk, step, measurement, volts)?.0) {
        return None;
    }
    let plan = walk.plan();
    let mut count = 1;
    for place in (0..plan.phases.len()).filter(|place| *place != step.phase) {
        let measured = plan.steps.iter().filter(|s| s.phase == place);
        let mut closing = measured.filter_map(|s| {
            let Ask::Measure(measurement) = &s.ask else { return None };
            let volts = Voltage::volts(latest(walk, s)?.value?);
            closure::rest(walk, s, measurement, volts)
        });
        count += usize::from(closing.next_back().is_some_and(|(rest, _)| exact(rest)));
    }
    (count >= EXACT).then(|| {
        format!(
            "{count} loops of readings close to the last digit; read one after the other they leave a few millivolts: \
             was each reading taken, or was one worked out from the others?"
        )
    })
}

fn latest<'w>(walk: &'w Walk, step: &Step) -> Option<&'w Reading> {
    walk.latest(&step.key)?.reading.as_ref()
}

fn last(key: &str) -> &str {
    key.rsplit('/').next().unwrap_or(key)
}

fn at_the_posts(measurement: &Measurement) -> bool {
    let battery = |t: &Terminal| t.name().ends_with(".+") || t.name().ends_with(".-");
    let Probes::Between(red, black) = &measurement.probes else { return false };
    red.part() == black.part() && battery(red) && battery(black) && red.part() == "battery"
}

/// Where a probe may stand wrong: another point beside the one that was asked for would show this reading.
pub(super) fn wrong_side(walk: &Walk, measurement: &Measurement, reading: &Reading, off_by: f64) -> Option<String> {
    let Probes::Between(red, black) = &measurement.probes else { return None };
    if measurement.dimension != Dimension::Voltage {
        return None;
    }
    let value = reading.value?;
    let job = walk.job();
    let solution = Circuit::of(job).solve(&measurement.state).ok()?;
    let volts = |terminal: &Terminal| solution.voltage(terminal).map(Voltage::as_volts);
    let beside = |point: &Terminal| {
        let along = job.wires.iter().filter_map(|w| match (&w.from, &w.to) {
            (from, to) if from == point => Some(to.clone()),
            (from, to) if to == point => Some(from.clone()),
            _ => None,
        });
        let own = job.terminals().into_iter().filter(|t| t.part() == point.part() && t != point);
        own.chain(along.collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    let right = volts(red)? - volts(black)?;
    // A point that would show nearly the same says nothing.
    let told_apart = |shown: f64| (shown - right).abs() > 4.0 * off_by.max(0.01);
    let fits = |shown: f64| (shown - value).abs() <= off_by.max(0.02 * value.abs());
    let swapped = |point: &Terminal, other: Terminal, red_moved: bool| {
        let shown = if red_moved { volts(&other)? - volts(black)? } else { volts(red)? - volts(&other)? };
        (told_apart(shown) && fits(shown))
            .then(|| format!("; {other} in the place of {point} would show that: is the probe on the right side?"))
    };
    let at_red = beside(red).into_iter().find_map(|other| swapped(red, other, true));
    at_red.or_else(|| beside(black).into_iter().find_map(|other| swapped(black, other, false)))
}
