//! Which faults a walk through a plan would notice: every fault of the model against every step, with the job's meter.
//!
//! The terms are those of IEEE 1522 (testability and diagnosability metrics; definitions from memory): the fraction of
//! faults detected, the fraction isolated, ambiguity groups. A fault counts as detected where at every strength that
//! matters one step notices it with a probability of 0.95 or more, tolerances and the meter's error included.

use std::collections::BTreeMap;

use super::evidence::Predicted;
use super::fault::{Fault, Kind, Range, Strength};
use super::model::faults_of;
use super::next::{all_candidates, effort};
use super::predict::Questions;
use super::weights::Weights;
use crate::circuit::{Circuit, Dictionary, State};
use crate::job::{Instrument, Job, Terminal};
use crate::judgement::{How, Verdict, Yardstick, judge_measurement};
use crate::plan::{Ask, Measurement, Plan, Rule, Step, StepKey};
use crate::quantity::{Amount, Dimension, Reading, Resistance, Toleranced, Voltage};

/// Every fault of the model against every step of a plan.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// The faults, "as designed" left out.
    pub faults: Vec<Covered>,
    /// The steps that can notice anything.
    pub steps: Vec<CoveringStep>,
    /// Probability that a step of a whole walk does not conform though everything is as designed.
    pub false_alarm: f64,
}

/// A step that can notice faults.
#[derive(Debug, Clone)]
pub struct CoveringStep {
    /// Its name.
    pub key: StepKey,
    /// Whether a reading decides, or an inspection.
    pub is_reading: bool,
}

/// A fault with what notices it.
#[derive(Debug, Clone)]
pub struct Covered {
    /// The fault.
    pub fault: Fault,
    /// For each step that may notice it, by its place in [`Coverage::steps`]: with what probability, on average over
    /// the strengths that matter.
    pub by: Vec<(usize, f64)>,
    /// How it is noticed.
    pub noticed: Noticed,
    /// The weakest resistance that one step surely notices, and every stronger one; of a path the highest.
    pub surely_from: Option<Resistance>,
    /// Faults that the same steps notice, this one included, by their place in [`Coverage::faults`].
    pub group: Vec<usize>,
    /// Where it is not surely noticed: what would.
    pub add: Option<Addition>,
}

/// How a fault is noticed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noticed {
    /// For sure, by a reading.
    ByReading,
    /// For sure, by an inspection alone.
    ByInspection,
    /// Perhaps.
    Perhaps,
    /// By nothing.
    Never,
    /// At no strength it takes anything from a load: nothing to notice.
    Harmless,
}

/// What would notice a fault for sure.
#[derive(Debug, Clone, PartialEq)]
pub enum Addition {
    /// The reading that costs least.
    Reading(Box<Measurement>),
    /// No reading at the points of the job does: a look at the thing.
    Inspection,
}

/// So sure that a step notices a fault.
pub const SURELY: f64 = 0.95;
/// Below, a step does not notice a fault.
const HARDLY: f64 = 0.05;
/// Strengths at which a fault is looked at.
const STRENGTHS: usize = 13;
/// A load that loses less, as a share of the system's voltage, is as good as before (3 %: the drop that sizing allows a
/// load that matters; common practice).
const HARM: f64 = 0.03;
/// Amperes: a path from what is always live that carries less does no harm before the battery is next charged (50 mA
/// key-off drain; common practice).
const HARMLESS_DRAIN: f64 = 0.05;
/// Amperes: a path from what is live only while it works counts from here on: some watts in one spot (common practice).
const HARMLESS_LEAK: f64 = 0.5;

impl Coverage {
    /// The faults that some step notices for sure.
    pub fn detected(&self) -> impl Iterator<Item = &Covered> {
        self.faults.iter().filter(|covered| covered.is_detected())
    }

    /// The faults that count: those that take something from somebody.
    pub fn counted(&self) -> impl Iterator<Item = &Covered> {
        self.faults.iter().filter(|covered| covered.noticed != Noticed::Harmless)
    }

    /// Fraction of faults detected; weighted by how likely each is.
    pub fn fraction_detected(&self, weighted: bool) -> f64 {
        let weight = |covered: &Covered| if weighted { covered.fault.weight } else { 1.0 };
        let all: f64 = self.counted().map(weight).sum();
        if all > 0.0 { self.detected().map(weight).sum::<f64>() / all } else { 1.0 }
    }

