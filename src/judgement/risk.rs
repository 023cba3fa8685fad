//! What a rule of acceptance does in the long run: how often a bad item is accepted and a good one rejected, given how
//! the items are spread (JCGM 106 clause 9).

use crate::quantity::Amount;
use crate::statistics::simpson;

/// Global risks of a rule of acceptance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    /// Probability that an item lies outside its limits and is accepted.
    pub consumer: f64,
    /// Probability that an item lies within its limits and is rejected.
    pub producer: f64,
}

/// Limits; an open side has none.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Least value.
    pub low: Option<Amount>,
    /// Greatest value.
    pub high: Option<Amount>,
}

impl Limits {
    fn holds(self, value: f64) -> bool {
        self.low.is_none_or(|low| value >= low.base()) && self.high.is_none_or(|high| value <= high.base())
    }
}

/// Risks for items spread with a `density` that is negligible outside `from..to`, measured with a normal `uncertainty`
/// (standard), for limits of tolerance and of acceptance. Integrated by Simpson's rule, piece by piece between the limits.
pub fn global(
    density: impl Fn(f64) -> f64,
    (from, to): (Amount, Amount),
    uncertainty: Amount,
    tolerance: Limits,
    acceptance: Limits,
) -> Risks {
    let accepted = |value: f64| {
        super::decision::probability_within(uncertainty.with(value), uncertainty, acceptance.low, acceptance.high)
    };
    let inner = [tolerance.low, tolerance.high].into_iter().flatten().map(Amount::base);
    let inner = inner.filter(|limit| (from.base()..to.base()).contains(limit));
    let mut edges: Vec<f64> = std::iter::once(from.base()).chain(inner).chain([to.base()]).collect();
    edges.sort_by(f64::total_cmp);
    let mut risks = Risks { consumer: 0.0, producer: 0.0 };
    for piece in edges.windows(2) {
        let within = tolerance.holds(f64::midpoint(piece[0], piece[1]));
        let wrong = |value: f64| density(value) * if within { 1.0 - accepted(value) } else { accepted(value) };
        let share = simpson(piece[0], piece[1], wrong);
        if within {
            risks.producer += share;
        } else {
            risks.consumer += share;
        }
    }
    risks
}
