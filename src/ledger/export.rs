//! The tables of a ledger in files that other engines read: CSV, Parquet, and a script for PostgreSQL.

mod comma;
mod parquet_file;
mod postgresql;

use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

use rusqlite::types::Value;

use super::{Ledger, LedgerError, TABLES, Table};

/// For whom the tables are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A CSV file a table, for people and their spreadsheets: words that would be taken for a formula are made harmless.
    Csv,
    /// A Parquet file a table.
    Parquet,
    /// A script for `psql` that makes the tables with their meanings and fills them from the CSV files beside it, to the letter.
    PostgreSql,
}

impl Form {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Csv, Self::Parquet, Self::PostgreSql];

    /// The folder that holds its files.
    pub fn folder(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Parquet => "parquet",
            Self::PostgreSql => "postgresql",
        }
    }
}

/// Writes all tables in a form into a folder of its own below `out`, and says which files these are.
///
/// # Errors
/// [`LedgerError`]
pub fn export(ledger: &Ledger, form: Form, out: &Path) -> Result<Vec<PathBuf>, LedgerError> {
    let folder = out.join(form.folder());
    std::fs::create_dir_all(&folder).map_err(LedgerError::file(&folder))?;
    let mut written = Vec::new();
    for table in TABLES {
        let name = match form {
            Form::Csv | Form::PostgreSql => format!("{}.csv", table.name),
            Form::Parquet => format!("{}.parquet", table.name),
        };
        let path = folder.join(name);
        let file = std::fs::File::create(&path).map_err(LedgerError::file(&path))?;
        let file = std::io::BufWriter::new(file);
        match form {
            Form::Csv => comma::write(ledger, table, file, comma::For::People),
            Form::PostgreSql => comma::write(ledger, table, file, comma::For::Engines),
            Form::Parquet => parquet_file::write(ledger, table, file),
        }
        .map_err(LedgerError::file(&path))?;
        written.push(path);
    }
    let (name, text) = match form {
        Form::Csv | Form::Parquet => ("columns.csv", columns()),
        Form::PostgreSql => ("ledger.sql", postgresql::script()),
    };
    let path = folder.join(name);
    std::fs::write(&path, text).map_err(LedgerError::file(&path))?;
    written.push(path);
    Ok(written)
}

/// What each column means.
fn columns() -> String {
    let mut text = "table,column,kind,may be empty,meaning\r\n".to_owned();
    for table in TABLES {
        for column in table.columns {
            let kind = column.kind.word();
            let empty = if column.optional { "yes" } else { "no" };
            // No meaning holds a quotation mark: the test of the schema looks.
            let _ = write!(text, "{},{},{kind},{empty},\"{}\"\r\n", table.name, column.name, column.says);
        }
    }
    text
}

/// Calls with each row of a table, in the order of its key.
fn each_row(
    ledger: &Ledger,
    table: &Table,
    see: &mut dyn FnMut(Vec<Value>) -> std::io::Result<()>,
) -> std::io::Result<()> {
    let key = table.key_names().join("\", \"");
    let query = format!("SELECT \"{}\" FROM \"{}\" ORDER BY \"{key}\"", table.names().join("\", \""), table.name);
    let mut statement = ledger.database().prepare(&query).map_err(std::io::Error::other)?;
    let mut rows = statement.query([]).map_err(std::io::Error::other)?;
    while let Some(row) = rows.next().map_err(std::io::Error::other)? {
        let cells = (0..table.columns.len()).map(|at| row.get::<_, Value>(at));
        see(cells.collect::<Result<_, _>>().map_err(std::io::Error::other)?)?;
    }
    Ok(())
}

/// What a writer of files may be.
trait Sink: Write + Send {}
impl<W: Write + Send> Sink for W {}
