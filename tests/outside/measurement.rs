//! Decision rules, uncertainty of instruments and risks of acceptance, against worked examples.
//!
//! Sources: JCGM 106:2012 clauses 7 to 9 (the examples of the Zener diode, the burst pressure, the oil, the speed
//! measurement: numbers from memory of its readers, recomputed; the ball bearing as worked in a public notebook that cites
//! clause 9.5.4); ILAC-G8:09/2019 (guard band and non-binary statement, as two laboratories print it); Deaver's and the
//! draft RP-19 tables of false acceptance, as the tests of a public uncertainty library cite them; three meter makers'
//! manuals (accuracy, temperature, lead resistance); EA-4/02 S9; ISO 13528 (E_n).

use rigproof::document::Source;
use rigproof::handbook::meter::MeterRange;
use rigproof::job::{Acceptance, Job};
use rigproof::judgement::risk::{Limits, global};
use rigproof::judgement::{Decision, How, Measured, agreement, decide, probability_within};
use rigproof::quantity::{Amount, Dimension};

fn volts(value: f64) -> Amount {
    Amount::new(value, Dimension::Voltage)
}

#[track_caller]
fn close(value: f64, expected: f64, tolerance: f64) {
    super::agreement::holds(module_path!(), value, expected, tolerance, "a published value");
}

fn range(percent: f64, percent_of_range: f64, up_to: f64, counts: f64, digit: f64) -> MeterRange {
    MeterRange { up_to: volts(up_to), digit: volts(digit), percent, percent_of_range, counts }
}

fn read(range: MeterRange, value: f64) -> Measured {
    Measured { value: volts(value), largest_error: range.largest_error(volts(value)) }
}

#[test]
fn the_probability_of_conformance_is_that_of_the_standard() {
    let p = |y: f64, u: f64, low: Option<f64>, high: Option<f64>| {
        probability_within(volts(y), volts(u), low.map(volts), high.map(volts))
    };
    // JCGM 106 clause 7: 0.92 for the Zener diode, 0.99 for the burst pressure, 0.66 for the oil.
    close(p(-5.47, 0.05, None, Some(-5.4)), 0.919_243_3, 1e-6);
    close(p(509.7, 8.6, Some(490.0), None), 0.989_009_5, 1e-6);
    close(p(13.6, 1.8, Some(12.5), Some(16.3)), 0.662_629_8, 1e-6);
    // z for a one-sided probability: the standard normal table.
    for (share, z) in [(0.8, 0.841_621), (0.9, 1.281_552), (0.95, 1.644_854), (0.975, 1.959_964), (0.999, 3.090_232)] {
        close(p(0.0, 1.0, None, Some(z)), share, 1e-6);
    }
}

#[test]
fn a_guard_band_of_k_times_u_leaves_the_specific_risk_that_ilac_states() {
    for (k, risk) in [(0.0, 0.5), (1.645, 0.049_984_9), (1.96, 0.024_997_9), (2.0, 0.022_750_1), (3.0, 0.001_349_9)] {
        // A value right at the end of the acceptance interval.
        let wrong = 1.0 - probability_within(volts(10.0 - k), volts(1.0), None, Some(volts(10.0)));
        close(wrong, risk, 1e-6);
        let decision = decide(volts(10.0 - k), volts(k), (None, Some(volts(10.0))), How::Guarded, volts(10.0));
        assert_eq!(decision, Decision::Accept, "k = {k}");
    }
}

#[test]
fn nobody_is_found_too_fast_before_the_guard_band_is_passed() {
    // JCGM 106, speed measurement: limit 100, relative standard uncertainty 2 %, 99.9 % sure from 106.59 on.
    let decided =
        |v: f64| decide(volts(v), volts(3.090_232 * 0.02 * v), (None, Some(volts(100.0))), How::Guarded, volts(100.0));
    assert_eq!(decided(106.58), Decision::Undecided);
    assert_eq!(decided(106.59), Decision::Reject);
}

