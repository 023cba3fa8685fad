//! Propagation of tolerances.
//! Sources: JCGM 101 (GUM-S1) 9.2.2 to 9.2.4 and 9.3 with their closed forms; JCGM GUM-5 examples 3 and 14; NIST
//! TN 1900 example E13. The engine's linear limits are held against its own corner and sampling modes, which share
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
    assert!((ours - published).abs() <= tolerance, "{what}: {ours} here, {published} published");
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
