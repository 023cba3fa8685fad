//! Lamp aim and battery energy against figures that others print.
//! Sources: California, Vehicle Code 24403 (fog lamps, 4 in at 25 ft); a vehicle maker's aiming figures (153 mm at
//! 7.62 m are 2.0 % or 1.15°; 53 mm are 0.70 % or 0.4°); plain geometry and the inverse square, worked by hand; rest
//! voltages over charge of the battery makers' council as a course on state of charge prints them, and bands of a
//! vehicle maker for AGM; a battery monitor's manual that works exponents out of makers' 20-hour ratings and reserve
//! minutes at 25 A; workshop guides on key-off current.

use rigproof::aim::{Beam, Light, Passing};
use rigproof::document::Source;
use rigproof::energy::{Ending, Energy, Level, Question, RunTime, lasts, share_at};
use rigproof::handbook::battery::{key_off, rest_table};
use rigproof::job::Job;
use rigproof::quantity::{Angle, Charge, Current, Duration, Illuminance, Intensity, Length, Share, Slope, Voltage};

#[track_caller]
fn close(ours: f64, published: f64, allowed: f64, what: &str) {
    super::agreement::holds(module_path!(), ours, published, allowed, what);
}

fn beam(metres: f64, tilt: Slope) -> Beam {
    Beam { height: Length::metres(metres), tilt }
}

/// 1 % = 10 cm at 10 m = 7.6 cm at 7.62 m (25 ft) = 0.573°.
#[test]
fn one_per_cent_of_tilt_is_ten_centimetres_in_ten_metres() {
    let one = beam(0.9, Slope::percent(1.0));
    close(one.drop_at(Length::metres(10.0)).as_metres(), 0.10, 1e-9, "drop at 10 m");
    close(one.drop_at(Length::metres(7.62)).as_metres(), 0.076, 0.0005, "drop at 25 ft");
    close(one.tilt.as_angle().as_degrees(), 0.573, 0.0005, "degrees");
    let back = Beam::by_wall(Length::metres(0.9), Length::metres(0.10), Length::metres(10.0));
    close(back.tilt.as_percent(), 1.0, 1e-9, "from the wall");
}

#[test]
fn drops_at_25_feet_are_the_tilts_that_a_law_and_a_maker_print() {
    let feet_25 = Length::metres(25.0 * 0.3048);
    for (what, drop, percent, degrees) in [
        ("fog lamp, 4 in (California 24403)", 4.0 * 0.0254, 1.33, 0.76),
        ("fog cut-off, 153 mm (a maker)", 0.153, 2.0, 1.15),
        ("gas discharge, 53 mm (a maker)", 0.053, 0.70, 0.40),
    ] {
        let found = Beam::by_wall(Length::metres(0.6), Length::metres(drop), feet_25);
        close(found.tilt.as_percent(), percent, 0.01, what);
        close(found.tilt.as_angle().as_degrees(), degrees, 0.005, what);
    }
}

/// 40 000 cd: 400 lx at 10 m, 1 lx at 200 m (√40 000).
#[test]
fn the_inverse_square_gives_400_lx_at_10_m_and_1_lx_at_200_m() {
    let light = Light { intensity: Intensity::candela(40_000.0) };
    close(light.facing(Length::metres(10.0)).as_lux(), 400.0, 1e-9, "10 m");
    close(light.reaches(Illuminance::lux(1.0)).as_metres(), 200.0, 1e-9, "1 lx");
    // A level beam falls straight on the wall.
    let level = beam(0.9, Slope::percent(0.0));
    close(light.on_wall(&level, Length::metres(10.0)).as_lux(), 400.0, 1e-9, "on the wall");
}

/// A lamp at 2.0 m that is tilted by 15 degrees: the middle of the beam meets the ground at 7.5 m. By hand: 2.0 / tan 15°
/// = 7.464 m; it passes 1.1 m at 0.9 / tan 15° = 3.359 m.
#[test]
fn a_work_lamp_at_two_metres_and_15_degrees_lights_the_ground_at_seven_and_a_half() {
    let lamp = beam(2.0, Slope::angle(Angle::degrees(15.0)));
    close(lamp.meets_ground().unwrap().as_metres(), 7.5, 0.05, "ground");
    let Passing::At(distance) = lamp.passes_eyes() else { panic!("it comes down past the eyes") };
    close(distance.as_metres(), 3.359, 0.001, "eyes");
}

/// Flooded, 26.7 °C: 12.65 V full, 12.45, 12.24, 12.06, 11.89 V empty. AGM: 12.8, 12.6, 12.3, 12.0 V are the edges of 100,
/// 75, 50 and 25 per cent.
#[test]
fn rest_voltages_are_those_of_the_tables_row_by_row_and_rise_between() {
    let printed: [(&str, &[(f64, f64)]); 2] = [
        ("flooded", &[(100.0, 12.65), (75.0, 12.45), (50.0, 12.24), (25.0, 12.06), (0.0, 11.89)]),
        ("agm", &[(100.0, 12.8), (75.0, 12.6), (50.0, 12.3), (25.0, 12.0)]),
    ];
    for (kind, rows) in printed {
        let table = rest_table(kind).expect(kind);
        for (percent, volts) in rows {
            let (low, high) = table.charge_at(Voltage::volts(*volts));
            close(low.as_percent(), *percent, 1e-6, kind);
            close(high.as_percent(), *percent, 1e-6, kind);
            close(table.volts_at(Share::percent(*percent)).as_volts(), *volts, 1e-9, kind);
        }
        let (fullest, emptiest) = (rows[0].1, rows[rows.len() - 1].1);
        let between = (11_000..13_000).map(|mv| f64::from(mv) / 1000.0).filter(|v| *v >= emptiest && *v < fullest);
        let mut last = -1.0;
        for volts in between {
            let (low, high) = table.charge_at(Voltage::volts(volts));
            assert!(low.as_percent() > last && low == high, "{kind} at {volts} V");
            last = low.as_percent();
        }
        assert!(last > 99.0, "{kind}: {last}");
    }
    // Below the last band of AGM nobody says more than 0 to 25 %.
    let (low, high) = rest_table("agm").unwrap().charge_at(Voltage::volts(11.5));
    close(low.as_percent(), 0.0, 1e-9, "agm below its table");
    close(high.as_percent(), 25.0, 1e-9, "agm below its table");
    assert!(rest_table("lithium-iron-phosphate").is_none() && rest_table("gel").is_none());
}

