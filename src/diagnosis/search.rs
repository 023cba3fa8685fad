//! The search for a fault: the faults ranked by all readings so far.

use super::evidence::{Misreading, Predicted, over_strengths};
use super::fault::{Fault, Range, Strength};
use super::information::posterior;
use super::likelihood::{Likelihood, Shared, likelihood, log_sum};
use super::model::faults_of;
use super::next::{Choice, Next};
use super::predict::{Questions, UNCHANGED};
use super::weights::Weights;
use crate::circuit::Dictionary;
use crate::job::Job;
use crate::plan::Measurement;
use crate::quantity::{Amount, Dimension, Reading, Resistance};

/// A reading that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Where, in which state.
    pub measurement: Measurement,
    /// What was read.
    pub reading: Reading,
    /// The instrument, where it is known by name.
    pub instrument: Option<String>,
}

/// A fault with what the readings say of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The fault.
    pub fault: Fault,
    /// Its share of all probability.
    pub probability: f64,
    /// Its resistance where it has one: 2.5 %, 50 % and 97.5 % of its distribution, given that the fault is there.
    pub ohms: Option<[Resistance; 3]>,
    /// Strengths to ask it with for the next reading, each with what the readings say of the shared values.
    pub(super) stands_for: Vec<(Strength, Shared)>,
    /// The readings that it does not explain, by their place.
    slips: Vec<usize>,
}

/// The state of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// The likeliest first.
    pub ranked: Vec<Ranked>,
    /// How many of the first ones no further reading can tell apart.
    pub group: usize,
    /// The reading to take next; `None` where none would tell more.
    pub next: Option<Next>,
    /// The readings, by their place, that the likeliest fault does not explain: to be taken again first. Where that
    /// changes nothing there are two faults, or one that is not on the list.
    pub unexplained: Vec<usize>,
}

/// How often a reading is a slip.
const SLIPS: f64 = 0.01;
/// So sure, and the search ends.
const SURE: f64 = 0.95;

/// What the readings say, and what to read next.
pub fn find(job: &Job, weights: &Weights, taken: &[Taken]) -> Findings {
    let dictionary = Dictionary::of(job);
    let mut ranked = ranked(job, &dictionary, weights, taken);
    let mut choice = Choice::of(job, &dictionary, taken, &ranked);
    let group = choice.gather(&mut ranked);
    let together: f64 = ranked.iter().take(group).map(|r| r.probability).sum();
    let next = if together >= SURE { None } else { choice.next(job, taken, &ranked) };
    let unexplained = ranked.first().map_or(Vec::new(), |first| first.slips.clone());
    Findings { ranked, group, next, unexplained }
}

pub(super) fn misreading(job: &Job, dimension: Dimension) -> Misreading {
    let span = match dimension {
        Dimension::Resistance => 1000.0,
        Dimension::Current => 40.0,
        _ => 2.0 * job.vehicle.system.as_volts(),
    };
    Misreading { share: SLIPS, span: Amount::new(span, dimension) }
}

/// The faults by what the readings say, the likeliest first.
pub fn rank(job: &Job, weights: &Weights, taken: &[Taken]) -> Vec<Ranked> {
    ranked(job, &Dictionary::of(job), weights, taken)
}

