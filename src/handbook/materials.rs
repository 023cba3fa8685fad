//! What a job needs beside its parts: allowances of a cut, spares, what the words of a place say.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Cited, MATERIALS, Published, Status, load};
use crate::quantity::{ConductorSize, Length, parse_toleranced};

#[derive(Debug, Deserialize)]
struct LengthRow {
    id: String,
    value: String,
    because: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct ReterminationRow {
    to_mm2: f64,
    mm: f64,
}

#[derive(Debug, Deserialize)]
struct CountRow {
    id: String,
    figure: f64,
    because: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct WordsRow {
    means: Place,
    words: Vec<String>,
}

static LENGTHS: LazyLock<Published<LengthRow>> = LazyLock::new(|| load(MATERIALS, "lengths"));
static RETERMINATION: LazyLock<Published<ReterminationRow>> = LazyLock::new(|| load(MATERIALS, "retermination"));
static COUNTS: LazyLock<Published<CountRow>> = LazyLock::new(|| load(MATERIALS, "counts"));
static WORDS: LazyLock<Published<WordsRow>> = LazyLock::new(|| load(MATERIALS, "place_words"));

/// What a word in the description of a place tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Rain, spray or the engine bay reach it.
    Wet,
    /// It lies within the body.
    Dry,
    /// The way leads through a wall.
    Through,
    /// The way lies in a tube.
    Tube,
    /// Something moves there.
    Moving,
}

/// A length of preparing a wire: `drip-loop`, `sleeve-over-joint`.
///
/// # Panics
/// Where the embedded table has no such row: a mistake in this program, which a test would meet.
pub fn length(id: &str) -> Cited<Length> {
    let row = LENGTHS.rows.iter().find(|r| r.id == id).expect("the table of lengths holds this id");
    let value = parse_toleranced::<Length>(&row.value).expect("a length has its unit");
    Cited::new(value.nominal, row.because.clone(), row.status)
}

/// A plain figure, such as the spares of a fuse or the share of waste.
///
/// # Panics
/// As [`length`].
pub fn count(id: &str) -> Cited<f64> {
    let row = COUNTS.rows.iter().find(|r| r.id == id).expect("the table of counts holds this id");
    Cited::new(row.figure, row.because.clone(), row.status)
}

/// What one new termination uses up of a wire of this size.
pub fn retermination(size: ConductorSize) -> Cited<Length> {
    let rows = &RETERMINATION.rows;
    let row = rows.iter().find(|r| size.area().as_mm2() <= r.to_mm2).unwrap_or(&rows[rows.len() - 1]);
    Cited::new(Length::metres(row.mm / 1e3), RETERMINATION.source.clone(), RETERMINATION.status)
}

/// Least and greatest gap between the insulation and the barrel of a crimp on this size.
pub fn insulation_gap(size: ConductorSize) -> (Cited<Length>, Cited<Length>) {
    // Half a gauge above 20 AWG: nothing lies between 20 and 18 AWG, and 0.75 mm² belongs to the thicker ones.
    let thin = size.area().as_mm2() < 0.6;
    (length("gap-least"), length(if thin { "gap-most-thin" } else { "gap-most-thick" }))
}

/// The word of this meaning that stands first in a text, and where it stands.
fn first(text: &str, means: Place) -> Option<(usize, &'static str)> {
    let words = WORDS.rows.iter().filter(|r| r.means == means).flat_map(|r| &r.words);
    let found = words.filter_map(|word| Some((text.find(word.as_str())?, word.as_str())));
    found.min_by_key(|(at, word)| (*at, usize::MAX - word.len()))
}

/// The word by which a text has this meaning; `None` where it has none.
pub fn says(text: &str, means: Place) -> Option<&'static str> {
    first(&text.to_lowercase(), means).map(|(_, word)| word)
}

/// Whether a place is wet or dry by its words, and the word; `None` where the text tells neither. The word that stands
/// first counts, and of two at one place the longer.
pub fn exposure(text: &str) -> Option<(Place, &'static str)> {
    let text = text.to_lowercase();
    let (wet, dry) = (first(&text, Place::Wet), first(&text, Place::Dry));
    let rank = |found: Option<(usize, &str)>| found.map(|(at, word)| (at, usize::MAX - word.len()));
    match (rank(wet), rank(dry)) {
        (None, None) => None,
        (Some(w), Some(d)) if d < w => dry.map(|(_, word)| (Place::Dry, word)),
        (Some(_), _) => wet.map(|(_, word)| (Place::Wet, word)),
        (None, Some(_)) => dry.map(|(_, word)| (Place::Dry, word)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_word_of_a_place_tells_whether_it_is_wet() {
        for (text, means) in [
            ("engine bay, then through the bulkhead grommet", Some(Place::Wet)),
            ("cabin, under the floor mat, in a tube", Some(Place::Dry)),
            ("inside the rear bed rail", Some(Place::Dry)),
            ("Under the bed, on the pump bracket", Some(Place::Wet)),
            ("body, right roof rail", Some(Place::Dry)),
            ("cab floor stud beside the fuse box, M6", Some(Place::Dry)),
            ("somewhere", None),
        ] {
            assert_eq!(exposure(text).map(|(place, _)| place), means, "{text}");
        }
        assert_eq!(says("cabin, in a tube", Place::Tube), Some("in a tube"));
        assert_eq!(says("cabin", Place::Through), None);
    }

    #[test]
    fn a_thicker_wire_uses_up_no_less() {
        let mm = |text| retermination(ConductorSize::parse(text).unwrap()).value.as_metres() * 1e3;
        let lengths: Vec<f64> = ["0.5 mm²", "2.5 mm²", "4 mm²", "16 mm²", "400 mm²"].map(mm).to_vec();
        assert!(lengths.windows(2).all(|pair| pair[0] <= pair[1]), "{lengths:?}");
        assert!(lengths[0] > 0.0 && lengths[0] < lengths[4]);
    }

    #[test]
    fn the_gap_follows_the_gauge() {
        let most = |text| insulation_gap(ConductorSize::parse(text).unwrap()).1.value.as_metres() * 1e3;
        assert!((most("20 AWG") - 0.75).abs() < 1e-9 && (most("18 AWG") - 1.25).abs() < 1e-9);
        assert!((most("0.5 mm²") - 0.75).abs() < 1e-9 && (most("0.75 mm²") - 1.25).abs() < 1e-9);
    }
}
