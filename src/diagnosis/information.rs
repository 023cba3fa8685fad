//! Entropy and what a reading is expected to take away of it (Shannon; de Kleer and Williams, Artificial Intelligence 32
//! (1987), for the choice of the next probe).

/// Entropy of a distribution in bits. Values that are no probability count as none.
pub fn entropy(probabilities: &[f64]) -> f64 {
    probabilities.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum()
}

/// Bayes' rule: the weights of hypotheses after something was seen that each makes likely by so much. They sum to one;
/// where nothing explains what was seen, they stay as they were.
pub fn posterior(weights: &[f64], likelihoods: &[f64]) -> Vec<f64> {
    let joint: Vec<f64> = weights.iter().zip(likelihoods).map(|(w, l)| w * l).collect();
    let total: f64 = joint.iter().sum();
    if total > 0.0 {
        return joint.iter().map(|j| j / total).collect();
    }
    let total: f64 = weights.iter().sum();
    weights.iter().map(|w| w / total).collect()
}

/// Entropy in bits that is left, on average, after a reading with these outcomes.
///
/// `outcomes` holds for each outcome its probability (or, for a fine division of a range, its share) under each
/// hypothesis; over all outcomes these sum to one for each hypothesis.
pub fn expected_entropy(probabilities: &[f64], outcomes: &[Vec<f64>]) -> f64 {
    outcomes
        .iter()
        .map(|likelihoods| {
            let chance: f64 = probabilities.iter().zip(likelihoods).map(|(p, l)| p * l).sum();
            if chance <= 0.0 { 0.0 } else { chance * entropy(&posterior(probabilities, likelihoods)) }
        })
        .sum()
}

/// Bits about the hypotheses that a reading with these outcomes is expected to bring; never negative.
pub fn gain(probabilities: &[f64], outcomes: &[Vec<f64>]) -> f64 {
    (entropy(probabilities) - expected_entropy(probabilities, outcomes)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn no_reading_loses_information_and_none_brings_more_than_there_is(
            weights in proptest::collection::vec(0.01f64..1.0, 2..8),
            passes in proptest::collection::vec(0.0f64..1.0, 8),
        ) {
            let total: f64 = weights.iter().sum();
            let p: Vec<f64> = weights.iter().map(|w| w / total).collect();
            let pass = passes[..p.len()].to_vec();
            let fail: Vec<f64> = pass.iter().map(|x| 1.0 - x).collect();
            let left = expected_entropy(&p, &[pass, fail]);
            proptest::prop_assert!(left <= entropy(&p) + 1e-12);
            proptest::prop_assert!(left >= 0.0);
        }

        #[test]
        fn a_reading_that_all_make_alike_changes_nothing(weights in proptest::collection::vec(0.01f64..1.0, 2..8)) {
            let total: f64 = weights.iter().sum();
            let p: Vec<f64> = weights.iter().map(|w| w / total).collect();
            let after = posterior(&p, &vec![0.3; p.len()]);
            for (before, after) in p.iter().zip(&after) {
                proptest::prop_assert!((before - after).abs() < 1e-12);
            }
        }

        #[test]
        fn the_order_of_readings_and_the_scale_of_the_weights_do_not_matter(
            weights in proptest::collection::vec(0.01f64..1.0, 3),
            first in proptest::collection::vec(0.01f64..1.0, 3),
            second in proptest::collection::vec(0.01f64..1.0, 3),
            scale in 0.1f64..10.0,
        ) {
            let scaled: Vec<f64> = weights.iter().map(|w| w * scale).collect();
            let one = posterior(&posterior(&weights, &first), &second);
            let other = posterior(&posterior(&scaled, &second), &first);
            for (a, b) in one.iter().zip(&other) {
                proptest::prop_assert!((a - b).abs() < 1e-12);
            }
            proptest::prop_assert!((one.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn what_nothing_explains_leaves_the_weights_as_they_were() {
        assert_eq!(posterior(&[1.0, 3.0], &[0.0, 0.0]), vec![0.25, 0.75]);
    }
}
