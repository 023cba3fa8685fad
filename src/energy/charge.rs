use super::EnergyError;
use crate::handbook::assumption::percent;
use crate::handbook::battery::{FlatBand, lithium_flat_band, rest_table};
use crate::handbook::{Cited, Status};
use crate::job::{Battery, BatteryKind};
use crate::quantity::{QuantityError, Share, Toleranced, Voltage, parse_toleranced};

/// How far a battery is charged, as a person says it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Level {
    /// In per cent of what it holds when full.
    Charge(Share),
    /// By its voltage at rest, that of the whole battery as it is read.
    Rest(Toleranced<Voltage>),
}

impl Level {
    /// Reads `50 %` or `12.24 V`, the latter with its tolerance where one is written.
    ///
    /// # Errors
    /// [`QuantityError`] where it is neither.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let text = text.trim();
        // `12.6 V ± 2 %` is a voltage.
        if text.ends_with('%') && !text.contains(['V', 'v']) {
            return Share::parse(text).map(Self::Charge);
        }
        let volts = parse_toleranced(text).map_err(|error| QuantityError {
            help: "write a rest voltage or a charge, such as 12.24 V or 50 %".into(),
            ..error
        })?;
        Ok(Self::Rest(volts))
    }
}

/// A charge that is known within limits.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargeRange {
    /// At least this.
    pub low: Share,
    /// Most likely this.
    pub likely: Share,
    /// At most this.
    pub high: Share,
    /// From where it is known.
    pub source: Cited<()>,
    /// The rest voltage lies above that of a full battery: it had no rest, or its kind is another.
    pub above_full: bool,
}

impl ChargeRange {
    fn exact(charge: Share, source: Cited<()>) -> Self {
        Self { low: charge, likely: charge, high: charge, source, above_full: false }
    }
}

/// How much higher the rest voltage of this system is than that of the 12 V of the tables.
pub(super) fn times_12(system: Voltage) -> f64 {
    system.as_volts() / 12.0
}

/// The charge of a battery at the beginning: as said, or by the job's rest voltage. A battery whose voltage tells
/// nothing is taken as full, and its source says so.
///
/// # Errors
/// [`EnergyError`] where a rest voltage was said of a battery whose voltage tells no charge.
pub fn present(
    name: &str,
    battery: &Battery,
    system: Voltage,
    from: Option<&Level>,
) -> Result<ChargeRange, EnergyError> {
    match from {
        Some(level) => charge(name, battery, system, level, "--from"),
        None if rest_table(battery.kind.word()).is_some() => {
            charge(name, battery, system, &Level::Rest(battery.rest_voltage), "rest_voltage")
        }
        None => {
            let source = format!(
                "taken as full: the rest voltage of a battery of kind {} tells no charge here; \
                                  say what its counter shows with --from \"80 %\"",
                battery.kind.word()
            );
            Ok(ChargeRange::exact(Share::percent(100.0), Cited::new((), source, Status::CommonPractice)))
        }
    }
}

/// The charge at which a run ends; half of it where nothing is said.
pub(super) fn end(
    name: &str,
    battery: &Battery,
    system: Voltage,
    to: Option<&Level>,
) -> Result<ChargeRange, EnergyError> {
    if let Some(level) = to {
        return charge(name, battery, system, level, "--to");
    }
    let usable = percent("usable-charge");
    let left = Share::of(1.0 - usable.value.fraction());
    Ok(ChargeRange::exact(left, Cited::new((), "half of it, since nothing else was said", usable.status)))
}

fn charge(
    name: &str,
    battery: &Battery,
    system: Voltage,
    level: &Level,
    option: &str,
) -> Result<ChargeRange, EnergyError> {
    let volts = match level {
        Level::Charge(share) => {
            let source = Cited::new((), format!("as said with {option}"), Status::Verified);
            return Ok(ChargeRange::exact(*share, source));
        }
        Level::Rest(volts) => volts,
    };
    let Some(table) = rest_table(battery.kind.word()) else {
        return Err(no_measure(name, battery.kind, system, option));
    };
    let per_12 = |v: Voltage| v / times_12(system);
    let (low, _) = table.charge_at(per_12(volts.low()));
    let (_, high) = table.charge_at(per_12(volts.high()));
    let (a, b) = table.charge_at(per_12(volts.nominal));
    let likely = Share::of(f64::midpoint(a.fraction(), b.fraction()));
    let full = table.points().last().is_some_and(|(_, full)| per_12(volts.low()) > *full);
    Ok(ChargeRange { low, likely, high, source: table.source(), above_full: full })
}

fn no_measure(name: &str, kind: BatteryKind, system: Voltage, option: &str) -> EnergyError {
    let way_out =
        format!("say it in per cent of charge, such as {option} \"50 %\", as a counter with a shunt shows it");
    let says = if kind == BatteryKind::LithiumIronPhosphate {
        let band = lithium_flat_band();
        let FlatBand { low, high, least, most } = band.value;
        let times = times_12(system);
        format!(
            "{name} is of lithium iron phosphate: its voltage is no measure of its charge\n  from {} of charge it rests \
             at {} to {} ({})\n  {way_out}",
            low.range_to(high),
            least * times,
            most * times,
            band.citation(),
        )
    } else {
        format!(
            "for a battery of kind {} no table of rest voltages is at hand, so a voltage says nothing of {name}\n  {way_out}",
            kind.word()
        )
    };
    EnergyError { says }
}
