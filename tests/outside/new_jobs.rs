//! What `new` chooses, against sizes that others published.
//!
//! Sources: the tables of conductor sizes for 3 % and 10 % drop at 12 V that a marine trade document derives from
//! ABYC E-11 (`data/marine_*_percent_12v.toml`; cells that agree with their own formula), worked examples named at each.
//! The tables count the wire alone, at 29 °C; `new` counts fuse, joints and the warmth of the wire as well, in metric
//! sizes, and keeps a fuse for the wire. So its conductor is never thinner than the table's. It is not thicker without
//! need either: with what fuse and joints take taken off the 3 %, a wire at 60 °C (IEC 60228: 250/(230 + t)) and the
//! least copper of a metric size (IEC 60228 class 5: 0.86 of its label), the table's formula comes within one size.

use rigproof::brief::{Asking, Brief, Proposal};
use rigproof::circuit::{Circuit, State};
use rigproof::handbook::conductor::standard_metric_sizes;
use rigproof::quantity::{Area, ConductorSize, Temperature};

/// The proposal for a heating wire at the end of a two-wire line inside the vehicle, without a switch.
fn line(amps: f64, there_and_back_ft: f64, drop: &str) -> Proposal {
    let mut brief = Brief::new();
    let one_way = there_and_back_ft / 2.0 * 0.3048;
    let answers = [
        ("what", "heater".to_owned()),
        ("label", format!("{amps} A")),
        ("battery_place", "cabin".to_owned()),
        ("load_place", "cabin".to_owned()),
        ("switched", "always".to_owned()),
        ("way", format!("{one_way:.4} m")),
        ("return", "wire".to_owned()),
        ("lead", "none".to_owned()),
        ("drop", drop.to_owned()),
    ];
    for (id, text) in answers {
        brief.answer(id, &text).unwrap_or_else(|refused| panic!("{id}: {}", refused.says));
    }
    Proposal::of(&brief).unwrap_or_else(|unfit| panic!("{unfit:?}"))
}

/// The thinnest conductor of the line and the share that was kept.
fn chosen(proposal: &Proposal) -> (ConductorSize, f64) {
    let load = &proposal.job.loads[0];
    let way = proposal.job.wires.iter().filter(|wire| wire.length.nominal.as_metres() > 0.2);
    let size = way.map(|wire| wire.size).min_by(|a, b| a.area().as_mm2().total_cmp(&b.area().as_mm2())).unwrap();
    (size, load.allowed_drop.unwrap())
}

/// What everything but the copper of the long wires takes, in volts.
fn taken_by_parts(proposal: &Proposal) -> f64 {
    let job = &proposal.job;
    let solution = Circuit::of(job).solve(&State::all_on(job)).unwrap();
    let posts = solution.voltage(&job.terminal("battery.+").unwrap()).unwrap();
    let lost = posts - solution.load_voltage(&job.loads[0].name).unwrap();
    let amps = solution.current(&job.loads[0].name).unwrap().as_amps();
    let long = job.wires.iter().filter(|wire| wire.length.nominal.as_metres() > 0.2);
    let copper = long.map(|wire| {
        let cold = rigproof::handbook::conductor::resistance_at_20c(wire.size, wire.length.nominal).value;
        cold.as_ohms() * rigproof::handbook::conductor::temperature_factor(Temperature::celsius(60.0))
    });
    lost.as_volts() - amps * copper.sum::<f64>()
}

/// Steps of the standard sizes from the smallest that reaches `needed` up to `size`; below nought where it is thinner.
fn steps_above(size: ConductorSize, needed: Area) -> isize {
    let sizes = standard_metric_sizes();
    let smallest = sizes.iter().position(|s| s.area() >= needed).unwrap_or(sizes.len());
    let here = sizes.iter().position(|s| s.area() == size.area()).unwrap();
    here.cast_signed() - smallest.cast_signed()
}

const CIRCULAR_MIL_MM2: f64 = 5.067_074_79e-4;

struct Cell {
    feet: f64,
    amps: f64,
    /// What 10.75·I·L/E asks for.
    needed: Area,
}

fn cells(text: &str, allowed: f64) -> Vec<Cell> {
    let table: toml::Table = text.parse().unwrap();
    let rows = table["rows"].as_array().unwrap().iter().map(|row| row.as_array().unwrap());
    let number = |value: &toml::Value| value.as_float().or_else(|| value.as_integer().map(|n| n as f64)).unwrap();
    rows.filter(|row| row[3].as_bool() == Some(true))
        .map(|row| {
            let (feet, amps) = (number(&row[0]), number(&row[1]));
            Cell { feet, amps, needed: Area::mm2(10.75 * amps * feet / allowed * CIRCULAR_MIL_MM2) }
        })
        .collect()
}

