//! Speed of the search for a fault, beside solving every faulted circuit afresh, in the same run.
//!
//! `cargo bench --bench diagnosis` prints both and their ratio, and fails where the mark is missed: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

use std::fmt::Write;
use std::hint::black_box;
use std::time::{Duration, Instant};

use rigproof::circuit::{Circuit, Dictionary, State};
use rigproof::diagnosis::{Fault, Questions, Range, Strength, Taken, Weights, faults_of, find, rank};
use rigproof::document::Source;
use rigproof::job::{Job, Terminal};
use rigproof::plan::{Measurement, Probes};
use rigproof::quantity::{Dimension, Reading, Resistance};

const BRANCHES: usize = 18;
const READINGS: usize = 40;
const MARK: Duration = Duration::from_millis(100);

/// A harness of branches with a fuse, a switch, a connector for both ways, a load and a ground.
fn harness() -> Job {
    let mut text = String::from(
        "format = 1\ntitle = \"bench\"\n[vehicle]\ndescription = \"bench\"\nsystem = \"12 V\"\n\
         [battery]\nkind = \"flooded\"\nrest_voltage = \"12.6 V ± 0.1 V\"\ninternal_resistance = \"10 mohm ± 20 %\"\n\
         [assume]\nconductor_temperature = \"20 °C\"\n",
    );
    let mut wires = String::new();
    let mut count = 0;
    for n in 1..=BRANCHES {
        let kind = match n % 3 {
            0 => "kind = \"motor\"\ncurrent = \"2 A ± 10 %\"",
            1 => "kind = \"led\"\npower = \"20 W ± 10 %\"\nworks_from = \"9 V\"",
            _ => "kind = \"filament\"\npower = \"21 W ± 10 %\"\nat = \"12 V\"",
        };
        let _ = write!(
            text,
            "[fuse.F{n}]\nrating = \"10 A\"\n[switch.S{n}]\n[connector.X{n}]\ncavities = [\"A\", \"B\"]\n[ground.G{n}]\n\
             [load.L{n}]\n{kind}\n"
        );
        for (from, to) in [
            ("battery.+".to_owned(), format!("F{n}.in")),
            (format!("F{n}.out"), format!("S{n}.in")),
            (format!("S{n}.out"), format!("X{n}.A.in")),
            (format!("X{n}.A.out"), format!("L{n}.+")),
            (format!("L{n}.-"), format!("X{n}.B.out")),
            (format!("X{n}.B.in"), format!("G{n}")),
        ] {
            count += 1;
            let _ = write!(
                wires,
                "[wire.w{count}]\nfrom = \"{from}\"\nto = \"{to}\"\nsize = \"2.5 mm²\"\nlength = \"2 m\"\n"
            );
        }
    }
    Job::read(&Source::new("bench.toml", text + &wires)).unwrap_or_else(|e| panic!("{e}"))
}

/// Readings of a harness with 0.4 ohm in one ground, as the fresh solve shows them.
fn readings(job: &Job) -> Vec<Taken> {
    let fault =
        faults_of(job, &Weights::default()).into_iter().find(|f| f.in_short() == "G7 added resistance").unwrap();
    let changes = fault.changes(job, Strength::Ohms(Resistance::ohms(0.4)));
    let circuit = Circuit::of(job).with(&changes);
    let states = [State::all_on(job), State::rest()];
    let of = |(place, wire): (usize, &rigproof::job::Wire)| {
        let probes = Probes::Between(wire.to.clone(), Terminal::battery_minus());
        let state = states[usize::from(place % 5 == 4)].clone();
        let measurement = Measurement { dimension: Dimension::Voltage, probes, state, rule: None };
        let volts = measurement.expect_in(circuit).unwrap().nominal.unwrap().base();
        let reading = Reading::parse(&format!("{volts:.3} V"), Dimension::Voltage).unwrap();
        Taken { measurement, reading, instrument: None }
    };
    job.wires.iter().skip(1).step_by(2).take(READINGS).enumerate().map(of).collect()
}

fn median(repeats: usize, mut run: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..repeats)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let only = std::env::var_os("ONLY").is_some();
    let job = harness();
    let weights = Weights::default();
    let taken = readings(&job);
    let faults = faults_of(&job, &weights);
    println!("{} terminals, {} single faults, {} readings", job.terminals().len(), faults.len(), taken.len());
    assert!(job.terminals().len() >= 200 && faults.len() >= 600 && taken.len() == READINGS);
    let found = find(&job, &weights, &taken);
    assert_eq!(found.ranked[0].fault.in_short(), "G7 added resistance");
    let strength = |fault: &Fault| match fault.range() {
        Range::Ohms(_) => Strength::Ohms(Resistance::ohms(0.4)),
        Range::Times(all) => Strength::Times(all[0]),
    };
    // What the meter shows in each faulted circuit at each reading.
    let ours = median(if only { 60 } else { 9 }, || {
        let dictionary = Dictionary::of(&job);
        let asked = taken.iter().map(|one| (&one.measurement, None, one.reading.resolution));
        let questions = Questions::of(&job, &dictionary, asked);
        for fault in &faults {
            black_box(questions.nominal(fault, strength(fault)));
        }
    });
    // The naive way: a fresh solve of each faulted circuit in each state, the meter's own resistance left out.
    let states = [State::all_on(&job), State::rest()];
    if only {
        return;
    }
    let naive = median(3, || {
        for fault in &faults {
            let changes = fault.changes(&job, strength(fault));
            for state in &states {
                if let Ok(solution) = Circuit::of(&job).with(&changes).solve(state) {
                    let Probes::Between(red, black) = &taken[0].measurement.probes else { continue };
                    black_box(solution.voltage(red).zip(solution.voltage(black)));
                }
            }
        }
    });
    let ranking = median(3, || drop(black_box(rank(&job, &weights, &taken))));
    let whole = median(3, || drop(black_box(find(&job, &weights, &taken))));
    println!("all faults at all readings from the dictionary: {ours:.1?} (mark {MARK:?})");
    println!(
        "a fresh solve for each fault and state: {naive:.1?}, ratio {:.3}",
        ours.as_secs_f64() / naive.as_secs_f64()
    );
    println!("ranking with all strengths averaged: {ranking:.1?}; with the next reading: {whole:.1?}");
    assert!(ours <= MARK, "the mark is missed");
}