#[test]
fn four_states_of_the_non_binary_statement() {
    let meter = range(0.8, 0.0, 2.0, 5.0, 0.001);
    let expected = [
        (0.34, 0.008_914, 0.999_996, Decision::Accept),
        (0.35, 0.009_007, 0.986_81, Decision::Accept),
        (0.355, 0.009_053, 0.865_339, Decision::Undecided),
        (0.365, 0.009_145, 0.137_095, Decision::Undecided),
        (0.375, 0.009_238, 0.000_582, Decision::Reject),
    ];
    for (value, uncertainty, probability, decision) in expected {
        let reading = read(meter, value);
        close(reading.expanded_uncertainty().base(), uncertainty, 2e-6);
        close(reading.probability_within(None, Some(volts(0.36))), probability, 2e-6);
        let limits = (None, Some(volts(0.36)));
        assert_eq!(decide(volts(value), reading.expanded_uncertainty(), limits, How::Guarded, volts(0.36)), decision);
    }
}

/// A normal density.
fn normal(mean: f64, deviation: f64) -> impl Fn(f64) -> f64 {
    move |x| (-0.5 * ((x - mean) / deviation).powi(2)).exp() / (deviation * (2.0 * std::f64::consts::PI).sqrt())
}

fn limits(low: f64, high: f64) -> Limits {
    Limits { low: Some(volts(low)), high: Some(volts(high)) }
}

#[test]
fn global_risks_of_the_resistor_are_those_of_the_standard() {
    // JCGM 106 clause 9: 1 % and 7 % with a guard band of 0.02 ohm; without one, and with one of U.
    let cases = [
        (1499.82, 1500.18, 0.009_878_3, 0.069_026_5),
        (1499.8, 1500.2, 0.018_942_2, 0.037_207_8),
        (1499.88, 1500.12, 0.000_468_63, 0.247_669_6),
    ];
    for (low, high, consumer, producer) in cases {
        let spread = (volts(1499.0), volts(1501.0));
        let risks = global(normal(1500.0, 0.12), spread, volts(0.04), limits(1499.8, 1500.2), limits(low, high));
        close(risks.consumer, consumer, 2e-6);
        close(risks.producer, producer, 2e-6);
    }
}

#[test]
fn global_risks_of_the_ball_bearing_are_those_of_the_standard() {
    // JCGM 106 clause 9.5.4: gamma prior of shape 4 and scale 0.25, limit 2.
    let gamma = |x: f64| if x <= 0.0 { 0.0 } else { x.powi(3) * (-x / 0.25).exp() / (6.0 * 0.25f64.powi(4)) };
    let (spread, tolerance) = ((volts(0.0), volts(12.0)), Limits { low: None, high: Some(volts(2.0)) });
    for (accepted, consumer, producer) in [(2.0, 0.008_019_1, 0.017_444_6), (1.671_828_8, 0.001, 0.075_493_9)] {
        let acceptance = Limits { low: None, high: Some(volts(accepted)) };
        let risks = global(gamma, spread, volts(0.25), tolerance, acceptance);
        close(risks.consumer, consumer, 2e-6);
        close(risks.producer, producer, 2e-6);
    }
}

#[test]
fn false_acceptance_and_rejection_are_those_of_the_published_tables() {
    let spread = (volts(-9.0), volts(9.0));
    // Deaver: limits, standard deviation of the test, acceptance as a share of the limit.
    let deaver = [
        (2.0, 0.25, 1.0, 0.008_006_1, 0.014_850_9),
        (2.5, 0.25, 1.0, 0.002_445_3, 0.005_319_4),
        (2.0, 0.5, 0.91, 0.008_051_6, 0.066_106_5),
    ];
    for (limit, test, guard, accepted, rejected) in deaver {
        let acceptance = limits(-limit * guard, limit * guard);
        let risks = global(normal(0.0, 1.0), spread, volts(test), limits(-limit, limit), acceptance);
        close(risks.consumer, accepted, 2e-6);
        close(risks.producer, rejected, 2e-6);
    }
    // Draft RP-19: a test four times finer than the process, limits at one; in tolerance, false accept in per cent. The
    // standard deviation of the process is the one with that share within one.
    let rp19 = [(0.6, 4.838_603_26), (0.8, 2.855_830_37), (0.95, 0.871_009_25)];
    for (in_tolerance, percent) in rp19 {
        let share =
            |deviation: f64| probability_within(volts(0.0), volts(deviation), Some(volts(-1.0)), Some(volts(1.0)));
        let (mut narrow, mut wide) = (0.1, 10.0);
        for _ in 0..200 {
            let middle = f64::midpoint(narrow, wide);
            if share(middle) > in_tolerance { narrow = middle } else { wide = middle }
        }
        let spread = (volts(-9.0 * narrow), volts(9.0 * narrow));
        let risks = global(normal(0.0, narrow), spread, volts(narrow / 4.0), limits(-1.0, 1.0), limits(-1.0, 1.0));
        close(100.0 * risks.consumer, percent, 2e-4);
    }
}

