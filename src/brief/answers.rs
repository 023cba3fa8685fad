//! The answers as typed values, each as a person gave it or as the usual one.

use super::question::{Label, label, lead};
use super::{Asking, Brief};
use crate::handbook::assumption::{assumed, factor};
use crate::handbook::workmanship::contact_factor;
use crate::job::BatteryKind;
use crate::quantity::{ConductorSize, Current, Length, Power, Quantity, Toleranced, Voltage, parse_toleranced};

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    LedLamp,
    BulbLamp,
    Motor,
    Fridge,
    Electronic,
    Heater,
}

impl Kind {
    /// The words of the answer, and what they stand for.
    pub(super) const WORDS: &'static [(&'static str, &'static str)] = &[
        ("led-lamp", "a lamp with LEDs"),
        ("bulb-lamp", "a lamp with a bulb"),
        ("motor", "a pump, a fan or another motor"),
        ("fridge-socket", "a fridge, or a socket for one"),
        ("electronic", "a radio, a charger, a camera: electronics"),
        ("heater", "a heater, or something else with a heating wire"),
    ];

    fn of(word: &str) -> Self {
        match word {
            "bulb-lamp" => Self::BulbLamp,
            "motor" => Self::Motor,
            "fridge-socket" => Self::Fridge,
            "electronic" => Self::Electronic,
            "heater" => Self::Heater,
            _ => Self::LedLamp,
        }
    }

    /// Whether several of them commonly hang on one switch.
    pub(super) fn is_lamp(self) -> bool {
        matches!(self, Self::LedLamp | Self::BulbLamp)
    }

    /// Whether it starts with several times its current.
    pub(super) fn is_motor(self) -> bool {
        matches!(self, Self::Motor | Self::Fridge)
    }

    /// The word of the job file for how it draws current.
    pub(super) fn load_kind(self) -> &'static str {
        match self {
            Self::LedLamp | Self::Electronic => "led",
            Self::BulbLamp => "filament",
            Self::Motor | Self::Fridge => "motor",
            Self::Heater => "resistor",
        }
    }
}

/// Where something is, as far as heat and water go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Zone {
    EngineBay,
    Cabin,
    Outside,
}

impl Zone {
    pub(super) const OF_BATTERY: &'static [(&'static str, &'static str)] = &[
        ("engine-bay", "under the bonnet"),
        ("cabin", "inside: under a seat, in the boot"),
        ("outside", "outside: at the frame, under the floor"),
    ];
    pub(super) const OF_LOAD: &'static [(&'static str, &'static str)] = &[
        ("outside", "outside: rear, roof, under the vehicle, on a bed"),
        ("cabin", "inside, where it stays dry"),
        ("engine-bay", "under the bonnet"),
    ];

    pub(super) fn of(word: &str) -> Self {
        match word {
            "engine-bay" => Self::EngineBay,
            "cabin" => Self::Cabin,
            _ => Self::Outside,
        }
    }

    /// As the job file says it.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::EngineBay => "engine bay",
            Self::Cabin => "cabin",
            Self::Outside => "under the vehicle",
        }
    }

    /// The zone of a wire from here to there.
    pub(super) fn on_to(self, there: Zone) -> String {
        match (self, there) {
            (a, b) if a == b => a.words().to_owned(),
            (Self::EngineBay, Self::Cabin) => "engine bay, then through the bulkhead grommet, cabin".to_owned(),
            (Self::Cabin, Self::EngineBay) => "cabin, then through the bulkhead grommet, engine bay".to_owned(),
            (Self::EngineBay, Self::Outside) => "engine bay, then under the vehicle".to_owned(),
            (Self::Outside, Self::EngineBay) => "under the vehicle, then engine bay".to_owned(),
            (from, to) => format!("{}, then through a grommet, {}", from.words(), to.words()),
        }
    }
}

impl Brief {
    pub(super) fn kind(&self) -> Kind {
        Kind::of(&self.holds("what").unwrap_or_default())
    }

    pub(super) fn label(&self) -> Option<Label> {
        label(self.given("label")?).ok()
    }

    pub(super) fn system(&self) -> Voltage {
        if let Some(job) = self.existing() {
            return job.vehicle.system;
        }
        self.quantity::<Voltage>("system").map_or(Voltage::volts(12.0), |system| system.nominal)
    }

