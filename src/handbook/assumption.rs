//! What the engine takes where a job states nothing.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{ASSUMPTIONS, Cited, Published, Status, load};
use crate::quantity::{Quantity, Share, Toleranced, parse_toleranced};

#[derive(Debug, Deserialize)]
struct Row {
    id: String,
    value: String,
    because: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct ExponentRow {
    exponent: f64,
}

static TABLE: LazyLock<Published<Row>> = LazyLock::new(|| load(ASSUMPTIONS, "assumptions"));
static FILAMENT: LazyLock<Published<ExponentRow>> = LazyLock::new(|| load(ASSUMPTIONS, "filament"));

/// The assumed value under an id of the embedded table, with its reason.
///
/// # Panics
/// Where the table has no such id or another unit: a mistake in this program, which a test would meet.
pub fn assumed<Q: Quantity>(id: &str) -> Cited<Toleranced<Q>> {
    let row = TABLE.rows.iter().find(|r| r.id == id).expect("the table of assumptions holds this id");
    let value = parse_toleranced(&row.value).expect("an assumption has the unit that is asked for");
    Cited::new(value, row.because.clone(), row.status)
}

/// A plain factor of the table, such as stall current over running current.
///
/// # Panics
/// As [`assumed`].
pub fn factor(id: &str) -> Cited<f64> {
    let row = TABLE.rows.iter().find(|r| r.id == id).expect("the table of assumptions holds this id");
    let number = row.value.trim_end_matches(" x").parse().expect("a factor is a number and x");
    Cited::new(number, row.because.clone(), row.status)
}

/// A share of the table, which holds it in per cent.
///
/// # Panics
/// As [`assumed`].
pub fn percent(id: &str) -> Cited<Share> {
    factor(id).map(Share::percent)
}

/// Exponent of a filament lamp's current over its voltage (0.55).
pub fn filament_exponent() -> f64 {
    FILAMENT.rows[0].exponent
}
