use super::{Quantity, show_with_sign};

/// A value and how far the true value may lie to either side of it.
///
/// The allowance is a size, never negative. A range `a..b` is held with its middle as nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Toleranced<Q> {
    /// The stated value.
    pub nominal: Q,
    allowance: Q,
}

impl<Q: Quantity> Toleranced<Q> {
    /// A value taken as exact.
    pub fn exact(nominal: Q) -> Self {
        Self { nominal, allowance: Q::from_base(0.0) }
    }

    /// A value with the same allowance on both sides.
    pub fn plus_minus(nominal: Q, allowance: Q) -> Self {
        Self { nominal, allowance: Q::from_base(allowance.base().abs()) }
    }

    /// From the two ends; the nominal value is the middle.
    pub fn between(low: Q, high: Q) -> Self {
        let (low, high) = (low.base().min(high.base()), low.base().max(high.base()));
        Self::plus_minus(Q::from_base(f64::midpoint(low, high)), Q::from_base((high - low) / 2.0))
    }

    /// The least value within the tolerance.
    pub fn low(&self) -> Q {
        Q::from_base(self.nominal.base() - self.allowance.base())
    }

    /// The greatest value within the tolerance.
    pub fn high(&self) -> Q {
        Q::from_base(self.nominal.base() + self.allowance.base())
    }

    /// Half the distance from low to high.
    pub fn half_width(&self) -> Q {
        self.allowance
    }
}

impl<Q: Quantity> std::fmt::Display for Toleranced<Q> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&show_with_sign(self.nominal.base(), self.half_width().base(), Q::DIMENSION))
    }
}
