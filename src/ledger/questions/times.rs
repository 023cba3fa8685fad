use std::collections::BTreeMap;

use super::{Answer, By, Cell, Period, select, text};
use crate::ledger::{Ledger, LedgerError};

/// How long the work took, the longest first.
pub(super) fn ask(ledger: &Ledger, by: By, period: Period) -> Result<Answer, LedgerError> {
    let group = match by {
        By::Person => "by",
        By::Month => "substr(begun, 1, 7)",
        By::Record => "folder",
        // A tool or a step has no time of its own here.
        By::Procedure | By::Step | By::Tool => "procedure",
    };
    let bounds = period.bounds();
    let query = format!(
        "SELECT {group}, record, sum(seconds), sum(pauses) FROM work JOIN record USING (record)
         WHERE substr(begun, 1, 10) BETWEEN ?1 AND ?2 GROUP BY 1, 2"
    );
    let spent = select(ledger, &query, &[&bounds[0], &bounds[1]], |row| {
        Ok((row.get::<_, String>(0)?, row.get::<_, f64>(2)? / 60.0, row.get::<_, i64>(3)?))
    })?;
    let mut groups: BTreeMap<String, (Vec<f64>, i64)> = BTreeMap::new();
    for (name, minutes, pauses) in spent {
        let own = groups.entry(name).or_default();
        own.0.push(minutes);
        own.1 += pauses;
    }
    let mut rows: Vec<(f64, Vec<Cell>)> = groups
        .into_iter()
        .map(|(name, (mut minutes, pauses))| {
            minutes.sort_by(f64::total_cmp);
            let all: f64 = minutes.iter().sum();
            let count = i64::try_from(minutes.len()).unwrap_or(i64::MAX);
            let most = minutes.last().copied().unwrap_or_default();
            let cells = vec![
                text(name),
                Cell::Count(count),
                Cell::Minutes(all),
                Cell::Minutes(median(&minutes)),
                Cell::Minutes(most),
                Cell::Count(pauses),
            ];
            (all, cells)
        })
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(Answer {
        title: format!("time of work, by {}{}", by.word(), period.words()),
        columns: vec![by.word(), "records", "all min", "median min", "most min", "pauses"],
        rows: rows.into_iter().map(|(_, row)| row).collect(),
        notes: vec![
            "from entry to entry, told to the operation of the later one; a gap of more than an hour is a pause and counts \
             for nothing, and so does what was entered from a file or from paper"
                .to_owned(),
        ],
        nothing: "no time is known",
        amiss: false,
    })
}

/// Of values in their order; one at least.
fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => 0.0,
        n if n % 2 == 1 => sorted[middle],
        _ => f64::midpoint(sorted[middle - 1], sorted[middle]),
    }
}
