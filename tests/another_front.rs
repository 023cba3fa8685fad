//! Another front drives the walk by JSON lines: a script in another language, and wrong lines.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

use common::{Bench, PROGRAM, small_job};
use serde_json::{Value, json};

/// A front in Python: it answers every question with what the question says is expected.
const SCRIPT: &str = r#"
import json, subprocess, sys

walk = subprocess.Popen(sys.argv[1:], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

def say(line):
    walk.stdin.write(json.dumps(line) + "\n")
    walk.stdin.flush()

turn = 0
def reading(q):
    global turn
    turn += 1
    if q.get("open"):
        return "OL"
    low, high = q["low"], q["high"]
    if low is None:
        low, high = q["at_least"], q["at_most"]
        if low is None and high is None: low = high = 0
        elif low is None: low, high = 0, high / 2
        elif high is None: low = high = 2 * low
    # Not all in the middle: a loop of readings that closes exactly is asked about.
    share = 0.5 + 0.04 * ((turn % 5) - 2) if ask == "measure" else 0.5
    value = low + share * (high - low)
    return f"{int(value)}" if q["quantity"] == "count" else f"{value:.5f} {q['unit']}"

readings = 0
for text in walk.stdout:
    q = json.loads(text)
    ask = q.get("ask")
    if ask == "who-works": say({"person": {"name": "Robin Alder", "role": "installer"}})
    elif ask in ("hazards", "do"): say({"yes": True})
    elif ask == "choose": say({"typed": q["ways"][0]["id"]})
    elif ask == "witness": say({"typed": "nobody"})
    elif ask == "measure": say({"typed": reading(q)}); readings += 1
    elif ask == "value": say({"typed": reading(q)})
    elif ask == "wait": say({"typed": f"{q['seconds']} s"})
    elif ask == "text": say({"typed": q["expect"] or "none"})
    elif ask == "hold": say({"release": {"by": "Jo Birch", "statement": "every result read"}})
    elif ask == "sign-off": say({"sign": {"name": "Robin Alder", "role": "installer", "statement": "I did this work."}})
    elif ask is not None: sys.exit(f"not understood: {text}")
    elif "refused" in q: sys.exit(f"refused: {text}")
    elif "finished" in q:
        print(q["finished"], q["signed"], readings)
sys.exit(walk.wait())
"#;

fn python() -> bool {
    Command::new("python3").arg("--version").output().is_ok_and(|output| output.status.success())
}

#[test]
fn a_script_in_another_language_walks_a_job_to_its_signed_end() {
    assert!(python(), "python3 is missing: .ci/run installs it");
    let bench = Bench::new(small_job::JOB, &small_job::answers(&small_job::library_of_the_program()));
    std::fs::write(bench.path("front.py"), SCRIPT).unwrap();
    let mut command = Command::new("python3");
    command.args(["front.py", PROGRAM, "walk", "job.toml", "--lines"]);
    command.envs(bench.surroundings()).current_dir(bench.path("")).stdin(Stdio::null());
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{said}\n{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.starts_with("conforms True"), "{said}");
    bench.verify().expect(0).says("signed by Robin Alder, installer");
}

/// A walk by lines, with each line of the other side written by hand.
struct Lines {
    child: std::process::Child,
    answers: BufReader<std::process::ChildStdout>,
}

impl Lines {
    fn on(bench: &Bench) -> Self {
        let mut command = bench.command(&["walk", "job.toml", "--lines"]);
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let answers = BufReader::new(child.stdout.take().unwrap());
        Self { child, answers }
    }

    fn hear(&mut self) -> Value {
        let mut line = String::new();
        self.answers.read_line(&mut line).unwrap();
        serde_json::from_str(&line).unwrap_or_else(|error| panic!("{error}: {line}"))
    }

    fn say(&mut self, line: &str) -> Value {
        writeln!(self.child.stdin.as_mut().unwrap(), "{line}").unwrap();
        self.hear()
    }

    /// The end of the other side's lines; gives the exit status.
    fn end(mut self) -> Option<i32> {
        drop(self.child.stdin.take());
        self.child.wait().unwrap().code()
    }
}

#[test]
fn a_line_that_is_not_understood_is_refused_in_words_and_the_question_stays() {
    let bench = Bench::tiny();
    let mut lines = Lines::on(&bench);
    assert_eq!(lines.hear()["ask"], "who-works");
    for wrong in [
        "{\"shift\": {\"name\": \"\", \"role\": \"\"}}",
        "{\"remark\": \"hello\"}",
        "hello",
        "{}",
        "[1]",
        "{\"nod\": true}",
        "{\"yes\": true, \"typed\": \"x\"}",
        "{\"yes\": \"maybe\"}",
    ] {
        let answer = lines.say(wrong);
        assert!(answer["refused"].as_str().is_some_and(|says| !says.is_empty()), "{wrong}: {answer}");
        assert_eq!(lines.hear()["ask"], "who-works", "the question comes again after {wrong}");
    }
    let saved = lines.say(&json!({"person": {"name": "Robin Alder", "role": "installer"}}).to_string());
    assert_eq!(saved["saved"]["kind"], "on-duty");
    assert!(lines.hear()["ask"].is_string());
}

#[test]
fn the_end_of_the_lines_breaks_the_walk_off_and_the_next_call_goes_on() {
    let bench = Bench::tiny();
    let mut lines = Lines::on(&bench);
    lines.hear();
    lines.say(&json!({"person": {"name": "Robin Alder", "role": "installer"}}).to_string());
    assert_eq!(lines.end(), Some(130));
    let mut again = Lines::on(&bench);
    assert_eq!(again.hear()["ask"], "who-goes-on");
    let next = again.say("{\"yes\": true}");
    assert!(next["ask"].is_string() && next["step"].is_string(), "{next}");
}
