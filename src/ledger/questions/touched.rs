use super::{Answer, Cell, Period, select, text};
use crate::ledger::{Ledger, LedgerError};
use crate::quantity::Amount;

/// Which records an instrument or a tool touched.
#[derive(Debug, Clone, PartialEq)]
pub struct Touched {
    /// Name of an instrument or a tool, or the number on an instrument.
    pub name: String,
    /// When.
    pub period: Period,
    /// By how much the instrument was found to be off.
    pub off: Option<Off>,
}

/// By how much an instrument shows too much; below zero where it shows too little.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Off {
    /// A share of what is there: 0.025 for 2.5 %.
    Share(f64),
    /// So much, whatever is there.
    By(Amount),
}

impl Off {
    /// What was there when this was shown.
    fn undone(self, shown: f64) -> f64 {
        match self {
            Self::Share(share) => shown / (1.0 + share),
            Self::By(amount) => shown - amount.base(),
        }
    }

    /// Whether it says anything of a reading in this unit.
    fn is_of(self, unit: &str) -> bool {
        match self {
            Self::Share(_) => true,
            Self::By(amount) => amount.dimension().unit() == unit,
        }
    }
}

struct Reading {
    folder: String,
    vehicle: String,
    day: String,
    unit: Option<String>,
    value: Option<f64>,
    limits: (Option<f64>, Option<f64>),
    verdict: String,
}

impl Reading {
    /// Whether it conformed, and would not had the instrument shown what was there.
    fn turns(&self, off: Off) -> bool {
        let (Some(value), Some(unit)) = (self.value, &self.unit) else { return false };
        let (low, high) = self.limits;
        if !off.is_of(unit) || self.verdict != "conforms" || (low.is_none() && high.is_none()) {
            return false;
        }
        let there = off.undone(value);
        low.is_some_and(|low| there < low) || high.is_some_and(|high| there > high)
    }
}

pub(super) fn ask(ledger: &Ledger, touched: &Touched) -> Result<Answer, LedgerError> {
    let query = "SELECT folder, vehicle, substr(at, 1, 10), unit, value, low, high, verdict
                 FROM reading JOIN record USING (record)
                 WHERE stands = 1 AND substr(at, 1, 10) BETWEEN ?2 AND ?3
                   AND (instrument = ?1 OR tool = ?1 OR (reading.record, instrument) IN
                        (SELECT record, name FROM instrument WHERE serial = ?1))
                 ORDER BY folder, entry";
    let bounds = touched.period.bounds();
    let readings = select(ledger, query, &[&touched.name, &bounds[0], &bounds[1]], |row| {
        Ok(Reading {
            folder: row.get(0)?,
            vehicle: row.get(1)?,
            day: row.get(2)?,
            unit: row.get(3)?,
            value: row.get(4)?,
            limits: (row.get(5)?, row.get(6)?),
            verdict: row.get(7)?,
        })
    })?;
    let mut rows = Vec::new();
    let mut turned = 0;
    for own in readings.chunk_by(|a, b| a.folder == b.folder) {
        let days = own.iter().map(|reading| reading.day.as_str());
        let (from, to) = (days.clone().min().unwrap_or_default(), days.max().unwrap_or_default());
        let count = |n: usize| Cell::Count(i64::try_from(n).unwrap_or(i64::MAX));
        let mut row = vec![text(&own[0].folder), text(&own[0].vehicle), text(from), text(to), count(own.len())];
        if let Some(off) = touched.off {
            let turns = own.iter().filter(|reading| reading.turns(off)).count();
            turned += usize::from(turns > 0);
            row.push(count(turns));
        }
        rows.push(row);
    }
    let mut columns = vec!["record", "vehicle", "from", "to", "readings"];
    let mut notes = vec![format!("{} readings that stand, in {} records", readings.len(), rows.len())];
    if touched.off.is_some() {
        columns.push("would not conform");
        notes.push(format!(
            "{turned} records hold a reading that conformed to the limits that were applied then and would not, had the \
             instrument shown what was there"
        ));
        // Those that have to come back first.
        rows.sort_by_key(|row| match row.last() {
            Some(Cell::Count(turns)) => std::cmp::Reverse(*turns),
            _ => std::cmp::Reverse(0),
        });
    }
    Ok(Answer {
        title: format!("touched by {}{}", touched.name, touched.period.words()),
        columns,
        amiss: turned > 0,
        rows,
        notes,
        nothing: "no record has a reading with an instrument or a tool of this name or number",
    })
}
