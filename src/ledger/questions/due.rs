use std::collections::BTreeMap;

use super::{Answer, Cell, select, text};
use crate::ledger::{Ledger, LedgerError};
use crate::quantity::Day;

/// What is overdue, the longest first: vehicles to be looked at again, and instruments whose calibration ran out.
pub(super) fn ask(ledger: &Ledger, today: Day, calibrated: &[(String, Option<Day>)]) -> Result<Answer, LedgerError> {
    let mut found: Vec<(Day, Vec<Cell>)> = Vec::new();
    let overdue = |due: Day| Cell::Count(due.days_until(today));
    let query = "SELECT folder, recheck_due, vehicle FROM record WHERE recheck_due < ?1 ORDER BY recheck_due, folder";
    let records = select(ledger, query, &[&today.to_string()], |row| {
        Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
    })?;
    for (folder, due, vehicle) in records {
        let Some(due) = Day::parse(&due) else { continue };
        found.push((due, vec![text("re-check"), text(folder), text(due.to_string()), overdue(due), text(vehicle)]));
    }
    // The latest day that any job states, and the shop's own where there is one.
    let query = "SELECT name, max(calibration_due) FROM instrument WHERE calibration_due IS NOT NULL GROUP BY name";
    let stated = select(ledger, query, &[], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))?;
    let mut until: BTreeMap<String, Option<Day>> =
        stated.into_iter().map(|(name, due)| (name, Day::parse(&due))).collect();
    until.extend(calibrated.iter().cloned());
    for (name, due) in until {
        let Some(due) = due.filter(|due| *due < today) else { continue };
        let query =
            "SELECT count(*), count(DISTINCT record) FROM reading WHERE instrument = ?1 AND substr(at, 1, 10) > ?2";
        let since = select(ledger, query, &[&name, &due.to_string()], |row| {
            Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?))
        })?;
        let (readings, records) = since.first().copied().unwrap_or_default();
        let says = match readings {
            0 => "no reading since".to_owned(),
            _ => format!("{readings} readings in {records} records since"),
        };
        found.push((due, vec![text("instrument"), text(name), text(due.to_string()), overdue(due), text(says)]));
    }
    found.sort_by_key(|(due, _)| *due);
    Ok(Answer {
        title: format!("overdue on {today}"),
        columns: vec!["what", "which", "due", "days over", "about"],
        amiss: !found.is_empty(),
        rows: found.into_iter().map(|(_, row)| row).collect(),
        notes: vec![
            "a re-check is due on the day that was agreed at hand-over, else 30 days after the sign-off (common practice)"
                .to_owned(),
        ],
        nothing: "nothing is overdue",
    })
}
