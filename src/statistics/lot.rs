//! What a sampling plan lets pass.

use statrs::distribution::{DiscreteCDF, Hypergeometric};

/// The probability that a lot passes a plan: of `pieces`, `bad` ones among them, `sample` are taken at random and at most
/// `accepted` of these may be bad (hypergeometric distribution; NIST/SEMATECH e-Handbook 6.2.3.2). `None` where there are
/// more bad or tried pieces than pieces.
pub fn lot_passes(pieces: u64, bad: u64, sample: u64, accepted: u64) -> Option<f64> {
    Some(Hypergeometric::new(pieces, bad, sample).ok()?.cdf(accepted))
}

#[cfg(test)]
mod tests {
    use super::lot_passes;

    #[test]
    fn a_plan_that_tries_every_piece_lets_no_bad_one_pass() {
        assert_eq!(lot_passes(24, 0, 3, 0), Some(1.0));
        assert!(lot_passes(24, 1, 24, 0).unwrap() < 1e-12);
        assert_eq!(lot_passes(24, 25, 3, 0), None);
        assert_eq!(lot_passes(24, 2, 25, 0), None);
        // By hand: 21/24 · 20/23 · 19/22.
        let by_hand = 21.0 * 20.0 * 19.0 / (24.0 * 23.0 * 22.0);
        assert!((lot_passes(24, 3, 3, 0).unwrap() - by_hand).abs() < 1e-12);
    }
}
