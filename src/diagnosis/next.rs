//! The next reading: the one that is expected to tell most about the fault for its effort.

use std::collections::BTreeSet;

use super::evidence::{Misreading, Predicted};
use super::fault::Fault;
use super::information::{entropy, posterior};
use super::predict::Questions;
use super::search::{Ranked, Taken, misreading};
use crate::circuit::{Dictionary, State};
use crate::job::{Job, Terminal};
use crate::plan::{Measurement, Probes};
use crate::quantity::{Amount, Dimension};

/// The reading that tells most.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// Where and in which state.
    pub measurement: Measurement,
    /// Bits about the fault that it is expected to bring.
    pub bits: f64,
    /// What the likeliest faults predict there.
    pub predicts: Vec<(Fault, Option<Amount>)>,
}

/// A reading that brings less tells nothing, in bits.
const WORTH_TAKING: f64 = 0.01;
/// Bits by which a reading tells two faults apart that predict two standard uncertainties from each other: below, they
/// are one group (the binary channel with normal noise, by quadrature).
const TOLD_APART: f64 = 0.486;
/// The faults that the next reading is chosen for.
const IN_QUESTION: usize = 24;
/// A fault that is less likely is not asked about.
const FORLORN: f64 = 0.005;
/// Two readings nearer than this are not told apart by a hand, in volts (common practice).
const LEAST_STANDARD: f64 = 0.002;

/// Effort of a change of state, in readings (estimate).
const CHANGE_OF_STATE: f64 = 0.5;
/// Effort to get at a point inside a splice: its sleeve is cut, and made good again (estimate).
const IN_A_SPLICE: f64 = 2.0;
/// Effort to get at a contact from behind (estimate).
const BEHIND_A_CONTACT: f64 = 0.3;

/// For each fault, at each of its strengths: what a reading would show in its base unit, and its standard uncertainty.
type Predictions = Vec<Vec<(f64, f64)>>;

/// Readings of voltage that a person can take: each wire end, across each wire, each load and each coil, switches off
/// and on.
pub(super) fn all_candidates(job: &Job) -> Vec<Measurement> {
    let mut states = vec![State::all_on(job)];
    states.extend(job.switches.iter().filter(|_| job.switches.len() > 1).map(|switch| State::only(&switch.name)));
    states.push(State::rest());
    states.dedup();
    let minus = Terminal::battery_minus();
    let mut pairs: BTreeSet<(Terminal, Terminal)> = BTreeSet::new();
    pairs.insert((Terminal::battery_plus(), minus.clone()));
    for wire in &job.wires {
        pairs.insert((wire.from.clone(), wire.to.clone()));
        for end in [&wire.from, &wire.to].into_iter().filter(|end| **end != minus) {
            pairs.insert((end.clone(), minus.clone()));
        }
    }
    for load in &job.loads {
        pairs.insert((Terminal::of(&load.name, "+"), Terminal::of(&load.name, "-")));
    }
    for relay in &job.relays {
        pairs.insert((Terminal::of(&relay.name, "86"), Terminal::of(&relay.name, "85")));
    }
    let at = |state, (red, black): &(Terminal, Terminal)| Measurement::between(Dimension::Voltage, red, black, state);
    states.iter().flat_map(|state| pairs.iter().map(move |pair| at(state, pair))).collect()
}

/// Those that were not taken yet: the same reading again is no new evidence, the meter errs alike.
fn candidates(job: &Job, taken: &[Taken]) -> Vec<Measurement> {
    let same = |a: &Measurement, b: &Measurement| a.probes == b.probes || a.probes == exchanged(&b.probes);
    let new = |m: &Measurement| !taken.iter().any(|t| t.measurement.state == m.state && same(&t.measurement, m));
    all_candidates(job).into_iter().filter(new).collect()
}

/// The probes the other way round.
fn exchanged(probes: &Probes) -> Probes {
    match probes {
        Probes::Between(red, black) => Probes::Between(black.clone(), red.clone()),
        Probes::Wire(wire) => Probes::Wire(wire.clone()),
    }
}

/// What a reading costs, in readings at open points in the state as it is.
pub(super) fn effort(job: &Job, measurement: &Measurement, now: Option<&State>) -> f64 {
    let change = now.filter(|now| **now != measurement.state).map_or(0.0, |_| CHANGE_OF_STATE);
    let Probes::Between(red, black) = &measurement.probes else { return 1.0 + change };
    let access = [red, black].into_iter().map(|terminal| {
        let part = terminal.part();
        match () {
            () if job.splices.iter().any(|splice| splice.name == part) => IN_A_SPLICE,
            () if job.connectors.iter().any(|connector| connector.name == part) => BEHIND_A_CONTACT,
            () => 0.0,
        }
    });
    1.0 + change + access.sum::<f64>()
}

/// What the likeliest faults show at every reading that could be taken.
pub(super) struct Choice {
    candidates: Vec<Measurement>,
    /// For each candidate what each fault in question shows there, and how often it is misread.
    shown: Vec<(Predictions, Misreading)>,
}

