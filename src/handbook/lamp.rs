//! Lamps: how others aim them, and what some laws say of them.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Cited, LAMPS, Published, Status, load};
use crate::quantity::{Length, Slope};

#[derive(Debug, Deserialize)]
struct MetresRow {
    metres: f64,
}

#[derive(Debug, Deserialize)]
struct FacesRow {
    faces: f64,
}

#[derive(Debug, Deserialize)]
struct TiltRow {
    lamp: String,
    low_percent: Option<f64>,
    percent: f64,
    says: String,
    source: String,
    status: Option<Status>,
}

#[derive(Debug, Deserialize)]
struct LawRow {
    lamp: String,
    place: String,
    rule: String,
    status: Option<Status>,
}

static EYE: LazyLock<Published<MetresRow>> = LazyLock::new(|| load(LAMPS, "eye_height"));
static FAR: LazyLock<Published<FacesRow>> = LazyLock::new(|| load(LAMPS, "far_enough"));
static WALL: LazyLock<Published<MetresRow>> = LazyLock::new(|| load(LAMPS, "wall"));
static TILTS: LazyLock<Published<TiltRow>> = LazyLock::new(|| load(LAMPS, "tilts"));
static LAWS: LazyLock<Published<LawRow>> = LazyLock::new(|| load(LAMPS, "laws"));

/// What a lamp is for, since laws speak of that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampKind {
    /// A dipped or main beam.
    Headlamp,
    /// A further main beam.
    Driving,
    /// A low, wide beam for fog.
    Fog,
    /// Lights a place of work.
    Work,
    /// Lights the way when reversing.
    Reversing,
    /// A narrow beam that is turned by hand.
    Spot,
    /// For use away from public roads.
    OffRoad,
}

impl LampKind {
    /// The words of the command line, and of the tables.
    pub const WORDS: &'static [(&'static str, LampKind)] = &[
        ("headlamp", Self::Headlamp),
        ("driving", Self::Driving),
        ("fog", Self::Fog),
        ("work", Self::Work),
        ("reversing", Self::Reversing),
        ("spot", Self::Spot),
        ("off-road", Self::OffRoad),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, kind)| *kind == self).map_or("", |(word, _)| word)
    }

    /// The kind that a name speaks of: `work-lamp-left`, `headlight`, `fog1`. `None` where it names no kind.
    pub fn of_name(name: &str) -> Option<Self> {
        let name = name.to_lowercase();
        if name.contains("headlight") {
            return Some(Self::Headlamp);
        }
        Self::WORDS.iter().find(|(word, _)| name.contains(word)).map(|(_, kind)| *kind)
    }
}

/// Eye height of an approaching driver.
pub fn eye_height() -> Cited<Length> {
    Cited::new(Length::metres(EYE.rows[0].metres), EYE.source.clone(), EYE.status)
}

/// From how many times its largest face on a lamp counts as a point, so that the inverse square holds.
pub fn far_enough() -> Cited<f64> {
    Cited::new(FAR.rows[0].faces, FAR.source.clone(), FAR.status)
}

/// The distance of the wall where none is stated.
pub fn wall_distance() -> Cited<Length> {
    Cited::new(Length::metres(WALL.rows[0].metres), WALL.source.clone(), WALL.status)
}

/// A tilt that others aim at.
#[derive(Debug, Clone, PartialEq)]
pub struct UsualTilt {
    /// From this tilt, where it is a range.
    pub low: Option<Slope>,
    /// The tilt, or the greater end of the range.
    pub tilt: Slope,
    /// In words.
    pub says: String,
}

/// Tilts that others aim lamps of this kind at.
pub fn usual_tilts(kind: LampKind) -> Vec<Cited<UsualTilt>> {
    let rows = TILTS.rows.iter().filter(|row| row.lamp == kind.word());
    let tilt = |row: &TiltRow| UsualTilt {
        low: row.low_percent.map(Slope::percent),
        tilt: Slope::percent(row.percent),
        says: row.says.clone(),
    };
    rows.map(|row| Cited::new(tilt(row), row.source.clone(), row.status.unwrap_or(TILTS.status))).collect()
}

/// Published rules that speak of lamps of this kind, then those that speak of every added lamp: the rule, with its
/// place as source. Examples, and no verdict.
pub fn rules(kind: Option<LampKind>) -> Vec<Cited<String>> {
    let own = LAWS.rows.iter().filter(|row| kind.is_some_and(|kind| row.lamp == kind.word()));
    let any = LAWS.rows.iter().filter(|row| row.lamp == "any");
    let rule = |row: &LawRow| Cited::new(row.rule.clone(), row.place.clone(), row.status.unwrap_or(LAWS.status));
    own.chain(any).map(rule).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_speaks_of_a_kind_that_there_is_and_names_tell_kinds() {
        for lamp in LAWS.rows.iter().map(|row| &row.lamp).chain(TILTS.rows.iter().map(|row| &row.lamp)) {
            assert!(lamp == "any" || LampKind::WORDS.iter().any(|(word, _)| word == lamp), "{lamp}");
        }
        assert_eq!(LampKind::of_name("Work-lamp-left"), Some(LampKind::Work));
        assert_eq!(LampKind::of_name("headlight"), Some(LampKind::Headlamp));
        assert_eq!(LampKind::of_name("lamp-left"), None);
        assert_eq!(rules(Some(LampKind::Fog))[0].source, "California, Vehicle Code 24403");
        assert!(rules(None).len() < rules(Some(LampKind::Work)).len());
    }
}
