//! A person searches for a fault in a terminal: the program asks, the meter of a faulted vehicle answers.
#![cfg(unix)]
#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::terminal::Terminal;
use common::{Bench, by_hand, demo_file};
use rigproof::circuit::{Circuit, State};
use rigproof::diagnosis::{Fault, Range, Strength, Weights, faults_of};
use rigproof::job::Job;
use rigproof::plan::{Measurement, Probes};
use rigproof::quantity::{Dimension, Resistance};

/// The reading that the screen asks for: its probes and its state, as a person reads them.
fn asked_for(job: &Job, screen: &str) -> Measurement {
    let words = screen.replace('\n', " ");
    let (_, rest) = words.rsplit_once("Read next, with ").expect("the screen says what to read next");
    let (state, rest) = rest.split_once(':').unwrap();
    let probe = |colour: &str| {
        let (_, after) = rest.split_once(&format!("{colour} probe on ")).expect("both probes are named");
        job.terminal(after.split([',', ' ']).next().unwrap()).unwrap()
    };
    let on = match state {
        state if state.contains("all switches on") => State::all_on(job).on,
        state if state.contains("all switches off") => State::rest().on,
        state => job
            .switches
            .iter()
            .map(|s| s.name.clone())
            .filter(|name| state.contains(&format!("only {name} on")))
            .collect(),
    };
    let probes = Probes::Between(probe("red"), probe("black"));
    Measurement { dimension: Dimension::Voltage, probes, state: State { on, ..State::rest() }, rule: None }
}

fn fault(job: &Job, words: &str) -> Fault {
    faults_of(job, &Weights::default())
        .into_iter()
        .find(|fault| fault.in_short() == words)
        .expect("the job can have it")
}

/// Searches until the program asks no more; the number of readings, and the last screen.
fn search(words: &str, ohms: f64, symptom: (&str, &str)) -> (usize, String) {
    let job = by_hand::job(&demo_file("job.toml"));
    let fault = fault(&job, words);
    let strength = match fault.range() {
        Range::Ohms(_) => Strength::Ohms(Resistance::ohms(ohms)),
        Range::Times(all) => Strength::Times(all[0]),
    };
    let changes = fault.changes(&job, strength);
    let bench = Bench::demo();
    let shown = |measurement: &Measurement| {
        let volts = measurement.expect_in(Circuit::of(&job).with(&changes)).unwrap().nominal.unwrap().base();
        if volts.abs() < 0.2 { format!("{:.1} mV", volts * 1000.0) } else { format!("{volts:.2} V") }
    };
    // The reading that is wrong.
    let (load, switch) = symptom;
    let probes =
        Probes::Between(job.terminal(&format!("{load}.+")).unwrap(), job.terminal(&format!("{load}.-")).unwrap());
    let state = State { on: std::iter::once(switch.to_owned()).collect(), ..State::rest() };
    let first = Measurement { dimension: Dimension::Voltage, probes, state, rule: None };
    let file = format!(
        "format = 1\n[[reading]]\nbetween = [\"{load}.+\", \"{load}.-\"]\non = [\"{switch}\"]\nshows = \"{}\"\n",
        shown(&first)
    );
    std::fs::write(bench.path("readings.toml"), file).unwrap();
    let mut terminal = Terminal::start(&bench, &["diagnose", "job.toml", "--readings", "readings.toml"], &[]);
    let mut readings = 0;
    loop {
        let asks = |t: &Terminal| t.text().matches("Read next, with").count() > readings;
        terminal.until("a question or the end", |t| t.text().contains("After the mend") || asks(t));
        if terminal.text().contains("After the mend") {
            return (readings, terminal.text());
        }
        let question = terminal.asked();
        let measurement = asked_for(&job, &terminal.text());
        if readings == 0 {
            // A wrong entry asks again.
            terminal.answer(&question, "twelve");
            terminal.until("the reason", |t| t.text().contains("this is not a number"));
        }
        terminal.answer(&question, &shown(&measurement));
        readings += 1;
        assert!(readings < 12, "{}", terminal.text());
    }
}

#[test]
fn wrong_readings_on_the_demo_lead_to_the_injected_fault_in_at_most_four_probes() {
    let (pump, lamp) = (("pump", "S1"), ("lamp-left", "S2"));
    for (words, ohms, symptom, says, at_most) in [
        ("G1 added resistance", 0.4, pump, "G1 has too much resistance", 4),
        ("F2 open", 0.0, lamp, "F2 is open", 4),
        ("pump reversed", 0.0, pump, "the two wires of pump are exchanged", 4),
        ("w1 added resistance", 0.3, pump, "w1 has too much resistance", 4),
        // A dead pump: two dozen open paths alike, of which four readings of there or not there tell sixteen.
        ("K1 coil open", 0.0, pump, "K1 coil is open", 5),
    ] {
        let (readings, text) = search(words, ohms, symptom);
        let (_, end) = text.rsplit_once("\n\n").unwrap();
        let mended = text.rsplit_once("Read next").map_or(text.as_str(), |(_, after)| after);
        assert!(mended.contains(says), "{words} after {readings} readings:\n{text}");
        assert!(readings <= at_most, "{words}: {readings} readings\n{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        println!("{words}: {readings} readings; {}", end.lines().next().unwrap_or_default());
    }
}
