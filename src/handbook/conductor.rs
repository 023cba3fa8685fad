//! Resistance of copper conductors.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{AMPACITY, CONDUCTORS, Cited, Published, Status, load};
use crate::quantity::{Area, ConductorSize, Length, Resistance, Temperature};

#[derive(Debug, Deserialize)]
struct AwgRow {
    #[serde(deserialize_with = "super::gauge")]
    awg: ConductorSize,
    ohm_per_1000ft: f64,
}

#[derive(Debug, Deserialize)]
struct MetricRow {
    mm2: f64,
    ohm_per_km: f64,
}

#[derive(Debug, Deserialize)]
struct CopperRow {
    rho20_ohm_mm2_per_m: f64,
    alpha20_per_k: f64,
}

#[derive(Debug, Deserialize)]
struct OuterRow {
    mm2: f64,
    max_od_mm: f64,
}

static THIN_WALL: LazyLock<Published<OuterRow>> = LazyLock::new(|| load(AMPACITY, "thin_wall_cable"));
static AWG: LazyLock<Published<AwgRow>> = LazyLock::new(|| load(CONDUCTORS, "awg_resistance"));
static CLASS_5: LazyLock<Published<MetricRow>> = LazyLock::new(|| load(CONDUCTORS, "class5_resistance"));
static COPPER: LazyLock<Published<CopperRow>> = LazyLock::new(|| load(CONDUCTORS, "copper"));

/// Share of the nominal metric area that is copper in a size without a row of its own: the least of IEC 60228
/// class 5 (its rows lie between 0.86 and 0.91).
const LEAST_COPPER_SHARE: f64 = 0.86;

/// Temperatures for which the linear law of copper is used.
const VALID_TEMPERATURES: (Temperature, Temperature) = (Temperature::celsius(-60.0), Temperature::celsius(250.0));

/// Resistance of one conductor of `length` at 20 °C.
///
/// A gauge takes its row of NBS Handbook 100, a metric size its row of IEC 60228 class 5 (a maximum); a size
/// without a row is computed from the resistivity of annealed copper and says so in its source.
pub fn resistance_at_20c(size: ConductorSize, length: Length) -> Cited<Resistance> {
    let metres = length.as_metres();
    match size {
        ConductorSize::Awg(_) => {
            if let Some(row) = AWG.rows.iter().find(|r| r.awg == size) {
                let per_metre = row.ohm_per_1000ft / 304.8;
                return Cited::new(Resistance::ohms(per_metre * metres), AWG.source.clone(), AWG.status);
            }
            computed(size.area(), metres, "gauge geometry (ASTM B258)")
        }
        ConductorSize::Metric(area) => {
            if let Some(row) = CLASS_5.rows.iter().find(|r| (r.mm2 - area.as_mm2()).abs() < 1e-9) {
                let per_metre = row.ohm_per_km / 1000.0;
                return Cited::new(Resistance::ohms(per_metre * metres), CLASS_5.source.clone(), CLASS_5.status);
            }
            computed(area * LEAST_COPPER_SHARE, metres, "86 % of the nominal area")
        }
    }
}

fn computed(area: Area, metres: f64, how: &str) -> Cited<Resistance> {
    let ohms = resistivity_20c() * metres / area.as_mm2();
    Cited::new(
        Resistance::ohms(ohms),
        format!("computed from the resistivity of annealed copper over {how}; no table row for this size"),
        Status::CommonPractice,
    )
}

/// The copper in a conductor of this size: resistivity over resistance per metre, so that a metric size counts with
/// the least copper its standard allows.
pub fn copper_area(size: ConductorSize) -> Area {
    let per_metre = resistance_at_20c(size, Length::metres(1.0)).value.as_ohms();
    Area::mm2(resistivity_20c() / per_metre)
}

/// Resistivity of annealed copper at 20 °C in ohm mm²/m, IACS.
pub(crate) fn resistivity_20c() -> f64 {
    COPPER.rows[0].rho20_ohm_mm2_per_m
}

/// Resistance at `temperature` over resistance at 20 °C: 1 + α20 (T − 20 °C), α20 = 0.00393 /K for annealed
/// copper. Used from −60 °C to 250 °C; beyond, the nearer end is taken.
pub fn temperature_factor(temperature: Temperature) -> f64 {
    let (low, high) = (VALID_TEMPERATURES.0.as_celsius(), VALID_TEMPERATURES.1.as_celsius());
    1.0 + temperature_coefficient() * (temperature.as_celsius().clamp(low, high) - 20.0)
}

/// Temperature coefficient of copper per kelvin at 20 °C.
pub(crate) fn temperature_coefficient() -> f64 {
    COPPER.rows[0].alpha20_per_k
}

/// The metric sizes of IEC 60228 that vehicle wiring uses, thinnest first.
pub fn standard_metric_sizes() -> Vec<ConductorSize> {
    CLASS_5.rows.iter().map(|r| ConductorSize::Metric(Area::mm2(r.mm2))).collect()
}

/// Greatest outside diameter of thin-wall vehicle cable of this size, or of the next larger one that its sheet has;
/// `None` above 10 mm². Real insulation is measured before a seal is chosen by it.
pub fn usual_outer(size: ConductorSize) -> Option<Cited<Length>> {
    let area = 0.95 * size.area().as_mm2();
    let row = THIN_WALL.rows.iter().find(|row| row.mm2 >= area)?;
    Some(Cited::new(Length::metres(row.max_od_mm / 1e3), THIN_WALL.source.clone(), THIN_WALL.status))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_without_a_row_is_computed_and_says_so() {
        let three = resistance_at_20c(ConductorSize::Metric(Area::mm2(3.0)), Length::metres(1.0));
        assert!(three.value.as_ohms() > 0.00495 && three.value.as_ohms() < 0.00798);
        assert_eq!(three.status, Status::CommonPractice);
    }

    #[test]
    fn resistance_grows_with_temperature() {
        assert!((temperature_factor(Temperature::celsius(20.0)) - 1.0).abs() < 1e-12);
        assert!((temperature_factor(Temperature::celsius(80.0)) - 1.2358).abs() < 1e-4);
    }
}
