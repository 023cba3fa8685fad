//! The circuit solve against ngspice, a general-purpose circuit simulator (Debian package `ngspice`).
//!
//! A generator writes random vehicle circuits twice, from one description: as a job file and as a netlist. Neither
//! goes through the other. Five of them are frozen with the simulator's answers under `circuits/`, so that the check
//! runs without the simulator; where it is installed (`.ci/run` does), all of them are run.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use rigproof::circuit::{Circuit, State};
use rigproof::document::Source;
use rigproof::job::Job;

/// A small generator with a fixed sequence (SplitMix64).
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.next() >> 11) as f64 / (1u64 << 53) as f64;
        ((low + share * (high - low)) * 1e6).round() / 1e6
    }

    pub fn one_in(&mut self, n: u64) -> bool {
        self.next().is_multiple_of(n)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }
}

/// IEC 60228:2004 class 5 plain copper at 20 °C, ohm/km.
const CLASS_5: [(&str, f64); 5] =
    [("1 mm²", 19.5), ("1.5 mm²", 13.3), ("2.5 mm²", 7.98), ("4 mm²", 4.95), ("6 mm²", 3.3)];
/// NBS Handbook 100 (1966), ohm per 1000 ft at 20 °C.
const GAUGES: [(&str, f64); 4] = [("16 AWG", 4.016), ("14 AWG", 2.525), ("12 AWG", 1.588), ("10 AWG", 0.9989)];

/// One circuit, written in both forms.
struct Twin {
    job: String,
    netlist: String,
    on: Vec<String>,
}

struct Writer {
    dice: Dice,
    parts: String,
    wires: String,
    netlist: String,
    count: usize,
    joint: f64,
    warmth: f64,
    on: Vec<String>,
}

/// A terminal as a node of the netlist.
pub fn node(terminal: &str) -> String {
    match terminal {
        "battery.-" => "0".into(),
        other => other.replace("battery.+", "battery_p").replace(['.', '-'], "_").replace('+', "p").to_lowercase(),
    }
}

impl Writer {
    fn resistor(&mut self, from: &str, to: &str, ohms: f64) {
        self.count += 1;
        let _ = writeln!(self.netlist, "R{} {} {} {ohms:.12e}", self.count, node(from), node(to));
    }

    /// A wire by table or by stated resistance, with a joint at each end; its current runs through a source of 0 V.
    fn wire(&mut self, from: &str, to: &str) {
        self.count += 1;
        let name = format!("w{}", self.count);
        let length = self.dice.between(0.1, 6.0);
        let (size, cold, stated) = match self.dice.below(3) {
            0 => {
                let (size, per_km) = CLASS_5[usize::try_from(self.dice.below(5)).unwrap()];
                (size, per_km / 1000.0 * length, None)
            }
            1 => {
                let (size, per_1000ft) = GAUGES[usize::try_from(self.dice.below(4)).unwrap()];
                (size, per_1000ft / 304.8 * length, None)
            }
            _ => {
                let ohms = self.dice.between(0.002, 0.2);
                ("2.5 mm²", 0.0, Some(ohms))
            }
        };
        let ohms = stated.unwrap_or(cold * self.warmth) + 2.0 * self.joint;
        let _ = write!(
            self.wires,
            "[wire.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nsize = \"{size}\"\nlength = \"{length} m\"\n"
        );
        if let Some(stated) = stated {
            let _ = writeln!(self.wires, "resistance = \"{stated} ohm\"");
        }
        let _ = writeln!(self.netlist, "V{name} {} {name}_mid 0", node(from));
        let _ = writeln!(self.netlist, "R{name} {name}_mid {} {ohms:.12e}", node(to));
    }

    fn two_pole(&mut self, kind: &str, name: &str, extra: &str) {
        let ohms = self.dice.between(0.001, 0.03);
        let _ = write!(self.parts, "[{kind}.{name}]\nresistance = \"{ohms} ohm\"\n{extra}");
        self.resistor(&format!("{name}.in"), &format!("{name}.out"), ohms);
    }

    /// A switch: closed in the netlist only where it is on.
    fn switch(&mut self, name: &str, on: bool) {
        let ohms = self.dice.between(0.001, 0.03);
        let _ = write!(self.parts, "[switch.{name}]\nresistance = \"{ohms} ohm\"\n");
        if on {
            self.on.push(name.to_owned());
            self.resistor(&format!("{name}.in"), &format!("{name}.out"), ohms);
        }
    }

