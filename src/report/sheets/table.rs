//! The blanks as a table that any spreadsheet program fills in.

use std::collections::HashMap;

use super::{Kind, Sheets};
use crate::document::harmless;
use crate::plan::StepKey;

/// The columns of the table, from left to right; those behind `unit` are filled in.
pub const COLUMNS: [&str; 16] = [
    "code",
    "page",
    "number",
    "step",
    "kind",
    "what",
    "expected",
    "unit",
    "value",
    "instrument",
    "name",
    "role",
    "statement",
    "decision",
    "picture",
    "remark",
];

/// What tells a spreadsheet that the text is UTF-8.
const MARK: &[u8] = "\u{feff}".as_bytes();

/// One row for each blank.
pub(super) fn write(sheets: &Sheets, pages: &HashMap<usize, usize>) -> Result<Vec<u8>, String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(MARK.to_vec());
    let write = |writer: &mut csv::Writer<Vec<u8>>, cells: &[&str]| {
        writer.write_record(cells).map_err(|error| error.to_string())
    };
    write(&mut writer, &COLUMNS)?;
    let code = sheets.code().to_string();
    for blank in sheets.blanks() {
        let number = blank.number.map(|n| n.to_string()).unwrap_or_default();
        let page = match blank.number {
            Some(number) => pages.get(&number).map(ToString::to_string).unwrap_or_default(),
            None if blank.kind == Kind::Sign => "last".to_owned(),
            None => "1".to_owned(),
        };
        let step = blank.step.as_ref().map(StepKey::as_str).unwrap_or_default();
        let (what, expected) = (harmless(&blank.what), harmless(&blank.expected));
        let head = [&code, &page, &number, step, blank.kind.word(), &what, &expected, &blank.unit];
        let row: Vec<&str> = head.into_iter().chain(std::iter::repeat("")).take(COLUMNS.len()).collect();
        write(&mut writer, &row)?;
    }
    writer.into_inner().map_err(|error| error.to_string())
}
