//! The ranking of faults and the choice of the next reading, against examples of the literature.
//!
//! Sources: the polybox of three multipliers and two adders (de Kleer and Williams, Artificial Intelligence 32 (1987);
//! structure from memory of its readers, the numbers recomputed by enumerating all 32 candidates with a numerical library);
//! the test sequence of five faults (Pattipati and Alexandridis, IEEE Trans. SMC 20 (1990): matrix and optimum 2.18 from
//! memory, the optimum recomputed by exact dynamic programming); two faults some standard deviations apart (the
//! binary-input Gaussian channel, by quadrature); a chain halved; a joint of unknown resistance (by quadrature with scipy).

use rigproof::diagnosis::{
    Misreading, PassOrFail, Predicted, Strengths, cheapest, entropy, expected_entropy, gain, likelihood,
    one_step_ahead, over_strengths, posterior,
};
use rigproof::quantity::{Amount, Dimension, Reading, Resistance};

#[track_caller]
fn close(value: f64, expected: f64, tolerance: f64) {
    super::agreement::holds(module_path!(), value, expected, tolerance, "a published value");
}

/// The places of the polybox: three products and two sums.
const PLACES: [&str; 5] = ["x", "y", "z", "f", "g"];

/// What a candidate (a set of faulty components M1, M2, M3, A1, A2 as bits) lets conclude from what was measured; `None`
/// where it contradicts itself.
fn concluded(faulty: u32, measured: &[(usize, i32)]) -> Option<[Option<i32>; 5]> {
    let works = |component: u32| faulty & (1 << component) == 0;
    let mut known = [None; 5];
    for &(place, value) in measured {
        known[place] = Some(value);
    }
    let mut learn: Vec<(usize, i32)> = (0..3).filter(|m| works(*m)).map(|m| (m as usize, 6)).collect();
    loop {
        for (place, value) in std::mem::take(&mut learn) {
            if *known[place].get_or_insert(value) != value {
                return None;
            }
        }
        for (adder, (left, right, sum)) in [(3, (0, 1, 3)), (4, (1, 2, 4))] {
            if !works(adder) {
                continue;
            }
            match (known[left], known[right], known[sum]) {
                (Some(a), Some(b), s) if s != Some(a + b) => learn.push((sum, a + b)),
                (Some(a), None, Some(s)) => learn.push((right, s - a)),
                (None, Some(b), Some(s)) => learn.push((left, s - b)),
                _ => {}
            }
        }
        if learn.is_empty() {
            return Some(known);
        }
    }
}

/// For each candidate how likely a value is at a place: sure where it follows, one in `m` where nothing follows.
fn seen(place: usize, value: i32, before: &[(usize, i32)], m: f64) -> Vec<f64> {
    let of = |faulty: u32| match concluded(faulty, before).and_then(|known| known[place]) {
        Some(follows) => f64::from(u8::from(follows == value)),
        None => 1.0 / m,
    };
    (0..32).map(of).collect()
}

fn expected_at(place: usize, before: &[(usize, i32)], p: &[f64], m: u32) -> f64 {
    let mut values: Vec<i32> = (0..32).filter_map(|c| concluded(c, before)?[place]).collect();
    values.sort_unstable();
    values.dedup();
    // Values that nothing predicts are all alike: any numbers that are not among the predicted ones.
    let others = (1000..).take(m as usize - values.len());
    let outcomes: Vec<Vec<f64>> =
        values.iter().copied().chain(others).map(|v| seen(place, v, before, f64::from(m))).collect();
    expected_entropy(p, &outcomes)
}

#[test]
fn the_polybox_is_probed_where_the_literature_probes_it() {
    let prior: Vec<f64> = (0..32u32)
        .map(|c| 0.01f64.powf(f64::from(c.count_ones())) * 0.99f64.powf(f64::from(5 - c.count_ones())))
        .collect();
    close(entropy(&prior), 0.403_966, 2e-6);
    for (m, after_both, p_a1, expected) in [
        (16, 1.071_352, 0.496_225, [0.038_337, 1.063_548, 1.067_007]),
        (10, 1.086_995, 0.495_470, [0.057_843, 1.075_242, 1.080_434]),
    ] {
        let after_f = posterior(&prior, &seen(3, 10, &[], f64::from(m)));
        if m == 16 {
            close(entropy(&after_f), 1.827_835, 2e-6);
            for single in [0b01000, 0b00001, 0b00010] {
                close(after_f[single], 0.323_422, 2e-6);
            }
        }
        let both = posterior(&after_f, &seen(4, 12, &[(3, 10)], f64::from(m)));
        close(entropy(&both), after_both, 2e-6);
        close(both[0b01000], p_a1, 2e-6);
        close(both[0b00001], p_a1, 2e-6);
        for (place, expected) in expected.into_iter().enumerate() {
            let left = expected_at(place, &[(3, 10), (4, 12)], &both, m);
            assert!((left - expected).abs() <= 2e-6, "{}: {left}, not {expected}", PLACES[place]);
        }
    }
}

