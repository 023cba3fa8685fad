use std::io::{Error, Result};
use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use parquet::basic::Compression;
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int32Type, Int64Type};
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use rusqlite::types::Value;

use super::{Sink, each_row};
use crate::ledger::{Column, Kind, Ledger, Table};

/// Rows that are held in memory at once.
const GROUP: usize = 65_536;

/// A table as a Parquet file: text as UTF-8, days and moments as such, by UTC to the microsecond.
pub(super) fn write(ledger: &Ledger, table: &Table, file: impl Sink) -> Result<()> {
    let schema = Arc::new(parse_message_type(&message(table)).map_err(Error::other)?);
    let properties = WriterProperties::builder()
        .set_compression(Compression::UNCOMPRESSED)
        .set_created_by(format!("rigproof {}", env!("CARGO_PKG_VERSION")))
        .build();
    let mut writer = SerializedFileWriter::new(file, schema, Arc::new(properties)).map_err(Error::other)?;
    let mut rows = Vec::new();
    let mut put = |rows: &mut Vec<Vec<Value>>| -> Result<()> {
        let group = writer.next_row_group().map_err(Error::other)?;
        write_group(group, table, rows)?;
        rows.clear();
        Ok(())
    };
    each_row(ledger, table, &mut |row| {
        rows.push(row);
        if rows.len() == GROUP { put(&mut rows) } else { Ok(()) }
    })?;
    put(&mut rows)?;
    writer.close().map_err(Error::other)?;
    Ok(())
}

fn message(table: &Table) -> String {
    let column = |c: &Column| {
        let kind = match c.kind {
            Kind::Text => ("BINARY", " (STRING)"),
            Kind::Integer => ("INT64", ""),
            Kind::Real => ("DOUBLE", ""),
            Kind::Flag => ("BOOLEAN", ""),
            Kind::Day => ("INT32", " (DATE)"),
            Kind::Moment => ("INT64", " (TIMESTAMP(MICROS,true))"),
        };
        format!("  {} {} {}{};", if c.optional { "OPTIONAL" } else { "REQUIRED" }, kind.0, c.name, kind.1)
    };
    let columns: Vec<String> = table.columns.iter().map(column).collect();
    format!("message {} {{\n{}\n}}", table.name, columns.join("\n"))
}

fn write_group<W: Sink>(mut group: SerializedRowGroupWriter<'_, W>, table: &Table, rows: &[Vec<Value>]) -> Result<()> {
    for (at, column) in table.columns.iter().enumerate() {
        let cells = || rows.iter().map(|row| &row[at]);
        let Some(writer) = group.next_column().map_err(Error::other)? else { break };
        match column.kind {
            Kind::Text => put::<ByteArrayType>(writer, cells(), column.optional, |cell| match cell {
                Value::Text(words) => Some(ByteArray::from(words.as_str())),
                _ => None,
            }),
            Kind::Integer => put::<Int64Type>(writer, cells(), column.optional, integer),
            Kind::Real => put::<DoubleType>(writer, cells(), column.optional, |cell| match cell {
                Value::Real(number) => Some(*number),
                Value::Integer(number) => Some(*number as f64),
                _ => None,
            }),
            Kind::Flag => put::<BoolType>(writer, cells(), column.optional, |cell| integer(cell).map(|n| n != 0)),
            Kind::Day => put::<Int32Type>(writer, cells(), column.optional, day),
            Kind::Moment => put::<Int64Type>(writer, cells(), column.optional, |cell| match cell {
                Value::Text(words) => words.parse::<Timestamp>().ok().map(Timestamp::as_microsecond),
                _ => None,
            }),
        }?;
    }
    group.close().map_err(Error::other)?;
    Ok(())
}

fn integer(cell: &Value) -> Option<i64> {
    match cell {
        Value::Integer(number) => Some(*number),
        _ => None,
    }
}

/// Days since 1970.
fn day(cell: &Value) -> Option<i32> {
    let Value::Text(words) = cell else { return None };
    let date: Date = words.parse().ok()?;
    Date::constant(1970, 1, 1).until(date).ok().map(|span| span.get_days())
}

/// Writes a column: the values that are there, and where they are.
fn put<'c, T: DataType>(
    mut writer: SerializedColumnWriter<'_>,
    cells: impl Iterator<Item = &'c Value>,
    optional: bool,
    value: impl Fn(&Value) -> Option<T::T>,
) -> Result<()> {
    let mut values = Vec::new();
    let mut there = Vec::new();
    for cell in cells {
        let value = value(cell);
        there.push(i16::from(value.is_some()));
        values.extend(value);
    }
    if !optional && values.len() < there.len() {
        return Err(Error::other("a column that is never empty is empty"));
    }
    let levels = optional.then_some(&there[..]);
    writer.typed::<T>().write_batch(&values, levels, None).map_err(Error::other)?;
    writer.close().map_err(Error::other)
}
