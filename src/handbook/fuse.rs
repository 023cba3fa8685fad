//! Blade fuses: colours, resistance, opening time.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{Cited, PROTECTION, Published, Status, load};
use crate::quantity::{Current, Duration, Resistance, Temperature};

/// The body of a fuse; the same rating opens at other times in another body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FuseStyle {
    /// Miniature blade (ISO 8820-3 type F).
    Mini,
    /// Regular blade (ISO 8820-3 type C).
    Blade,
    /// High-current blade (ISO 8820-3 type E).
    Maxi,
    /// Bolt-down strip or other body without a table here.
    Strip,
}

impl FuseStyle {
    /// The words of the job file.
    pub const WORDS: &'static [(&'static str, FuseStyle)] =
        &[("blade", Self::Blade), ("mini", Self::Mini), ("maxi", Self::Maxi), ("strip", Self::Strip)];

    /// The word of the job file.
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, s)| *s == self).map_or("", |(word, _)| word)
    }

    fn table_name(self) -> &'static str {
        match self {
            Self::Mini => "mini",
            Self::Blade => "regular",
            Self::Maxi => "maxi",
            Self::Strip => "strip",
        }
    }
}

#[derive(Debug, Deserialize)]
struct ColourRow {
    rated_a: f64,
    colour: String,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct ElectricalRow {
    style: String,
    rated_a: f64,
    cold_mohm: f64,
    #[serde(default)]
    drop_mv: Option<f64>,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct TimeRow {
    style: String,
    from_a: f64,
    to_a: f64,
    percent: f64,
    max_s: Option<f64>,
    status: Status,
}

#[derive(Debug, Deserialize)]
struct RerateRow {
    ambient_c: f64,
    fraction: f64,
}

static COLOURS: LazyLock<Published<ColourRow>> = LazyLock::new(|| load(PROTECTION, "blade_colours"));
static MAXI_COLOURS: LazyLock<Published<ColourRow>> = LazyLock::new(|| load(PROTECTION, "maxi_colours"));
static ELECTRICAL: LazyLock<Published<ElectricalRow>> = LazyLock::new(|| load(PROTECTION, "electrical"));
static TIMES: LazyLock<Published<TimeRow>> = LazyLock::new(|| load(PROTECTION, "time_current"));
static RERATING: LazyLock<Published<RerateRow>> = LazyLock::new(|| load(PROTECTION, "rerating"));

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

/// Body colour of a blade fuse. The printed number rules: the same colour means another rating on a maxi.
pub fn colour(style: FuseStyle, rating: Current) -> Option<Cited<String>> {
    let table = match style {
        FuseStyle::Mini | FuseStyle::Blade => &COLOURS,
        FuseStyle::Maxi => &MAXI_COLOURS,
        FuseStyle::Strip => return None,
    };
    let row = table.rows.iter().find(|r| same(r.rated_a, rating.as_amps()))?;
    Some(Cited::new(row.colour.clone(), table.source.clone(), row.status))
}

/// Cold resistance and resistance at rated current of a typical fuse.
pub struct FuseResistance {
    /// At small current.
    pub cold: Resistance,
    /// At the rated current: 1.4 to 1.7 times the cold value.
    pub hot: Resistance,
}

/// Resistance of a typical fuse of this body and rating; where the body has no row, the regular blade's.
pub fn resistance(style: FuseStyle, rating: Current) -> Option<Cited<FuseResistance>> {
    let find = |name: &str| ELECTRICAL.rows.iter().find(|r| r.style == name && same(r.rated_a, rating.as_amps()));
    let row = find(style.table_name()).or_else(|| find("regular")).or_else(|| {
        // The nearest rating below has more resistance: the larger drop is the careful answer.
        ELECTRICAL
            .rows
            .iter()
            .filter(|r| r.style == "regular" && r.rated_a <= rating.as_amps())
            .max_by(|a, b| a.rated_a.total_cmp(&b.rated_a))
    })?;
    let cold = row.cold_mohm / 1000.0;
    let hot = row.drop_mv.map_or(cold * 1.5, |drop| drop / 1000.0 / row.rated_a);
    let both = FuseResistance { cold: Resistance::ohms(cold), hot: Resistance::ohms(hot) };
    Some(Cited::new(both, ELECTRICAL.source.clone(), row.status))
}

/// One published point of a fuse's time-current band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimePoint {
    /// Current over rating.
    pub multiple: f64,
    /// It opens no later; `None` where no upper limit is published.
    pub max: Option<Duration>,
    /// How far the row can be trusted.
    pub status: Status,
}

/// The published time-current points of a body, by rising current.
///
/// A rating without rows of its own takes the rows of its body; `None` for a body without any.
pub fn time_current(style: FuseStyle, rating: Current) -> Option<Cited<Vec<TimePoint>>> {
    let amps = rating.as_amps();
    let of_style = |r: &&TimeRow| r.style == style.table_name();
    let (own, others): (Vec<_>, Vec<_>) =
        TIMES.rows.iter().filter(of_style).partition(|r| r.from_a <= amps && amps <= r.to_a);
    // Where a rating has no row at a multiple, another rating of the same body lends its own.
    let mut rows: Vec<&TimeRow> = Vec::new();
    for row in own.into_iter().chain(others) {
        if !rows.iter().any(|r| same(r.percent, row.percent)) {
            rows.push(row);
        }
    }
    if rows.is_empty() {
        return None;
    }
    let mut points: Vec<TimePoint> = rows
        .iter()
        .map(|r| TimePoint { multiple: r.percent / 100.0, max: r.max_s.map(Duration::seconds), status: r.status })
        .collect();
    points.sort_by(|a, b| a.multiple.total_cmp(&b.multiple));
    let status = points.iter().map(|p| p.status).max().unwrap_or(Status::FromMemory);
    Some(Cited::new(points, TIMES.source.clone(), status))
}

/// Longest time that a fuse may need to open at `current`; `None` where it may never open.
///
/// Log-log interpolation between the published upper limits; below the first of them (135 % of the rating) there
/// is no promise that it opens at all, above the last the last one's time is taken.
pub fn longest_opening(points: &[TimePoint], rating: Current, current: Current) -> Option<Duration> {
    let multiple = current / rating;
    let limits: Vec<(f64, f64)> =
        points.iter().filter_map(|p| p.max.map(|max| (p.multiple, max.as_seconds()))).collect();
    let first = limits.first()?;
    if multiple < first.0 {
        return None;
    }
    for pair in limits.windows(2) {
        let ((m0, t0), (m1, t1)) = (pair[0], pair[1]);
        if multiple <= m1 {
            let share = (multiple / m0).ln() / (m1 / m0).ln();
            return Some(Duration::seconds((t0.ln() + share * (t1 / t0).ln()).exp()));
        }
    }
    limits.last().map(|(_, t)| Duration::seconds(*t))
}

/// Share of the rating that is left at an ambient temperature, from one maker's sheet; linear between rows.
pub fn rerating(ambient: Temperature) -> Cited<f64> {
    let t = ambient.as_celsius();
    let rows = &RERATING.rows;
    let value = if t <= rows[0].ambient_c {
        1.0
    } else {
        rows.windows(2).find(|pair| t <= pair[1].ambient_c).map_or(rows[rows.len() - 1].fraction, |pair| {
            let share = (t - pair[0].ambient_c) / (pair[1].ambient_c - pair[0].ambient_c);
            pair[0].fraction + share * (pair[1].fraction - pair[0].fraction)
        })
    };
    Cited::new(value, RERATING.source.clone(), RERATING.status)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_colour_means_another_rating_on_a_maxi() {
        let red = |style, amps| colour(style, Current::amps(amps)).map(|c| c.value);
        assert_eq!(red(FuseStyle::Blade, 10.0).as_deref(), Some("red"));
        assert_eq!(red(FuseStyle::Maxi, 50.0).as_deref(), Some("red"));
        assert_eq!(red(FuseStyle::Strip, 50.0), None);
    }

    #[test]
    fn a_fuse_just_above_its_rating_may_never_open() {
        let rating = Current::amps(40.0);
        let points = time_current(FuseStyle::Blade, rating).unwrap().value;
        assert_eq!(longest_opening(&points, rating, Current::amps(49.0)), None);
        let double = longest_opening(&points, rating, Current::amps(80.0)).unwrap();
        assert!((double.as_seconds() - 5.0).abs() < 1e-9);
        let huge = longest_opening(&points, rating, Current::amps(4000.0)).unwrap();
        assert!((huge.as_seconds() - 0.15).abs() < 1e-9);
    }
}