    /// The detected faults that no other fault shares its steps with.
    pub fn isolated(&self) -> usize {
        self.detected().filter(|covered| covered.group.len() == 1).count()
    }

    /// How many faults stand in one group on average, over the detected ones.
    pub fn mean_group(&self) -> f64 {
        let count = self.detected().count().max(1);
        self.detected().map(|covered| covered.group.len()).sum::<usize>() as f64 / count as f64
    }

    /// The faults that only this step notices for sure.
    pub fn alone(&self, step: usize) -> Vec<&Covered> {
        let surely = |covered: &&Covered| {
            let mut by = covered.by.iter().filter(|(_, share)| *share >= SURELY);
            by.next().is_some_and(|(first, _)| *first == step) && by.next().is_none()
        };
        self.detected().filter(surely).collect()
    }
}

impl Covered {
    /// Whether one step notices it for sure.
    pub fn is_detected(&self) -> bool {
        matches!(self.noticed, Noticed::ByReading | Noticed::ByInspection)
    }

    /// Probability that the step most likely to notice it does.
    pub fn at_best(&self) -> f64 {
        self.by.iter().map(|(_, share)| *share).fold(0.0, f64::max)
    }
}

/// The readings that a step takes for conforming.
#[derive(Debug, Clone, Copy)]
enum Conforms {
    Between(f64, f64),
    /// Over-range, or at least so many ohms.
    Open(f64),
}

/// A reading with what conforms in it.
struct Limited {
    measurement: Measurement,
    conforms: Conforms,
}

impl Conforms {
    /// Probability that what is shown does not conform. Where the reading is that of the battery itself, its tolerance is
    /// what is measured, and no reason for doubt.
    fn misses(self, shown: Option<&Predicted>, is_the_battery: bool) -> f64 {
        let Some(shown) = shown else {
            // Without a steady state a load chatters or goes out: that nobody overlooks.
            return 1.0;
        };
        match (self, shown) {
            (Self::Open(_), Predicted::OverRange) => 0.0,
            (Self::Between(..), Predicted::OverRange) => 1.0,
            (_, Predicted::Value { mean, standard, stray, moves }) => {
                let own = standard.base().hypot(stray.base());
                let moves = if is_the_battery { &[][..] } else { moves };
                let spread = moves.iter().fold(own, |sum, moved| sum.hypot(moved.base()));
                // Errors have ends: a meter keeps its accuracy, a part its tolerance. Rectangular, of the same spread.
                let half = 3.0f64.sqrt() * spread;
                let below = |limit: f64| ((limit - mean.base() + half) / (2.0 * half)).clamp(0.0, 1.0);
                match self {
                    Self::Between(low, high) => below(low) + 1.0 - below(high),
                    Self::Open(from) => below(from),
                }
            }
        }
    }
}

/// What conforms in a step: the verdict of the walk itself, asked at ever closer readings.
fn conforms(
    job: &Job,
    measurement: &Measurement,
    rule: Option<&Rule>,
    instrument: &Instrument,
    how: How,
) -> Option<Conforms> {
    let expectation = measurement.expect(job).ok()?;
    let dimension = measurement.dimension;
    let yardstick = Yardstick { instrument: Some(instrument), how };
    let fits = |value: f64| {
        // Read on the finest range that holds the value.
        let resolution = instrument.digit_at(Amount::new(value, dimension)).unwrap_or(0.0);
        let reading = Reading { typed: String::new(), dimension, value: Some(value), resolution };
        judge_measurement(&reading, &expectation, rule, yardstick).verdict == Verdict::Conforms
    };
    let Some(nominal) = expectation.nominal.map(Amount::base) else {
        return Some(Conforms::Open(edge(1e9, 0.0, &fits)));
    };
    if !fits(nominal) {
        return Some(Conforms::Between(nominal, nominal));
    }
    let far = |sign: f64| {
        let mut stride = 1e-3 + 0.01 * nominal.abs();
        while stride < 1e9 && fits(nominal + sign * stride) {
            stride *= 2.0;
        }
        edge(nominal, nominal + sign * stride, &fits)
    };
    let (low, high) = (far(-1.0), far(1.0));
    // An ohmmeter never shows less than nothing, however much its error allows.
    let low = if dimension == Dimension::Resistance && low < 1e-6 { f64::NEG_INFINITY } else { low };
    Some(Conforms::Between(low, high))
}

