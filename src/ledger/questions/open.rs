use super::{Answer, Cell, maybe, select, text};
use crate::ledger::{Ledger, LedgerError};
use crate::quantity::Day;

/// What is not finished: steps are open, the seal is missing, the record cannot be read. The longest idle first.
pub(super) fn ask(ledger: &Ledger, today: Day) -> Result<Answer, LedgerError> {
    let query = "SELECT folder, standing, done, steps, next_step, on_duty, substr(last, 1, 10), trouble, seals
                 FROM record WHERE standing IN ('open', 'unreadable') OR seals = 0 ORDER BY last, folder";
    let mut notes = Vec::new();
    let rows = select(ledger, query, &[], |row| {
        let (folder, standing): (String, String) = (row.get(0)?, row.get(1)?);
        let (next, trouble): (Option<String>, Option<String>) = (row.get(4)?, row.get(7)?);
        let stands = match standing.as_str() {
            "unreadable" => "not intact".to_owned(),
            "open" => next.unwrap_or_default(),
            _ => "signature and seal".to_owned(),
        };
        notes.extend(trouble.map(|trouble| format!("{folder}: {trouble}")));
        let last: Option<String> = row.get(6)?;
        let idle = last.as_deref().and_then(Day::parse).map_or(Cell::Empty, |last| Cell::Count(last.days_until(today)));
        Ok(vec![
            text(folder),
            Cell::Count(row.get(2)?),
            Cell::Count(row.get(3)?),
            text(stands),
            maybe(row.get(5)?),
            idle,
        ])
    })?;
    Ok(Answer {
        title: format!("not finished on {today}"),
        columns: vec!["record", "closed", "steps", "stands at", "on duty", "days idle"],
        rows,
        notes,
        nothing: "every record is signed and sealed",
        amiss: false,
    })
}
