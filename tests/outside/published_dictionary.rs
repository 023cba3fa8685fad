//! A fault dictionary of thirteen circuits and fourteen readings, against the numbers of an independent nodal solve.
//!
//! Source: the example network of this project's collected references (illustrative values, solved there with numpy
//! 2.4.6 and scipy 1.17.1 by a program that shares nothing with this one; tolerance 2e-5 stated there).

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
        text.push_str(&format!(
            "[wire.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nsize = \"2.5 mm²\"\nlength = \"1 m\"\nresistance = \"{ohms} ohm\"\n"
        ));
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
        ("none", vec![], [12.503231, 12.474201, 12.4178, 12.3802, 12.309699, 12.220121, 0.217033, 0.066077, 12.45456, 4.700047, 0.0, 0.0, 5e-06, 4.838441]),
        ("open W3", broken("W3"), [12.597203, 12.596364, 12.596364, 12.596364, 12.596364, 3e-06, 0.000839, 12.59636, 12.586015, 1e-06, 0.031343, 0.031343, 5e-06, 0.139856]),
        ("0.5 ohm at the stud", in_series("G1", 0.5), [12.518007, 12.493409, 12.445876, 12.414188, 12.354772, 10.298713, 0.18304, 2.036253, 12.475229, 3.961044, 0.0, 0.0, 5e-06, 4.099667]),
        ("0.5 ohm at W1", in_series("W1", 0.5), [12.518007, 12.493409, 10.465353, 10.433664, 10.374249, 10.298712, 2.163563, 0.055732, 12.475229, 3.961043, 0.0, 0.0, 5e-06, 4.099666]),
        ("short of 1 ohm", path(("lamp", "+"), Terminal::chassis(), 1.0), [12.6, 1e-06, 1e-06, 0.0, 0.0, 0.0, 12.6, 0.0, 1e-06, 0.0, 0.0, 0.0, 5e-06, 1e-06]),
        ("short of 10 ohm", path(("lamp", "+"), Terminal::chassis(), 10.0), [12.479466, 12.443306, 12.372642, 12.325532, 12.237202, 12.139676, 0.271707, 0.068083, 12.421315, 4.669106, 0.0, 0.0, 5e-06, 6.026701]),
        ("sneak of 1 kohm", path(("fuse", "out"), Terminal::of("K", "87"), 1000.0), [12.503231, 12.474201, 12.417801, 12.380201, 12.309701, 12.220123, 0.217031, 0.066077, 12.45456, 4.700047, 0.0331, 0.032849, 0.012572, 4.838441]),
        ("lamp open", broken("lamp"), [12.597203, 12.596364, 12.596364, 12.596364, 12.596364, 12.596084, 0.000839, 0.00028, 12.586015, 0.0, 0.041722, 0.041722, 5e-06, 0.139855]),
        ("coil open", broken("K coil"), [12.6, 12.6, 12.6, 0.0, 0.0, 0.0, 12.6, 0.0, 12.6, 0.0, 0.0, 0.0, 5e-06, 6e-06]),
        ("thin W2", resists("W2", 1.67), [12.503582, 12.474657, 12.418467, 12.381007, 12.263711, 12.174467, 0.263284, 0.065832, 12.455051, 4.682487, 0.0, 0.0, 5e-06, 4.820887]),
        ("wrong fuse", resists("fuse", 0.0035 / 0.006), [12.503138, 12.486187, 12.429733, 12.392096, 12.321528, 12.231864, 0.205133, 0.066141, 12.466528, 4.704563, 0.0, 0.0, 5e-06, 4.84309]),
        ("relay stuck closed", stuck, [12.503231, 12.474201, 12.4178, 12.3802, 12.309699, 12.220121, 0.217033, 0.066077, 12.45456, 4.700047, 12.383731, 12.289701, 4.701501, 4.838441]),
        ("wires of the lamp exchanged", exchanged, [12.503231, 12.474201, 12.4178, 12.3802, 12.309699, -12.220121, 12.437154, 12.286199, 12.45456, -4.700047, 0.0, 0.0, 5e-06, 4.838441]),
    ];
    let mut worst = 0.0f64;
    for (name, changes, expected) in rows {
        let circuit = Circuit::of(&job).with(&changes);
        let solve = |state: State| circuit.solve(&state).unwrap_or_else(|e| panic!("{name}: {e}"));
        let found = readings(&job, &solve(State::all_on(&job)), &solve(State::rest()));
        for ((probe, found), expected) in PROBES.iter().zip(found).zip(expected) {
            let difference = (found - expected).abs();
            assert!(difference < 2e-5, "{name}, {probe}: {found} here, {expected} there");
            worst = worst.max(difference);
        }
    }
    println!("13 circuits, 14 readings each: largest difference {worst:.1e}");
}