#[test]
fn the_accuracy_of_a_meter_is_counted_as_its_manual_says() {
    // A meter maker's manual, page 12: 1.396 V at ±(0.8 % + 5) on a digit of 1 mV.
    close(range(0.8, 0.0, 2.0, 5.0, 0.001).largest_error(volts(1.396)).base(), 0.016_168, 1e-9);
    // An introduction of another maker: 100.0 V at ±(1 % + 2) lies between 98.8 and 101.2 V.
    close(range(1.0, 0.0, 200.0, 2.0, 0.1).largest_error(volts(100.0)).base(), 1.2, 1e-9);
    // The table of a 310,000-count instrument: 0.02 % of the reading, 0.005 % of the range, 5 counts.
    close(range(0.02, 0.005, 30.0, 5.0, 0.0001).largest_error(volts(12.62)).base(), 0.004_524, 1e-9);
}

#[test]
fn a_specification_is_a_rectangle_and_its_expanded_uncertainty_follows() {
    let reading = Measured { value: volts(12.62), largest_error: volts(0.150_96) };
    close(reading.standard_uncertainty().base(), 0.087_156_8, 2e-6);
    close(reading.expanded_uncertainty().base(), 0.174_313_6, 2e-6);
    // 95 % of a rectangle is 0.95 of it (EA-4/02 S9: k = 1.65 for a dominant rectangle).
    close(0.95 * 3f64.sqrt(), 1.645_448_3, 1e-6);
}

#[test]
fn a_drop_is_read_directly_and_not_as_a_difference() {
    let battery = read(range(0.8, 0.0, 20.0, 5.0, 0.01), 12.62);
    let difference = battery.expanded_uncertainty().base() * 2f64.sqrt();
    close(difference, 0.246_516_6, 2e-6);
    close(read(range(0.8, 0.0, 2.0, 5.0, 0.001), 0.25).expanded_uncertainty().base(), 0.008_082_9, 2e-6);
}

#[test]
fn a_reading_under_a_limit_that_does_not_agree_with_the_circuit_is_told_apart() {
    // ISO 13528 E_n: 0.217 V ± 0.031 V expected.
    let meter = range(0.8, 0.0, 2.0, 5.0, 0.001);
    let apart = |value: f64| agreement(read(meter, value), volts(0.217_113_3), volts(0.030_958));
    close(apart(0.245), 0.871_892, 2e-5);
    close(apart(0.3), 2.580_889, 2e-5);
}