impl Choice {
    /// For the faults in question, the first of a ranking.
    pub(super) fn of(job: &Job, dictionary: &Dictionary, taken: &[Taken], ranked: &[Ranked]) -> Self {
        let candidates = candidates(job, taken);
        let asked = in_question(ranked);
        let questions = Questions::of(job, dictionary, candidates.iter().map(|m| (m, None, 0.0)));
        let slips = |m: &Measurement| misreading(job, m.dimension);
        let mut shown: Vec<(Predictions, Misreading)> =
            candidates.iter().map(|m| (vec![Vec::new(); asked.len()], slips(m))).collect();
        for (row, one) in asked.iter().enumerate() {
            for (strength, shared) in &one.stands_for {
                let predicted = questions.predict(&one.fault, *strength, &[]);
                for ((rows, _), predicted) in shown.iter_mut().zip(predicted) {
                    if let Some(Predicted::Value { mean, standard, moves, .. }) = predicted {
                        let (mean, standard) = shared.predict(mean, standard, &moves);
                        rows[row].push((mean.base(), standard.base().max(LEAST_STANDARD)));
                    }
                }
            }
        }
        Self { candidates, shown }
    }

    /// How many of the first faults no reading can tell from the first; those are moved to the front, in the ranking that
    /// this was made for and here.
    pub(super) fn gather(&mut self, ranked: &mut [Ranked]) -> usize {
        let apart = |other: usize| {
            self.shown.iter().any(|(rows, slip)| {
                let pair = [&rows[0], &rows[other]];
                pair.iter().all(|row| !row.is_empty()) && bits_about(&[0.5, 0.5], &pair, *slip) >= TOLD_APART
            })
        };
        let group: Vec<usize> = (1..in_question(ranked).len()).filter(|other| !apart(*other)).collect();
        for (place, from) in group.iter().enumerate() {
            ranked[place + 1..=*from].rotate_right(1);
            for (rows, _) in &mut self.shown {
                rows[place + 1..=*from].rotate_right(1);
            }
        }
        if ranked.is_empty() { 0 } else { group.len() + 1 }
    }

    /// The reading that brings most bits for its effort; `None` where none brings any.
    pub(super) fn next(&self, job: &Job, taken: &[Taken], ranked: &[Ranked]) -> Option<Next> {
        let asked = in_question(ranked);
        let total: f64 = asked.iter().map(|r| r.probability).sum();
        let p: Vec<f64> = asked.iter().map(|r| r.probability / total).collect();
        let now = taken.last().map(|t| &t.measurement.state);
        let mut best: Option<(f64, f64, usize)> = None;
        for (place, (rows, slip)) in self.shown.iter().enumerate() {
            if rows.iter().any(Vec::is_empty) {
                continue;
            }
            let bits = bits_about(&p, &rows.iter().collect::<Vec<_>>(), *slip);
            let worth = bits / effort(job, &self.candidates[place], now);
            if bits > WORTH_TAKING && best.is_none_or(|(most, ..)| worth > most + 1e-9) {
                best = Some((worth, bits, place));
            }
        }
        let (_, bits, place) = best?;
        let mut measurement = self.candidates[place].clone();
        let rows = &self.shown[place].0;
        let middle = |row: &Vec<(f64, f64)>| row.get(row.len() / 2).map(|(mean, _)| *mean);
        // The red probe where the likeliest fault has the higher voltage: nobody likes to read a minus.
        let turned = rows.first().and_then(middle).is_some_and(|mean| mean < 0.0);
        let sign = if turned { -1.0 } else { 1.0 };
        if turned {
            measurement.probes = exchanged(&measurement.probes);
        }
        let shows = |row| middle(row).map(|mean| Amount::new(sign * mean, measurement.dimension));
        let predicts = asked.iter().zip(rows).map(|(r, row)| (r.fault.clone(), shows(row))).collect();
        Some(Next { measurement, bits, predicts })
    }
}

fn in_question(ranked: &[Ranked]) -> Vec<&Ranked> {
    ranked.iter().take(IN_QUESTION).filter(|r| r.probability > FORLORN).collect()
}

/// Nodes and weights of Gauss and Hermite's quadrature for a standard normal distribution (Abramowitz and Stegun, table
/// 25.10, n = 5, scaled by the root of two).
const NORMAL: [(f64, f64); 5] = [
    (-2.856_970_013_872_806, 0.011_257_411_327_720_7),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (2.856_970_013_872_806, 0.011_257_411_327_720_7),
];

/// Mutual information of the fault and the reading, in bits: the average over what each fault, at each strength, would
/// show, of how much that tells.
fn bits_about(p: &[f64], predicted: &[&Vec<(f64, f64)>], slip: Misreading) -> f64 {
    let density = |y: f64, strengths: &[(f64, f64)]| {
        let one = |(mean, standard): &(f64, f64)| slip.density(y, *mean, *standard);
        strengths.iter().map(one).sum::<f64>() / strengths.len() as f64
    };
    let mut left = 0.0;
    for (own, strengths) in p.iter().zip(predicted) {
        for (mean, standard) in *strengths {
            for (node, weight) in NORMAL {
                let y = mean + node * standard;
                let likelihoods: Vec<f64> = predicted.iter().map(|strengths| density(y, strengths)).collect();
                left += own * weight / strengths.len() as f64 * entropy(&posterior(p, &likelihoods));
            }
        }
    }
    (entropy(p) - left).max(0.0)
}