    fn load(&mut self, name: &str, system: f64) {
        let (p, m) = (node(&format!("{name}.+")), node(&format!("{name}.-")));
        let across = format!("(V({p})-V({m}))");
        let scale = system / 12.0;
        match self.dice.below(4) {
            0 => {
                let ohms = self.dice.between(2.0, 40.0);
                let _ = write!(self.parts, "[load.{name}]\nkind = \"resistor\"\nresistance = \"{ohms} ohm\"\n");
                self.resistor(&format!("{name}.+"), &format!("{name}.-"), ohms);
            }
            1 => {
                let watts = self.dice.between(5.0, 55.0);
                let _ = write!(
                    self.parts,
                    "[load.{name}]\nkind = \"filament\"\npower = \"{watts} W\"\nat = \"{system} V\"\n"
                );
                // V^0.55 has no slope at zero: below 1 mV both take it as linear, and the same either way round.
                let law = format!(
                    "abs({across}) > 1e-3 ? sgn({across})*{watts}/{system}*pwr(abs({across})/{system},0.55) \
                     : {across}*1000*{watts}/{system}*pwr(1e-3/{system},0.55)"
                );
                let _ = writeln!(self.netlist, "B{name} {p} {m} I={law}");
            }
            2 => {
                let (watts, limit) = (self.dice.between(4.0, 60.0), self.dice.between(6.0, 9.5) * scale);
                let _ = write!(
                    self.parts,
                    "[load.{name}]\nkind = \"led\"\npower = \"{watts} W\"\nworks_from = \"{limit} V\"\n"
                );
                let law = format!(
                    "{across} >= {limit} ? {watts}/{across} : ({across} > 0 ? {watts}*{across}/({limit}*{limit}) : 0)"
                );
                let _ = writeln!(self.netlist, "B{name} {p} {m} I={law}");
                // A driver that draws nothing leaves its node undefined to the simulator: 12 nA of leak hold it.
                self.resistor(&format!("{name}.+"), &format!("{name}.-"), 1e9);
            }
            _ => {
                let amps = self.dice.between(0.5, 9.0);
                let _ = write!(self.parts, "[load.{name}]\nkind = \"motor\"\ncurrent = \"{amps} A\"\n");
                let law = format!("{across} >= 1 ? {amps} : {amps}*{across}");
                let _ = writeln!(self.netlist, "B{name} {p} {m} I={law}");
            }
        }
    }

    /// One branch from the battery to a ground, with a random choice of everything in between.
    fn branch(&mut self, index: usize, system: f64) {
        let fuse = format!("F{index}");
        self.two_pole("fuse", &fuse, "rating = \"20 A\"\n");
        self.wire("battery.+", &format!("{fuse}.in"));
        let mut here = format!("{fuse}.out");
        let way = self.dice.below(3);
        if way == 0 {
            let switch = format!("S{index}");
            self.wire(&here, &format!("{switch}.in"));
            let on = !self.dice.one_in(4);
            self.switch(&switch, on);
            here = format!("{switch}.out");
        } else if way == 1 {
            here = self.relay(index, &here, system);
        }
        if self.dice.one_in(2) {
            here = self.connector(index, &here);
        }
        let twins = if self.dice.one_in(2) { 2 } else { 1 };
        if twins == 2 {
            let splice = format!("J{index}");
            let _ = writeln!(self.parts, "[splice.{splice}]");
            self.wire(&here, &splice);
            here = splice;
        }
        let ground = format!("G{index}");
        let _ = writeln!(self.parts, "[ground.{ground}]");
        if self.dice.one_in(2) {
            let ohms = self.dice.between(0.0005, 0.02);
            let _ = writeln!(self.parts, "resistance = \"{ohms} ohm\"");
            self.resistor(&ground, "chassis", ohms);
        } else {
            let _ = writeln!(self.netlist, "V{ground} {} {} 0", node(&ground), node("chassis"));
        }
        for twin in 0..twins {
            let load = format!("load{index}-{twin}");
            self.wire(&here, &format!("{load}.+"));
            self.load(&load, system);
            self.wire(&ground, &format!("{load}.-"));
        }
    }

    /// A relay whose coil is fed from the same fuse through its own switch.
    fn relay(&mut self, index: usize, here: &str, system: f64) -> String {
        let (relay, switch) = (format!("K{index}"), format!("T{index}"));
        let coil = self.dice.between(60.0, 120.0) * system / 12.0;
        let contact = self.dice.between(0.001, 0.02);
        let pull_in = 7.2 * system / 12.0;
        let _ = write!(
            self.parts,
            "[relay.{relay}]\ncoil = \"{coil} ohm\"\ncontact_resistance = \"{contact} ohm\"\npull_in = \"{pull_in} V\"\n"
        );
        self.wire(here, &format!("{relay}.30"));
        self.wire(here, &format!("{switch}.in"));
        let on = !self.dice.one_in(4);
        self.switch(&switch, on);
        self.wire(&format!("{switch}.out"), &format!("{relay}.86"));
        self.resistor(&format!("{relay}.86"), &format!("{relay}.85"), coil);
        self.wire("chassis", &format!("{relay}.85"));
        let to = if on { "87" } else { "87a" };
        self.resistor(&format!("{relay}.30"), &format!("{relay}.{to}"), contact);
        format!("{relay}.87")
    }

