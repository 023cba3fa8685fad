//! Reads loads: what they draw, what they need.

use super::parts::{Load, LoadKind};
use super::read::{Assumptions, note};
use crate::document::{Problem, Table};
use crate::handbook::assumption::factor;
use crate::quantity::{Current, Power, Resistance, Toleranced, Voltage};

pub(super) fn read_load(name: String, table: &Table, system: Voltage, assumptions: &Assumptions) -> Option<Load> {
    #[derive(Clone, Copy)]
    enum Word {
        Resistor,
        Filament,
        Led,
        Motor,
    }
    let words =
        [("resistor", Word::Resistor), ("filament", Word::Filament), ("led", Word::Led), ("motor", Word::Motor)];
    let kind = match table.required_choice("kind", &words) {
        Some(Word::Resistor) => read_resistor(table, system),
        Some(Word::Filament) => read_filament(&name, table, system, assumptions),
        Some(Word::Led) => table.required_positive("power").map(|power| LoadKind::Led {
            power,
            works_from: table.positive::<Voltage>("works_from").map(|v| v.nominal),
        }),
        Some(Word::Motor) => read_motor(&name, table, system, assumptions),
        // Without a kind nobody knows which keys belong here.
        None => return None,
    };
    let allowed_drop = table.text("allowed_drop").and_then(|text| {
        let share = text.trim().strip_suffix('%').and_then(|n| n.trim().replace(',', ".").parse::<f64>().ok());
        let share = share.filter(|s| *s > 0.0 && *s < 100.0);
        if share.is_none() {
            let place = table.place_of("allowed_drop");
            table.problem(Problem::at(place, format!("`{text}` is not a share"), "write it as \"3 %\""));
        }
        share.map(|s| s / 100.0)
    });
    let continuous = table.choice("duty", &[("continuous", true), ("intermittent", false)]).unwrap_or(true);
    let load = Load {
        name,
        kind: kind?,
        needs: table.positive::<Voltage>("needs").map(|v| v.nominal),
        allowed_drop,
        inrush: table.positive::<Current>("inrush").map(|c| c.nominal),
        continuous,
        standby: table.not_negative("standby"),
        height: table.positive("height"),
        tilt: table.slope("tilt"),
        intensity: table.positive("intensity"),
        place: table.text("place"),
    };
    table.note_unknown_keys();
    Some(load)
}

fn read_resistor(table: &Table, system: Voltage) -> Option<LoadKind> {
    if table.has("resistance") {
        return table.positive("resistance").map(|resistance| LoadKind::Resistor { resistance });
    }
    if !table.has("power") {
        table.missing("resistance", "the resistance, or `power` and `at`");
        return None;
    }
    let power = table.positive::<Power>("power")?;
    let at = table.positive::<Voltage>("at").map_or(system, |v| v.nominal);
    let ohms = |watts: f64| Resistance::ohms(at.as_volts().powi(2) / watts);
    let (low, high) = (ohms(power.high().as_watts()), ohms(power.low().as_watts()));
    let nominal = ohms(power.nominal.as_watts());
    let half = Resistance::ohms((high.as_ohms() - low.as_ohms()) / 2.0);
    Some(LoadKind::Resistor { resistance: Toleranced::plus_minus(nominal, half) })
}

fn read_filament(name: &str, table: &Table, system: Voltage, assumptions: &Assumptions) -> Option<LoadKind> {
    let power = table.required_positive::<Power>("power");
    let at = table.positive::<Voltage>("at").map_or(system, |v| v.nominal);
    let stated = table.positive("cold");
    let power = power?;
    let cold = stated.unwrap_or_else(|| {
        let over = factor("filament-cold-factor");
        let hot = at.as_volts().powi(2) / power.nominal.as_watts();
        let value = over.map(|f| Toleranced::plus_minus(Resistance::ohms(hot / f), Resistance::ohms(hot / f * 0.3)));
        note(assumptions, name, "cold resistance", &value)
    });
    Some(LoadKind::Filament { power, at, cold })
}

fn read_motor(name: &str, table: &Table, system: Voltage, assumptions: &Assumptions) -> Option<LoadKind> {
    let current = table.required_positive::<Current>("current");
    let at = table.positive::<Voltage>("at").map_or(system, |v| v.nominal);
    let stall = table.positive::<Current>("stall");
    let current = current?;
    let winding = if let Some(stall) = &stall {
        Toleranced::plus_minus(at / stall.nominal, (at / stall.nominal) * 0.3)
    } else {
        let over = factor("motor-stall-factor");
        let value = over.map(|f| {
            let winding = at / (current.nominal * f);
            Toleranced::plus_minus(winding, winding * 0.5)
        });
        note(assumptions, name, "winding resistance", &value)
    };
    Some(LoadKind::Motor { current, at, stall: stall.map(|s| s.nominal), winding })
}