/// Days to half empty = 0.5 × Ah × 1000 / mA / 24: 60 Ah at 50 mA 25 days, at 300 mA about 4. The common limit is 50 mA.
#[test]
fn a_parked_60_ah_battery_is_half_empty_after_25_days_at_50_ma_and_4_at_300() {
    let days = |milliamps: f64| {
        let time = lasts(Charge::amp_hours(60.0), Share::percent(50.0), Current::amps(milliamps / 1000.0)).unwrap();
        time.as_seconds() / 86400.0
    };
    close(days(50.0), 25.0, 1e-9, "50 mA");
    close(days(300.0), 4.0, 0.2, "300 mA");
    close(key_off().value.limit.as_amps(), 0.050, 1e-12, "limit");
}

/// The manual prints for each battery its 20-hour rating, its reserve minutes at 25 A, and the exponent out of both.
#[test]
fn exponents_give_back_the_reserve_minutes_at_25_a() {
    for (amp_hours, minutes, exponent) in [
        (70.0, 130.0, 1.13),
        (86.0, 167.0, 1.12),
        (95.0, 188.0, 1.12),
        (225.0, 500.0, 1.10),
        (225.0, 447.0, 1.24),
        (85.0, 135.0, 1.23),
        (216.0, 450.0, 1.17),
    ] {
        let drawn = Current::amps(25.0);
        let share = share_at(drawn, Current::amps(amp_hours / 20.0), exponent);
        let ours = amp_hours * share / drawn.as_amps() * 60.0;
        close(ours, minutes, minutes * 0.03, &format!("{amp_hours} Ah"));
    }
    close(share_at(Current::amps(2.0), Current::amps(5.0), 1.2), 1.0, 1e-12, "a small current takes nothing away");
}

/// A motor draws its current whatever the voltage, so that its run time is known by hand.
fn pump(amps: f64, kind: &str) -> Job {
    let text = format!(
        r#"format = 1
title = "One pump"
[vehicle]
description = "Yard tractor"
system = "12 V"
[battery]
kind = "{kind}"
capacity = "100 Ah"
rest_voltage = "12.65 V"
internal_resistance = "6 mohm"
[fuse.F1]
rating = "40 A"
[ground.G1]
[load.pump]
kind = "motor"
current = "{amps} A"
[wire.w1]
from = "battery.+"
to = "F1.in"
size = "6 mm²"
length = "0.15 m"
[wire.w2]
from = "F1.out"
to = "pump.+"
size = "6 mm²"
length = "2 m"
[wire.w3]
from = "G1"
to = "pump.-"
size = "6 mm²"
length = "1 m"
"#
    );
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

fn run(job: &Job, from: Option<&str>, to: Option<&str>) -> RunTime {
    let level = |text: Option<&str>| text.map(|t| Level::parse(t).unwrap());
    let question = Question {
        on: [].into(),
        engine: None,
        from: level(from),
        to: level(to),
        vehicle: None,
        key_off: None,
        parked: Duration::seconds(86400.0),
    };
    let energy = Energy::of(job, &question).unwrap();
    match &energy.batteries[0].1 {
        Ending::RunsDown(run) => (**run).clone(),
        other => panic!("{other:?}"),
    }
}

/// 50 Ah at 5 A, the 20-hour rate: 10 h. At 20 A and exponent 1.2: 50 × (5 / 20)^0.2 / 20 = 1.895 h, and 2.5 h without loss.
/// From 12.45 V (75 %) to 12.06 V (25 %) at 5 A: 10 h again.
#[test]
fn run_times_by_hand_come_out_of_the_solved_circuit() {
    let hours = |time: Duration| time.as_seconds() / 3600.0;
    close(hours(run(&pump(5.0, "flooded"), None, None).time.likely), 10.0, 0.01, "20-hour rate");
    let fast = run(&pump(20.0, "flooded"), None, None);
    close(hours(fast.time.likely), 50.0 * 0.25f64.powf(0.2) / 20.0, 0.005, "20 A");
    close(hours(fast.without_loss.unwrap()), 2.5, 0.005, "20 A without loss");
    close(fast.delivered.as_amp_hours(), 50.0 * 0.25f64.powf(0.2), 0.1, "what comes out");
    let between = run(&pump(5.0, "flooded"), Some("12.45 V"), Some("12.06 V"));
    close(hours(between.time.likely), 10.0, 0.01, "between two voltages");
    // The voltage of lithium iron phosphate has no say: 80 to 30 % by a counter, exponent 1.05 at the 20-hour rate.
    let lithium = run(&pump(5.0, "lithium-iron-phosphate"), Some("80 %"), Some("30 %"));
    close(hours(lithium.time.likely), 10.0, 0.01, "lithium by its counter");
}
