//! Charts, run rules, capability and tolerance factors against the worked examples of others.
//!
//! Sources: NIST/SEMATECH e-Handbook of Statistical Methods 6.1.6 (capability), 6.3.2 (run rules, after Champ and Woodall
//! 1987), 6.3.2.2 (individuals), 6.3.2.4 (moving average), 7.2.6.3 (tolerance intervals); the data of a statistics package's
//! example of jet-engine diameters, and of a quality handbook's 25 readings, both recomputed.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;
use rigproof::quantity::{Amount, Dimension, Share};
use rigproof::statistics::{
    Capability, Ewma, Individuals, Rule, Series, Sigma, lot_passes, one_sided_factor, one_sided_factor_natrella,
    proportion_interval, signals, two_sided_factor,
};

fn plain(value: f64) -> Amount {
    Amount::new(value, Dimension::Count)
}

fn series(values: &[f64]) -> Series {
    Series::of(&values.iter().map(|&v| plain(v)).collect::<Vec<_>>()).unwrap()
}

#[track_caller]
fn close(value: f64, expected: f64, tolerance: f64) {
    super::agreement::holds(module_path!(), value, expected, tolerance, "a published value");
}

/// Flow rates of e-Handbook 6.3.2.2.
const FLOW: [f64; 10] = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

#[test]
fn the_chart_of_individuals_is_that_of_the_handbook() {
    let series = series(&FLOW);
    let chart = Individuals::of(&series, Sigma::Tabled).unwrap();
    close(chart.centre.base(), 50.81, 1e-4);
    close(chart.mean_range.base(), 1.877_778, 1e-4);
    close(chart.high.base(), 55.8041, 1e-4);
    close(chart.low.base(), 45.8159, 1e-4);
    close(chart.range_high.base(), 6.1347, 1e-4);
    close(series.deviation().unwrap().base(), 2.033_85, 1e-4);
    // The handbook finds this process in control: no reading beyond three sigma.
    assert_eq!(signals(&series, &chart, &[Rule::Beyond]), []);
    assert!(chart.provisional());
}

#[test]
fn twenty_diameters_and_twenty_five_readings_make_the_limits_that_others_print() {
    let diameters = [
        78.4, 80.1, 84.4, 79.1, 80.4, 83.5, 73.8, 83.5, 75.0, 76.8, 70.5, 80.3, 82.4, 79.4, 86.4, 90.5, 77.7, 82.5,
        79.9, 83.2,
    ];
    let chart = Individuals::of(&series(&diameters), Sigma::Exact).unwrap();
    close(chart.centre.base(), 80.39, 2e-6);
    close(chart.mean_range.base(), 5.326_315_8, 2e-6);
    close(chart.sigma.base(), 4.720_324_5, 2e-5);
    close(chart.range_high.base(), 17.398_580_5, 2e-6);
    assert!(!chart.provisional());

    let readings = [
        110.0, 103.0, 97.0, 96.0, 105.0, 110.0, 100.0, 93.0, 90.0, 103.0, 97.0, 103.0, 90.0, 97.0, 99.0, 106.0, 90.0,
        96.0, 109.0, 90.0, 91.0, 108.0, 96.0, 101.0, 96.0,
    ];
    let chart = Individuals::of(&series(&readings), Sigma::Tabled).unwrap();
    close(chart.centre.base(), 99.04, 2e-6);
    close(chart.mean_range.base(), 8.166_666_7, 2e-6);
    // That book rounds 3/1.128 to 2.66.
    close(chart.high.base(), 120.763_333, 0.005);
    close(chart.low.base(), 77.316_667, 0.005);
    close(chart.range_high.base(), 26.680_5, 2e-6);
}

#[test]
fn the_moving_average_is_that_of_the_handbook() {
    let readings = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
        53.6, 52.1,
    ];
    let printed = [
        50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
        50.73, 51.23, 51.94, 51.99,
    ];
    let ewma = Ewma::of(&series(&readings), plain(50.0), plain(2.0539));
    assert_eq!(ewma.averages.len(), printed.len());
    for (average, printed) in ewma.averages.iter().zip(printed) {
        close(average.base(), printed, 0.0051);
    }
    // 47.4115 in print is cut off, not rounded.
    close(ewma.high.base(), 52.5884, 1e-4);
    close(ewma.low.base(), 47.4116, 1e-4);
    assert_eq!(ewma.first_outside(), None);
}

#[test]
fn capability_is_that_of_the_handbook() {
    let found = Capability::from_moments(30, plain(16.0), plain(2.0), Some(plain(8.0)), Some(plain(20.0))).unwrap();
    close(found.cp.unwrap(), 1.0, 1e-6);
    close(found.cpk, 0.666_666_7, 1e-6);
    close(found.upper.unwrap(), 0.666_666_7, 1e-6);
    close(found.lower.unwrap(), 1.333_333_3, 1e-6);
    // A pull force has a lower limit alone.
    let pull = Capability::from_moments(30, plain(16.0), plain(2.0), Some(plain(8.0)), None).unwrap();
    assert_eq!((pull.cp, pull.upper), (None, None));
    close(pull.cpk, 1.333_333_3, 1e-6);
}

#[test]
fn thirty_pieces_at_1_33_do_not_prove_1() {
    for (cpk, low, high) in [(1.33, 0.967_529, 1.692_471), (1.0, 0.716_346, 1.283_654)] {
        // Mean and deviation that make this Cpk against a limit of 0.
        let found = Capability::from_moments(30, plain(3.0 * cpk), plain(1.0), Some(plain(0.0)), None).unwrap();
        let interval = found.cpk_interval().unwrap();
        close(interval.low, low, 2e-6);
        close(interval.high, high, 2e-6);
    }
}