/// A job with an instrument of its own and a rule of acceptance.
fn job(extra: &str) -> Job {
    let demo = include_str!("../../reports/orchard-flatbed/job.toml");
    let text = format!("{demo}\n{extra}\n");
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn two_wire_ohms_cannot_tell_a_good_joint_from_a_poor_one() {
    // 0.7 ohm with leads less 0.3 ohm shorted, on a plain meter: 0.4 ± 0.82 ohm.
    let meter = MeterRange {
        up_to: Amount::new(200.0, Dimension::Resistance),
        digit: Amount::new(0.1, Dimension::Resistance),
        percent: 0.8,
        percent_of_range: 0.0,
        counts: 5.0,
    };
    let ohms = |value: f64| {
        let value = Amount::new(value, Dimension::Resistance);
        Measured { value, largest_error: meter.largest_error(value) }.standard_uncertainty().base()
    };
    close(2.0 * ohms(0.7).hypot(ohms(0.3)), 0.823_032_7, 2e-6);
    // So the plain meter is said not to decide a ground path before anybody measures it.
    let instrument = job("").instrument(None, Dimension::Resistance).unwrap();
    let circuit_job = job("");
    let circuit = rigproof::circuit::Circuit::of(&circuit_job);
    let at = |name: &str| circuit_job.terminal(name).unwrap();
    let state = rigproof::circuit::State { battery_off: true, ..rigproof::circuit::State::rest() };
    let path = circuit.resistance(&at("pump.-"), &at("chassis"), &state).unwrap();
    let says = rigproof::judgement::cannot_decide(&path, None, &instrument, How::Simple).unwrap();
    assert!(says.contains("drop under load"), "{says}");
}

#[test]
fn the_jobs_own_instrument_and_rule_of_acceptance_are_taken() {
    let own = job(
        "[acceptance]\nrule = \"guarded\"\n[meter.M1]\nvoltage = [{ range = \"20 V\", accuracy = \"0.05 % + 1\", digit = \"1 mV\" }]",
    );
    assert_eq!(own.acceptance, Acceptance::Guarded);
    let instrument = own.instrument(None, Dimension::Voltage).unwrap();
    let error = instrument.largest_error(volts(12.62), 0.001).unwrap();
    close(error.base(), 0.007_31, 1e-9);
    assert_eq!(job("").acceptance, Acceptance::Simple);
}

/// One load of 2.5 ohm at 12.6 V through 0.05 ohm of wire: the published loop of 2.55 ohm.
fn loop_job(extra: &str) -> Job {
    let text = format!(
        r#"format = 1
title = "Ammeter in line"
[vehicle]
description = "bench"
system = "12 V"
[battery]
kind = "agm"
rest_voltage = "12.6 V"
internal_resistance = "0 ohm"
[assume]
joint = "0 ohm"
chassis = "0 ohm"
conductor_temperature = "20 °C"
[load.heater]
kind = "resistor"
resistance = "2.5 ohm"
[wire.w1]
from = "battery.+"
to = "heater.+"
size = "2.5 mm²"
length = "1 m"
resistance = "0.05 ohm"
[wire.w2]
from = "battery.-"
to = "heater.-"
size = "2.5 mm²"
length = "1 m"
resistance = "0 ohm"
{extra}
"#
    );
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn an_ammeter_in_line_takes_its_burden_and_a_clamp_takes_none() {
    let amps = |extra: &str| {
        let job = loop_job(extra);
        let measurement = rigproof::plan::Measurement {
            dimension: Dimension::Current,
            probes: rigproof::plan::Probes::Wire("w1".into()),
            state: rigproof::circuit::State::rest(),
            rule: None,
        };
        measurement.expect(&job).unwrap().nominal.unwrap().base()
    };
    // Ohm's law, as the worked examples have it: 4.941 A by clamp, 4.884 A with 0.03 ohm, 4.755 A with 0.1 ohm.
    close(amps(""), 4.941_176_5, 1e-6);
    close(amps("[meter.M1]\nclass = \"basic\"\nburden = \"0.03 ohm\""), 4.883_720_9, 1e-6);
    close(amps("[meter.M1]\nclass = \"basic\"\nburden = \"0.1 ohm\""), 4.754_717, 1e-6);
}

#[test]
fn a_voltmeter_loads_what_it_reads_by_its_own_input_resistance() {
    // 12.6 V through 10 kohm of corrosion: 12.587 V on 10 Mohm; on 3 kohm of a low-impedance input 2.908 V.
    let volts = |extra: &str| {
        let text = loop_job(extra).source.text.replace("\"0.05 ohm\"", "\"10000 ohm\"");
        let text = text.replace("resistance = \"2.5 ohm\"", "resistance = \"1000000000 ohm\"");
        let job = Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"));
        let at = |name: &str| job.terminal(name).unwrap();
        let circuit = rigproof::circuit::Circuit::of(&job);
        let read = circuit.voltage(&at("heater.+"), &at("heater.-"), &rigproof::circuit::State::rest()).unwrap();
        read.nominal.unwrap().base()
    };
    close(volts(""), 12.587_412_6, 2e-4);
    close(volts("[meter.M1]\nclass = \"basic\"\ninput_resistance = \"3000 ohm\""), 12.6 * 3.0 / 13.0, 2e-4);
}
