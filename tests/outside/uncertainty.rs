//! Propagation of tolerances.
//! Sources: JCGM 101 (GUM-S1) 9.2.2 to 9.2.4, 9.3 and 9.4 with their closed forms; JCGM GUM-5 examples 3, 14 and 15; GUM
//! H.1; EA-4/02 S2, S3 and S9; NPL DEM-ES-011 9.2; NIST TN 1900 example E13. Left out: what rests on correlated inputs or
//! on effective degrees of freedom (GUM H.2, H.3, Welch-Satterthwaite), since the program states neither. The engine's linear limits are held against its own corner and sampling modes, which share
//! no code with the adjoint.

use rigproof::circuit::{Circuit, State};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::quantity::uncertainty::{Distribution, first_order, sample};

const DRAWS: usize = 200_000;

fn normal(mean: f64, deviation: f64) -> Distribution {
    Distribution::Normal { mean, deviation }
}

fn rectangular(middle: f64, half: f64) -> Distribution {
    Distribution::Rectangular { low: middle - half, high: middle + half }
}

#[track_caller]
fn near(ours: f64, published: f64, tolerance: f64, what: &str) {
    super::agreement::holds(module_path!(), ours, published, tolerance, what);
}

fn sum(values: &[f64]) -> f64 {
    values.iter().sum()
}

#[test]
fn the_sums_of_gum_s1_have_their_published_intervals() {
    // 9.2.2: four normal inputs; exact 2 and 3.9199.
    let four = sample(&[normal(0.0, 1.0); 4], DRAWS, 1, |v| Some(sum(v))).unwrap();
    near(four.deviation, 2.0, 0.02, "9.2.2 u");
    near(four.high, 3.919_928, 0.05, "9.2.2 97.5 %");
    // 9.2.3: four rectangular inputs of the same standard deviation; exact 3.8794.
    let four = sample(&[rectangular(0.0, 3f64.sqrt()); 4], DRAWS, 2, |v| Some(sum(v))).unwrap();
    near(four.deviation, 2.0, 0.02, "9.2.3 u");
    near(four.high, 3.879_406_7, 0.04, "9.2.3 97.5 %");
    // 9.2.4: one rectangular input dominates; 17.016, where the normal approximation says 19.891.
    let mut inputs = [rectangular(0.0, 3f64.sqrt()); 4];
    inputs[3] = rectangular(0.0, 10.0 * 3f64.sqrt());
    let dominated = sample(&inputs, DRAWS, 3, |v| Some(sum(v))).unwrap();
    near(dominated.deviation, 10.148_892, 0.08, "9.2.4 u");
    near(dominated.high, 17.015_814, 0.1, "9.2.4 97.5 %");
    let (_, linear) = first_order(&inputs, sum);
    near(1.959_964 * linear, 19.891_462, 1e-3, "9.2.4 normal approximation");
}

#[test]
fn the_mass_calibration_of_gum_s1_needs_sampling_and_first_order_misses_it() {
    // 9.3: the product of two deviations with means of zero has no first-order term.
    let inputs = [
        normal(100_000.0, 0.05),
        normal(1.234, 0.02),
        rectangular(1.2, 0.1),
        rectangular(8000.0, 1000.0),
        rectangular(8000.0, 50.0),
    ];
    let mass = |v: &[f64]| (v[0] + v[1]) * (1.0 + (v[2] - 1.2) * (1.0 / v[3] - 1.0 / v[4])) - 100_000.0;
    let (value, linear) = first_order(&inputs, mass);
    near(value, 1.234, 1e-9, "9.3 value");
    near(linear, 0.053_851_6, 1e-4, "9.3 first order");
    let sampled = sample(&inputs, DRAWS, 4, |v| Some(mass(v))).unwrap();
    near(sampled.deviation, 0.0755, 0.001, "9.3 sampled");
    near(sampled.low, 1.0844, 0.004, "9.3 2.5 %");
    near(sampled.high, 1.3837, 0.004, "9.3 97.5 %");
}

#[test]
fn first_order_uncertainties_are_the_published_ones() {
    let glucose = [normal(1.007_98, 8e-5), normal(12.0106, 0.000_58), normal(15.9994, 0.000_21)];
    let (value, u) = first_order(&glucose, |v| 12.0 * v[0] + 6.0 * v[1] + 6.0 * v[2]);
    near(value, 180.155_76, 1e-6, "GUM-5 example 3");
    near(u, 0.003_823_56, 2e-7, "GUM-5 example 3 u");
    let decay = [normal(11.45, 0.05), normal(32.9, 1.4)];
    let (value, u) = first_order(&decay, |v| v[0] * (-2.73 * 2f64.ln() / v[1]).exp());
    near(value, 10.810_017_6, 2e-6, "GUM-5 example 14");
    // The slope is taken over one standard uncertainty of a curve: 0.1 % of u.
    near(u, 0.054_114_2, 6e-5, "GUM-5 example 14 u");
    let expansion = [normal(1.4999, 1e-4), normal(288.15, 0.02), normal(1.5021, 2e-4), normal(373.1, 0.05)];
    let (value, u) = first_order(&expansion, |v| (v[2] - v[0]) / (v[0] * (v[3] - v[1])));
    near(value, 1.726_62e-5, 1e-10, "TN 1900 E13");
    near(u, 1.755_48e-6, 1e-9, "TN 1900 E13 u");
}

