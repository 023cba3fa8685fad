//! The fault dictionary answers as a fresh solve of the faulted circuit does.

#![allow(missing_docs, reason = "tests speak through their names")]

use rigproof::circuit::{Circuit, Dictionary, Shown, State};
use rigproof::diagnosis::{Fault, Range, Strength, Weights, faults_of};
use rigproof::document::Source;
use rigproof::job::{Job, Terminal};
use rigproof::plan::{Measurement, Probes};
use rigproof::quantity::{Amount, Dimension, Quantity, Resistance, Temperature, Toleranced};

const JOBS: [&str; 3] = ["reversing-lamp", "orchard-flatbed", "market-stall-van"];

/// A job whose wires do not heat: the dictionary keeps the temperatures of the circuit as designed.
fn job(name: &str) -> Job {
    let path = format!("{}/reports/{name}/job.toml", env!("CARGO_MANIFEST_DIR"));
    let mut job = Job::read(&Source::new(name, std::fs::read_to_string(path).unwrap())).unwrap();
    let temperature = Temperature::celsius(35.0);
    job.environment.conductor = Some(Toleranced::plus_minus(temperature, Temperature::from_base(10.0)));
    job
}

fn strengths(fault: &Fault) -> Vec<Strength> {
    match fault.range() {
        Range::Ohms(_) => [0.03, 0.8, 8.0, 90.0].map(|ohms| Strength::Ohms(Resistance::ohms(ohms))).to_vec(),
        Range::Times(all) => all.iter().map(|times| Strength::Times(*times)).collect(),
    }
}

/// Some of the readings of a job, over all kinds.
fn readings(job: &Job) -> Vec<Measurement> {
    let mut states = vec![State::all_on(job), State::rest()];
    states.push(State { pulled: job.fuses.iter().take(1).map(|f| f.name.clone()).collect(), ..State::all_on(job) });
    if job.alternator.is_some() {
        states.push(State { engine: rigproof::circuit::Engine::Running, ..State::all_on(job) });
    }
    let mut all = Vec::new();
    for state in states {
        let mut add = |dimension, probes| all.push(Measurement { dimension, probes, state: state.clone(), rule: None });
        for wire in job.wires.iter().step_by(2) {
            add(Dimension::Voltage, Probes::Between(wire.from.clone(), wire.to.clone()));
            add(Dimension::Voltage, Probes::Between(wire.to.clone(), Terminal::battery_minus()));
            add(Dimension::Current, Probes::Wire(wire.name.clone()));
        }
        for load in &job.loads {
            add(Dimension::Voltage, Probes::Between(Terminal::of(&load.name, "+"), Terminal::of(&load.name, "-")));
        }
    }
    for wire in job.wires.iter().step_by(3) {
        let state = State { battery_off: true, ..State::rest() };
        let probes = Probes::Between(wire.to.clone(), Terminal::battery_minus());
        all.push(Measurement { dimension: Dimension::Resistance, probes, state, rule: None });
    }
    all
}

fn shown(dictionary: &Dictionary, job: &Job, fault: &Fault, strength: Strength, m: &Measurement) -> Option<Shown> {
    let changes = fault.changes(job, strength);
    let state = m.state_with_meter(job);
    match (&m.probes, m.dimension) {
        (Probes::Between(a, b), dimension) => {
            let points = (dictionary.point(a)?, dictionary.point(b)?);
            if dimension == Dimension::Resistance {
                return Some(dictionary.passive(&state, &changes).ok()?.resistance(points));
            }
            let circuit = dictionary.in_state(&state, &changes).ok()?;
            let shown = circuit.voltage(points);
            assert!((circuit.volts_between(points).as_volts() - shown.nominal?.base()).abs() < 1e-6);
            Some(shown)
        }
        (Probes::Wire(wire), _) => dictionary.in_state(&state, &changes).ok()?.current(wire),
    }
}

#[test]
fn every_single_fault_reads_as_a_fresh_solve_of_its_circuit_does() {
    let mut compared = 0;
    let mut no_steady_state = 0;
    for name in JOBS {
        let job = job(name);
        let dictionary = Dictionary::of(&job);
        let readings = readings(&job);
        for fault in faults_of(&job, &Weights::default()) {
            for strength in strengths(&fault) {
                let changes = fault.changes(&job, strength);
                // Each reading of the direct engine is a solve of its own: a few of them for each fault.
                for m in readings.iter().skip(compared % 5).step_by(5) {
                    let told = || format!("{name}: {} {strength:?}, {m:?}", fault.says());
                    let found = shown(&dictionary, &job, &fault, strength, m);
                    let Ok(expected) = m.expect_in(Circuit::of(&job).with(&changes)) else {
                        assert!(found.is_none_or(|f| f.nominal.is_some()), "{}", told());
                        no_steady_state += 1;
                        continue;
                    };
                    let found = found.unwrap_or_else(|| panic!("nothing for {}", told()));
                    let (value, nominal) = (found.nominal.map(Amount::base), expected.nominal.map(Amount::base));
                    match (value, nominal) {
                        (None, None) => {}
                        // A path of hundreds of megohms is none to any meter.
                        (None, Some(ohms)) | (Some(ohms), None) => {
                            assert!(ohms > 5e7, "{}: {value:?} {nominal:?}", told());
                        }
                        (Some(a), Some(b)) => {
                            // A point that hangs free shows what the meter's own resistance makes of it.
                            let stray = found.stray.base() > 0.0;
                            let floats = stray || expected.notices.iter().any(|n| n.says.contains("hangs free"));
                            // Rounding behind an open path, below the last digit of any meter.
                            let least = if m.dimension == Dimension::Current { 1e-3 } else { 1e-4 };
                            let near = if floats { 0.05 } else { least + 2e-5 * b.abs() };
                            assert!((a - b).abs() < near, "{}: {a} is not {b}", told());
                            let spread =
                                found.shared.iter().fold(found.own.base().powi(2), |s, m| s + m.base().powi(2));
                            let expected_spread = expected.standard_uncertainty().unwrap().base();
                            assert!(
                                floats
                                    || (spread.sqrt() - expected_spread).abs() < least + 1e-4 + 1e-3 * expected_spread,
                                "{}: uncertainty {} is not {expected_spread}",
                                told(),
                                spread.sqrt()
                            );
                        }
                    }
                    compared += 1;
                }
            }
        }
    }
    println!("compared {compared} readings; {no_steady_state} circuits have no steady state");
    assert!(compared > 3000, "{compared}");
    assert!(no_steady_state * 50 < compared, "{no_steady_state} of {compared}");
}