/// The last value that fits on the way from one that does to one that does not.
fn edge(mut fits_at: f64, mut beyond: f64, fits: &impl Fn(f64) -> bool) -> f64 {
    for _ in 0..40 {
        let middle = f64::midpoint(fits_at, beyond);
        if fits(middle) { fits_at = middle } else { beyond = middle }
    }
    fits_at
}

/// The job after its battery was read at rest, as a walk takes it from there on.
fn after_the_battery_was_read(job: &Job, plan: &Plan) -> Job {
    let mut narrowed = job.clone();
    let reads = plan.steps.iter().any(|step| matches!(&step.ask, Ask::Measure(m) if m.is_battery_at_rest()));
    let instrument = job.instrument(None, Dimension::Voltage);
    let nominal = job.battery.rest_voltage.nominal;
    if let Some(error) = instrument.and_then(|i| i.least_error_at(Amount::of(nominal))).filter(|_| reads) {
        narrowed.battery.rest_voltage = Toleranced::plus_minus(nominal, Voltage::volts(error.base()));
    }
    narrowed
}

/// Every fault of the model against every step of a plan.
pub fn coverage(job: &Job, plan: &Plan, weights: &Weights) -> Coverage {
    let narrowed = after_the_battery_was_read(job, plan);
    let mut steps = Vec::new();
    let mut limited = Vec::new();
    let mut reading_at = Vec::new();
    let mut inspections = Vec::new();
    // A step that is not needed in every walk notices nothing for sure.
    for step in plan.steps.iter().filter(|step| step.only_if.is_none()) {
        let place = steps.len();
        if let Ask::Measure(measurement) = &step.ask {
            let known = if measurement.is_battery_at_rest() { job } else { &narrowed };
            let how = How::of(job.acceptance, step.no_concession);
            let instrument = job.instrument(None, measurement.dimension).unwrap_or_else(Instrument::generic);
            if let Some(conforms) = conforms(known, measurement, measurement.rule.as_ref(), &instrument, how) {
                limited.push(Limited { measurement: measurement.clone(), conforms });
                reading_at.push(place);
                steps.push(CoveringStep { key: step.key.clone(), is_reading: true });
            }
        } else if !step.reveals.is_empty() {
            inspections.push((place, step));
            steps.push(CoveringStep { key: step.key.clone(), is_reading: false });
        }
    }
    let dictionary = Dictionary::of(&narrowed);
    let looks = Looks::of(&narrowed, &dictionary, limited);
    let mut spare: Option<Looks> = None;
    let mut faults = Vec::new();
    for fault in faults_of(&narrowed, weights).into_iter().filter(|fault| fault.kind != Kind::AsDesigned) {
        let mut covered = looks.covered(&fault, &reading_at);
        for (place, step) in &inspections {
            if reveals(plan, step, &fault) {
                covered.by.push((*place, 1.0));
            }
        }
        covered.by.sort_by_key(|(place, _)| *place);
        if matches!(covered.noticed, Noticed::Perhaps | Noticed::Never) {
            if covered.by.iter().any(|(place, _)| !steps[*place].is_reading) {
                covered.noticed = Noticed::ByInspection;
            } else {
                let spare = spare.get_or_insert_with(|| {
                    let others = other_readings(&narrowed);
                    let limited = others.into_iter().filter_map(|m| plain(&narrowed, m)).collect();
                    Looks::of(&narrowed, &dictionary, limited)
                });
                covered.add = Some(spare.cheapest(&fault));
            }
        }
        faults.push(covered);
    }
    groups(&mut faults);
    Coverage { faults, steps, false_alarm: looks.false_alarm() }
}

/// Readings that a procedure could take beside those that it takes.
fn other_readings(job: &Job) -> Vec<Measurement> {
    let rest = State { battery_off: true, ..State::rest() };
    let ohms = |a: &Terminal, b: &Terminal| Measurement::between(Dimension::Resistance, a, b, &rest);
    let of_wires = job.wires.iter().flat_map(|wire| [ohms(&wire.from, &wire.to), ohms(&wire.to, &Terminal::chassis())]);
    all_candidates(job).into_iter().chain(of_wires).collect()
}

