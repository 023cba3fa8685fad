//! Faults ranked by the readings, and the reading to take next.

use std::collections::BTreeSet;

use super::evidence::{Misreading, Predicted, likelihood, over_strengths};
use super::fault::{Fault, Kind, faults_of};
use super::information::{entropy, posterior};
use crate::circuit::{Circuit, Solution, State};
use crate::job::{Job, Terminal};
use crate::judgement::Measured;
use crate::plan::{Measurement, Probes};
use crate::quantity::{Amount, Dimension, Reading, Resistance};

/// A reading that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Where, in which state.
    pub measurement: Measurement,
    /// What was read.
    pub reading: Reading,
}

/// A fault with what the readings say of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The fault.
    pub fault: Fault,
    /// Its share of all probability.
    pub probability: f64,
    /// Its strength where it has one: 2.5 %, 50 % and 97.5 % of its distribution, given that the fault is there.
    pub strength: Option<[Resistance; 3]>,
    /// Strengths to ask it with for the next reading.
    stands_for: Vec<Resistance>,
}

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

/// The state of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// The likeliest first.
    pub ranked: Vec<Ranked>,
    /// The reading to take next; `None` where none would tell more.
    pub next: Option<Next>,
    /// Whether no fault of the list explains the readings.
    pub unexplained: bool,
}

/// How often a reading is a slip.
const SLIPS: f64 = 0.01;
/// A reading that brings less tells nothing, in bits.
const WORTH_TAKING: f64 = 0.01;
/// So sure, and the search ends.
const SURE: f64 = 0.95;
/// The faults that the next reading is chosen for.
const IN_QUESTION: usize = 24;
/// A fault that is less likely is not asked about.
const FORLORN: f64 = 0.005;
/// Candidates that are predicted in full.
const LOOKED_AT_CLOSELY: usize = 6;
/// Two readings nearer than this are not told apart by a hand, in volts (common practice).
const LEAST_STANDARD: f64 = 0.002;
/// Effort of a change of state, in readings.
const CHANGE_OF_STATE: f64 = 0.5;

/// For each fault, at each of its strengths: what a reading would show in volts, and its standard uncertainty.
type Predictions = Vec<Vec<(f64, f64)>>;

/// What the readings say, and what to read next.
pub fn find(job: &Job, taken: &[Taken]) -> Findings {
    let ranked = rank(job, taken);
    let sure = ranked.first().is_some_and(|first| first.probability >= SURE);
    let next = if sure { None } else { next_reading(job, taken, &ranked) };
    let unexplained = unexplained(job, taken, &ranked);
    Findings { ranked, next, unexplained }
}

fn misreading(job: &Job, dimension: Dimension) -> Misreading {
    let span = match dimension {
        Dimension::Resistance => 1000.0,
        Dimension::Current => 40.0,
        _ => 2.0 * job.vehicle.system.as_volts(),
    };
    Misreading { share: SLIPS, span: Amount::new(span, dimension) }
}

/// Meter and model together, for what a fault predicts; `None` where the circuit has no steady state with it.
fn predict(
    job: &Job,
    measurement: &Measurement,
    fault: &Fault,
    ohms: Resistance,
    resolution: f64,
) -> Option<Predicted> {
    let (built, state) = fault.as_built(job, &measurement.state, ohms);
    let expected = Measurement { state, ..measurement.clone() }.expect(&built).ok()?;
    let (Some(mean), Some(low), Some(high)) = (expected.nominal, expected.low, expected.high) else {
        return Some(Predicted::OverRange);
    };
    let instrument = job.instrument(None, measurement.dimension)?;
    let within = |largest_error: f64| {
        Measured { value: mean, largest_error: mean.with(largest_error) }.standard_uncertainty().base()
    };
    let meter = within(instrument.largest_error(mean, resolution).map_or(0.0, Amount::base));
    let leads = if measurement.dimension == Dimension::Resistance { within(instrument.leads.as_ohms()) } else { 0.0 };
    let model = expected.standard_uncertainty().map_or(0.0, Amount::base);
    // What a free wire picks up widens the range without being anybody's tolerance.
    let shares: f64 = expected.varies.iter().map(|v| v.share.base()).sum();
    let stray = within(((high.base() - low.base()) / 2.0 - shares).max(0.0));
    let standard = meter.hypot(leads).hypot(model).hypot(stray).max(1e-9);
    Some(Predicted::Value { mean, standard: mean.with(standard) })
}