#[test]
fn budgets_of_independent_parts_add_up_as_published() {
    let budget = |parts: &[f64]| {
        let inputs: Vec<Distribution> = parts.iter().map(|u| normal(0.0, *u)).collect();
        first_order(&inputs, sum).1
    };
    near(budget(&[25.0, 5.8, 3.9, 6.7, 2.886_787, 16.599]), 31.6639, 0.002, "GUM H.1, nm");
    near(budget(&[0.0225, 0.008_95, 0.0144, 0.005_77, 0.005_77]), 0.029_330_8, 2e-6, "EA-4/02 S2, g");
    near(budget(&[0.0025, 0.0058, 0.0016, 0.0032, 0.0041, 0.0007]), 0.008_366, 5e-5, "EA-4/02 S3, ohm");
    near(budget(&[0.001, 0.029, 0.0064]), 0.029_714_6, 2e-6, "EA-4/02 S9, V");
    near(1.65 * budget(&[0.001, 0.029, 0.0064]), 0.049_029_2, 2e-6, "EA-4/02 S9, U with k = 1.65");
    // GUM-5 example 15: the mean of six readings and four rectangular corrections, N.
    let readings = [10_006.0, 10_007.0, 10_005.0, 10_008.0, 10_003.0, 10_005.0];
    let mean = sum(&readings) / 6.0;
    let spread = readings.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / 5.0;
    let mut inputs = vec![normal(mean, (spread / 6.0).sqrt())];
    inputs.extend([6.8, 8.2, 8.7, 10.2].map(|half| rectangular(0.0, half)));
    let (value, u) = first_order(&inputs, sum);
    near(value, 10_005.666_667, 1e-5, "GUM-5 example 15");
    near(u, 9.912_001_7, 2e-6, "GUM-5 example 15 u");
    near(1.96 * u, 19.427_523_3, 1e-5, "GUM-5 example 15 U");
}

#[test]
fn where_the_first_order_is_blind_sampling_sees() {
    // GUM-S1 9.4: at the origin the first order says nothing at all.
    let inputs = [normal(0.0, 0.005), normal(0.0, 0.005)];
    let loss = |v: &[f64]| v[0].powi(2) + v[1].powi(2);
    near(first_order(&inputs, loss).1, 0.0, 1e-12, "9.4 first order");
    let sampled = sample(&inputs, DRAWS, 5, |v| Some(loss(v))).unwrap();
    near(sampled.mean, 5e-5, 5e-7, "9.4 mean");
    near(sampled.deviation, 5e-5, 1e-6, "9.4 deviation");
    let away = [normal(0.05, 0.005), normal(0.0, 0.005)];
    near(first_order(&away, loss).1, 5e-4, 1e-9, "9.4 first order away from the origin");
    near(sample(&away, DRAWS, 6, |v| Some(loss(v))).unwrap().deviation, 0.000_502_493_8, 5e-6, "9.4 away");
    // NPL DEM-ES-011 9.2: the logarithm of a rectangle.
    let logarithm = sample(&[rectangular(0.6, 0.5)], DRAWS, 7, |v| Some(v[0].ln())).unwrap();
    near(logarithm.mean, -0.664_900_3, 0.005, "NPL 9.2 mean");
    near(logarithm.deviation, 0.606_226_7, 0.005, "NPL 9.2 deviation");
    // A ratio of counts: y and u of the published quotient.
    let quotient = [normal(0.182, 0.000_93), normal(0.1823, 0.000_58), normal(0.6978, 0.0026)];
    let (value, u) = first_order(&quotient, |v| v[0] / v[1] * v[2]);
    near(value, 0.696_651_7, 2e-6, "quotient");
    near(u, 0.004_931_8, 2e-6, "quotient u");
}

fn demo() -> Job {
    Job::read(&Source::new("job.toml", include_str!("../../reports/orchard-flatbed/job.toml"))).unwrap()
}

#[test]
fn linear_limits_agree_with_the_worst_corner_and_hold_every_draw() {
    let job = demo();
    let circuit = Circuit::of(&job);
    let state = State::all_on(&job);
    let pairs = [
        ("battery.+", "pump.+"),
        ("pump.-", "battery.-"),
        ("pump.+", "pump.-"),
        ("lamp-left.+", "lamp-left.-"),
        ("lamp-right.-", "battery.-"),
        ("F1.in", "F1.out"),
        ("K1.86", "K1.85"),
    ];
    for (a, b) in pairs {
        let (a, b) = (job.terminal(a).unwrap(), job.terminal(b).unwrap());
        let linear = circuit.voltage(&a, &b, &state).unwrap();
        let corner = circuit.voltage_at_corners(&a, &b, &state).unwrap();
        let (low, high) = (linear.low.unwrap().base(), linear.high.unwrap().base());
        let (corner_low, corner_high) = (corner.low.unwrap().base(), corner.high.unwrap().base());
        let width = high - low;
        // The products of tolerances that linearisation leaves out: a few per cent of the width.
        near(low, corner_low, 0.06 * width, &format!("{a} to {b} low"));
        near(high, corner_high, 0.06 * width, &format!("{a} to {b} high"));
        let sampled = circuit.voltage_sampled((&a, &b), &state, 4_000, 7).unwrap().unwrap();
        assert!(sampled.low > corner_low && sampled.high < corner_high, "{a} to {b}: draws beyond the corners");
        let u = linear.standard_uncertainty().unwrap().base();
        near(sampled.deviation, u, 0.05 * u, &format!("{a} to {b} standard uncertainty"));
        near(
            sampled.mean,
            linear.nominal.unwrap().base(),
            0.05 * u.max(1e-6) + 0.02 * width,
            &format!("{a} to {b} mean"),
        );
    }
}
