//! The order of tests that each pass or fail: looking one test ahead, or the cheapest order of all.
//!
//! The cheapest order is a search over sets of hypotheses and therefore for few of them (NP-hard in general: Raghavan,
//! Shakeri, Pattipati, IEEE Trans. SMC-A 29(2), 1999). It is for the end of a search, when few groups are left.

use std::collections::HashMap;

use super::information::gain;

/// A test that each hypothesis surely passes or surely fails.
#[derive(Debug, Clone, PartialEq)]
pub struct PassOrFail {
    /// For each hypothesis, whether it fails.
    pub fails: Vec<bool>,
    /// What it costs: effort, in any unit that all tests share.
    pub cost: f64,
}

/// What to test first, and what the whole search then costs on average.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sequence {
    /// Place of the first test in the list; `None` where no test splits what is left.
    pub first: Option<usize>,
    /// Expected cost up to where nothing can be split further.
    pub cost: f64,
}

/// More hypotheses than this are not searched for the cheapest order.
pub const FEW: usize = 16;

/// The test with the most bits for its cost, and the expected cost of always choosing so.
///
/// # Panics
/// Never: tests that say nothing about a hypothesis count as passed by it.
pub fn one_step_ahead(probabilities: &[f64], tests: &[PassOrFail]) -> Sequence {
    greedy(probabilities, tests, &(0..probabilities.len()).collect::<Vec<_>>())
}

fn fails(test: &PassOrFail, hypothesis: usize) -> bool {
    test.fails.get(hypothesis).copied().unwrap_or(false)
}

fn split(test: &PassOrFail, left: &[usize]) -> Option<(Vec<usize>, Vec<usize>)> {
    let (failing, passing): (Vec<usize>, Vec<usize>) = left.iter().partition(|h| fails(test, **h));
    (!failing.is_empty() && !passing.is_empty()).then_some((failing, passing))
}

fn share(probabilities: &[f64], of: &[usize]) -> f64 {
    of.iter().map(|h| probabilities[*h]).sum()
}

fn greedy(probabilities: &[f64], tests: &[PassOrFail], left: &[usize]) -> Sequence {
    let whole = share(probabilities, left);
    let mut best: Option<(f64, usize)> = None;
    for (index, test) in tests.iter().enumerate() {
        if split(test, left).is_none() {
            continue;
        }
        let own: Vec<f64> = left.iter().map(|h| probabilities[*h] / whole).collect();
        let fail: Vec<f64> = left.iter().map(|h| f64::from(u8::from(fails(test, *h)))).collect();
        let pass: Vec<f64> = fail.iter().map(|f| 1.0 - f).collect();
        let worth = gain(&own, &[fail, pass]) / test.cost;
        if best.is_none_or(|(most, _)| worth > most) {
            best = Some((worth, index));
        }
    }
    let Some((_, first)) = best else { return Sequence { first: None, cost: 0.0 } };
    let sides = split(&tests[first], left).map_or([Vec::new(), Vec::new()], |(fail, pass)| [fail, pass]);
    let then: f64 =
        sides.iter().map(|side| share(probabilities, side) / whole * greedy(probabilities, tests, side).cost).sum();
    Sequence { first: Some(first), cost: tests[first].cost + then }
}

/// The cheapest order of tests, found exactly. `None` for more than sixteen hypotheses.
pub fn cheapest(probabilities: &[f64], tests: &[PassOrFail]) -> Option<Sequence> {
    if probabilities.len() > FEW {
        return None;
    }
    let all: Vec<usize> = (0..probabilities.len()).collect();
    Some(exact(probabilities, tests, &all, &mut HashMap::new()))
}

fn exact(
    probabilities: &[f64],
    tests: &[PassOrFail],
    left: &[usize],
    known: &mut HashMap<Vec<usize>, Sequence>,
) -> Sequence {
    if let Some(sequence) = known.get(left) {
        return *sequence;
    }
    let whole = share(probabilities, left);
    let mut best = Sequence { first: None, cost: 0.0 };
    for (index, test) in tests.iter().enumerate() {
        let Some((failing, passing)) = split(test, left) else { continue };
        let then: f64 = [failing, passing]
            .iter()
            .map(|side| share(probabilities, side) / whole * exact(probabilities, tests, side, known).cost)
            .sum();
        let cost = test.cost + then;
        if best.first.is_none() || cost < best.cost {
            best = Sequence { first: Some(index), cost };
        }
    }
    known.insert(left.to_vec(), best);
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tests_that_split_nothing_end_the_search() {
        let blind = PassOrFail { fails: vec![true, true], cost: 1.0 };
        let none = Sequence { first: None, cost: 0.0 };
        assert_eq!(cheapest(&[0.5, 0.5], std::slice::from_ref(&blind)), Some(none));
        assert_eq!(one_step_ahead(&[0.5, 0.5], &[blind]), none);
    }

    #[test]
    fn a_dear_test_waits_for_a_cheap_one_that_tells_the_same() {
        let test = |cost| PassOrFail { fails: vec![true, false], cost };
        assert_eq!(cheapest(&[0.5, 0.5], &[test(5.0), test(1.0)]).unwrap().first, Some(1));
        assert_eq!(one_step_ahead(&[0.5, 0.5], &[test(5.0), test(1.0)]).first, Some(1));
    }

    #[test]
    fn too_many_hypotheses_are_not_searched() {
        assert_eq!(cheapest(&[0.05; 20], &[]), None);
    }

    proptest::proptest! {
        #[test]
        fn the_cheapest_order_never_costs_more_than_looking_one_step_ahead(
            weights in proptest::collection::vec(0.01f64..1.0, 5),
            bits in proptest::collection::vec(proptest::collection::vec(proptest::bool::ANY, 5), 1..6),
        ) {
            let total: f64 = weights.iter().sum();
            let p: Vec<f64> = weights.iter().map(|w| w / total).collect();
            let tests: Vec<PassOrFail> = bits.into_iter().map(|fails| PassOrFail { fails, cost: 1.0 }).collect();
            let best = cheapest(&p, &tests).unwrap();
            proptest::prop_assert!(best.cost <= one_step_ahead(&p, &tests).cost + 1e-12);
        }
    }
}
