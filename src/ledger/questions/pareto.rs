use super::{Answer, Cell, Period, select, text};
use crate::ledger::{Ledger, LedgerError};

/// What is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// Steps at which something was mended or stayed outside its limits.
    Nonconformities,
    /// What the readings said was wrong, when something was mended or left.
    Faults,
}

/// The few that make most of it, first.
pub(super) fn ask(ledger: &Ledger, of: Of, period: Period) -> Result<Answer, LedgerError> {
    let bounds = period.bounds();
    let mut notes = Vec::new();
    let (title, nothing, columns, counted) = match of {
        Of::Nonconformities => {
            let query = format!(
                "SELECT {} AS step, sum(what IN ('rework', 'repair')), sum(what IN ('concession', 'nonconformity'))
                 FROM decision WHERE what NOT IN ('measure-again', 'explained') AND substr(at, 1, 10) BETWEEN ?1 AND ?2
                 GROUP BY 1",
                step_of_any("decision")
            );
            let rows = select(ledger, &query, &[&bounds[0], &bounds[1]], |row| {
                let (mended, left): (i64, i64) = (row.get(1)?, row.get(2)?);
                Ok((mended + left, vec![text(row.get::<_, String>(0)?), Cell::Count(mended), Cell::Count(left)]))
            })?;
            (
                "nonconformities",
                "nothing was mended or left outside its limits",
                vec!["step", "mended", "left as it is"],
                rows,
            )
        }
        Of::Faults => {
            notes.push(
                "the likeliest fault by the readings when something was mended or left; weights of faults are estimates \
                 without field data. Unexplained: no single fault has half of the probability"
                    .to_owned(),
            );
            let query = "SELECT fault, count(DISTINCT record), count(*) FROM fault
                         WHERE substr(at, 1, 10) BETWEEN ?1 AND ?2 GROUP BY fault";
            let rows = select(ledger, query, &[&bounds[0], &bounds[1]], |row| {
                Ok((row.get(2)?, vec![text(row.get::<_, String>(0)?), Cell::Count(row.get(1)?)]))
            })?;
            ("diagnosed faults", "no reading of a circuit led to a repair or was left", vec!["fault", "records"], rows)
        }
    };
    let rows = cumulated(counted);
    let columns = columns.into_iter().chain(["all", "share", "up to here"]).collect();
    Ok(Answer { title: format!("{title}{}", period.words()), columns, rows, notes, nothing, amiss: false })
}

/// The greatest count first; behind each row its count, its share, and the share of all down to it.
fn cumulated(mut counted: Vec<(i64, Vec<Cell>)>) -> Vec<Vec<Cell>> {
    counted.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
    let all: i64 = counted.iter().map(|(count, _)| count).sum();
    let mut sum = 0;
    let rows = counted.into_iter().map(|(count, mut row)| {
        sum += count;
        row.extend([Cell::Count(count), Cell::Share(count as f64 / all as f64), Cell::Share(sum as f64 / all as f64)]);
        row
    });
    rows.collect()
}

/// A step whatever the thing: `ground/*/torque`.
pub(super) fn step_of_any(table: &str) -> String {
    // The thing is what stands between the procedure and the last slash.
    match table {
        "reading" => "procedure || '/*/' || substr(step, length(procedure) + length(thing) + 3)".to_owned(),
        _ => "procedure || '/*/' || substr(step, length(procedure) + 2 + instr(substr(step, length(procedure) + 2), '/'))"
            .to_owned(),
    }
}
