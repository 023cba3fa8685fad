//! The search for a fault: the faults ranked by all readings so far.

use super::evidence::{Misreading, Predicted, over_strengths};
use super::fault::{Fault, Range, Strength};
use super::information::posterior;
use super::likelihood::{Shared, likelihood, log_sum};
use super::model::faults_of;
use super::next::{Next, next_reading, same_group};
use super::predict::{Asked, predict};
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
    let mut ranked = rank(job, &dictionary, weights, taken);
    let group = same_group(job, &dictionary, &mut ranked, taken);
    let together: f64 = ranked.iter().take(group).map(|r| r.probability).sum();
    let next = if together >= SURE { None } else { next_reading(job, &dictionary, taken, &ranked) };
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
fn rank(job: &Job, dictionary: &Dictionary, weights: &Weights, taken: &[Taken]) -> Vec<Ranked> {
    let mut readings = Vec::new();
    let mut asked = Vec::new();
    for one in taken {
        let instrument = one.instrument.as_deref();
        if let Some(of) = Asked::of(job, &one.measurement, instrument, one.reading.resolution) {
            asked.push(of);
            readings.push((&one.reading, misreading(job, one.measurement.dimension)));
        }
    }
    let faults = faults_of(job, weights);
    let said: Vec<Said> = faults.iter().map(|fault| said(job, dictionary, &asked, &readings, fault)).collect();
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

/// What the readings say of one fault.
struct Said {
    log_evidence: f64,
    ohms: Option<[Resistance; 3]>,
    stands_for: Vec<(Strength, Shared)>,
    slips: Vec<usize>,
}

fn said(
    job: &Job,
    dictionary: &Dictionary,
    asked: &[Asked],
    readings: &[(&Reading, Misreading)],
    fault: &Fault,
) -> Said {
    let at = |strength: Strength| -> Vec<Predicted> {
        let predicted = predict(job, dictionary, asked, fault, strength);
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
