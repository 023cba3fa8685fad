//! A fault dictionary of thirteen circuits and fourteen readings, against the numbers of an independent nodal solve.
//!
//! Source: the example network of this project's collected references (illustrative values, solved there with numpy
//! 2.4.6 and scipy 1.17.1 by a program that shares nothing with this one; tolerance 2e-5 stated there).

use std::fmt::Write;

use rigproof::circuit::{Change, Circuit, Solution, State};
use rigproof::document::Source;
use rigproof::job::{Job, Terminal};
use rigproof::quantity::Resistance;

/// The network as a job. Wires of stated resistance stand for its resistors, for the meter's 10 Mohm at every node, and
/// for the 1 Gohm that its open switch and contact are.
fn job() -> Job {
    let mut text = String::from(
        "format = 1\ntitle = \"dictionary\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n\
         [battery]\nkind = \"flooded\"\nrest_voltage = \"12.6 V\"\ninternal_resistance = \"0.02 ohm\"\n\
         [assume]\njoint = \"0 ohm\"\nchassis = \"0.002 ohm\"\nconductor_temperature = \"20 °C\"\n\
         [fuse.fuse]\nrating = \"10 A\"\nresistance = \"0.006 ohm\"\n\
         [relay.K]\ncoil = \"90 ohm\"\ncontact_resistance = \"0.008 ohm\"\npull_in = \"7.2 V\"\n\
         [switch.sw]\nresistance = \"0.02 ohm\"\n[splice.X]\n\
         [ground.G1]\nresistance = \"0.002 ohm\"\n[ground.G2]\nresistance = \"0.002 ohm\"\n\
         [load.lamp]\nkind = \"resistor\"\nresistance = \"2.6 ohm\"\n",
    );
    let mut wire = |name: &str, from: &str, to: &str, ohms: f64| {
        let _ = write!(
            text,
            "[wire.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\nresistance = \"{ohms} ohm\"\n"
        );
    };
    // The fuse sits on the post: a microohm joins them.
    wire("post", "battery.+", "fuse.in", 1e-6);
    wire("W1", "fuse.out", "K.30", 0.012);
    wire("W2", "K.87", "X", 0.015);
    wire("conn", "X", "lamp.+", 0.005);
    wire("W3", "lamp.-", "G1", 0.01);
    wire("W4", "fuse.out", "sw.in", 0.03);
    wire("W6", "sw.out", "K.86", 1e-6);
    wire("W5", "K.85", "G2", 0.02);
    wire("open-contact", "K.30", "K.87", 1e9);
    wire("open-switch", "sw.in", "sw.out", 1e9);
    for (index, node) in [
        "battery.+",
        "fuse.out",
        "K.30",
        "K.87",
        "X",
        "lamp.+",
        "lamp.-",
        "G1",
        "chassis",
        "sw.in",
        "K.86",
        "K.85",
        "G2",
    ]
    .iter()
    .enumerate()
    {
        wire(&format!("meter-{index}"), node, "battery.-", 1e7);
    }
    Job::read(&Source::new("dictionary.toml", text)).unwrap_or_else(|e| panic!("{e}"))
}

/// The fourteen readings, in the order of the source.
fn readings(job: &Job, on: &Solution, off: &Solution) -> [f64; 14] {
    let at = |solution: &Solution, name: &str| {
        let terminal = job.terminal(name).unwrap();
        solution.voltage(&terminal).unwrap().as_volts()
    };
    let amps = |solution: &Solution, element: &str| solution.current(element).unwrap().as_amps();
    let on_at = |name: &str| at(on, name);
    // Both contacts and their stray gigohm carry the lamp's current; the lamp's own is the reading.
    [
        on_at("battery.+"),
        on_at("fuse.out"),
        on_at("K.30"),
        on_at("K.87"),
        on_at("X"),
        on_at("lamp.+") - on_at("lamp.-"),
        on_at("battery.+") - on_at("lamp.+"),
        on_at("lamp.-"),
        on_at("K.86") - on_at("K.85"),
        amps(on, "lamp"),
        at(off, "K.87"),
        at(off, "lamp.+"),
        amps(off, "battery"),
        amps(on, "battery"),
    ]
}

const PROBES: [&str; 14] = [
    "on B+",
    "on F",
    "on 30",
    "on 87",
    "on X",
    "on lamp",
    "on drop+",
    "on drop-",
    "on coil",
    "on lamp A",
    "off 87",
    "off L+",
    "off battery A",
    "on battery A",
];

fn in_series(element: &str, ohms: f64) -> Vec<Change> {
    vec![Change::InSeries { element: element.to_owned(), resistance: Resistance::ohms(ohms) }]
}

fn broken(element: &str) -> Vec<Change> {
    vec![Change::Broken { element: element.to_owned() }]
}

fn resists(element: &str, times: f64) -> Vec<Change> {
    vec![Change::Resists { element: element.to_owned(), times }]
}

fn path(from: (&str, &str), to: Terminal, ohms: f64) -> Vec<Change> {
    vec![Change::Bridge { from: Terminal::of(from.0, from.1), to, resistance: Resistance::ohms(ohms) }]
}

