//! Batteries at rest: what their voltage says of their charge; what is left of the capacity at a high current; what a
//! parked vehicle may draw.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{BATTERY, Cited, Published, load};
use crate::quantity::{Current, Duration, Share, Voltage};

#[derive(Debug, Deserialize)]
struct RestRow {
    charge_percent: f64,
    volts: f64,
}

#[derive(Debug, Deserialize)]
struct BandRow {
    low_percent: f64,
    high_percent: f64,
    low_volts: f64,
    high_volts: f64,
}

#[derive(Debug, Deserialize)]
struct ExponentRow {
    kind: String,
    exponent: f64,
    low: f64,
    high: f64,
}

#[derive(Debug, Deserialize)]
struct HoursRow {
    hours: f64,
}

/// In milliamperes.
#[derive(Debug, Deserialize)]
struct KeyOffRow {
    usual: f64,
    limit: f64,
    fault: f64,
}

#[derive(Debug, Deserialize)]
struct WaitRow {
    low_minutes: f64,
    high_minutes: f64,
}

#[derive(Debug, Deserialize)]
struct ChargingRow {
    low_volts: f64,
    high_volts: f64,
}

static FLOODED: LazyLock<Published<RestRow>> = LazyLock::new(|| load(BATTERY, "rest_voltage_flooded"));
static AGM: LazyLock<Published<RestRow>> = LazyLock::new(|| load(BATTERY, "rest_voltage_agm"));
static LITHIUM: LazyLock<Published<BandRow>> = LazyLock::new(|| load(BATTERY, "rest_voltage_lithium"));
static EXPONENTS: LazyLock<Published<ExponentRow>> = LazyLock::new(|| load(BATTERY, "high_current"));
static RATED: LazyLock<Published<HoursRow>> = LazyLock::new(|| load(BATTERY, "rated_time"));
static REST: LazyLock<Published<HoursRow>> = LazyLock::new(|| load(BATTERY, "rest_time"));
static KEY_OFF: LazyLock<Published<KeyOffRow>> = LazyLock::new(|| load(BATTERY, "key_off"));
static WAIT: LazyLock<Published<WaitRow>> = LazyLock::new(|| load(BATTERY, "sleep_wait"));
static CHARGING: LazyLock<Published<ChargingRow>> = LazyLock::new(|| load(BATTERY, "charging"));

/// Rest voltage over charge of one kind of 12 V battery: straight lines between the published points.
#[derive(Debug, Clone, Copy)]
pub struct RestTable {
    published: &'static Published<RestRow>,
}

/// The table of a kind of battery by its word in the job file; `None` where its voltage tells no charge (lithium iron
/// phosphate) or no published table is at hand (gel).
pub fn rest_table(kind: &str) -> Option<RestTable> {
    match kind {
        "flooded" => Some(RestTable { published: &FLOODED }),
        "agm" => Some(RestTable { published: &AGM }),
        _ => None,
    }
}

impl RestTable {
    /// The published points, from the emptiest to the fullest.
    pub fn points(self) -> Vec<(Share, Voltage)> {
        let point = |row: &RestRow| (Share::percent(row.charge_percent), Voltage::volts(row.volts));
        self.published.rows.iter().map(point).collect()
    }

    /// Where the table comes from.
    pub fn source(self) -> Cited<()> {
        Cited::new((), self.published.source.clone(), self.published.status)
    }

    /// The charge at a rest voltage of a 12 V battery, from the least to the greatest that the table allows. Below its
    /// last point that is anything from empty to that point; above its first point the battery is full.
    pub fn charge_at(self, volts: Voltage) -> (Share, Share) {
        let points = self.points();
        let (emptiest, fullest) = (points[0], points[points.len() - 1]);
        if volts >= fullest.1 {
            return (fullest.0, fullest.0);
        }
        if volts < emptiest.1 {
            return (Share::percent(0.0), emptiest.0);
        }
        let above = points.iter().position(|(_, v)| *v > volts).unwrap_or(points.len() - 1);
        let (low, high) = (points[above - 1], points[above]);
        let part = (volts - low.1) / (high.1 - low.1);
        let charge = Share::of(low.0.fraction() + part * (high.0.fraction() - low.0.fraction()));
        (charge, charge)
    }