fn rank(job: &Job, taken: &[Taken]) -> Vec<Ranked> {
    let readings: Vec<_> = taken.iter().map(|t| (&t.reading, misreading(job, t.measurement.dimension))).collect();
    let faults = faults_of(job);
    let mut likelihoods = Vec::new();
    let mut strengths = Vec::new();
    for fault in &faults {
        let at = |ohms: Resistance| -> Vec<Predicted> {
            let of = |t: &Taken| predict(job, &t.measurement, fault, ohms, t.reading.resolution);
            // Without a steady state nothing is known of the reading: it counts as a slip would.
            taken.iter().map(|t| of(t).unwrap_or(nothing_known(t))).collect()
        };
        if let Some(range) = fault.strengths() {
            let marginal = over_strengths(range, &readings, at);
            let quantiles = [0.025, 0.5, 0.975].map(|share| marginal.quantile(share));
            let stands_for = [0.1, 0.3, 0.5, 0.7, 0.9].map(|share| marginal.quantile(share)).to_vec();
            likelihoods.push(marginal.evidence);
            strengths.push((Some(quantiles), stands_for));
        } else {
            let ways = ways(fault);
            let of = |ohms: &Resistance| -> f64 {
                readings.iter().zip(at(*ohms)).map(|((r, slip), p)| likelihood(r, p, *slip)).product()
            };
            let each: Vec<f64> = ways.iter().map(of).collect();
            likelihoods.push(each.iter().sum::<f64>() / each.len() as f64);
            strengths.push((None, ways));
        }
    }
    let weights: Vec<f64> = faults.iter().map(|fault| fault.weight).collect();
    let probabilities = posterior(&weights, &likelihoods);
    let together = faults.into_iter().zip(probabilities).zip(strengths);
    let mut ranked: Vec<Ranked> = together
        .map(|((fault, probability), (strength, stands_for))| Ranked { fault, probability, strength, stands_for })
        .collect();
    ranked.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    ranked
}

/// The ways in which a fault without a strength shows: a load may be too small or too large.
fn ways(fault: &Fault) -> Vec<Resistance> {
    match fault.kind {
        Kind::WrongLoad => vec![Resistance::ohms(0.5), Resistance::ohms(2.0)],
        _ => vec![Resistance::ohms(1.0)],
    }
}

fn nothing_known(taken: &Taken) -> Predicted {
    match taken.reading.value {
        Some(_) => Predicted::OverRange,
        None => Predicted::Value {
            mean: Amount::new(0.0, taken.measurement.dimension),
            standard: Amount::new(1.0, taken.measurement.dimension),
        },
    }
}

/// Whether a reading lies far from what the best fault predicts there.
fn unexplained(job: &Job, taken: &[Taken], ranked: &[Ranked]) -> bool {
    let Some(best) = ranked.first().filter(|_| !taken.is_empty()) else { return false };
    let ohms = best.strength.map_or_else(|| best.stands_for[0], |s| s[1]);
    taken.iter().any(|t| {
        let Some(Predicted::Value { mean, standard }) =
            predict(job, &t.measurement, &best.fault, ohms, t.reading.resolution)
        else {
            return false;
        };
        t.reading.value.is_some_and(|value| (value - mean.base()).abs() > 5.0 * standard.base())
    })
}

/// Readings of voltage that a person can take: each wire end, across each wire and each load, switches off and on.
fn candidates(job: &Job) -> Vec<Measurement> {
    let mut states = vec![State::all_on(job)];
    states.extend(
        job.switches
            .iter()
            .filter(|_| job.switches.len() > 1)
            .map(|switch| State { on: BTreeSet::from([switch.name.clone()]), ..State::rest() }),
    );
    states.push(State::rest());
    states.dedup();
    let minus = Terminal::battery_minus();
    let mut pairs: BTreeSet<(Terminal, Terminal)> = BTreeSet::new();
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
    let at = |state: &State, (red, black): &(Terminal, Terminal)| Measurement {
        dimension: Dimension::Voltage,
        probes: Probes::Between(red.clone(), black.clone()),
        state: state.clone(),
        rule: None,
    };
    states.iter().flat_map(|state| pairs.iter().map(move |pair| at(state, pair))).collect()
}

