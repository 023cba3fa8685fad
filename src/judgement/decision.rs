//! Conformity decided with the uncertainty of the reading (JCGM 106, ISO 14253-1, ILAC-G8).

use crate::job::Acceptance;
use crate::quantity::Amount;
use crate::statistics::normal_below;

/// Coverage factor of an expanded uncertainty.
const COVERAGE: f64 = 2.0;

/// Simple acceptance needs an expanded uncertainty of at most this share of the room up to a limit (a test uncertainty
/// ratio of 4 to 1, JCGM 106 clause 8.2).
const FINE_ENOUGH: f64 = 0.25;

/// A reading with what its instrument may be off by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// What was read.
    pub value: Amount,
    /// The largest error of the instrument there: a bound.
    pub largest_error: Amount,
}

impl Measured {
    /// Standard uncertainty: anything within the bound is equally likely (GUM 4.3.7).
    pub fn standard_uncertainty(self) -> Amount {
        self.value.with(self.largest_error.base() / 3f64.sqrt())
    }

    /// Expanded uncertainty with k = 2.
    pub fn expanded_uncertainty(self) -> Amount {
        self.value.with(COVERAGE * self.standard_uncertainty().base())
    }

    /// Probability that the true value lies within limits, by a normal distribution (JCGM 106 clause 7).
    pub fn probability_within(self, low: Option<Amount>, high: Option<Amount>) -> f64 {
        probability_within(self.value, self.standard_uncertainty(), low, high)
    }
}

/// Probability that a true value lies within limits, given its estimate and standard uncertainty (JCGM 106 clause 7).
pub fn probability_within(value: Amount, standard: Amount, low: Option<Amount>, high: Option<Amount>) -> f64 {
    let (value, u) = (value.base(), standard.base());
    if u <= 0.0 {
        let inside = low.is_none_or(|low| value >= low.base()) && high.is_none_or(|high| value <= high.base());
        return if inside { 1.0 } else { 0.0 };
    }
    let up_to = |limit: Option<Amount>, open: f64| limit.map_or(open, |limit| normal_below((limit.base() - value) / u));
    (up_to(high, 1.0) - up_to(low, 0.0)).clamp(0.0, 1.0)
}

/// How a reading near a limit is decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// The limit itself decides.
    Simple,
    /// The limit itself decides where the instrument is fine enough for it: for readings that protect people.
    Strict,
    /// The limit is kept by the whole guard band.
    Guarded,
}

impl How {
    /// For the rule that a job chose, and whether the reading protects people.
    pub fn of(acceptance: Acceptance, protects: bool) -> Self {
        match acceptance {
            Acceptance::Guarded => Self::Guarded,
            Acceptance::Simple if protects => Self::Strict,
            Acceptance::Simple => Self::Simple,
        }
    }
}

/// What a reading says about a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Decision {
    /// It keeps the limit.
    Accept,
    /// It lies too near to the limit for this instrument.
    Undecided,
    /// It breaks the limit.
    Reject,
}

/// Decides on a value with its guard band (the expanded uncertainty, as a rule) against limits.
///
/// Guarded: accepted where it keeps each limit by the guard band, rejected where it breaks one by the guard band.
/// Simple: the limit itself decides. Strict: the same, but where the guard band is more than a quarter of the `room` (the
/// distance from what is expected to the limit), a value nearer to the limit than its guard band stays undecided.
pub fn decide(
    value: Amount,
    guard_band: Amount,
    (low, high): (Option<Amount>, Option<Amount>),
    how: How,
    room: Amount,
) -> Decision {
    let inside = |limit: Amount, sign: f64| sign * (limit.base() - value.base());
    let nearest = [low.map(|low| inside(low, -1.0)), high.map(|high| inside(high, 1.0))];
    let Some(distance) = nearest.into_iter().flatten().min_by(f64::total_cmp) else { return Decision::Accept };
    let guard = guard_band.base();
    // A value on the limit keeps it, whatever the last bit of the arithmetic says.
    let grain = 1e-12 * value.base().abs();
    match how {
        How::Guarded if distance + grain >= guard => Decision::Accept,
        How::Guarded if distance < -guard => Decision::Reject,
        How::Guarded => Decision::Undecided,
        How::Simple | How::Strict => {
            let coarse = guard > FINE_ENOUGH * room.base();
            if how == How::Strict && coarse && distance.abs() < guard {
                Decision::Undecided
            } else if distance + grain >= 0.0 {
                Decision::Accept
            } else {
                Decision::Reject
            }
        }
    }
}

/// Whether an instrument can decide about a limit where the value is as expected: its expanded uncertainty is at most a
/// quarter of the room.
pub fn can_decide(guard_band: Amount, room: Amount) -> bool {
    guard_band.base() <= FINE_ENOUGH * room.base()
}

/// How far a reading and an expectation lie apart, in their common expanded uncertainty: up to 1 they agree (E_n of
/// ISO 13528).
pub fn agreement(reading: Measured, expected: Amount, expanded: Amount) -> f64 {
    let both = reading.expanded_uncertainty().base().hypot(expanded.base());
    (reading.value.base() - expected.base()).abs() / both
}