/// A reading judged by what is computed alone.
fn plain(job: &Job, measurement: Measurement) -> Option<Limited> {
    let instrument = job.instrument(None, measurement.dimension)?;
    let conforms = conforms(job, &measurement, None, &instrument, How::of(job.acceptance, false))?;
    Some(Limited { measurement, conforms })
}

/// Whether an inspection finds a fault: it is made for a thing that the fault is at.
fn reveals(plan: &Plan, step: &Step, fault: &Fault) -> bool {
    let phase = &plan.phases[step.phase];
    let things = [Some(phase.item.as_str()), phase.group.as_deref()];
    let is_at = |at: &String| {
        let part = at.split(['.', ' ']).next().unwrap_or(at);
        things.into_iter().flatten().any(|thing| thing == at || thing == part)
    };
    step.reveals.iter().any(|word| word == fault.kind.word()) && fault.at.iter().any(is_at)
}

/// Readings with what conforms in them, ready for any fault.
struct Looks<'d> {
    job: &'d Job,
    limited: Vec<Limited>,
    questions: Questions<'d>,
    loads: Questions<'d>,
    healthy_loads: Vec<Option<f64>>,
}

/// How surely each reading notices a fault of one strength.
struct Row {
    strength: Strength,
    /// Whether a fault of this strength takes something from somebody.
    matters: bool,
    misses: Vec<f64>,
}

impl Row {
    fn is_surely_noticed(&self) -> bool {
        self.misses.iter().any(|share| *share >= SURELY)
    }
}

impl<'d> Looks<'d> {
    fn of(job: &'d Job, dictionary: &'d Dictionary<'d>, limited: Vec<Limited>) -> Self {
        let questions = Questions::of(job, dictionary, limited.iter().map(|l| (&l.measurement, None, 0.0)));
        let at_loads = at_the_loads(job);
        let loads = Questions::of(job, dictionary, at_loads.iter().map(|m| (m, None, 0.0)));
        let healthy_loads = loads.nominal(&Fault::as_designed(), Strength::Times(1.0));
        Self { job, limited, questions, loads, healthy_loads }
    }

    /// How surely each reading notices a fault of a strength.
    fn misses(&self, fault: &Fault, strength: Strength) -> Vec<f64> {
        let shown = self.questions.predict(fault, strength, &[]);
        let one = |(limited, shown): (&Limited, &Option<Predicted>)| {
            limited.conforms.misses(shown.as_ref(), limited.measurement.is_battery_at_rest())
        };
        self.limited.iter().zip(&shown).map(one).collect()
    }

    /// Probability that some reading of a sound job does not conform.
    fn false_alarm(&self) -> f64 {
        let misses = self.misses(&Fault::as_designed(), Strength::Times(1.0));
        1.0 - misses.iter().map(|share| 1.0 - share).product::<f64>()
    }

    /// A fault at each of its strengths, the weakest first.
    fn rows(&self, fault: &Fault) -> Vec<Row> {
        let row = |strength, matters| Row { strength, matters, misses: self.misses(fault, strength) };
        let strengths = match fault.range() {
            Range::Ohms(strengths) => strengths,
            Range::Times(all) => return all.iter().map(|times| row(Strength::Times(*times), true)).collect(),
        };
        let harmless = if self.is_live_at_rest(fault) { HARMLESS_DRAIN } else { HARMLESS_LEAK };
        let is_path = matches!(fault.kind, Kind::ShortToBody | Kind::StrayPath);
        let matters = |ohms: Resistance| {
            if is_path {
                self.job.vehicle.system.as_volts() / ohms.as_ohms() >= harmless
            } else {
                self.takes_from_a_load(fault, ohms)
            }
        };
        let mut rows: Vec<Row> =
            strengths.spread(STRENGTHS).map(|ohms| row(Strength::Ohms(ohms), matters(ohms))).collect();
        // A joint is worse the more ohms it has, a path the fewer.
        if is_path {
            rows.reverse();
        }
        rows
    }

