//! The script by which `psql` makes the tables and fills them.

use std::fmt::Write;

use crate::ledger::{Column, Kind, TABLES, Table};

const HEAD: &str = "\
-- The ledger for PostgreSQL. In the folder of this file:
--   psql -d DATABASE -v schema=NAME -f ledger.sql
-- It makes the schema NAME (ledger, where none is named) anew, in one transaction, and fills it from the CSV files beside it.
-- A chain of shops gives each shop a schema of its own; a record has the same key wherever it is.
\\set ON_ERROR_STOP on
\\if :{?schema}
\\else
  \\set schema ledger
\\endif
SET client_encoding TO 'UTF8';
SET datestyle TO 'ISO';
BEGIN;
DROP SCHEMA IF EXISTS :\"schema\" CASCADE;
CREATE SCHEMA :\"schema\";
SET LOCAL search_path TO :\"schema\";
";

/// The script.
pub(super) fn script() -> String {
    let mut text = HEAD.to_owned();
    for table in TABLES {
        let _ = write!(text, "\n{}", create(table));
    }
    text.push_str("\nCOMMIT;\n");
    text
}

fn create(table: &Table) -> String {
    let column = |c: &Column| format!("  \"{}\" {}{}", c.name, kind(c.kind), if c.optional { "" } else { " NOT NULL" });
    let mut lines: Vec<String> = table.columns.iter().map(column).collect();
    lines.push(format!("  PRIMARY KEY (\"{}\")", table.key_names().join("\", \"")));
    if table.name != "record" {
        lines.push("  FOREIGN KEY (\"record\") REFERENCES \"record\"".to_owned());
    }
    let name = table.name;
    let mut text = format!("CREATE TABLE \"{name}\" (\n{}\n);\n", lines.join(",\n"));
    let _ = writeln!(text, "COMMENT ON TABLE \"{name}\" IS {};", quoted(table.says));
    for column in table.columns {
        let _ = writeln!(text, "COMMENT ON COLUMN \"{name}\".\"{}\" IS {};", column.name, quoted(column.says));
    }
    // An empty field is nothing where nothing may be, and a text without a letter where a text must be.
    let of = |optional: bool| {
        let own = table.columns.iter().filter(|c| c.optional == optional && c.kind == Kind::Text);
        own.map(|c| format!("\"{}\"", c.name)).collect::<Vec<_>>().join(", ")
    };
    let never = format!(", FORCE_NOT_NULL ({})", of(false));
    let optional = of(true);
    let maybe = if optional.is_empty() { String::new() } else { format!(", FORCE_NULL ({optional})") };
    let _ = writeln!(text, "\\copy \"{name}\" FROM '{name}.csv' WITH (FORMAT csv, HEADER{never}{maybe})");
    text
}

fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Text => "text",
        Kind::Integer => "bigint",
        Kind::Real => "double precision",
        Kind::Flag => "boolean",
        Kind::Day => "date",
        Kind::Moment => "timestamp with time zone",
    }
}

fn quoted(words: &str) -> String {
    format!("'{}'", words.replace('\'', "''"))
}
