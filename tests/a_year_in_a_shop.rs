//! A year in a shop that never was: 300 records of four people, a crimp tool that wears, a meter that shows too much. The
//! charts and the trace-back find both; the ledger that was kept up is the one made anew; other engines hold the same.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use std::path::Path;

use common::Bench;
use common::engines::{Server, assert_parquet_same, assert_same, in_postgresql, in_sqlite};
use common::year::{Fate, Made, OFF_BY, OFF_FROM, WEARS_FROM, Year};
use serde_json::Value;

const RECORDS: usize = 300;
const SEED: u64 = 2026;
/// The readings that a chart takes its limits from.
const BASE: &str = "40";

fn json(bench: &Bench, call: &[&str], code: i32) -> Value {
    let ended = bench.run(call);
    ended.expect(code);
    serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {ended:?}"))
}

/// The day on which the moving average of a chart left its limits.
fn changed(chart: &Value) -> Option<String> {
    let at = usize::try_from(chart["average_outside_from"].as_u64()?).unwrap();
    Some(chart["readings"][at]["at"].as_str().unwrap()[..10].to_owned())
}

/// The records that a question names, in their order.
fn records(answer: &Value) -> Vec<&str> {
    let mut names: Vec<&str> =
        answer["rows"].as_array().unwrap().iter().map(|row| row["record"].as_str().unwrap()).collect();
    names.sort_unstable();
    names
}

fn folders(made: &[Made], fits: impl Fn(&Made) -> bool) -> Vec<&str> {
    made.iter().filter(|own| fits(own)).map(|own| own.folder.as_str()).collect()
}

#[test]
fn a_worn_tool_and_a_bad_meter_are_found_and_every_engine_holds_the_same() {
    let bench = Bench::tiny();
    let shop = bench.path("shop");
    let mut year = Year::begin(&shop, RECORDS, SEED);
    while year.go_on(50) {
        bench.run(&["ledger", "update", "--shop", "shop"]).expect(0);
    }
    bench.run(&["ledger", "update", "--shop", "shop"]).expect(0).says("records 300, read 50");
    let made = year.made();
    the_chart_finds_the_tool(&bench);
    the_chart_and_the_trace_find_the_meter(&bench, made);

    let kept = in_sqlite(&shop);
    bench.run(&["ledger", "rebuild", "--shop", "shop"]).expect(0).says("records 300, read 300");
    assert_same(&kept, &in_sqlite(&shop), "made anew");
    assert_eq!(kept["record"].len(), RECORDS);
    let open = json(&bench, &["ledger", "open", "--shop", "shop", "--json"], 0);
    assert_eq!(records(&open), folders(made, |own| own.fate == Fate::Open));

    bench.run(&["ledger", "export", "--out", "chain", "--shop", "shop"]).expect(0);
    assert_parquet_same(&kept, &bench.path("chain/parquet"));
    let server = Server::start();
    server.psql(&bench.path("chain/postgresql"), &["-v", "schema=yard", "-f", "ledger.sql"]);
    assert_same(&kept, &in_postgresql(&server, "yard"), "PostgreSQL");
    // What an engine reckons of it is what the maker of the year knows.
    let query =
        "SELECT avg(value) FROM yard.reading WHERE step = 'first-off/job/pull' AND tool = 'crimper-2' AND stands";
    let mean: f64 = server.psql(Path::new("/tmp"), &["-A", "-t", "-c", query]).trim().parse().unwrap();
    let pulls: Vec<f64> = made.iter().filter(|own| own.tool == "crimper-2").map(|own| own.pull).collect();
    assert!((mean - pulls.iter().sum::<f64>() / pulls.len() as f64).abs() < 1e-9, "{mean}");
}

fn the_chart_finds_the_tool(bench: &Bench) {
    let call = ["trend", "shop/jobs", "--step", "pull", "--by", "tool", "--base", BASE];
    let charts = json(bench, &[&call[..], &["--json"]].concat(), 1);
    assert_eq!(changed(&charts["crimper-1"]), None, "the steady tool");
    let day = changed(&charts["crimper-2"]).expect("the tool that wears is found");
    assert!(Year::date(WEARS_FROM) <= day && day <= Year::date(WEARS_FROM + 60), "{day}");
    // Every single pull held what it must: no limit of a joint tells of this, only the chart does.
    let least = charts["crimper-2"]["readings"].as_array().unwrap().iter().map(|own| own["value"].as_f64().unwrap());
    assert!(least.fold(f64::MAX, f64::min) > 133.5);
    bench.run(&call).says(&format!("from {day}"));
}

fn the_chart_and_the_trace_find_the_meter(bench: &Bench, made: &[Made]) {
    let call = ["trend", "shop/jobs", "--step", "rest-voltage", "--by", "instrument", "--base", BASE, "--json"];
    let charts = json(bench, &call, 1);
    assert_eq!(changed(&charts["M1"]), None, "the good meter");
    let day = changed(&charts["M2"]).expect("the bad meter is found");
    assert!(Year::date(OFF_FROM) <= day && day <= Year::date(OFF_FROM + 21), "{day}");

    let off = format!("{} %", 100.0 * OFF_BY);
    let since = Year::date(OFF_FROM);
    let call = ["ledger", "touched", "M2", "--since", &since, "--error", &off, "--shop", "shop", "--json"];
    let ended = bench.run(&call);
    let answer: Value = serde_json::from_str(&ended.out).unwrap_or_else(|error| panic!("{error}: {ended:?}"));
    let touched = |own: &Made| own.meter == "M2" && own.day >= OFF_FROM;
    assert_eq!(records(&answer), folders(made, touched));
    assert!(records(&answer).len() > 30);
    let call = ["ledger", "touched", "crimper-2", "--since", &Year::date(WEARS_FROM), "--shop", "shop", "--json"];
    let answer = json(bench, &call, 0);
    assert_eq!(records(&answer), folders(made, |own| own.tool == "crimper-2" && own.day >= WEARS_FROM));
}