    /// A battery beside the first one, joined to it through a fuse at each, with a load of its own.
    fn second_battery(&mut self, system: f64) {
        let (emf, internal) = (self.dice.between(1.0, 1.08) * system, self.dice.between(0.002, 0.02));
        let _ = write!(
            self.parts,
            "[battery.second]\nkind = \"agm\"\nrest_voltage = \"{emf} V\"\ninternal_resistance = \"{internal} ohm\"\n"
        );
        let (plus, minus) = (node("second.+"), node("second.-"));
        let _ = writeln!(self.netlist, "Vsecond emf2 {minus} {emf}\nRsecond emf2 {plus} {internal:.12e}");
        for fuse in ["F91", "F92", "F93"] {
            self.two_pole("fuse", fuse, "rating = \"40 A\"\n");
        }
        for (from, to) in [
            ("battery.+", "F91.in"),
            ("F91.out", "F92.in"),
            ("F92.out", "second.+"),
            ("chassis", "second.-"),
            ("second.+", "F93.in"),
            ("F93.out", "house.+"),
            ("second.-", "house.-"),
        ] {
            self.wire(from, to);
        }
        self.load("house", system);
    }

    fn connector(&mut self, index: usize, here: &str) -> String {
        let name = format!("X{index}");
        let ohms = self.dice.between(0.001, 0.02);
        let _ = write!(self.parts, "[connector.{name}]\ncavities = [\"A\"]\nresistance = \"{ohms} ohm\"\n");
        self.wire(here, &format!("{name}.A.in"));
        self.resistor(&format!("{name}.A.in"), &format!("{name}.A.out"), ohms);
        format!("{name}.A.out")
    }
}

fn twin(seed: u64) -> Twin {
    let mut dice = Dice(seed);
    let system = if dice.one_in(4) { 24.0 } else { 12.0 };
    let (emf, internal) = (dice.between(1.0, 1.08) * system, dice.between(0.002, 0.02));
    let (joint, chassis) = (dice.between(0.0005, 0.004), dice.between(0.0005, 0.003));
    let temperature = dice.between(0.0, 80.0);
    let branches = 1 + usize::try_from(dice.below(4)).unwrap();
    let mut writer = Writer {
        dice,
        parts: String::new(),
        wires: String::new(),
        netlist: String::new(),
        count: 0,
        joint,
        // Annealed copper: 0.00393 per kelvin at 20 °C (IEC 60228, NBS Handbook 100).
        warmth: 1.0 + 0.00393 * (temperature - 20.0),
        on: Vec::new(),
    };
    let _ = writeln!(writer.netlist, "Vbattery emf 0 {emf}\nRbattery emf {} {internal:.12e}", node("battery.+"));
    writer.resistor("chassis", "battery.-", chassis);
    for index in 1..=branches {
        writer.branch(index, system);
    }
    // The frozen circuits are older than this.
    if seed.is_multiple_of(5) {
        writer.second_battery(system);
    }
    let job = format!(
        "format = 1\ntitle = \"generated {seed}\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"{system} V\"\n\
         [battery]\nkind = \"flooded\"\nrest_voltage = \"{emf} V\"\ninternal_resistance = \"{internal} ohm\"\n\
         [assume]\njoint = \"{joint} ohm\"\nchassis = \"{chassis} ohm\"\nconductor_temperature = \"{temperature} °C\"\n{}{}",
        writer.parts, writer.wires
    );
    let netlist = format!(
        "* generated {seed}\n{}.options reltol=1e-9 abstol=1e-13 vntol=1e-10 gmin=1e-15 rshunt=1e15 itl1=500\n\
         .control\nset numdgt=13\nop\nprint all\n.endc\n.end\n",
        writer.netlist
    );
    Twin { job, netlist, on: writer.on }
}

pub fn simulator_is_here() -> bool {
    Command::new("ngspice").arg("--version").output().is_ok_and(|o| o.status.success())
}

/// Node voltages and source currents as the simulator prints them; `None` where its search does not converge.
pub fn simulate(netlist: &str) -> Option<BTreeMap<String, f64>> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("circuit.cir");
    std::fs::write(&file, netlist).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(&file).output().unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut values = BTreeMap::new();
    for line in text.lines() {
        if let Some((name, value)) = line.split_once(" = ")
            && let Ok(value) = value.trim().parse::<f64>()
        {
            values.insert(name.trim().to_lowercase(), value);
        }
    }
    (values.len() > 5).then_some(values)
}

