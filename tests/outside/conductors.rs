//! Conductor geometry and resistance.
//! Sources: ASTM B258 diameters and circular mils as printed in Lessons in Electric Circuits vol. I; NBS Handbook 100
//! (1966) resistances at 20 °C; IEC 60228:2004 table 3 class 5; IEC 60228 temperature factors; FAA AC 43.13-1B p. 11-22.

use rigproof::handbook::conductor::{resistance_at_20c, temperature_factor};
use rigproof::quantity::{ConductorSize, Length, Temperature};

fn gauge(name: &str) -> ConductorSize {
    ConductorSize::parse(&format!("{name} AWG")).unwrap()
}

fn close(ours: f64, published: f64, relative: f64, what: &str) {
    super::agreement::holds(module_path!(), ours, published, relative * published.abs(), what);
}

/// (gauge, printed diameter in inches, printed circular mils, NBS ohm per 1000 ft)
const PRINTED: [(&str, f64, f64, f64); 17] = [
    ("22", 0.02535, 642.5, 16.14),
    ("20", 0.03196, 1022.0, 10.15),
    ("18", 0.0403, 1624.0, 6.385),
    ("16", 0.05082, 2583.0, 4.016),
    ("14", 0.06408, 4107.0, 2.525),
    ("12", 0.08081, 6530.0, 1.588),
    ("10", 0.1019, 10380.0, 0.9989),
    ("8", 0.1285, 16510.0, 0.6282),
    ("6", 0.162, 26250.0, 0.3951),
    ("4", 0.2043, 41740.0, 0.2485),
    ("3", 0.2294, 52630.0, 0.197),
    ("2", 0.2576, 66370.0, 0.1563),
    ("1", 0.2893, 83690.0, 0.1239),
    ("1/0", 0.3249, 105_500.0, 0.0983),
    ("2/0", 0.3648, 133_100.0, 0.0779),
    ("3/0", 0.4096, 167_800.0, 0.0618),
    ("4/0", 0.46, 211_600.0, 0.049),
];

#[test]
fn gauges_have_the_printed_diameter_and_circular_mils() {
    for (name, inches, circular_mils, _) in PRINTED {
        let size = gauge(name);
        close(size.diameter().as_metres() / 0.0254, inches, 5e-4, &format!("{name} AWG diameter"));
        // One circular mil is the area of a circle of 0.0254 mm.
        let mils = size.area().as_mm2() / (std::f64::consts::PI * 0.0254f64.powi(2) / 4.0);
        close(mils, circular_mils, 5e-4, &format!("{name} AWG circular mils"));
    }
}

#[test]
fn gauges_have_the_resistance_of_nbs_handbook_100_and_of_their_own_geometry() {
    for (name, _, _, ohm_per_1000ft) in PRINTED {
        let size = gauge(name);
        let ours = resistance_at_20c(size, Length::metres(304.8)).value.as_ohms();
        close(ours, ohm_per_1000ft, 1e-9, &format!("{name} AWG"));
        // The rows were made from resistivity over area: 1/58 ohm mm²/m of annealed copper (IACS).
        let by_geometry = 304.8 / 58.0 / size.area().as_mm2();
        close(ours, by_geometry, 5e-4, &format!("{name} AWG by geometry"));
    }
}

#[test]
fn metric_sizes_have_the_class_5_maximum_of_iec_60228() {
    let rows = [
        (0.5, 39.0),
        (0.75, 26.0),
        (1.0, 19.5),
        (1.5, 13.3),
        (2.5, 7.98),
        (4.0, 4.95),
        (6.0, 3.3),
        (10.0, 1.91),
        (16.0, 1.21),
        (25.0, 0.78),
        (35.0, 0.554),
        (50.0, 0.386),
        (70.0, 0.272),
        (95.0, 0.206),
        (120.0, 0.161),
    ];
    for (mm2, ohm_per_km) in rows {
        let size = ConductorSize::parse(&format!("{mm2} mm²")).unwrap();
        let ours = resistance_at_20c(size, Length::metres(1000.0)).value.as_ohms();
        close(ours, ohm_per_km, 1e-9, &format!("{mm2} mm²"));
        // A maximum: the copper that it stands for is less than the label says.
        assert!(1000.0 / 58.0 / ohm_per_km < mm2, "{mm2} mm²");
    }
}

#[test]
fn resistance_follows_temperature_as_the_published_factors_do() {
    // IEC 60228 Kt = 250/(230 + t): our straight line with 0.00393 differs by at most 0.4 % up to 100 °C, since the
    // standard rounds the coefficient to 0.004.
    for (celsius, kt) in [(5.0, 1.064), (20.0, 1.0), (30.0, 0.962), (50.0, 0.893), (70.0, 0.833), (100.0, 0.758)] {
        close(1.0 / temperature_factor(Temperature::celsius(celsius)), kt, 5e-3, &format!("Kt at {celsius} °C"));
    }
    // FAA AC 43.13-1B: (234.5 + T)/254.5.
    for celsius in [-20.0, 0.0, 40.0, 60.0, 80.0, 150.0] {
        let published = (234.5 + celsius) / 254.5;
        close(temperature_factor(Temperature::celsius(celsius)), published, 2e-4, &format!("{celsius} °C"));
    }
}
