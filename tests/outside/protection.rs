//! Ampacity, marine sizing tables, short-time withstand.
//! Sources: 33 CFR 183.425 table 5 and its notes; UL 1426 boat-cable table of a cable maker; the 3 % and 10 % tables
//! derived from ABYC E-11 (rows that agree with their own formula); BS 7671 table 43A k values; IEC 60949; ICEA
//! P-32-382; Onderdonk; worked examples as named at each value.

use rigproof::design::smallest_gauge_for_drop;
use rigproof::handbook::ampacity::{allowable, ambient_factor, bundle_factor, published_k, short_time_k, withstand};
use rigproof::quantity::{Area, ConductorSize, Current, Length, Temperature, Voltage};

fn gauge(name: &str) -> ConductorSize {
    ConductorSize::parse(&format!("{name} AWG")).unwrap()
}

#[track_caller]
fn close(ours: f64, published: f64, relative: f64, what: &str) {
    super::agreement::holds(module_path!(), ours, published, relative * published.abs(), what);
}

fn rows(table: &str) -> Vec<(String, Vec<f64>)> {
    let tables: toml::Table = include_str!("data/ampacity.toml").parse().unwrap();
    let rows = tables[table]["rows"].as_array().unwrap();
    let row = |row: &toml::Value| {
        let cells = row.as_array().unwrap();
        let numbers = cells[1..].iter().map(|c| c.as_float().unwrap()).collect();
        (cells[0].as_str().unwrap().to_owned(), numbers)
    };
    rows.iter().map(row).collect()
}

#[test]
fn table_5_of_33_cfr_183_425_is_held_whole() {
    let mut cells = 0;
    for (name, amps) in rows("cfr_183_425") {
        for (celsius, published) in [60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0].into_iter().zip(amps) {
            let ours = allowable(gauge(&name), Temperature::celsius(celsius)).unwrap().value.as_amps();
            close(ours, published, 1e-12, &format!("{name} AWG at {celsius} °C"));
            cells += 1;
        }
    }
    assert_eq!(cells, 105);
}

#[test]
fn engine_space_and_bundle_factors_give_the_boat_cable_table() {
    let insulation = Temperature::celsius(105.0);
    let engine = ambient_factor(insulation, Temperature::celsius(50.0)).value;
    for (name, amps) in rows("ul1426") {
        let base = allowable(gauge(&name), insulation).unwrap().value.as_amps();
        let cells = [(2, 1.0), (2, engine), (3, 1.0), (3, engine), (5, 1.0), (5, engine), (12, 1.0), (12, engine)];
        for ((conductors, place), published) in cells.into_iter().zip(amps) {
            let ours = base * bundle_factor(conductors).value * place;
            // The maker rounds to 0.1 A, once or twice.
            assert!((ours - published).abs() <= 0.101, "{name} AWG x{conductors}: {ours} here, {published} published");
        }
    }
}

#[test]
fn the_heat_balance_gives_the_published_engine_space_factors() {
    // 33 CFR 183.425 note 1. 105 °C was read; the others are from memory and only show that one law gives them all.
    for (celsius, published) in [(60.0, 0.58), (75.0, 0.75), (80.0, 0.78), (90.0, 0.82), (105.0, 0.85), (125.0, 0.89)] {
        let insulation = Temperature::celsius(celsius);
        // A hair beside 50 °C, so that the law and not the row answers.
        let law = ambient_factor(insulation, Temperature::celsius(50.000_001)).value;
        assert!((law - published).abs() < 0.008, "{celsius} °C: {law} here, {published} published");
    }
}

/// 10.75 ohm·cmil/ft in ohm·mm²/m: one circular mil is 5.067e-4 mm², a foot 0.3048 m.
const ABYC_RESISTIVITY: f64 = 10.75 * 5.067_074_79e-4 / 0.3048;

