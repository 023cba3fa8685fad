//! The ledger in other engines holds the same rows: a PostgreSQL server that is started here, two readers of Parquet, CSV.

#![allow(missing_docs, reason = "tests speak through their names")]

mod common;

use common::Bench;
use common::engines::{Server, assert_parquet_same, assert_same, in_postgresql, in_sqlite};
use common::year::Year;
use rigproof::ledger::{TABLES, Table};

#[test]
fn postgresql_and_parquet_hold_what_the_ledger_holds() {
    let bench = Bench::tiny();
    let mut year = Year::begin(&bench.path("shop"), 40, 3);
    year.go_on(40);
    // A stranger's words: quotes, a line break, a tab, a backslash, what a spreadsheet would take for a formula.
    let hostile = "=1+1 \\\"quoted\\\", 'twice'; \\\\N\\t\\\\. ½ Ω";
    let job = std::fs::read_to_string(bench.path("job.toml")).unwrap();
    let job = job.replace("Yard tractor", hostile).replace("system = ", "identity = \"-12\"\nsystem = ");
    std::fs::create_dir(bench.path("shop/jobs/odd")).unwrap();
    std::fs::rename(bench.path("procedures"), bench.path("shop/procedures")).unwrap();
    std::fs::write(bench.path("shop/jobs/odd/job.toml"), job).unwrap();
    let walk = ["walk", "shop/jobs/odd/job.toml", "--answers", "answers.toml"];
    let walked = bench.run(&walk);
    assert!(walked.code.is_some() && bench.path("shop/jobs/odd/record").is_dir(), "{walked:?}");

    bench.run(&["ledger", "export", "--out", "chain", "--shop", "shop"]).expect(0).says("chain/postgresql/ledger.sql");
    let expected = in_sqlite(&bench.path("shop"));
    assert!(TABLES.iter().all(|table| table.name == "fault" || !expected[table.name].is_empty()));
    assert!(
        expected["record"].iter().any(|row| row.iter().any(|cell| cell.as_str().is_some_and(|own| own.contains('½'))))
    );

    let server = Server::start();
    let folder = bench.path("chain/postgresql");
    // Twice: the second time takes the place of the first.
    for _ in 0..2 {
        server.psql(&folder, &["-v", "schema=orchard yard", "-f", "ledger.sql"]);
    }
    assert_same(&expected, &in_postgresql(&server, "orchard yard"), "PostgreSQL");
    let says =
        server.psql(&folder, &["-A", "-t", "-c", "SELECT obj_description('\"orchard yard\".reading'::regclass)"]);
    assert_eq!(says.trim(), Table::named("reading").unwrap().says);

    assert_parquet_same(&expected, &bench.path("chain/parquet"));
}

#[test]
fn csv_for_people_is_harmless_and_says_what_its_columns_mean() {
    let bench = Bench::tiny();
    let mut year = Year::begin(&bench.path("shop"), 3, 3);
    year.go_on(3);
    let call = ["ledger", "export", "--out", "chain", "--form", "csv", "--shop", "shop"];
    let ended = bench.run(&call);
    ended.expect(0);
    assert!(!bench.path("chain/parquet").exists(), "{}", ended.out);
    let columns = std::fs::read_to_string(bench.path("chain/csv/columns.csv")).unwrap();
    assert_eq!(columns.lines().count(), 1 + TABLES.iter().map(|table| table.columns.len()).sum::<usize>());
    let mut readings = csv::Reader::from_path(bench.path("chain/csv/reading.csv")).unwrap();
    assert_eq!(readings.headers().unwrap().iter().collect::<Vec<_>>(), Table::named("reading").unwrap().names());
    let rows = readings.records().count();
    assert_eq!(rows, in_sqlite(&bench.path("shop"))["reading"].len());
}
