//! The table as spreadsheet programs write it: commas, semicolons or tabs between the cells.

use crate::document::closest;
use crate::report::sheets::{COLUMNS, Kind};

/// Columns without which nothing can be entered.
const NEEDED: [&str; 4] = ["code", "step", "kind", "value"];

/// Columns that are filled in.
const FILLED: [&str; 8] = ["value", "instrument", "name", "role", "statement", "decision", "picture", "remark"];

/// A row that is not empty.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// Its number as a spreadsheet shows it: the row of the titles is 1.
    pub number: usize,
    /// Each cell with its column.
    cells: Vec<(String, String)>,
}

impl Row {
    /// A cell without spaces around it; empty where there is none.
    pub(super) fn get(&self, column: &str) -> &str {
        let cell = self.cells.iter().find(|(name, _)| name == column).map_or("", |(_, cell)| cell.trim());
        // What keeps a spreadsheet from taking a text for a formula.
        cell.strip_prefix('\'').unwrap_or(cell)
    }

    /// What is filled in.
    pub(super) fn kind(&self) -> Option<Kind> {
        Kind::WORDS.iter().find(|(word, _)| *word == self.get("kind")).map(|(_, kind)| *kind)
    }

    /// Whether somebody wrote into it.
    pub(super) fn is_filled(&self) -> bool {
        FILLED.iter().any(|column| !self.get(column).is_empty())
    }
}

/// A table with its rows.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub rows: Vec<Row>,
}

impl Table {
    /// Reads a table. What stands between the cells is told by the row of the titles.
    ///
    /// # Errors
    /// In words: titles that are missing, a row that is no row.
    pub(super) fn read(text: &str) -> Result<Table, String> {
        let text = text.trim_start_matches('\u{feff}');
        let titles = text.lines().next().unwrap_or_default();
        let between = [b',', b';', b'\t'];
        let between = between.into_iter().max_by_key(|own| titles.bytes().filter(|b| b == own).count()).unwrap_or(b',');
        let mut reader = csv::ReaderBuilder::new().delimiter(between).flexible(true).from_reader(text.as_bytes());
        let cannot = |error: csv::Error| format!("this is no table of sheets: {error}");
        let titles: Vec<String> = reader.headers().map_err(cannot)?.iter().map(|t| t.trim().to_lowercase()).collect();
        for needed in NEEDED {
            if titles.iter().any(|title| title == needed) {
                continue;
            }
            let all: Vec<&str> = titles.iter().map(String::as_str).collect();
            let meant = closest(needed, &all).map(|near| format!("; `{near}` is none")).unwrap_or_default();
            return Err(format!(
                "the first row has no title `{needed}`{meant}\n  the titles of sheets.csv are {}",
                COLUMNS.join(", ")
            ));
        }
        let mut rows = Vec::new();
        for (at, record) in reader.records().enumerate() {
            let record = record.map_err(cannot)?;
            let cells: Vec<(String, String)> = titles.iter().cloned().zip(record.iter().map(str::to_owned)).collect();
            if cells.iter().any(|(_, cell)| !cell.trim().is_empty()) {
                rows.push(Row { number: at + 2, cells });
            }
        }
        Ok(Table { rows })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_as_spreadsheets_write_it() {
        for text in [
            "\u{feff}code,step,kind,value\r\nc,a/b/c,done,\"x, y\"\r\n",
            "code;step;kind;value\nc;a/b/c;done;x, y\n",
            "Code\tStep\tKind\tValue\nc\ta/b/c\tdone\t'x, y\n\t\t\t\n",
        ] {
            let table = Table::read(text).unwrap();
            assert_eq!(table.rows.len(), 1, "{text}");
            let row = &table.rows[0];
            assert_eq!((row.number, row.kind(), row.get("value")), (2, Some(Kind::Done), "x, y"), "{text}");
        }
    }

    #[test]
    fn a_table_without_a_title_says_which() {
        let error = Table::read("code,step,kind,vlaue\nc,a/b/c,done,x\n").unwrap_err();
        assert!(error.contains("no title `value`; `vlaue` is none"), "{error}");
        assert!(Table::read("").unwrap_err().contains("no title `code`"));
    }
}