    /// The rest voltage of a 12 V battery at a charge; below the last point of the table the voltage of that point.
    pub fn volts_at(self, charge: Share) -> Voltage {
        let points = self.points();
        let Some(above) = points.iter().position(|(share, _)| *share > charge) else {
            return points[points.len() - 1].1;
        };
        if above == 0 {
            return points[0].1;
        }
        let (low, high) = (points[above - 1], points[above]);
        let part = (charge.fraction() - low.0.fraction()) / (high.0.fraction() - low.0.fraction());
        low.1 + (high.1 - low.1) * part
    }
}

/// Why the voltage of lithium iron phosphate tells no charge: the charges that lie within a few tenths of a volt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatBand {
    /// From this charge.
    pub low: Share,
    /// To this one.
    pub high: Share,
    /// The rest voltage lies above this.
    pub least: Voltage,
    /// And below this.
    pub most: Voltage,
}

/// The flat part of a 12 V battery of lithium iron phosphate.
pub fn lithium_flat_band() -> Cited<FlatBand> {
    let row = &LITHIUM.rows[0];
    let band = FlatBand {
        low: Share::percent(row.low_percent),
        high: Share::percent(row.high_percent),
        least: Voltage::volts(row.low_volts),
        most: Voltage::volts(row.high_volts),
    };
    Cited::new(band, LITHIUM.source.clone(), LITHIUM.status)
}

/// By how much a large current lessens the capacity of a kind of battery (Peukert): the exponent that is taken, and
/// the range that was read. `None` for a word that is no kind of battery.
pub fn peukert_exponent(kind: &str) -> Option<Cited<(f64, f64, f64)>> {
    let row = EXPONENTS.rows.iter().find(|row| row.kind == kind)?;
    Some(Cited::new((row.low, row.exponent, row.high), EXPONENTS.source.clone(), EXPONENTS.status))
}

/// The time in which the current of the stated capacity empties a battery.
pub fn rated_time() -> Cited<Duration> {
    Cited::new(Duration::seconds(RATED.rows[0].hours * 3600.0), RATED.source.clone(), RATED.status)
}

/// How long a battery rests before its voltage tells its charge.
pub fn rest_time() -> Cited<Duration> {
    Cited::new(Duration::seconds(REST.rows[0].hours * 3600.0), REST.source.clone(), REST.status)
}

/// Current of a parked vehicle that sleeps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeyOff {
    /// From this on it is usual.
    pub usual: Current,
    /// The common limit.
    pub limit: Current,
    /// Above this something is faulty.
    pub fault: Current,
}

/// What a parked vehicle may draw.
pub fn key_off() -> Cited<KeyOff> {
    let row = &KEY_OFF.rows[0];
    let milliamps = |value: f64| Current::amps(value / 1000.0);
    let value = KeyOff { usual: milliamps(row.usual), limit: milliamps(row.limit), fault: milliamps(row.fault) };
    Cited::new(value, KEY_OFF.source.clone(), KEY_OFF.status)
}

/// How long a vehicle takes to go to sleep before its draw is read: the shortest and the longest time.
pub fn sleep_wait() -> Cited<(Duration, Duration)> {
    let minutes = |value: f64| Duration::seconds(value * 60.0);
    let row = &WAIT.rows[0];
    Cited::new((minutes(row.low_minutes), minutes(row.high_minutes)), WAIT.source.clone(), WAIT.status)
}

/// Least and greatest voltage that a 12 V charging system in order holds.
pub fn charging() -> Cited<(Voltage, Voltage)> {
    let row = &CHARGING.rows[0];
    let range = (Voltage::volts(row.low_volts), Voltage::volts(row.high_volts));
    Cited::new(range, CHARGING.source.clone(), CHARGING.status)
}