fn ranked(job: &Job, dictionary: &Dictionary, weights: &Weights, taken: &[Taken]) -> Vec<Ranked> {
    let asked = taken.iter().map(|one| (&one.measurement, one.instrument.as_deref(), one.reading.resolution));
    let questions = Questions::of(job, dictionary, asked);
    let readings: Vec<(&Reading, Misreading)> =
        taken.iter().map(|one| (&one.reading, misreading(job, one.measurement.dimension))).collect();
    let faults = faults_of(job, weights);
    let designed: Vec<Predicted> = questions
        .predict(&Fault::as_designed(), Strength::Times(1.0), &[])
        .into_iter()
        .zip(&readings)
        .map(|(predicted, (reading, _))| predicted.unwrap_or_else(|| nothing_known(reading)))
        .collect();
    let as_designed = likelihood(&readings, &designed);
    let glance = glance(&questions, &readings, &designed);
    let glances: Vec<Glance> = faults.iter().map(glance).collect();
    // The most promising first, so that the rest need not be looked at closely.
    let promise = |at: &usize| glances[*at].most + faults[*at].weight.ln();
    let mut order: Vec<usize> = (0..faults.len()).collect();
    order.sort_by(|a, b| promise(b).total_cmp(&promise(a)));
    let mut best = f64::NEG_INFINITY;
    let mut found: Vec<Option<Said>> = faults.iter().map(|_| None).collect();
    for at in order {
        let said = if !glances[at].shows {
            Said::nothing(&faults[at], &as_designed)
        } else if promise(&at) < best - HOPELESS {
            Said { log_evidence: glances[at].most, ..Said::nothing(&faults[at], &as_designed) }
        } else {
            said(&questions, &readings, &faults[at], &designed)
        };
        best = best.max(said.log_evidence + faults[at].weight.ln());
        found[at] = Some(said);
    }
    let said: Vec<Said> = found.into_iter().flatten().collect();
    let largest = said.iter().map(|said| said.log_evidence).fold(f64::NEG_INFINITY, f64::max);
    let likelihoods: Vec<f64> = said.iter().map(|said| (said.log_evidence - largest).exp()).collect();
    let weights: Vec<f64> = faults.iter().map(|fault| fault.weight).collect();
    let probabilities = posterior(&weights, &likelihoods);
    let mut ranked: Vec<Ranked> = faults
        .into_iter()
        .zip(probabilities)
        .zip(said)
        .map(|((fault, probability), said)| Ranked {
            fault,
            probability,
            ohms: said.ohms,
            stands_for: said.stands_for,
            slips: said.slips,
        })
        .collect();
    ranked.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    ranked
}

/// A fault whose bound lies so far below the best, in natural logarithms, keeps the bound: a share below one in a
/// million.
const HOPELESS: f64 = 15.0;
/// Strengths at which the bound looks.
const LOOKS: usize = 9;
/// A reading farther from all that a fault predicts, in standard uncertainties, does not fit it.
const DOES_NOT_FIT: f64 = 5.0;
/// How much of a change of a reading is as uncertain as the loads and contacts that it runs through.
const OF_A_CHANGE: f64 = 0.1;

/// What a fault shows at a first look.
struct Glance {
    /// Whether it changes any of the readings.
    shows: bool,
    /// About how high the logarithm of its evidence can be.
    most: f64,
}

/// Looks at a fault's nominal values alone: each reading that fits at some strength is as good as its uncertainty lets it
/// be, each that fits at none is a slip. No closer look finds more, whatever the shared values are.
///
/// It serves to leave out faults that are far off; the rest is looked at closely.
fn glance(
    questions: &Questions,
    readings: &[(&Reading, Misreading)],
    designed: &[Predicted],
) -> impl Fn(&Fault) -> Glance {
    let spread: Vec<Option<(f64, f64, f64)>> = designed
        .iter()
        .map(|predicted| match predicted {
            Predicted::Value { mean, standard, stray, moves } => {
                let own = standard.base().hypot(stray.base());
                Some((mean.base(), own, moves.iter().fold(own, |sum, m| sum.hypot(m.base()))))
            }
            Predicted::OverRange => None,
        })
        .collect();
    let best_density: Vec<f64> = readings
        .iter()
        .enumerate()
        .map(|(place, (reading, _))| {
            let alone = questions.meter_alone(place, reading.value.unwrap_or(0.0));
            -(alone * std::f64::consts::TAU.sqrt()).ln()
        })
        .collect();
    move |fault| {
        let ohms = |ohms| questions.nominal(fault, Strength::Ohms(ohms));
        let looks: Vec<Vec<Option<f64>>> = match fault.range() {
            Range::Ohms(strengths) => strengths.spread(LOOKS).map(ohms).collect(),
            Range::Times(all) => all.iter().map(|times| questions.nominal(fault, Strength::Times(*times))).collect(),
        };
        // Between neighbouring strengths a reading may show anything between the two; a list of ways has no between.
        let step = usize::from(matches!(fault.range(), Range::Ohms(_)));
        let mut shows = false;
        let mut most = f64::NEG_INFINITY;
        for (from, to) in (0..looks.len() - step).map(|from| (&looks[from], &looks[from + step])) {
            let mut sum = 0.0;
            for (place, (reading, slip)) in readings.iter().enumerate() {
                let (Some((mean, own, all)), Some(a), Some(b)) = (spread[place], from[place], to[place]) else {
                    // A path that is there or not: as good as can be.
                    shows = true;
                    sum += best_density[place].max(0.0);
                    continue;
                };
                let changed = (a - mean).abs().max((b - mean).abs());
                let is_changed = changed >= UNCHANGED * own;
                shows |= is_changed;
                let Some(value) = reading.value else { continue };
                let off = (a.min(b) - value).max(value - a.max(b)).max(0.0) / all.hypot(OF_A_CHANGE * changed);
                sum += match () {
                    () if off > DOES_NOT_FIT => slip.anywhere().ln(),
                    () if is_changed => best_density[place],
                    () => -(own * std::f64::consts::TAU.sqrt()).ln(),
                };
            }
            most = most.max(sum);
        }
        Glance { shows, most }
    }
}

