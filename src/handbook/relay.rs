//! What plug-in relays state.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Cited, PROTECTION, Published, load};
use crate::quantity::{Current, Resistance, Voltage};

#[derive(Debug, Deserialize)]
struct RelayRow {
    kind: String,
    contact_a: f64,
    coil_ohm: f64,
    pull_in_v: f64,
    drop_out_v: f64,
}

/// A kind of plug-in relay for 12 V.
#[derive(Debug, Clone, PartialEq)]
pub struct RelayKind {
    /// In words: `micro relay`.
    pub name: String,
    /// Rated current of its make contact.
    pub contact: Current,
    /// Resistance of its coil.
    pub coil: Resistance,
    /// The voltage at which it surely pulls in.
    pub pull_in: Voltage,
    /// The voltage below which it surely lets go.
    pub drop_out: Voltage,
}

static RELAYS: LazyLock<Published<RelayRow>> = LazyLock::new(|| load(PROTECTION, "relays"));

/// The kinds of plug-in relays for 12 V, from the smallest contact to the largest.
pub fn relay_kinds() -> Vec<Cited<RelayKind>> {
    let kind = |row: &RelayRow| RelayKind {
        name: row.kind.clone(),
        contact: Current::amps(row.contact_a),
        coil: Resistance::ohms(row.coil_ohm),
        pull_in: Voltage::volts(row.pull_in_v),
        drop_out: Voltage::volts(row.drop_out_v),
    };
    RELAYS.rows.iter().map(|row| Cited::new(kind(row), RELAYS.source.clone(), RELAYS.status)).collect()
}
