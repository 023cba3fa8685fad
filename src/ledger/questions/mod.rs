//! What is asked of a ledger. Each question has one answer: columns and rows, which the command line prints as a table, as
//! JSON or as CSV.

mod due;
mod open;
mod pareto;
mod times;
mod touched;
mod yields;

pub use pareto::Of;
pub use touched::{Off, Touched};
pub use yields::By;

use rusqlite::{Row, ToSql};

use super::{Ledger, LedgerError};
use crate::quantity::Day;

/// A value in an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Words.
    Text(String),
    /// How many.
    Count(i64),
    /// A share, 0 to 1.
    Share(f64),
    /// Minutes.
    Minutes(f64),
}

/// The answer to a question.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What it tells.
    pub title: String,
    /// Names of the columns.
    pub columns: Vec<&'static str>,
    /// The rows, the one that matters most first.
    pub rows: Vec<Vec<Cell>>,
    /// What one should know beside the rows.
    pub notes: Vec<String>,
    /// What is said where there is no row.
    pub nothing: &'static str,
    /// Whether rows mean that something is amiss.
    pub amiss: bool,
}

/// From a day to a day, both included; open where not given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Period {
    /// The first day.
    pub since: Option<Day>,
    /// The last day.
    pub until: Option<Day>,
}

impl Period {
    /// Two parameters of a query with `substr(at, 1, 10) BETWEEN ?1 AND ?2`.
    fn bounds(self) -> [String; 2] {
        let day = |day: Option<Day>, else_: &str| day.map_or_else(|| else_.to_owned(), |day| day.to_string());
        [day(self.since, "0000-00-00"), day(self.until, "9999-99-99")]
    }

    fn words(self) -> String {
        match (self.since, self.until) {
            (None, None) => String::new(),
            (Some(since), None) => format!(", since {since}"),
            (None, Some(until)) => format!(", until {until}"),
            (Some(since), Some(until)) => format!(", {since} to {until}"),
        }
    }
}

/// What can be asked.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Which jobs are open, and where each stands.
    Open {
        /// Today.
        today: Day,
    },
    /// What is overdue: re-checks, and instruments.
    Due {
        /// Today.
        today: Day,
        /// Until when each instrument is calibrated, where a shop says so; it goes before what the jobs state.
        calibrated: Vec<(String, Option<Day>)>,
    },
    /// Which records hold readings of an instrument, or work of a tool.
    Touched(Touched),
    /// How much of the work was right at the first go.
    Yield {
        /// What it is told apart by.
        by: By,
        /// When.
        period: Period,
    },
    /// What goes wrong most.
    Pareto {
        /// Of what.
        of: Of,
        /// When.
        period: Period,
    },
    /// How long the work takes.
    Times {
        /// What it is told apart by.
        by: By,
        /// When the records were begun.
        period: Period,
    },
}

/// Asks.
///
/// # Errors
/// [`LedgerError`]
pub fn ask(ledger: &Ledger, question: &Question) -> Result<Answer, LedgerError> {
    match question {
        Question::Open { today } => open::ask(ledger, *today),
        Question::Due { today, calibrated } => due::ask(ledger, *today, calibrated),
        Question::Touched(touched) => touched::ask(ledger, touched),
        Question::Yield { by, period } => yields::ask(ledger, *by, *period),
        Question::Pareto { of, period } => pareto::ask(ledger, *of, *period),
        Question::Times { by, period } => times::ask(ledger, *by, *period),
    }
}

/// All rows of a query.
fn select<T>(
    ledger: &Ledger,
    query: &str,
    parameters: &[&dyn ToSql],
    read: impl FnMut(&Row) -> rusqlite::Result<T>,
) -> Result<Vec<T>, LedgerError> {
    let mut statement = ledger.database().prepare_cached(query)?;
    let rows = statement.query_map(parameters, read)?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn text(words: impl Into<String>) -> Cell {
    Cell::Text(words.into())
}

fn maybe(words: Option<String>) -> Cell {
    words.map_or(Cell::Empty, Cell::Text)
}