/// Largest relative difference over all nodes and wires.
fn compare(twin_job: &str, on: &[String], theirs: &BTreeMap<String, f64>) -> f64 {
    let job = Job::read(&Source::new("generated.toml", twin_job)).unwrap_or_else(|e| panic!("{e}\n{twin_job}"));
    let state = State { on: on.iter().cloned().collect(), ..State::rest() };
    let solution = Circuit::of(&job).solve(&state).unwrap_or_else(|e| panic!("{e}\n{twin_job}"));
    assert!(solution.residual().as_amps() < 1e-9, "Kirchhoff: {} A are left over", solution.residual().as_amps());
    let mut worst = 0.0f64;
    let mut compared = 0;
    let mut close = |what: &str, ours: f64, theirs: f64, floor: f64| {
        let size = theirs.abs().max(floor);
        super::agreement::holds(module_path!(), ours, theirs, 1e-6 * size, &format!("{what}\n{twin_job}"));
        worst = worst.max((ours - theirs).abs() / size);
        compared += 1;
    };
    for terminal in job.terminals() {
        if let (Some(volts), Some(theirs)) = (solution.voltage(&terminal), theirs.get(&node(terminal.name()))) {
            // A node behind an open contact hangs on leaks alone, and the simulator's own (1e15 ohm a node) move it by
            // some 0.1 µV: below 0.5 V the difference counts as 1e-6 of 0.5 V. Currents are held to 1e-6 all the same.
            close(terminal.name(), volts.as_volts(), *theirs, 0.5);
        }
    }
    for wire in &job.wires {
        if let (Some(amps), Some(theirs)) =
            (solution.current(&wire.name), theirs.get(&format!("v{}#branch", wire.name)))
        {
            close(&wire.name, amps.as_amps(), *theirs, 0.01);
        }
    }
    assert!(compared > job.wires.len() * 2, "only {compared} values were compared");
    worst
}

fn frozen_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/circuits")
}

const FROZEN: [u64; 5] = [3, 7, 11, 19, 42];

#[test]
fn five_frozen_circuits_solve_as_the_simulator_solved_them() {
    for seed in FROZEN {
        let twin = twin(seed);
        let read = |ending: &str| {
            let path = frozen_folder().join(format!("{seed}.{ending}"));
            std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        };
        assert_eq!(read("toml"), twin.job, "the generator no longer writes the frozen job");
        assert_eq!(read("cir"), twin.netlist, "the generator no longer writes the frozen netlist");
        let mut values = BTreeMap::new();
        for line in read("values").lines() {
            let (name, value) = line.split_once(' ').unwrap();
            values.insert(name.to_owned(), value.parse::<f64>().unwrap());
        }
        let worst = compare(&twin.job, &twin.on, &values);
        println!("frozen circuit {seed}: {} values, worst relative difference {worst:.1e}", values.len());
    }
}

#[test]
fn generated_circuits_solve_as_the_simulator_solves_them() {
    if !simulator_is_here() {
        assert!(std::env::var_os("CI").is_none(), "CI installs ngspice; without it this check says nothing");
        println!("ngspice is not installed: only the frozen circuits were checked");
        return;
    }
    let (mut worst, mut compared, mut gave_up) = (0.0f64, 0, 0);
    for seed in 1000..1120 {
        let twin = twin(seed);
        if let Some(theirs) = simulate(&twin.netlist) {
            worst = worst.max(compare(&twin.job, &twin.on, &theirs));
            compared += 1;
            continue;
        }
        // The bends of the load laws can throw the simulator's search off; ours must still find a point.
        let job = Job::read(&Source::new("generated.toml", twin.job.as_str())).unwrap();
        let state = State { on: twin.on.into_iter().collect(), ..State::rest() };
        let solution = Circuit::of(&job).solve(&state).unwrap();
        assert!(solution.residual().as_amps() < 1e-9);
        gave_up += 1;
    }
    assert!(compared >= 60, "only {compared} circuits were compared, the simulator gave up on {gave_up}");
    for seed in FROZEN {
        let twin = twin(seed);
        let now = simulate(&twin.netlist).expect("the frozen circuits converge");
        if std::env::var_os("RIGPROOF_FREEZE").is_some() {
            let path = |ending: &str| frozen_folder().join(format!("{seed}.{ending}"));
            std::fs::write(path("toml"), &twin.job).unwrap();
            std::fs::write(path("cir"), &twin.netlist).unwrap();
            let lines: String = now.iter().fold(String::new(), |mut text, (name, value)| {
                let _ = writeln!(text, "{name} {value:e}");
                text
            });
            std::fs::write(path("values"), lines).unwrap();
        }
        worst = worst.max(compare(&twin.job, &twin.on, &now));
    }
    println!("{compared} circuits compared, worst relative difference {worst:.1e}; the simulator gave up on {gave_up}");
}
