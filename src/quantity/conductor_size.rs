use super::parse::{QuantityError, parse_plain};
use super::{Area, Dimension, Length};

/// The size of a conductor as it is printed on the reel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ConductorSize {
    /// Nominal cross-section in mm². The copper of a metric cable is 9 to 14 % less (IEC 60228 class 5).
    Metric(Area),
    /// American wire gauge; 1/0 is 0, 2/0 is -1, 3/0 is -2, 4/0 is -3.
    Awg(i8),
}

impl ConductorSize {
    /// Reads `4 mm²`, `4mm2`, `12 AWG`, `AWG 12`, `2/0 AWG`.
    ///
    /// # Errors
    /// [`QuantityError`] with the place; a size in plain `mm` is refused, since the trade uses it for an
    /// outside diameter and a person who types it may hold half the copper (workmanship of cable labels:
    /// a 4 mm cable has 1.84 mm² of copper).
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let upper = text.trim().to_ascii_uppercase();
        if let Some(gauge) = upper.strip_suffix("AWG").or_else(|| upper.strip_prefix("AWG")) {
            let all = 0..text.len();
            return parse_gauge(gauge.trim()).map(Self::Awg).ok_or_else(|| {
                QuantityError::new(all, "this is not a wire gauge", "gauges run from 30 AWG to 4/0 AWG, such as 12 AWG")
            });
        }
        if parse_plain(text, Dimension::Length, None).is_ok() {
            return Err(QuantityError::new(
                0..text.len(),
                "a size in mm is an outside diameter, not the copper",
                "read the cross-section off the reel and write it in mm², such as 4 mm²",
            ));
        }
        let area = Area::mm2(parse_plain(text, Dimension::Area, None)?.value);
        if (0.05..=500.0).contains(&area.as_mm2()) {
            Ok(Self::Metric(area))
        } else {
            Err(QuantityError::new(0..text.len(), "no vehicle wire has this size", "sizes run from 0.05 to 500 mm²"))
        }
    }

    /// Diameter of the solid round conductor of this gauge or area.
    ///
    /// AWG: 0.127 mm · 92^((36 − n)/39) (ASTM B258).
    pub fn diameter(self) -> Length {
        match self {
            Self::Awg(n) => Length::metres(0.127e-3 * 92f64.powf((36.0 - f64::from(n)) / 39.0)),
            Self::Metric(area) => Length::metres(1e-3 * (4.0 * area.as_mm2() / std::f64::consts::PI).sqrt()),
        }
    }

    /// Cross-section of the conductor: by geometry for a gauge, the nominal label for a metric size.
    pub fn area(self) -> Area {
        match self {
            Self::Metric(area) => area,
            Self::Awg(_) => {
                let millimetres = self.diameter().as_metres() * 1e3;
                Area::mm2(std::f64::consts::PI * millimetres * millimetres / 4.0)
            }
        }
    }

    /// Whether this conductor counts for another size: its copper reaches 95 % of the other's. 0.75 mm² (0.66 mm² of
    /// copper at the least) is no 18 AWG, 1.5 mm² is a 16 AWG, 2.5 mm² a 14 AWG, 4 mm² a 12 AWG, 6 mm² a 10 AWG.
    pub fn reaches(self, other: ConductorSize) -> bool {
        self.area().as_mm2() >= 0.95 * other.area().as_mm2()
    }
}

fn parse_gauge(text: &str) -> Option<i8> {
    match text {
        "1/0" | "0" => return Some(0),
        "2/0" | "00" => return Some(-1),
        "3/0" | "000" => return Some(-2),
        "4/0" | "0000" => return Some(-3),
        _ => {}
    }
    text.parse::<i8>().ok().filter(|n| (1..=30).contains(n))
}

impl std::fmt::Display for ConductorSize {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = match self {
            Self::Metric(area) => format!("{} mm²", area.as_mm2()),
            Self::Awg(n) if *n > 0 => format!("{n} AWG"),
            Self::Awg(n) => format!("{}/0 AWG", 1 - n),
        };
        f.pad(&text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_as_reels_print_them() {
        for text in ["4 mm²", "4mm2", "4 mm^2"] {
            assert_eq!(ConductorSize::parse(text).unwrap().to_string(), "4 mm²", "{text}");
        }
        for (text, shown) in [("12 AWG", "12 AWG"), ("AWG 12", "12 AWG"), ("2/0 awg", "2/0 AWG"), ("0 AWG", "1/0 AWG")]
        {
            assert_eq!(ConductorSize::parse(text).unwrap().to_string(), shown, "{text}");
        }
    }

    #[test]
    fn an_outside_diameter_is_not_taken_for_a_size() {
        assert!(ConductorSize::parse("4 mm").unwrap_err().says.contains("outside diameter"));
        assert!(ConductorSize::parse("99 AWG").is_err());
        assert!(ConductorSize::parse("0 mm²").is_err());
    }
}
