use std::io::{Error, Result};

use csv::{QuoteStyle, Terminator, WriterBuilder};
use rusqlite::types::Value;

use super::{Sink, each_row};
use crate::document::harmless;
use crate::ledger::{Kind, Ledger, Table};

/// Who reads the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum For {
    /// People, in a spreadsheet: what it would take for a formula is made harmless.
    People,
    /// An engine: to the letter.
    Engines,
}

/// A table as RFC 4180 has it, the names of the columns first. What is empty is a field without a letter.
pub(super) fn write(ledger: &Ledger, table: &Table, file: impl Sink, reader: For) -> Result<()> {
    let mut writer =
        WriterBuilder::new().terminator(Terminator::CRLF).quote_style(QuoteStyle::Necessary).from_writer(file);
    writer.write_record(table.names()).map_err(Error::other)?;
    each_row(ledger, table, &mut |row| {
        let cells = row.into_iter().zip(table.columns).map(|(cell, column)| match cell {
            Value::Null | Value::Blob(_) => String::new(),
            Value::Integer(number) if column.kind == Kind::Flag => (number != 0).to_string(),
            Value::Integer(number) => number.to_string(),
            // The shortest figures that read as the same number.
            Value::Real(number) => number.to_string(),
            Value::Text(words) if reader == For::People => harmless(&words),
            Value::Text(words) => words,
        });
        writer.write_record(cells).map_err(Error::other)
    })?;
    writer.flush()
}