/// What the readings say of one fault.
struct Said {
    log_evidence: f64,
    ohms: Option<[Resistance; 3]>,
    stands_for: Vec<(Strength, Shared)>,
    slips: Vec<usize>,
}

impl Said {
    /// Of a fault of which the readings say nothing: each of its strengths is as likely as before.
    fn nothing(fault: &Fault, as_designed: &Likelihood) -> Self {
        let same = |strength| (strength, as_designed.shared.clone());
        let (stands_for, ohms) = match fault.range() {
            Range::Ohms(strengths) => {
                let all: Vec<Resistance> = strengths.spread(41).collect();
                let stands_for = [4, 12, 20, 28, 36].map(|at| same(Strength::Ohms(all[at]))).to_vec();
                (stands_for, Some([all[1], all[20], all[39]]))
            }
            Range::Times(all) => (all.iter().map(|times| same(Strength::Times(*times))).collect(), None),
        };
        Self { log_evidence: as_designed.log, ohms, stands_for, slips: as_designed.slips.clone() }
    }
}

fn said(questions: &Questions, readings: &[(&Reading, Misreading)], fault: &Fault, designed: &[Predicted]) -> Said {
    let at = |strength: Strength| -> Vec<Predicted> {
        let predicted = questions.predict(fault, strength, designed);
        // Without a steady state nothing is known of the reading: it counts as a slip would.
        readings.iter().zip(predicted).map(|((reading, _), p)| p.unwrap_or_else(|| nothing_known(reading))).collect()
    };
    match fault.range() {
        Range::Ohms(strengths) => {
            let marginal = over_strengths(strengths, readings, |ohms| at(Strength::Ohms(ohms)));
            let quantile = |share| marginal.quantile(share);
            let likely = |share| {
                let strength = Strength::Ohms(quantile(share));
                (strength, likelihood(readings, &at(strength)))
            };
            let each = [0.1, 0.3, 0.5, 0.7, 0.9].map(likely);
            let slips = each[2].1.slips.clone();
            let stands_for = each.into_iter().map(|(strength, likely)| (strength, likely.shared)).collect();
            let ohms = Some([0.025, 0.5, 0.975].map(quantile));
            Said { log_evidence: marginal.log_evidence, ohms, stands_for, slips }
        }
        Range::Times(all) => {
            let each: Vec<_> = all.iter().map(|times| Strength::Times(*times)).collect();
            let likely: Vec<_> = each.iter().map(|strength| likelihood(readings, &at(*strength))).collect();
            let logs: Vec<f64> = likely.iter().map(|likely| likely.log).collect();
            let most = log_sum(&logs);
            let best = (0..logs.len()).max_by(|a, b| logs[*a].total_cmp(&logs[*b])).unwrap_or(0);
            let slips = likely.get(best).map_or(Vec::new(), |likely| likely.slips.clone());
            // A way that the readings have ruled out asks no more.
            let kept = each.into_iter().zip(likely).filter(|(_, likely)| likely.log > most - 5.0);
            let stands_for = kept.map(|(strength, likely)| (strength, likely.shared)).collect();
            Said { log_evidence: most - (logs.len() as f64).ln(), ohms: None, stands_for, slips }
        }
    }
}

fn nothing_known(reading: &Reading) -> Predicted {
    let zero = Amount::new(0.0, reading.dimension);
    match reading.value {
        Some(_) => Predicted::OverRange,
        None => Predicted::Value { mean: zero, standard: zero.with(1.0), stray: zero, moves: Vec::new() },
    }
}
