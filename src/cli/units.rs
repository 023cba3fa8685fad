//! Lengths, forces and torques once more in inches and pounds, for whoever's tools are marked so.

use crate::quantity::{Amount, Dimension};

/// A range in customary units; `None` for a quantity that has no other unit in the trade.
pub(super) fn customary(low: Amount, high: Amount) -> Option<String> {
    let (per_unit, unit, places) = match low.dimension() {
        Dimension::Length if high.base() >= 2.0 => (0.3048, "ft", 2),
        Dimension::Length => (0.0254, "in", 2),
        Dimension::Force => (4.448_221_615_260_5, "lbf", 1),
        Dimension::Torque if high.base() >= 20.0 => (1.355_817_948_331_400_4, "lbf·ft", 1),
        Dimension::Torque => (0.112_984_829_027_616_7, "lbf·in", 1),
        Dimension::Temperature => {
            let fahrenheit = |amount: Amount| amount.base() * 1.8 + 32.0;
            return Some(format!("{:.0} to {:.0} °F", fahrenheit(low), fahrenheit(high)));
        }
        _ => return None,
    };
    let (low, high) = (low.base() / per_unit, high.base() / per_unit);
    let (low, high) = (format!("{low:.places$}"), format!("{high:.places$}"));
    Some(if low == high { format!("{low} {unit}") } else { format!("{low} to {high} {unit}") })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn customary_units_are_those_of_the_trade() {
        let range = |low, high, dimension| customary(Amount::new(low, dimension), Amount::new(high, dimension));
        assert_eq!(range(0.1524, 0.1778, Dimension::Length).as_deref(), Some("6.00 to 7.00 in"));
        assert_eq!(range(3.048, 3.048, Dimension::Length).as_deref(), Some("10.00 ft"));
        assert_eq!(range(133.5, 133.5, Dimension::Force).as_deref(), Some("30.0 lbf"));
        assert_eq!(range(5.3, 5.3, Dimension::Torque).as_deref(), Some("46.9 lbf·in"));
        assert_eq!(range(28.0, 28.0, Dimension::Torque).as_deref(), Some("20.7 lbf·ft"));
        assert_eq!(range(20.0, 100.0, Dimension::Temperature).as_deref(), Some("68 to 212 °F"));
        assert_eq!(range(12.0, 13.0, Dimension::Voltage), None);
    }
}