    /// Whether one of the places of a fault stands under voltage with all switches off.
    fn is_live_at_rest(&self, fault: &Fault) -> bool {
        let Ok(solution) = Circuit::of(self.job).solve(&State::rest()) else { return true };
        let volts = |at: &String| solution.voltage(&self.job.terminal(at).ok()?);
        fault.at.iter().filter_map(volts).any(|volts| volts.abs() > Voltage::volts(1.0))
    }

    fn takes_from_a_load(&self, fault: &Fault, ohms: Resistance) -> bool {
        let now = self.loads.nominal(fault, Strength::Ohms(ohms));
        let harm = HARM * self.job.vehicle.system.as_volts();
        self.healthy_loads.iter().zip(now).any(|(healthy, now)| match (healthy, now) {
            (Some(healthy), Some(now)) => (healthy - now).abs() > harm,
            (healthy, now) => healthy.is_some() != now.is_some(),
        })
    }

    fn covered(&self, fault: &Fault, place_of: &[usize]) -> Covered {
        let rows = self.rows(fault);
        let that_matter: Vec<&Row> = rows.iter().filter(|row| row.matters).collect();
        let count = that_matter.len().max(1) as f64;
        let mean = |reading: usize| that_matter.iter().map(|row| row.misses[reading]).sum::<f64>() / count;
        let by: Vec<(usize, f64)> = place_of
            .iter()
            .enumerate()
            .map(|(reading, place)| (*place, mean(reading)))
            .filter(|(_, share)| *share >= HARDLY)
            .collect();
        let noticed = match () {
            () if that_matter.is_empty() => Noticed::Harmless,
            () if that_matter.iter().all(|row| row.is_surely_noticed()) => Noticed::ByReading,
            () if by.is_empty() => Noticed::Never,
            () => Noticed::Perhaps,
        };
        // The weakest from which on every stronger one is surely noticed.
        let surely_from = match rows.iter().rev().take_while(|row| row.is_surely_noticed()).last() {
            Some(Row { strength: Strength::Ohms(ohms), .. }) => Some(*ohms),
            _ => None,
        };
        Covered { fault: fault.clone(), by, noticed, surely_from, group: Vec::new(), add: None }
    }

    /// The reading of least effort that notices the fault at every strength that matters.
    fn cheapest(&self, fault: &Fault) -> Addition {
        let rows = self.rows(fault);
        let surely = |reading: &usize| rows.iter().filter(|row| row.matters).all(|row| row.misses[*reading] >= SURELY);
        let measurement = |reading: usize| &self.limited[reading].measurement;
        let cost = |reading: &usize| {
            let measurement = measurement(*reading);
            let ohms = if measurement.dimension == Dimension::Resistance { OHMS_EFFORT } else { 0.0 };
            effort(self.job, measurement, None) + ohms
        };
        let best = (0..self.limited.len()).filter(surely).min_by(|a, b| cost(a).total_cmp(&cost(b)));
        best.map_or(Addition::Inspection, |reading| Addition::Reading(Box::new(measurement(reading).clone())))
    }
}

/// Effort of disconnecting the battery for an ohmmeter, in readings (estimate).
const OHMS_EFFORT: f64 = 1.0;

/// The voltage of each load, all on and each switch alone.
fn at_the_loads(job: &Job) -> Vec<Measurement> {
    let states: Vec<State> =
        std::iter::once(State::all_on(job)).chain(job.switches.iter().map(|s| State::only(&s.name))).collect();
    let at = |state: &State, load: &str| {
        let [plus, minus] = ["+", "-"].map(|pole| Terminal::of(load, pole));
        Measurement::between(Dimension::Voltage, &plus, &minus, state)
    };
    states.iter().flat_map(|state| job.loads.iter().map(|load| at(state, &load.name))).collect()
}

/// Faults that the same steps notice, each as surely as the other, to the grain of never, perhaps and surely.
fn groups(faults: &mut [Covered]) {
    let mut by_row: BTreeMap<Vec<(usize, bool)>, Vec<usize>> = BTreeMap::new();
    for (place, covered) in faults.iter().enumerate() {
        let row = covered.by.iter().map(|(step, share)| (*step, *share >= SURELY)).collect();
        by_row.entry(row).or_default().push(place);
    }
    for group in by_row.into_values() {
        for place in &group {
            faults[*place].group.clone_from(&group);
        }
    }
}
