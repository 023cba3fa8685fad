//! Physical quantities: each has its own type, so that volts never meet amperes by accident.
//!
//! A quantity is stored in its SI unit (areas in mm² and charge in Ah, as the trade writes them).
//! [`Toleranced`] adds how far the value may lie below and above; [`Reading`] is what a person read
//! off a meter, with the digits that were typed.

mod conductor_size;
mod day;
mod parse;
mod print;
mod reading;
mod share;
mod slope;
mod tolerance;
pub mod uncertainty;

pub use conductor_size::ConductorSize;
pub use day::Day;
pub use parse::{Parsed, QuantityError, parse_any, parse_toleranced};
pub use print::{show, show_range, show_rating, show_with_sign};
pub use reading::Reading;
pub use share::Share;
pub use slope::Slope;
pub use tolerance::Toleranced;

use serde::{Deserialize, Serialize};

/// What kind of quantity a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dimension {
    /// Volts.
    Voltage,
    /// Amperes.
    Current,
    /// Ohms.
    Resistance,
    /// Watts.
    Power,
    /// Metres.
    Length,
    /// Square millimetres.
    Area,
    /// Degrees Celsius.
    Temperature,
    /// Ampere-hours.
    Charge,
    /// Newtons.
    Force,
    /// Newton metres.
    Torque,
    /// Seconds.
    Duration,
    /// Degrees of arc.
    Angle,
    /// Lux.
    Illuminance,
    /// Pieces.
    Count,
    /// Candela.
    Intensity,
}

impl Dimension {
    /// Each that is written with a unit.
    const WITH_UNIT: [Dimension; 14] = [
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Resistance,
        Dimension::Power,
        Dimension::Length,
        Dimension::Area,
        Dimension::Temperature,
        Dimension::Charge,
        Dimension::Force,
        Dimension::Torque,
        Dimension::Duration,
        Dimension::Angle,
        Dimension::Illuminance,
        Dimension::Intensity,
    ];

    /// What kind of quantity a text states by its unit; `None` where it states none.
    pub fn stated_in(text: &str) -> Option<Dimension> {
        Self::WITH_UNIT.into_iter().find(|dimension| parse_any(text, *dimension).is_ok())
    }

    /// The word a person would use.
    pub fn name(self) -> &'static str {
        match self {
            Dimension::Voltage => "voltage",
            Dimension::Current => "current",
            Dimension::Resistance => "resistance",
            Dimension::Power => "power",
            Dimension::Length => "length",
            Dimension::Area => "area",
            Dimension::Temperature => "temperature",
            Dimension::Charge => "charge",
            Dimension::Force => "force",
            Dimension::Torque => "torque",
            Dimension::Duration => "time",
            Dimension::Angle => "angle",
            Dimension::Illuminance => "illuminance",
            Dimension::Count => "count",
            Dimension::Intensity => "luminous intensity",
        }
    }

    /// The unit in which a person is asked for it: minutes, and millimetres where the limit is below a metre.
    pub fn asked_in(self, limit: Option<Amount>) -> &'static str {
        match self {
            Dimension::Duration => "min",
            Dimension::Length if limit.is_some_and(|l| l.base().abs() < 1.0) => "mm",
            other => other.unit(),
        }
    }

    /// Whether a value of this kind can lie below zero.
    pub fn can_be_negative(self) -> bool {
        matches!(self, Dimension::Voltage | Dimension::Current | Dimension::Temperature | Dimension::Angle)
    }

    /// The symbol of the unit that values are stored in.
    pub fn unit(self) -> &'static str {
        match self {
            Dimension::Voltage => "V",
            Dimension::Current => "A",
            Dimension::Resistance => "ohm",
            Dimension::Power => "W",
            Dimension::Length => "m",
            Dimension::Area => "mm²",
            Dimension::Temperature => "°C",
            Dimension::Charge => "Ah",
            Dimension::Force => "N",
            Dimension::Torque => "N·m",
            Dimension::Duration => "s",
            Dimension::Angle => "°",
            Dimension::Illuminance => "lx",
            Dimension::Count => "",
            Dimension::Intensity => "cd",
        }
    }
}