fn next_reading(job: &Job, taken: &[Taken], ranked: &[Ranked]) -> Option<Next> {
    let asked: Vec<&Ranked> = ranked.iter().take(IN_QUESTION).filter(|r| r.probability > FORLORN).collect();
    let total: f64 = asked.iter().map(|r| r.probability).sum();
    let p: Vec<f64> = asked.iter().map(|r| r.probability / total).collect();
    let state_now = taken.last().map(|t| &t.measurement.state);
    // The same reading again is no new evidence: the meter errs alike.
    let new =
        |m: &Measurement| !taken.iter().any(|t| t.measurement.probes == m.probes && t.measurement.state == m.state);
    let worth = |measurement: &Measurement, predicted: &[Vec<(f64, f64)>]| {
        if predicted.iter().any(Vec::is_empty) {
            return (0.0, 0.0);
        }
        let bits = bits_about(&p, predicted, misreading(job, measurement.dimension));
        let effort = if state_now.is_none_or(|now| *now == measurement.state) { 1.0 } else { 1.0 + CHANGE_OF_STATE };
        (bits, bits / effort)
    };
    let candidates: Vec<Measurement> = candidates(job).into_iter().filter(new).collect();
    let mut rough: Vec<(f64, Measurement)> = roughly_predicted(job, &asked, &candidates)
        .into_iter()
        .map(|(measurement, predicted)| (worth(&measurement, &predicted).1, measurement))
        .collect();
    rough.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    let mut best: Option<(f64, Next)> = None;
    for (_, measurement) in rough.into_iter().take(LOOKED_AT_CLOSELY) {
        let predicted: Predictions = asked
            .iter()
            .map(|ranked| {
                let of = |ohms: &Resistance| match predict(job, &measurement, &ranked.fault, *ohms, 0.0)? {
                    Predicted::Value { mean, standard } => Some((mean.base(), standard.base().max(LEAST_STANDARD))),
                    Predicted::OverRange => None,
                };
                ranked.stands_for.iter().filter_map(of).collect()
            })
            .collect();
        let (bits, worth) = worth(&measurement, &predicted);
        if bits > WORTH_TAKING && best.as_ref().is_none_or(|(most, _)| worth > *most + 1e-9) {
            let middle = |values: &Vec<(f64, f64)>| values.get(values.len() / 2).map(|(mean, _)| volts(*mean));
            let predicts = asked.iter().zip(&predicted).map(|(r, values)| (r.fault.clone(), middle(values))).collect();
            best = Some((worth, Next { measurement, bits, predicts }));
        }
    }
    best.map(|(_, next)| next)
}

/// What each fault, at each of its strengths, shows at each candidate: one solve for a state, without the meter's own
/// resistance, and with the uncertainty that the reading has where everything is as designed. It serves to leave out the
/// candidates that tell little; the rest is predicted in full.
fn roughly_predicted(job: &Job, asked: &[&Ranked], candidates: &[Measurement]) -> Vec<(Measurement, Predictions)> {
    let mut states: Vec<&State> = Vec::new();
    for candidate in candidates {
        if !states.contains(&&candidate.state) {
            states.push(&candidate.state);
        }
    }
    let solved: Vec<Vec<Vec<Option<Solution>>>> = states
        .iter()
        .map(|state| {
            let of = |ranked: &&Ranked| {
                let solve = |ohms: &Resistance| {
                    let (built, state) = ranked.fault.as_built(job, state, *ohms);
                    Circuit::of(&built).solve(&state).ok()
                };
                ranked.stands_for.iter().map(solve).collect()
            };
            asked.iter().map(of).collect()
        })
        .collect();
    let as_designed = Fault::as_designed();
    let mut found = Vec::new();
    for candidate in candidates {
        let Some(at) = states.iter().position(|state| **state == candidate.state) else { continue };
        let Probes::Between(red, black) = &candidate.probes else { continue };
        let healthy = predict(job, candidate, &as_designed, Resistance::ohms(1.0), 0.0);
        let Some(Predicted::Value { standard, .. }) = healthy else { continue };
        let standard = standard.base().max(LEAST_STANDARD);
        let between = |solution: &Option<Solution>| {
            let solution = solution.as_ref()?;
            Some(((solution.voltage(red)? - solution.voltage(black)?).as_volts(), standard))
        };
        let predicted = solved[at].iter().map(|of| of.iter().filter_map(between).collect()).collect();
        found.push((candidate.clone(), predicted));
    }
    found
}

fn volts(value: f64) -> Amount {
    Amount::new(value, Dimension::Voltage)
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
fn bits_about(p: &[f64], predicted: &[Vec<(f64, f64)>], slip: Misreading) -> f64 {
    let density = |y: f64, strengths: &[(f64, f64)]| {
        let one = |(mean, standard): &(f64, f64)| slip.density(y, *mean, *standard);
        strengths.iter().map(one).sum::<f64>() / strengths.len() as f64
    };
    let mut left = 0.0;
    for (own, strengths) in p.iter().zip(predicted) {
        for (mean, standard) in strengths {
            for (node, weight) in NORMAL {
                let y = mean + node * standard;
                let likelihoods: Vec<f64> = predicted.iter().map(|strengths| density(y, strengths)).collect();
                left += own * weight / strengths.len() as f64 * entropy(&posterior(p, &likelihoods));
            }
        }
    }
    (entropy(p) - left).max(0.0)
}
