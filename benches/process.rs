//! What a person waits for at each call: the start of the program beside a trivial Rust program, `check` beside ngspice on a
//! circuit of its size, the report of the sample record beside a browser that prints the same page. All in the same run.
//!
//! `cargo bench --bench process` prints the times and fails where a mark is missed: `benches/README.md`.

#![allow(missing_docs, reason = "a benchmark is read, not called")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const RUNS: usize = 61;
/// How much longer than a trivial program the start may take.
const START: Duration = Duration::from_millis(10);
/// How much longer than its peer `check`, and the report as page, PDF and table, may take.
const CHECK: f64 = 1.0;
const REPORT: f64 = 1.0;

fn quiet(mut command: Command) -> impl FnMut() {
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    move || assert!(command.status().unwrap().success(), "{command:?}")
}

fn median(runs: usize, mut run: impl FnMut()) -> Duration {
    run();
    let once = |run: &mut dyn FnMut()| {
        let began = Instant::now();
        run();
        began.elapsed()
    };
    let mut times: Vec<Duration> = (0..runs).map(|_| once(&mut run)).collect();
    times.sort();
    times[runs / 2]
}

fn program(arguments: &[&str], home: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_rigproof"));
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).env("XDG_CONFIG_HOME", home);
    command
}

fn ratio(ours: Duration, theirs: Duration) -> f64 {
    ours.as_secs_f64() / theirs.as_secs_f64()
}

fn main() {
    let folder = tempfile::TempDir::new().unwrap();
    let place = folder.path();

    let source = place.join("trivial.rs");
    std::fs::write(&source, "fn main() { println!(\"0.1.0\"); }\n").unwrap();
    let built = Command::new("rustc").args(["-O", "-o"]).arg(place.join("trivial")).arg(&source).status().unwrap();
    assert!(built.success());
    let trivial = median(RUNS, quiet(Command::new(place.join("trivial"))));
    let version = median(RUNS, quiet(program(&["--version"], place)));
    let size = std::fs::metadata(env!("CARGO_BIN_EXE_rigproof")).unwrap().len();
    println!("start: {version:.2?} here, {trivial:.2?} a trivial program (mark: {START:?} more)");
    println!("size of this program, with the names of its functions: {:.1} MB", size as f64 / 1e6);

    let netlist = place.join("circuit.cir");
    let text = include_str!("circuit.cir");
    std::fs::write(&netlist, format!("{text}.control\nop\nquit 0\n.endc\n.end\n")).unwrap();
    let mut simulator = Command::new("ngspice");
    simulator.arg("-b").arg(&netlist);
    let simulated = median(RUNS, quiet(simulator));
    let check = median(RUNS, quiet(program(&["check", "reports/orchard-flatbed/job.toml"], place)));
    println!(
        "check: {check:.2?} here, {simulated:.2?} one point of ngspice, ratio {:.2} (mark {CHECK})",
        ratio(check, simulated)
    );

    let out = place.join("out");
    let record = "reports/orchard-flatbed/record";
    let report = median(9, quiet(program(&["report", record, "--out", out.to_str().unwrap()], place)));
    let mut browser = Command::new("chromium");
    let printed = format!("--print-to-pdf={}", place.join("page.pdf").display());
    browser.args(["--headless", "--no-sandbox", "--disable-gpu", &printed]);
    browser.arg(format!("file://{}", out.join("report.html").display())).env("HOME", place);
    let theirs = median(5, quiet(browser));
    println!(
        "report: {report:.2?} here, {theirs:.2?} a browser that prints the page, ratio {:.2} (mark {REPORT})",
        ratio(report, theirs)
    );

    assert!(version < trivial + START, "the start misses its mark");
    assert!(ratio(check, simulated) <= CHECK, "the check misses its mark");
    assert!(ratio(report, theirs) <= REPORT, "the report misses its mark");
}