#[test]
fn thirteen_circuits_show_the_fourteen_readings_of_the_dictionary() {
    let job = job();
    let exchanged = vec![Change::Exchange { a: Terminal::of("lamp", "+"), b: Terminal::of("lamp", "-") }];
    let stuck = vec![Change::Armature { relay: "K".to_owned(), pulled_in: true }];
    #[rustfmt::skip]
    let rows: [(&str, Vec<Change>, [f64; 14]); 13] = [
        ("none", vec![], [12.503_231, 12.474_201, 12.417_8, 12.380_2, 12.309_699, 12.220_121, 0.217_033, 0.066_077, 12.454_56, 4.700_047, 0.0, 0.0, 5e-06, 4.838_441]),
        ("open W3", broken("W3"), [12.597_203, 12.596_364, 12.596_364, 12.596_364, 12.596_364, 3e-06, 0.000_839, 12.596_36, 12.586_015, 1e-06, 0.031_343, 0.031_343, 5e-06, 0.139_856]),
        ("0.5 ohm at the stud", in_series("G1", 0.5), [12.518_007, 12.493_409, 12.445_876, 12.414_188, 12.354_772, 10.298_713, 0.183_04, 2.036_253, 12.475_229, 3.961_044, 0.0, 0.0, 5e-06, 4.099_667]),
        ("0.5 ohm at W1", in_series("W1", 0.5), [12.518_007, 12.493_409, 10.465_353, 10.433_664, 10.374_249, 10.298_712, 2.163_563, 0.055_732, 12.475_229, 3.961_043, 0.0, 0.0, 5e-06, 4.099_666]),
        ("short of 1 ohm", path(("lamp", "+"), Terminal::chassis(), 1.0), [12.6, 1e-06, 1e-06, 0.0, 0.0, 0.0, 12.6, 0.0, 1e-06, 0.0, 0.0, 0.0, 5e-06, 1e-06]),
        ("short of 10 ohm", path(("lamp", "+"), Terminal::chassis(), 10.0), [12.479_466, 12.443_306, 12.372_642, 12.325_532, 12.237_202, 12.139_676, 0.271_707, 0.068_083, 12.421_315, 4.669_106, 0.0, 0.0, 5e-06, 6.026_701]),
        ("sneak of 1 kohm", path(("fuse", "out"), Terminal::of("K", "87"), 1000.0), [12.503_231, 12.474_201, 12.417_801, 12.380_201, 12.309_701, 12.220_123, 0.217_031, 0.066_077, 12.454_56, 4.700_047, 0.033_1, 0.032_849, 0.012_572, 4.838_441]),
        ("lamp open", broken("lamp"), [12.597_203, 12.596_364, 12.596_364, 12.596_364, 12.596_364, 12.596_084, 0.000_839, 0.000_28, 12.586_015, 0.0, 0.041_722, 0.041_722, 5e-06, 0.139_855]),
        ("coil open", broken("K coil"), [12.6, 12.6, 12.6, 0.0, 0.0, 0.0, 12.6, 0.0, 12.6, 0.0, 0.0, 0.0, 5e-06, 6e-06]),
        ("thin W2", resists("W2", 1.67), [12.503_582, 12.474_657, 12.418_467, 12.381_007, 12.263_711, 12.174_467, 0.263_284, 0.065_832, 12.455_051, 4.682_487, 0.0, 0.0, 5e-06, 4.820_887]),
        ("wrong fuse", resists("fuse", 0.003_5 / 0.006), [12.503_138, 12.486_187, 12.429_733, 12.392_096, 12.321_528, 12.231_864, 0.205_133, 0.066_141, 12.466_528, 4.704_563, 0.0, 0.0, 5e-06, 4.843_09]),
        ("relay stuck closed", stuck, [12.503_231, 12.474_201, 12.417_8, 12.380_2, 12.309_699, 12.220_121, 0.217_033, 0.066_077, 12.454_56, 4.700_047, 12.383_731, 12.289_701, 4.701_501, 4.838_441]),
        ("wires of the lamp exchanged", exchanged, [12.503_231, 12.474_201, 12.417_8, 12.380_2, 12.309_699, -12.220_121, 12.437_154, 12.286_199, 12.454_56, -4.700_047, 0.0, 0.0, 5e-06, 4.838_441]),
    ];
    let mut worst = 0.0f64;
    for (name, changes, expected) in rows {
        let circuit = Circuit::of(&job).with(&changes);
        let solve = |state: State| circuit.solve(&state).unwrap_or_else(|e| panic!("{name}: {e}"));
        let found = readings(&job, &solve(State::all_on(&job)), &solve(State::rest()));
        for ((probe, found), expected) in PROBES.iter().zip(found).zip(expected) {
            super::agreement::holds(module_path!(), found, expected, 2e-5, &format!("{name}, {probe:?}"));
            worst = worst.max((found - expected).abs());
        }
    }
    println!("13 circuits, 14 readings each: largest difference {worst:.1e}");
}
