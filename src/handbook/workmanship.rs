//! Crimp pull, strip length, contact derating.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{ASSUMPTIONS, Cited, Published, Status, WORKMANSHIP, load};
use crate::quantity::{ConductorSize, Force, Length, parse_toleranced};

#[derive(Debug, Deserialize)]
struct PullRow {
    #[serde(deserialize_with = "super::gauge")]
    awg: ConductorSize,
    newtons: f64,
}

#[derive(Debug, Deserialize)]
struct DeratingRow {
    load: String,
    factor_12v: f64,
    factor_28v: f64,
    status: Option<Status>,
}

#[derive(Debug, Deserialize)]
struct StripRow {
    to_mm2: f64,
    strip: String,
}

static PULL: LazyLock<Published<PullRow>> = LazyLock::new(|| load(WORKMANSHIP, "crimp_pull"));
static DERATING: LazyLock<Published<DeratingRow>> = LazyLock::new(|| load(WORKMANSHIP, "switch_derating"));
static STRIP: LazyLock<Published<StripRow>> = LazyLock::new(|| load(ASSUMPTIONS, "strip_length"));

/// Least force at which a crimp on this conductor may let go (UL 486A).
///
/// A metric size takes the row of the next thinner gauge. `None` outside the table.
pub fn crimp_pull(size: ConductorSize) -> Option<Cited<Force>> {
    let area = size.area().as_mm2() * 1.000_001;
    let row = PULL.rows.iter().rev().find(|r| r.awg.area().as_mm2() <= area)?;
    Some(Cited::new(Force::newtons(row.newtons), format!("{}, {}", PULL.source, row.awg), PULL.status))
}

/// How much insulation to take off where the terminal's own sheet does not say.
pub fn strip_length(size: ConductorSize) -> Cited<String> {
    let row = STRIP.rows.iter().find(|r| size.area().as_mm2() <= r.to_mm2);
    Cited::new(row.map_or_else(String::new, |r| r.strip.clone()), STRIP.source.clone(), STRIP.status)
}

/// The same as a figure; `None` where only the barrel of the terminal tells.
pub fn strip_figure(size: ConductorSize) -> Option<Length> {
    parse_toleranced(&strip_length(size).value).ok().map(|length| length.nominal)
}

/// Rating that a switch or relay contact needs over the current of its load, for a kind of load
/// (`filament`, `led`, `motor`, `resistor`, `coil`) and a system of 12 V or 24 V.
pub fn contact_factor(load_kind: &str, twenty_four_volt: bool) -> Option<Cited<f64>> {
    let row = DERATING.rows.iter().find(|r| r.load == load_kind)?;
    let factor = if twenty_four_volt { row.factor_28v } else { row.factor_12v };
    Some(Cited::new(factor, DERATING.source.clone(), row.status.unwrap_or(DERATING.status)))
}
