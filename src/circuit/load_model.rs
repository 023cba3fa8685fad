//! The current of a load as a function of its voltage, and how it depends on the load's own values.

use crate::handbook::assumption::filament_exponent;
use crate::job::LoadKind;
use crate::quantity::{Current, Voltage};

/// Conductance that keeps a load which draws nothing from leaving its node undefined, in siemens.
pub(super) const LEAST_CONDUCTANCE: f64 = 1e-9;

/// Below this voltage a filament is taken as linear: V^0.55 has no slope at zero.
const FILAMENT_LINEAR_BELOW: f64 = 1e-3;

/// Where an LED driver's limit is not stated, regulation is taken down to this share of the system voltage only to
/// keep the mathematics finite; an operating point found below it is none (see [`LoadModel::impossible`]).
const UNSTATED_LIMIT: f64 = 1.0;

/// A load between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LoadModel {
    Resistor { ohms: f64 },
    Filament { watts: f64, rated: f64 },
    Led { watts: f64, works_from: Option<f64> },
    Motor { amps: f64 },
}

/// Current in amperes, its slope in siemens, and its change with the load's own value (ohms, watts or amperes).
pub(super) struct Draw {
    pub amps: f64,
    pub slope: f64,
    pub per_value: f64,
}

impl LoadModel {
    pub(super) fn of(kind: &LoadKind) -> Self {
        match kind {
            LoadKind::Resistor { resistance } => Self::Resistor { ohms: resistance.nominal.as_ohms() },
            LoadKind::Filament { power, at, .. } => {
                Self::Filament { watts: power.nominal.as_watts(), rated: at.as_volts() }
            }
            LoadKind::Led { power, works_from } => Self::Led {
                watts: power.nominal.as_watts(),
                works_from: works_from.map(crate::quantity::Voltage::as_volts),
            },
            LoadKind::Motor { current, .. } => Self::Motor { amps: current.nominal.as_amps() },
        }
    }

    /// The current at `volts`; a resistor, a filament and a motor carry it either way, an LED driver only forward.
    pub(super) fn draw(self, volts: f64) -> Draw {
        match self {
            Self::Resistor { ohms } => {
                let amps = volts / ohms;
                Draw { amps, slope: 1.0 / ohms, per_value: -amps / ohms }
            }
            Self::Filament { watts, rated } => {
                let exponent = filament_exponent();
                let size = volts.abs();
                let at_least = size.max(FILAMENT_LINEAR_BELOW);
                let per_watt = (at_least / rated).powf(exponent) / rated;
                let (amps, slope) = if size < FILAMENT_LINEAR_BELOW {
                    let slope = watts * per_watt / FILAMENT_LINEAR_BELOW;
                    (slope * volts, slope)
                } else {
                    let amps = watts * per_watt;
                    (amps.copysign(volts), exponent * amps / size)
                };
                Draw { amps, slope, per_value: amps / watts }
            }
            Self::Led { watts, works_from } => {
                let limit = works_from.unwrap_or(UNSTATED_LIMIT);
                let (amps, slope) = if volts <= 0.0 {
                    (0.0, 0.0)
                } else if volts >= limit {
                    (watts / volts, -watts / (volts * volts))
                } else {
                    let slope = watts / (limit * limit);
                    (slope * volts, slope)
                };
                let leak = LEAST_CONDUCTANCE * volts;
                Draw { amps: amps + leak, slope: slope + LEAST_CONDUCTANCE, per_value: amps / watts }
            }
            Self::Motor { amps } => {
                let share = volts.clamp(-1.0, 1.0);
                let slope = if volts.abs() < 1.0 { amps } else { LEAST_CONDUCTANCE };
                Draw { amps: amps * share, slope, per_value: share }
            }
        }
    }

    /// A resistor that draws about as much near `volts`: where Newton's iteration starts.
    pub(super) fn first_guess(self, volts: f64) -> f64 {
        let draw = self.draw(volts);
        (draw.amps / volts).max(LEAST_CONDUCTANCE)
    }

    /// Whether a solved voltage means that there is no operating point: an LED driver of unstated limit that has
    /// been pulled down to where it would draw more than any line carries.
    pub(super) fn impossible(self, volts: f64) -> bool {
        matches!(self, Self::Led { works_from: None, .. }) && volts > 1e-3 && volts < UNSTATED_LIMIT
    }

    /// The same load with its own value (ohms, watts or amperes) moved by so much.
    pub(super) fn moved(self, by: f64) -> Self {
        match self {
            Self::Resistor { ohms } => Self::Resistor { ohms: (ohms + by).max(1e-9) },
            Self::Filament { watts, rated } => Self::Filament { watts: watts + by, rated },
            Self::Led { watts, works_from } => Self::Led { watts: watts + by, works_from },
            Self::Motor { amps } => Self::Motor { amps: amps + by },
        }
    }

    /// Another load that draws a multiple of the current.
    pub(super) fn times(self, times: f64) -> Self {
        match self {
            Self::Resistor { ohms } => Self::Resistor { ohms: ohms / times },
            Self::Filament { watts, rated } => Self::Filament { watts: watts * times, rated },
            Self::Led { watts, works_from } => Self::Led { watts: watts * times, works_from },
            Self::Motor { amps } => Self::Motor { amps: amps * times },
        }
    }

    /// The multiple of the tolerance of its own value (ohms, watts or amperes) that such another load has.
    pub(super) fn width_times(self, times: f64) -> f64 {
        match self {
            Self::Resistor { .. } => 1.0 / times,
            _ => times,
        }
    }

    /// The same load drawing `share` of its current: the way from no load to full load.
    pub(super) fn scaled(self, share: f64) -> Self {
        match self {
            Self::Led { watts, works_from } => Self::Led { watts: watts * share, works_from },
            other => other,
        }
    }
}

/// What a load draws when its terminals have this voltage, as on a bench.
pub fn bench_current(kind: &LoadKind, at: Voltage) -> Current {
    Current::amps(LoadModel::of(kind).draw(at.as_volts()).amps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_draws_as_the_job_format_says() {
        let led = LoadModel::Led { watts: 24.0, works_from: Some(9.0) };
        assert!((led.draw(12.0).amps - 2.0).abs() < 1e-7, "the leak is 12 nA");
        assert!((led.draw(4.5).amps - 24.0 * 4.5 / 81.0).abs() < 1e-7);
        assert!(led.draw(-3.0).amps.abs() < 1e-7);
        let motor = LoadModel::Motor { amps: 7.0 };
        assert!((motor.draw(12.0).amps - 7.0).abs() < 1e-12);
        assert!((motor.draw(0.5).amps - 3.5).abs() < 1e-12);
        let filament = LoadModel::Filament { watts: 21.0, rated: 12.0 };
        assert!((filament.draw(12.0).amps - 1.75).abs() < 1e-12);
        assert!((filament.draw(6.0).amps - 1.75 * 0.5f64.powf(0.55)).abs() < 1e-12);
    }

    #[test]
    fn slopes_match_differences() {
        let models = [
            LoadModel::Resistor { ohms: 4.0 },
            LoadModel::Filament { watts: 21.0, rated: 12.0 },
            LoadModel::Led { watts: 24.0, works_from: Some(9.0) },
            LoadModel::Motor { amps: 7.0 },
        ];
        for model in models {
            for volts in [0.2, 3.0, 11.0, 14.0] {
                let (up, down) = (model.draw(volts + 1e-6).amps, model.draw(volts - 1e-6).amps);
                assert!(((up - down) / 2e-6 - model.draw(volts).slope).abs() < 1e-4, "{model:?} at {volts}");
            }
        }
    }
}