#[test]
fn a_new_line_is_never_thinner_than_the_marine_table_of_three_per_cent() {
    let mut steps = Vec::new();
    // Fuses up to 80 A are chosen here, so loads up to 55 A; each second cell is enough.
    let cells = cells(include_str!("data/marine_3_percent_12v.toml"), 0.36);
    for cell in cells.iter().filter(|cell| cell.amps <= 50.0).step_by(2) {
        let proposal = line(cell.amps, cell.feet, "3 %");
        let (size, share) = chosen(&proposal);
        // Where fuse and joints alone take most of the 3 %, the proposal says so and takes the next share.
        if share > 0.031 {
            assert!(
                proposal.choices.iter().any(|choice| choice.subject == "voltage"),
                "{} ft {} A",
                cell.feet,
                cell.amps
            );
            continue;
        }
        let above = steps_above(size, cell.needed);
        assert!(above >= 0, "{} ft, {} A: {size} for {} mm²", cell.feet, cell.amps, cell.needed.as_mm2());
        let room = (0.36 - taken_by_parts(&proposal)) / 0.36;
        let hot = (234.5 + 60.0) / (234.5 + 29.3);
        let with_parts = Area::mm2(cell.needed.as_mm2() / room * hot / 0.86);
        assert!(room > 0.0, "{} ft, {} A", cell.feet, cell.amps);
        let more = steps_above(size, with_parts);
        assert!(more <= 1, "{} ft, {} A: {size} for {} mm²", cell.feet, cell.amps, with_parts.as_mm2());
        steps.push(above);
    }
    let count = |n: isize| steps.iter().filter(|s| **s == n).count();
    println!(
        "3 %: {} cells; {} the same size, {} one larger, {} two larger",
        steps.len(),
        count(0),
        count(1),
        count(2)
    );
    assert!(steps.len() >= 20, "{} cells", steps.len());
}

#[test]
fn a_new_line_is_never_thinner_than_the_marine_table_of_ten_per_cent() {
    let mut compared = 0;
    for cell in cells(include_str!("data/marine_10_percent_12v.toml"), 1.2).iter().filter(|cell| cell.amps <= 50.0) {
        let (size, share) = chosen(&line(cell.amps, cell.feet, "10 %"));
        assert!((share - 0.10).abs() < 1e-9);
        let above = steps_above(size, cell.needed);
        assert!(above >= 0, "{} ft, {} A: {size} for {} mm²", cell.feet, cell.amps, cell.needed.as_mm2());
        compared += 1;
    }
    assert!(compared >= 10, "{compared} cells");
}

/// ABYC's own example as a boating forum quotes it: a bilge pump of 5 A, 40 ft there and back at 3 %, needs
/// 5,972 circular mils, 12 AWG (voltage-drop.toml, worked_examples, marine_bilge_pump_3pct).
#[test]
fn a_bilge_pump_gets_at_least_the_published_conductor() {
    let text = include_str!("data/voltage_drop_examples.toml");
    let table: toml::Table = text.parse().unwrap();
    let examples = table["example"].as_array().unwrap();
    let row = examples.iter().find(|row| row["id"].as_str() == Some("marine_bilge_pump_3pct")).unwrap();
    let inputs = row["inputs"].as_table().unwrap();
    let get = |key: &str| inputs[key].as_float().or_else(|| inputs[key].as_integer().map(|n| n as f64)).unwrap();
    let needed = Area::mm2(get("k") * get("current_a") * get("total_ft") / get("allowed_vd") * CIRCULAR_MIL_MM2);
    let (size, _) = chosen(&line(get("current_a"), get("total_ft"), "3 %"));
    assert!((0..=2).contains(&steps_above(size, needed)), "{size} for {} mm²", needed.as_mm2());
}

/// A relay from 15 A on (a city's vehicle specification), contacts by FAA AC 43.13-1B table 11-4: lamp 5, motor 2,
/// heater 1 times the current at 12 V.
#[test]
fn a_relay_is_wanted_where_the_published_factors_ask_for_one() {
    let wanted = |what: &str, label: &str, rating: &str| {
        let mut brief = Brief::new();
        for (id, text) in [("what", what), ("label", label), ("switch_rating", rating)] {
            brief.answer(id, text).unwrap();
        }
        brief.holds("relay").unwrap()
    };
    for (what, factor) in [("bulb-lamp", 5.0), ("motor", 2.0), ("heater", 1.0)] {
        let most = 10.0 / factor;
        assert_eq!(wanted(what, &format!("{} A", most - 0.01), "10 A"), "no", "{what}");
        assert_eq!(wanted(what, &format!("{} A", most + 0.01), "10 A"), "yes", "{what}");
    }
    assert_eq!(wanted("heater", "14.9 A", "40 A"), "no");
    assert_eq!(wanted("heater", "15 A", "40 A"), "yes");
}
