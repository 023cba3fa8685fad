//! An answer as a table of 80 columns, as JSON, as CSV.

use std::fmt::Write;

use serde_json::{Map, Value, json};

use crate::cli::layout::labelled;
use crate::document::harmless;
use crate::ledger::{Answer, Cell};
use crate::report::visible;

/// Columns of a line.
const WIDTH: usize = 80;
/// Between two columns.
const AIR: usize = 2;
/// No column of words is made narrower.
const NARROWEST: usize = 12;

pub(super) fn table(answer: &Answer) -> String {
    let mut text = format!("{}\n\n", answer.title);
    if answer.rows.is_empty() {
        let _ = writeln!(text, "  {}", answer.nothing);
        return visible_lines(&text);
    }
    let shown: Vec<Vec<String>> = answer.rows.iter().map(|row| row.iter().map(shown).collect()).collect();
    let is_words = |column: usize| answer.rows.iter().any(|row| matches!(row.get(column), Some(Cell::Text(_))));
    let mut widths: Vec<usize> = answer.columns.iter().map(|name| name.chars().count()).collect();
    for row in &shown {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    // What is too wide for the line is taken from the widest column of words, again and again.
    while widths.iter().map(|width| width + AIR).sum::<usize>() > WIDTH {
        let widest = (0..widths.len()).filter(|c| is_words(*c) && widths[*c] > NARROWEST).max_by_key(|c| widths[*c]);
        let Some(widest) = widest else { break };
        widths[widest] -= 1;
    }
    let mut line = |cells: &[String]| {
        let mut line = String::new();
        for (column, cell) in cells.iter().enumerate() {
            let (width, cell) = (widths[column], shortened(cell, widths[column]));
            let _ = if is_words(column) { write!(line, "  {cell:<width$}") } else { write!(line, "  {cell:>width$}") };
        }
        let _ = writeln!(text, "{}", line.trim_end());
    };
    line(&answer.columns.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>());
    for row in &shown {
        line(row);
    }
    text.push('\n');
    for note in &answer.notes {
        let _ = writeln!(text, "{}", labelled("  ", note, WIDTH));
    }
    visible_lines(text.trim_end())
}

/// A record may hold a stranger's words: they do not steer the terminal.
fn visible_lines(text: &str) -> String {
    text.split('\n').map(visible).collect::<Vec<_>>().join("\n")
}

/// The end of a path tells more than its beginning.
fn shortened(cell: &str, width: usize) -> String {
    let count = cell.chars().count();
    if count <= width {
        return cell.to_owned();
    }
    if cell.contains('/') && !cell.contains(' ') {
        let end: String = cell.chars().skip(count - width + 1).collect();
        return format!("…{end}");
    }
    let begin: String = cell.chars().take(width - 1).collect();
    format!("{begin}…")
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(words) => words.clone(),
        Cell::Count(count) => count.to_string(),
        Cell::Share(share) => format!("{:.1} %", 100.0 * share),
        Cell::Minutes(minutes) => format!("{minutes:.1}"),
    }
}

/// A name that a script can use: `days_idle`.
fn key(column: &str) -> String {
    column.replace('%', "percent").replace([' ', '-'], "_")
}

pub(super) fn json(answer: &Answer) -> String {
    let value = |cell: &Cell| match cell {
        Cell::Empty => Value::Null,
        Cell::Text(words) => json!(words),
        Cell::Count(count) => json!(count),
        Cell::Share(number) | Cell::Minutes(number) => json!(number),
    };
    let rows = answer.rows.iter().map(|row| {
        let cells = answer.columns.iter().zip(row).map(|(column, cell)| (key(column), value(cell)));
        Value::Object(cells.collect::<Map<_, _>>())
    });
    json!({ "title": answer.title, "rows": rows.collect::<Vec<_>>(), "notes": answer.notes }).to_string()
}

pub(super) fn csv(answer: &Answer) -> Result<String, String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(answer.columns.iter().map(|column| key(column))).map_err(|error| error.to_string())?;
    for row in &answer.rows {
        let cells = row.iter().map(|cell| match cell {
            Cell::Empty => String::new(),
            Cell::Text(words) => harmless(words),
            Cell::Count(count) => count.to_string(),
            Cell::Share(number) | Cell::Minutes(number) => number.to_string(),
        });
        writer.write_record(cells).map_err(|error| error.to_string())?;
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}