#[test]
fn the_five_fault_sequence_costs_what_exact_planning_and_one_step_cost() {
    let p = [0.70, 0.01, 0.02, 0.10, 0.05, 0.12];
    let matrix = [[0, 0, 0, 0, 0], [0, 1, 0, 0, 1], [0, 0, 1, 1, 0], [1, 0, 0, 1, 1], [1, 1, 0, 0, 0], [1, 1, 1, 1, 0]];
    let column = |t: usize| matrix.iter().map(|row| row[t] == 1).collect();
    let tests: Vec<PassOrFail> = (0..5).map(|t| PassOrFail { fails: column(t), cost: 1.0 }).collect();
    close(entropy(&p), 1.454_873, 1e-4);
    for (test, bits) in tests.iter().zip([0.8415, 0.6801, 0.5842, 0.7950, 0.4999]) {
        let fail: Vec<f64> = test.fails.iter().map(|f| f64::from(u8::from(*f))).collect();
        let pass = fail.iter().map(|f| 1.0 - f).collect();
        close(gain(&p, &[fail, pass]), bits, 1e-4);
    }
    let best = cheapest(&p, &tests).unwrap();
    close(best.cost, 2.18, 1e-9);
    assert_eq!(best.first, Some(1), "the second test comes first");
    close(one_step_ahead(&p, &tests).cost, 2.86, 1e-9);
}

#[test]
fn a_chain_is_best_halved() {
    let p = [0.125; 8];
    let expected = [0.543_564, 0.811_278, 0.954_434, 1.0, 0.954_434, 0.811_278, 0.543_564];
    for (after, bits) in (1..8).zip(expected) {
        let before: Vec<f64> = (0..8).map(|segment| f64::from(u8::from(segment < after))).collect();
        let behind = before.iter().map(|b| 1.0 - b).collect();
        close(gain(&p, &[before, behind]), bits, 1e-6);
    }
}

fn volts(value: f64) -> Amount {
    Amount::new(value, Dimension::Voltage)
}

fn read(value: f64) -> Reading {
    Reading { typed: format!("{value} V"), dimension: Dimension::Voltage, value: Some(value), resolution: 0.01 }
}

#[test]
fn two_faults_some_deviations_apart_are_told_apart_by_so_many_bits() {
    let slip = Misreading { share: 0.0, span: volts(20.0) };
    let step = 0.005;
    for (apart, bits) in [(0.0, 0.0), (1.0, 0.160_747), (2.0, 0.485_944), (3.0, 0.759_979), (4.0, 0.912_822)] {
        let outcome = |i: i32| {
            let reading = read(f64::from(i) * step);
            let of = |mean| step * density(&reading, alone(mean, 1.0), slip);
            vec![of(0.0), of(apart)]
        };
        let outcomes: Vec<Vec<f64>> = (-2000..2800).map(outcome).collect();
        close(gain(&[0.5, 0.5], &outcomes), bits, 2e-6);
    }
}

/// 12.6 V, a load of 3 ohm, a wire of 0.05 ohm, and so many ohms added.
fn load_voltage(added: f64) -> f64 {
    12.6 * 3.0 / (3.0 + 0.05 + added)
}

fn at(mean: f64) -> Predicted {
    alone(mean, 0.1)
}

fn alone(mean: f64, standard: f64) -> Predicted {
    Predicted::Value { mean: volts(mean), standard: volts(standard), stray: volts(0.0), moves: Vec::new() }
}

fn density(reading: &Reading, predicted: Predicted, slip: Misreading) -> f64 {
    likelihood(&[(reading, slip)], &[predicted]).log.exp()
}

#[test]
fn a_joint_of_unknown_resistance_is_ranked_as_by_quadrature() {
    let slip = Misreading { share: 0.01, span: volts(20.0) };
    let strengths = Strengths { least: Resistance::ohms(0.02), greatest: Resistance::ohms(200.0), fineness: 0.02 };
    let series = |reading: &Reading, strengths| {
        over_strengths(strengths, &[(reading, slip)], |ohms| vec![at(load_voltage(ohms.as_ohms()))])
    };
    for (shown, none, open, joint) in [
        (11.0, 0.019_484_6, 0.002_783_5, 0.977_731_8),
        (12.0, 0.024_873_1, 0.000_800_8, 0.974_326_1),
        (12.3, 0.955_737_5, 0.000_026_7, 0.044_235_8),
    ] {
        let reading = read(shown);
        let likelihoods = [
            density(&reading, at(load_voltage(0.0)), slip),
            density(&reading, at(0.0), slip),
            series(&reading, strengths).log_evidence.exp(),
        ];
        let p = posterior(&[0.7, 0.1, 0.2], &likelihoods);
        for (p, expected) in p.iter().zip([none, open, joint]) {
            close(*p, expected, 2e-5);
        }
    }
    let found = series(&read(11.0), strengths);
    for (share, ohms) in [(0.025, 0.323_29), (0.5, 0.384_48), (0.975, 0.448_96)] {
        close(found.quantile(share).as_ohms(), ohms, 1e-4);
    }
    // The marginal as it stands, with the fineness of a real search: 25 bare points give 0.0005 at 9 V.
    let usual = Strengths::between(Resistance::ohms(0.02), Resistance::ohms(200.0));
    for (shown, exact) in
        [(12.0, 0.304_17), (11.0, 0.087_81), (9.0, 0.044_15), (6.0, 0.035_24), (2.0, 0.064_72), (0.3, 0.316_69)]
    {
        close(series(&read(shown), usual).log_evidence.exp() / exact, 1.0, 0.02);
        close(series(&read(shown), strengths).log_evidence.exp(), exact, 2e-5);
    }
}