#[test]
fn the_interval_of_cp_is_that_of_chi_square() {
    // χ² with 29 degrees of freedom: 16.047 at 2.5 %, 45.722 at 97.5 % (e-Handbook 1.3.6.7.4, printed table).
    let found = Capability::from_moments(30, plain(0.0), plain(1.0), Some(plain(-3.0)), Some(plain(3.0))).unwrap();
    let interval = found.cp_interval().unwrap();
    close(interval.low, (16.047_f64 / 29.0).sqrt(), 2e-5);
    close(interval.high, (45.722_f64 / 29.0).sqrt(), 2e-5);
}

#[test]
fn tolerance_factors_are_those_of_the_handbook() {
    let (share, confidence) = (Share::percent(90.0), Share::percent(99.0));
    close(two_sided_factor(43, share, confidence).unwrap(), 2.217_315_9, 2e-6);
    close(one_sided_factor_natrella(43, share, confidence).unwrap(), 1.875_189_6, 2e-6);
    close(one_sided_factor_natrella(6, share, confidence).unwrap(), 5.280_827_4, 2e-6);
    close(one_sided_factor(43, share, confidence).unwrap(), 1.873_953_6, 2e-6);
    close(one_sided_factor(6, share, confidence).unwrap(), 4.411_080_7, 2e-6);
}

#[test]
fn factors_for_the_lower_bound_of_a_pull_are_those_of_the_non_central_t_distribution() {
    // Recomputed with another library by the same method; 2.355 and 3.981 for ten pieces are in print.
    for (count, share, k) in
        [(5, 90.0, 3.406_633_3), (10, 90.0, 2.354_640_1), (10, 99.0, 3.981_117_8), (30, 99.0, 3.063_901_1)]
    {
        close(one_sided_factor(count, Share::percent(share), Share::percent(95.0)).unwrap(), k, 2e-6);
    }
}

#[test]
fn too_few_pieces_and_shares_without_an_end_have_no_factor() {
    let half = Share::percent(50.0);
    for (count, share, confidence) in
        [(1, half, half), (9, Share::percent(100.0), half), (9, half, Share::percent(100.0))]
    {
        assert_eq!(one_sided_factor(count, share, confidence), None);
        assert_eq!(one_sided_factor_natrella(count, share, confidence), None);
        assert_eq!(two_sided_factor(count, share, confidence), None);
    }
}

#[test]
fn a_steady_process_meets_a_rule_as_seldom_as_champ_and_woodall_reckon() {
    // Mean number of readings up to the first signal: 370.4 for one beyond three sigma, 91.75 for all four rules. Averaged
    // over 4,000 runs; such a mean is off by about 1/√4000 of itself, and four times that is allowed.
    let normal = rand_distr::StandardNormal;
    let chart = Individuals {
        count: 100,
        centre: plain(0.0),
        mean_range: plain(1.128),
        sigma: plain(1.0),
        low: plain(-3.0),
        high: plain(3.0),
        range_high: plain(3.685),
    };
    for (rules, expected) in [
        (&[Rule::Beyond][..], 370.398_3),
        (&[Rule::Beyond, Rule::TwoOfThree], 225.438_4),
        (&[Rule::Beyond, Rule::FourOfFive], 166.054_5),
        (&[Rule::Beyond, Rule::EightOnOneSide], 152.730_1),
        (&Rule::ALL, 91.750_8),
    ] {
        let mut random = Pcg64Mcg::seed_from_u64(632);
        let runs = 4_000;
        let mut readings = 0;
        for _ in 0..runs {
            // Eight readings are the longest past that a rule looks at.
            let mut past: Vec<f64> = Vec::new();
            loop {
                past.push(random.sample(normal));
                readings += 1;
                let recent = &past[past.len().saturating_sub(8)..];
                let last = recent.len() - 1;
                if signals(&series(recent), &chart, rules).iter().any(|s| s.at == last) {
                    break;
                }
            }
        }
        let mean = f64::from(readings) / f64::from(runs);
        assert!((mean / expected - 1.0).abs() < 4.0 / f64::from(runs).sqrt(), "{rules:?}: {mean}, not {expected}");
    }
}

#[test]
fn the_interval_of_a_yield_is_the_one_that_others_computed() {
    // Wilson's interval with 95 % confidence: recomputed by a statistics package (measurement.toml, first-pass-yield).
    let cases = [
        (47, 50, 0.837_829_1, 0.979_385),
        (50, 50, 0.928_652_4, 1.0),
        (0, 20, 0.0, 0.161_125_2),
        (9, 10, 0.595_85, 0.982_123_8),
    ];
    for (good, all, low, high) in cases {
        let found = proportion_interval(good, all).unwrap();
        close(found.0, low, 2e-6);
        close(found.1, high, 2e-6);
    }
}

/// Operating characteristic of the plan n = 52, c = 3 for lots of 10,000, e-Handbook 6.2.3.2 (its figures from memory). The
/// handbook counts with the binomial distribution, which for such a lot differs in the third place.
#[test]
fn a_plan_lets_lots_pass_as_often_as_the_handbook_says() {
    let table = [
        (100, 0.998),
        (200, 0.980),
        (300, 0.930),
        (400, 0.845),
        (500, 0.739),
        (600, 0.620),
        (700, 0.502),
        (800, 0.394),
        (900, 0.300),
        (1000, 0.223),
        (1100, 0.162),
        (1200, 0.115),
    ];
    for (bad, passes) in table {
        close(lot_passes(10_000, bad, 52, 3).unwrap(), passes, 0.002);
    }
}
