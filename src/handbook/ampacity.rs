//! The current that a conductor may carry, and what it stands for a short time.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{AMPACITY, Cited, PROTECTION, Published, Status, load};
use crate::quantity::{Area, ConductorSize, Current, Duration, Temperature};

#[derive(Debug, Deserialize)]
struct AllowableRow {
    #[serde(deserialize_with = "super::gauge")]
    awg: ConductorSize,
    a60: f64,
    a75: f64,
    a80: f64,
    a90: f64,
    a105: f64,
    a125: f64,
    a200: f64,
}

impl AllowableRow {
    fn columns(&self) -> [(f64, f64); 7] {
        [
            (60.0, self.a60),
            (75.0, self.a75),
            (80.0, self.a80),
            (90.0, self.a90),
            (105.0, self.a105),
            (125.0, self.a125),
            (200.0, self.a200),
        ]
    }
}

#[derive(Debug, Deserialize)]
struct EngineRow {
    insulation_c: f64,
    factor: f64,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct BundleRow {
    from_conductors: usize,
    factor: f64,
}

#[derive(Debug, Deserialize)]
struct ThinWallRow {
    mm2: f64,
    rated_a: f64,
}

#[derive(Debug, Deserialize)]
struct KRow {
    insulation: String,
    theta_i_c: f64,
    theta_f_c: f64,
    k_cu: f64,
}

#[derive(Debug, Deserialize)]
struct AdiabaticRow {
    k_a_s05_mm2: f64,
    beta_c: f64,
}

static ALLOWABLE: LazyLock<Published<AllowableRow>> = LazyLock::new(|| load(AMPACITY, "allowable_amperage"));
static ENGINE: LazyLock<Published<EngineRow>> = LazyLock::new(|| load(AMPACITY, "engine_space_factor"));
static BUNDLE: LazyLock<Published<BundleRow>> = LazyLock::new(|| load(AMPACITY, "bundle_factor"));
static THIN_WALL: LazyLock<Published<ThinWallRow>> = LazyLock::new(|| load(AMPACITY, "thin_wall_cable"));
static K_VALUES: LazyLock<Published<KRow>> = LazyLock::new(|| load(PROTECTION, "short_time_k"));
static ADIABATIC: LazyLock<Published<AdiabaticRow>> = LazyLock::new(|| load(PROTECTION, "adiabatic_copper"));

/// Allowable current of a single conductor at 30 °C ambient for an insulation rating, 33 CFR 183.425 table 5.
///
/// A metric size takes the row of the next thinner gauge, an insulation rating between two columns the lower
/// column. A conductor thinner than 18 AWG takes the figure of thin-wall vehicle cable. `None` where neither reaches.
pub fn allowable(size: ConductorSize, insulation: Temperature) -> Option<Cited<Current>> {
    let Some(row) = ALLOWABLE.rows.iter().rev().find(|r| size.reaches(r.awg)) else { return thin_wall(size) };
    let column = row.columns().into_iter().rev().find(|(rating, _)| insulation.as_celsius() >= *rating)?;
    Some(Cited::new(
        Current::amps(column.1),
        format!("{}, {} row, {} °C column", ALLOWABLE.source, row.awg, column.0),
        ALLOWABLE.status,
    ))
}

/// Conductors below the table: the current of thin-wall vehicle cable, whose conditions its sheet does not state.
fn thin_wall(size: ConductorSize) -> Option<Cited<Current>> {
    let area = size.area().as_mm2() * 1.000_001;
    let row = THIN_WALL.rows.iter().rev().find(|r| r.mm2 <= area)?;
    Some(Cited::new(Current::amps(row.rated_a), THIN_WALL.source.clone(), Status::CommonPractice))
}

/// Factor on [`allowable`] in another ambient than 30 °C: sqrt((T − ambient)/(T − 30)), which reproduces the
/// engine-space factors of 33 CFR 183.425 note 1 within 0.005 for 60 to 125 °C insulation; at 50 °C the published row
/// is taken. Zero where the ambient reaches the rating of the insulation.
pub fn ambient_factor(insulation: Temperature, ambient: Temperature) -> Cited<f64> {
    let (rating, ambient_c) = (insulation.as_celsius(), ambient.as_celsius());
    if ambient_c <= 30.0 {
        return Cited::new(1.0, ALLOWABLE.source.clone(), ALLOWABLE.status);
    }
    let row = ENGINE.rows.iter().find(|r| (r.insulation_c - rating).abs() < 1e-9);
    if let (Some(row), true) = (row, (ambient_c - 50.0).abs() < 1e-9) {
        return Cited::new(row.factor, ENGINE.source.clone(), row.status);
    }
    let value = ((rating - ambient_c).max(0.0) / (rating - 30.0)).sqrt();
    let how = "steady heat balance, as the engine-space factors of 33 CFR 183.425 note 1 follow it";
    Cited::new(value, how, Status::CommonPractice)
}

/// Factor for current-carrying conductors side by side in one bundle.
pub fn bundle_factor(conductors: usize) -> Cited<f64> {
    let row = BUNDLE.rows.iter().rev().find(|r| conductors >= r.from_conductors);
    Cited::new(row.map_or(1.0, |r| r.factor), BUNDLE.source.clone(), BUNDLE.status)
}

/// Short-time constant k of a copper conductor in A·√s/mm² between two temperatures.
///
/// k = K √ln((θf + β)/(θi + β)), K = 226, β = 234.5 °C (IEC 60949). Valid for heating without loss, up to 5 s.
pub fn short_time_k(start: Temperature, end: Temperature) -> Cited<f64> {
    let row = &ADIABATIC.rows[0];
    let ratio = (end.as_celsius() + row.beta_c) / (start.as_celsius() + row.beta_c);
    Cited::new(row.k_a_s05_mm2 * ratio.ln().max(0.0).sqrt(), ADIABATIC.source.clone(), ADIABATIC.status)
}

/// Final temperature that an insulation stands for a few seconds, by its continuous rating: 160 °C for
/// thermoplastic up to 90 °C (BS 7671 table 43A); for the 105 °C thermoplastic of vehicle wire the same figure is
/// taken; 250 °C for cross-linked insulation of 125 °C and more.
pub fn short_time_limit(insulation: Temperature) -> Cited<Temperature> {
    let rating = insulation.as_celsius();
    if rating >= 120.0 {
        let row = K_VALUES.rows.iter().find(|r| r.insulation.contains("thermosetting"));
        let limit = row.map_or(250.0, |r| r.theta_f_c);
        return Cited::new(Temperature::celsius(limit), K_VALUES.source.clone(), Status::CommonPractice);
    }
    let row = K_VALUES.rows.iter().find(|r| r.insulation.contains("thermoplastic"));
    let status = if rating <= 90.0 { K_VALUES.status } else { Status::CommonPractice };
    Cited::new(Temperature::celsius(row.map_or(160.0, |r| r.theta_f_c)), K_VALUES.source.clone(), status)
}

/// How long a conductor stands a current before its insulation reaches its short-time limit: t = (k S / I)².
///
/// `area` is the copper area. Beyond about 5 s the true time is longer, since heat leaves.
pub fn withstand(area: Area, k: f64, current: Current) -> Duration {
    let ratio = k * area.as_mm2() / current.as_amps();
    Duration::seconds(ratio * ratio)
}

/// The published k values of copper: (insulation, start °C, end °C, k).
pub fn published_k() -> impl Iterator<Item = (&'static str, Temperature, Temperature, f64)> {
    K_VALUES
        .rows
        .iter()
        .map(|r| (r.insulation.as_str(), Temperature::celsius(r.theta_i_c), Temperature::celsius(r.theta_f_c), r.k_cu))
}