    /// How many times 12 V the system has.
    pub(super) fn scale(&self) -> f64 {
        self.system() / Voltage::volts(12.0)
    }

    /// What one of the loads draws at the system's voltage.
    pub(super) fn current(&self) -> Option<Current> {
        Some(match self.label()? {
            Label::Watts(power) => Current::amps(power.as_watts() / self.system().as_volts()),
            Label::Amps(current) => current,
        })
    }

    /// What one of the loads takes at the system's voltage.
    pub(super) fn power(&self) -> Option<Power> {
        Some(match self.label()? {
            Label::Watts(power) => power,
            Label::Amps(current) => self.system() * current,
        })
    }

    /// What all loads together draw.
    pub(super) fn total(&self) -> Option<Current> {
        Some(self.current()? * self.count() as f64)
    }

    pub(super) fn count(&self) -> usize {
        if !self.kind().is_lamp() {
            return 1;
        }
        self.holds("count").and_then(|text| text.parse().ok()).unwrap_or(1)
    }

    /// A quantity as it was given or taken.
    pub(super) fn quantity<Q: Quantity>(&self, id: &str) -> Option<Toleranced<Q>> {
        parse_toleranced(&self.holds(id)?).ok()
    }

    pub(super) fn metres(&self, id: &str) -> Length {
        self.quantity::<Length>(id).map_or(Length::metres(1.0), |length| length.nominal)
    }

    pub(super) fn is(&self, id: &str, word: &str) -> bool {
        self.holds(id).is_some_and(|text| text == word)
    }

    pub(super) fn has_switch(&self) -> bool {
        self.is("switched", "switch")
    }

    pub(super) fn has_relay(&self) -> bool {
        self.has_switch() && self.is("relay", "yes")
    }

    pub(super) fn battery_zone(&self) -> Zone {
        Zone::of(&self.holds("battery_place").unwrap_or_default())
    }

    pub(super) fn load_zone(&self) -> Zone {
        Zone::of(&self.holds("load_place").unwrap_or_default())
    }

    pub(super) fn lead(&self) -> Option<(Length, ConductorSize)> {
        if self.count() > 1 {
            return None;
        }
        lead(&self.holds("lead")?).ok().flatten()
    }

    pub(super) fn battery_kind(&self) -> BatteryKind {
        let word = self.holds("battery").unwrap_or_default();
        BatteryKind::WORDS.iter().find(|(known, _)| *known == word).map_or(BatteryKind::Flooded, |(_, kind)| *kind)
    }

    /// The contact rating that the loads ask of a switch, and the words with the numbers.
    pub(super) fn contact_needed(&self) -> Option<(Current, String)> {
        let total = self.total()?;
        let over = contact_factor(self.kind().load_kind(), self.system().as_volts() > 18.0)?;
        let needed = total * over.value;
        let says = format!("{total} × {} for this kind of load is {needed} ({})", over.value, over.citation());
        Some((needed, says))
    }

    /// Whether a relay is wanted, and why.
    pub(super) fn relay_wanted(&self) -> Option<(bool, String)> {
        let rating = self.quantity::<Current>("switch_rating")?.nominal;
        let from = assumed::<Current>("relay-from");
        let total = self.total()?;
        if total >= from.value.nominal {
            return Some((true, format!("{total} in all; {}", from.citation())));
        }
        let (needed, says) = self.contact_needed()?;
        let printed = rating.as_rating();
        Some(if needed > rating {
            (true, format!("{says}; the switch has {printed}"))
        } else {
            (false, format!("{says}; the switch has {printed} and carries it"))
        })
    }

    /// The least rating of the load's fuse, and why.
    pub(super) fn least_fuse(&self) -> (Current, String) {
        let least = assumed::<Current>("fuse-least");
        let over = factor("fuse-over-motor");
        let start = self.total().filter(|_| self.kind().is_motor()).map(|total| total * over.value);
        match start {
            Some(start) if start > least.value.nominal => {
                (start, format!("{} times the running current, since {}", over.value, over.citation()))
            }
            _ => (least.value.nominal, least.citation()),
        }
    }
}