/// A physical quantity with its own type.
pub trait Quantity: Copy + std::fmt::Debug + PartialOrd {
    /// Which kind of quantity this is.
    const DIMENSION: Dimension;
    /// From a number in the stored unit, see [`Dimension::unit`].
    fn from_base(value: f64) -> Self;
    /// The number in the stored unit, see [`Dimension::unit`].
    fn base(self) -> f64;
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident { $make:ident, $get:ident })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// From a number in the unit that this function is named after.
            pub const fn $make(value: f64) -> Self { Self(value) }
            /// The number in the unit that this function is named after.
            pub const fn $get(self) -> f64 { self.0 }
            /// As it is printed on a part: `15 A`, `7.5 A`.
            pub fn as_rating(self) -> String { show_rating(self.0, Dimension::$name) }
            /// The size without the sign.
            #[must_use]
            pub fn abs(self) -> Self { Self(self.0.abs()) }
        }

        impl Quantity for $name {
            const DIMENSION: Dimension = Dimension::$name;
            fn from_base(value: f64) -> Self { Self(value) }
            fn base(self) -> f64 { self.0 }
        }

        impl std::ops::Add for $name { type Output = Self; fn add(self, other: Self) -> Self { Self(self.0 + other.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, other: Self) -> Self { Self(self.0 - other.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, factor: f64) -> Self { Self(self.0 * factor) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, divisor: f64) -> Self { Self(self.0 / divisor) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, other: Self) -> f64 { self.0 / other.0 } }
        impl std::ops::Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(&show(self.0, Dimension::$name))
            }
        }
    )*};
}

quantities! {
    /// Potential difference, in volts.
    Voltage { volts, as_volts }
    /// Electric current, in amperes.
    Current { amps, as_amps }
    /// Resistance, in ohms.
    Resistance { ohms, as_ohms }
    /// Power, in watts.
    Power { watts, as_watts }
    /// Length, in metres.
    Length { metres, as_metres }
    /// Cross-section, in square millimetres.
    Area { mm2, as_mm2 }
    /// Temperature, in degrees Celsius.
    Temperature { celsius, as_celsius }
    /// Battery capacity, in ampere-hours.
    Charge { amp_hours, as_amp_hours }
    /// Force, in newtons.
    Force { newtons, as_newtons }
    /// Tightening torque, in newton metres.
    Torque { newton_metres, as_newton_metres }
    /// A span of time, in seconds.
    Duration { seconds, as_seconds }
    /// Angle, in degrees of arc.
    Angle { degrees, as_degrees }
    /// Illuminance, in lux.
    Illuminance { lux, as_lux }
    /// Luminous intensity, in candela.
    Intensity { candela, as_candela }
}

impl std::ops::Mul<Resistance> for Current {
    type Output = Voltage;
    fn mul(self, resistance: Resistance) -> Voltage {
        Voltage::volts(self.as_amps() * resistance.as_ohms())
    }
}

impl std::ops::Div<Resistance> for Voltage {
    type Output = Current;
    fn div(self, resistance: Resistance) -> Current {
        Current::amps(self.as_volts() / resistance.as_ohms())
    }
}

impl std::ops::Div<Current> for Voltage {
    type Output = Resistance;
    fn div(self, current: Current) -> Resistance {
        Resistance::ohms(self.as_volts() / current.as_amps())
    }
}

impl std::ops::Mul<Current> for Voltage {
    type Output = Power;
    fn mul(self, current: Current) -> Power {
        Power::watts(self.as_volts() * current.as_amps())
    }
}

/// A value whose kind is known only at run time: a reading, an expectation, a limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Amount {
    value: f64,
    dimension: Dimension,
}

impl Amount {
    /// From a number in the base unit of its dimension.
    pub const fn new(value: f64, dimension: Dimension) -> Self {
        Self { value, dimension }
    }

    /// From a typed quantity.
    pub fn of<Q: Quantity>(quantity: Q) -> Self {
        Self::new(quantity.base(), Q::DIMENSION)
    }

    /// The number in the base unit of its dimension.
    pub const fn base(self) -> f64 {
        self.value
    }

    /// What kind of quantity it is.
    pub const fn dimension(self) -> Dimension {
        self.dimension
    }

    /// The same kind of quantity with another value.
    #[must_use]
    pub const fn with(self, value: f64) -> Self {
        Self { value, dimension: self.dimension }
    }

    /// From this value to a greater one of the same kind, in words: `250 to 341 mV`.
    pub fn range_to(self, high: Amount) -> String {
        show_range(self.value, high.value, self.dimension)
    }
}

impl std::fmt::Display for Amount {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&show(self.value, self.dimension))
    }
}
