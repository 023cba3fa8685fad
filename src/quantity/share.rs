use super::parse::{QuantityError, parse_plain};
use super::{Dimension, show};

/// A share of a whole, such as the charge that is left in a battery: 0 is none of it, 1 all of it.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Share(f64);

impl Share {
    /// From a fraction, which is brought into 0 to 1.
    pub const fn of(fraction: f64) -> Self {
        Self(fraction.clamp(0.0, 1.0))
    }

    /// From per cent, which is brought into 0 to 100.
    pub const fn percent(percent: f64) -> Self {
        Self::of(percent / 100.0)
    }

    /// The fraction, 0 to 1.
    pub const fn fraction(self) -> f64 {
        self.0
    }

    /// Per cent, 0 to 100.
    pub const fn as_percent(self) -> f64 {
        self.0 * 100.0
    }

    /// Reads `50 %`.
    ///
    /// # Errors
    /// [`QuantityError`] where it is no number with `%`, or lies outside 0 to 100 %.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        const HELP: &str = "write it in per cent of a full battery, such as 50 %";
        let all = 0..text.len();
        let Some(number) = text.trim_end().strip_suffix('%') else {
            return Err(QuantityError::new(all, "this is not a share", HELP));
        };
        let percent = parse_plain(number, Dimension::Count, None)?.value;
        if (0.0..=100.0).contains(&percent) {
            Ok(Self::percent(percent))
        } else {
            Err(QuantityError::new(all, "a share lies between 0 % and 100 %", HELP))
        }
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = self.as_percent();
        // Below one per cent a whole number would say nothing.
        f.pad(&if percent > 0.0 && percent < 1.0 { format!("{percent:.1} %") } else { format!("{percent:.0} %") })
    }
}

impl Share {
    /// The range to a greater share, in words: `45 to 60 %`.
    pub fn range_to(self, high: Share) -> String {
        let (low, high) = (self.as_percent().round(), high.as_percent().round());
        let shown = |percent: f64| show(percent, Dimension::Count);
        if low.total_cmp(&high).is_eq() {
            format!("{} %", shown(low))
        } else {
            format!("{} to {} %", shown(low), shown(high))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_written_in_per_cent_and_lies_within_the_whole() {
        assert!((Share::parse("50 %").unwrap().fraction() - 0.5).abs() < 1e-12);
        assert!((Share::parse(" 12,5% ").unwrap().as_percent() - 12.5).abs() < 1e-12);
        for text in ["50", "120 %", "-1 %", "%", "x %", "5 V %"] {
            assert!(Share::parse(text).is_err(), "{text}");
        }
        assert_eq!(Share::percent(12.4).to_string(), "12 %");
        assert_eq!(Share::percent(44.6).range_to(Share::percent(90.2)), "45 to 90 %");
        assert_eq!(Share::percent(44.6).range_to(Share::percent(45.2)), "45 %");
    }
}