fn marine(text: &str, allowed: f64) -> usize {
    let table: toml::Table = text.parse().unwrap();
    let mut compared = 0;
    for row in table["rows"].as_array().unwrap() {
        let cells = row.as_array().unwrap();
        let number = |at: usize| cells[at].as_integer().map_or_else(|| cells[at].as_float().unwrap(), |n| n as f64);
        let (feet, amps) = (number(0), number(1));
        if !cells[3].as_bool().unwrap() {
            continue; // the source leaves its own formula there, within 3.5 % of a size boundary or by ampacity
        }
        let ours = smallest_gauge_for_drop(
            Current::amps(amps),
            Length::metres(feet * 0.3048),
            Voltage::volts(allowed),
            ABYC_RESISTIVITY,
        );
        let published = gauge(cells[2].as_str().unwrap());
        assert_eq!(ours.unwrap().to_string(), published.to_string(), "{feet} ft, {amps} A, {allowed} V");
        compared += 1;
    }
    compared
}

#[test]
fn conductors_for_3_and_10_per_cent_are_those_of_the_marine_tables() {
    assert_eq!(marine(include_str!("data/marine_3_percent_12v.toml"), 0.36), 139);
    assert_eq!(marine(include_str!("data/marine_10_percent_12v.toml"), 1.2), 16);
}

#[test]
fn published_conductor_sizes_come_out() {
    let size = |amps, feet: f64, volts, k: f64| {
        let resistivity = k * 5.067_074_79e-4 / 0.3048;
        let metres = Length::metres(feet * 0.3048);
        smallest_gauge_for_drop(Current::amps(amps), metres, Voltage::volts(volts), resistivity).unwrap().to_string()
    };
    // Marine chandler's ABYC page: bilge pump, 21 ft in all, 3 % of 12 V and of 32 V.
    assert_eq!(size(10.0, 21.0, 0.36, 10.75), "12 AWG");
    assert_eq!(size(10.0, 21.0, 0.96, 10.75), "16 AWG");
    // Electrical exam tutor: K = 12.9, 180 ft one way, 30 A, 3.6 V.
    assert_eq!(size(30.0, 360.0, 3.6, 12.9), "4 AWG");
    // Lessons in Electric Circuits vol. I ch. 12: rho 10.09, 4,600 ft, 25 A, 10 V: 116,035 cmil, 2/0.
    assert_eq!(size(25.0, 4600.0, 10.0, 10.09), "2/0 AWG");
}

#[test]
fn k_follows_from_the_material_and_the_two_temperatures() {
    let mut compared = 0;
    for (insulation, start, end, k) in published_k() {
        close(short_time_k(start, end).value, k, 0.005, insulation);
        compared += 1;
    }
    assert_eq!(compared, 6);
}

#[test]
fn short_time_withstand_is_that_of_the_worked_examples() {
    // A cable page: 2,500 A for 0.1 s with k = 115 needs 6.9 mm² (6.875).
    let time = withstand(Area::mm2(6.9), 115.0, Current::amps(2500.0)).as_seconds();
    close(time, 0.1, 0.01, "2,500 A on 6.9 mm²");
    // Another page prints 590 mm² for 10,000 A, 0.4 s, k = 115; the formula gives 55.0 mm², and so do we.
    let time = withstand(Area::mm2(55.0), 115.0, Current::amps(10_000.0)).as_seconds();
    close(time, 0.4, 0.01, "10 kA on 55 mm²");
    // ICEA P-32-382: 10 AWG, 75 to 150 °C, one cycle of 60 Hz: 4,300 A (4,252 by the formula).
    let k = short_time_k(Temperature::celsius(75.0), Temperature::celsius(150.0)).value;
    let amps = k * gauge("10").area().as_mm2() / 0.0167f64.sqrt();
    close(amps, 4300.0, 0.013, "10 AWG for one cycle");
    // The same source: one ampere per 42.25 circular mils for 5 s.
    let mils = 1.0 / (k * 5.067_074_79e-4 / 5f64.sqrt());
    close(mils, 42.25, 0.012, "circular mils per ampere for 5 s");
    // Onderdonk to the melting point, 16 AWG, 25 °C, 5 s. A post prints 178 A by a slip of sign; the formula gives 168.9 A.
    let k = short_time_k(Temperature::celsius(25.0), Temperature::celsius(1083.0)).value;
    let amps = k * gauge("16").area().as_mm2() / 5f64.sqrt();
    close(amps, 168.9, 0.012, "16 AWG fuses in 5 s");
    let time = withstand(gauge("14").area(), k, Current::amps(400.0)).as_seconds();
    close(time, 2.26, 0.025, "14 AWG at 400 A");
}
