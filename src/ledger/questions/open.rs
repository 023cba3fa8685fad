use super::{Answer, Cell, maybe, select, text};
use crate::ledger::{Ledger, LedgerError};
use crate::quantity::Day;

/// What is not finished: steps are open, the seal is missing, the record cannot be read. The longest idle first.
pub(super) fn ask(ledger: &Ledger, today: Day) -> Result<Answer, LedgerError> {
    let query = "SELECT folder, standing, done, steps, next_step, on_duty, substr(last, 1, 10), trouble, seals
                 FROM record WHERE standing IN ('open', 'unreadable') OR seals = 0 ORDER BY last, folder";
    let rows = select(ledger, query, &[], |row| {
        let (standing, done, steps): (String, i64, i64) = (row.get(1)?, row.get(2)?, row.get(3)?);
        let (next, trouble): (Option<String>, Option<String>) = (row.get(4)?, row.get(7)?);
        let stands = match (standing.as_str(), trouble) {
            (_, Some(trouble)) => trouble,
            ("open", None) => next.unwrap_or_default(),
            _ => "all steps closed; to be signed and sealed".to_owned(),
        };
        let last: Option<String> = row.get(6)?;
        let idle = last.as_deref().and_then(Day::parse).map_or(Cell::Empty, |last| Cell::Count(last.days_until(today)));
        Ok(vec![text(row.get::<_, String>(0)?), Cell::Count(done), Cell::Count(steps), text(stands), maybe(row.get(5)?), maybe(last), idle])
    })?;
    Ok(Answer {
        title: format!("not finished on {today}"),
        columns: vec!["record", "closed", "steps", "stands at", "on duty", "last entry", "days idle"],
        rows,
        notes: Vec::new(),
        nothing: "every record is signed and sealed",
        amiss: false,
    })
}
