use super::parse::{QuantityError, parse_plain};
use super::{Angle, Dimension, Length};

/// How steeply a beam falls: metres down for each metre forward. Level is 0, a rising beam is negative.
///
/// A lamp's tilt is written in per cent (1 % is 1 cm in each metre) or in degrees below the horizontal.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Slope(f64);

/// The steepest slope that is read: 89.9 degrees. Straight down nothing is said by a distance forward.
const STEEPEST: f64 = 573.0;

impl Slope {
    /// From metres down for each metre forward.
    pub const fn ratio(ratio: f64) -> Self {
        Self(ratio)
    }

    /// From per cent: 1 is 1 cm down in each metre.
    pub const fn percent(percent: f64) -> Self {
        Self(percent / 100.0)
    }

    /// From degrees below the horizontal.
    pub fn angle(angle: Angle) -> Self {
        Self(angle.as_degrees().to_radians().tan())
    }

    /// From a height that is lost on a way.
    pub fn of(drop: Length, distance: Length) -> Self {
        Self(drop / distance)
    }

    /// Metres down for each metre forward.
    pub const fn as_ratio(self) -> f64 {
        self.0
    }

    /// Per cent.
    pub const fn as_percent(self) -> f64 {
        self.0 * 100.0
    }

    /// Degrees below the horizontal.
    pub fn as_angle(self) -> Angle {
        Angle::degrees(self.0.atan().to_degrees())
    }

    /// Reads `1 %`, `0.57 °`, `0.57 deg`; a minus sign stands for a beam that rises.
    ///
    /// # Errors
    /// [`QuantityError`] with the place, where it is neither, carries a tolerance, or is straight down or up.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        const HELP: &str = "write a tilt below the horizontal in per cent or degrees, such as 1 % or 0.57 °";
        let all = 0..text.len();
        if text.contains('±') || text.contains("+/-") || text.contains("..") {
            return Err(QuantityError::new(all, "a tilt is one value, without a tolerance or a range", HELP));
        }
        let slope = if let Some(number) = text.trim_end().strip_suffix('%') {
            let number = number.trim_end();
            if !number.ends_with(|c: char| c.is_ascii_digit()) {
                return Err(QuantityError::new(all, "a tilt in per cent is a number and %", HELP));
            }
            Self::percent(parse_plain(number, Dimension::Count, None)?.value)
        } else {
            let degrees = parse_plain(text, Dimension::Angle, None)
                .map_err(|error| QuantityError::new(error.at, error.says, HELP))?
                .value;
            if degrees.abs() >= 90.0 {
                return Err(QuantityError::new(all, "a beam tilts by less than 90°", HELP));
            }
            Self::angle(Angle::degrees(degrees))
        };
        if slope.0.abs() > STEEPEST {
            return Err(QuantityError::new(all, "this beam is as good as straight up or down", HELP));
        }
        Ok(slope)
    }
}

impl std::fmt::Display for Slope {
    /// In both units: `1.00 % (0.57°)`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let places = |size: f64| if size.abs() < 10.0 { 2 } else { 1 };
        let (percent, degrees) = (self.as_percent() + 0.0, self.as_angle().as_degrees() + 0.0);
        f.pad(&format!("{percent:.*} % ({degrees:.*}°)", places(percent), places(degrees)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tilt_is_read_in_per_cent_or_degrees() {
        assert!((Slope::parse("1 %").unwrap().as_ratio() - 0.01).abs() < 1e-15);
        assert!((Slope::parse("-0,5%").unwrap().as_percent() + 0.5).abs() < 1e-12);
        assert!((Slope::parse("45 °").unwrap().as_percent() - 100.0).abs() < 1e-9);
        assert!((Slope::parse("15 deg").unwrap().as_angle().as_degrees() - 15.0).abs() < 1e-9);
        assert_eq!(Slope::parse("1 %").unwrap().to_string(), "1.00 % (0.57°)");
        assert_eq!(Slope::parse("15°").unwrap().to_string(), "26.8 % (15.0°)");
    }

    #[test]
    fn what_is_no_tilt_is_refused() {
        for text in ["", "1", "1 m", "90 °", "1 % ± 0.2 %", "1 % ± 10 %", "1..2 %", "1 x %", "%", "99999 %", "1 V"] {
            let error = Slope::parse(text).expect_err(text);
            assert!(error.at.end <= text.len() && !error.help.is_empty(), "{text}");
        }
    }
}
