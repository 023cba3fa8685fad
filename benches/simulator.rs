//! Speed beside ngspice, a general-purpose circuit simulator, in the same run on the same circuits.
//!
//! `cargo bench --bench simulator` prints the times and their ratios, and fails where a ratio misses its mark. Peers
//! and marks: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use rigproof::circuit::{Circuit, Factor, Pattern, State};
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::quantity::Voltage;

const NETLIST: &str = include_str!("circuit.cir");
const JOB: &str = include_str!("circuit.toml");

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn timed(repeats: usize, mut run: impl FnMut()) -> Duration {
    let once = |run: &mut dyn FnMut()| {
        let start = Instant::now();
        run();
        start.elapsed()
    };
    median((0..repeats).map(|_| once(&mut run)).collect())
}

fn simulator(folder: &Path, control: &str) -> Command {
    let file = folder.join("bench.cir");
    std::fs::write(&file, format!("{NETLIST}{control}\n.end\n")).unwrap();
    let mut command = Command::new("ngspice");
    command.arg("-b").arg(file).stdout(Stdio::null()).stderr(Stdio::null());
    command
}

fn process(folder: &Path) -> f64 {
    let job = folder.join("bench.toml");
    std::fs::write(&job, JOB).unwrap();
    let ours = timed(31, || {
        let status = Command::new(env!("CARGO_BIN_EXE_rigproof"))
            .args(["expect"])
            .arg(&job)
            .args(["--volts", "work.+", "work.-", "--on", "S1", "--json"])
            .stdout(Stdio::null())
            .status()
            .unwrap();
        assert!(status.success());
    });
    let theirs = timed(31, || {
        let status = simulator(folder, ".control\nop\nprint v(wp) v(wm)\nquit 0\n.endc").status().unwrap();
        assert!(status.success());
    });
    let ratio = ours.as_secs_f64() / theirs.as_secs_f64();
    println!(
        "one operating point, whole process: {ours:.2?} here, {theirs:.2?} ngspice, ratio {ratio:.3} (mark 0.333)"
    );
    ratio
}

fn bulk(folder: &Path) -> f64 {
    let points = 200_000;
    let control = |count: usize| {
        let step = 5.0 / (count as f64 - 1.0);
        format!(".options reltol=1e-6\n.control\nset noaskquit\ndc Vb 10 15 {step:.9}\nquit 0\n.endc")
    };
    let short = timed(5, || assert!(simulator(folder, &control(2)).status().unwrap().success()));
    let long = timed(5, || assert!(simulator(folder, &control(points)).status().unwrap().success()));
    let theirs = (long.as_secs_f64() - short.as_secs_f64()) / points as f64;
    let job = Job::read(&Source::new("bench.toml", JOB)).unwrap();
    let watch = ["work.+", "work.-"].map(|t| job.terminal(t).unwrap());
    let mut bulk = Circuit::of(&job).bulk(&State::all_on(&job), &watch).unwrap();
    let run = timed(9, || {
        for point in 0..points {
            let volts = 10.0 + 5.0 * point as f64 / points as f64;
            black_box(bulk.at(Voltage::volts(volts)).unwrap());
        }
    });
    let ours = run.as_secs_f64() / points as f64;
    let ratio = ours / theirs;
    println!(
        "bulk, 13 nodes, 3 non-linear loads: {:.3} µs a point here, {:.3} µs ngspice, ratio {ratio:.3} (mark 0.1)",
        ours * 1e6,
        theirs * 1e6
    );
    ratio
}

/// A ladder of `size` nodes: a series resistor and a shunt at each.
fn ladder(size: usize) -> Vec<f64> {
    let pattern = Pattern::new(size, (0..size - 1).map(|n| (n, n + 1)));
    let mut matrix = Factor::zero(&pattern);
    for node in 0..size {
        matrix.add_diagonal(node, 1.0 / 50.0);
    }
    matrix.add_diagonal(0, 100.0);
    for node in 0..size - 1 {
        matrix.add_diagonal(node, 100.0);
        matrix.add_diagonal(node + 1, 100.0);
        if let Some(entry) = pattern.entry(node, node + 1) {
            matrix.add_entry(entry, -100.0);
        }
    }
    pattern.refactor(&mut matrix).unwrap();
    let mut volts = vec![0.0; size];
    volts[0] = 1260.0;
    pattern.solve(&matrix, &mut volts);
    volts
}

fn ladders() -> f64 {
    let sizes = [20usize, 200, 2_000, 20_000];
    let mut points = Vec::new();
    for size in sizes {
        let repeats = (200_000 / size).clamp(9, 2_001);
        let time = timed(repeats, || {
            black_box(ladder(size));
        });
        println!("ladder of {size:>6} nodes, planned, factored and solved: {time:.2?}");
        points.push(((size as f64).ln(), time.as_secs_f64().ln()));
    }
    // Slope of the straight line through the logarithms.
    let count = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / count, points.iter().map(|p| p.1).sum::<f64>() / count);
    let slope = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>()
        / points.iter().map(|p| (p.0 - mx).powi(2)).sum::<f64>();
    println!("time grows as n^{slope:.2} (mark 1.2)");
    slope
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let slope = ladders();
    if !Command::new("ngspice").arg("--version").output().is_ok_and(|o| o.status.success()) {
        println!("ngspice is not installed: the other comparisons are left out");
        assert!(slope <= 1.2);
        return;
    }
    let (process, bulk) = (process(folder.path()), bulk(folder.path()));
    assert!(slope <= 1.2, "ladders grow as n^{slope:.2}");
    assert!(process <= 1.0 / 3.0, "a whole process takes {process:.3} of the simulator's time");
    assert!(bulk <= 0.1, "a bulk point takes {bulk:.3} of the simulator's time");
}
