use super::pareto::step_of_any;
use super::{Answer, Cell, Period, select, text};
use crate::ledger::{Ledger, LedgerError};
use crate::statistics::proportion_interval;

/// What an answer is told apart by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// The step, whatever the thing.
    Step,
    /// The procedure.
    Procedure,
    /// The person.
    Person,
    /// The month.
    Month,
    /// The tool.
    Tool,
    /// The record.
    Record,
}

impl By {
    /// The name of its column.
    pub fn word(self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::Procedure => "procedure",
            Self::Person => "person",
            Self::Month => "month",
            Self::Tool => "tool",
            Self::Record => "record",
        }
    }
}

/// First-pass yield: of the first answers that were judged, how many conformed. The lowest first.
pub(super) fn ask(ledger: &Ledger, by: By, period: Period) -> Result<Answer, LedgerError> {
    let group = match by {
        By::Step => step_of_any("reading"),
        By::Procedure => "procedure".to_owned(),
        By::Person => "by".to_owned(),
        By::Month => "substr(at, 1, 7)".to_owned(),
        By::Tool => "coalesce(tool, '(none)')".to_owned(),
        By::Record => "(SELECT folder FROM record r WHERE r.record = reading.record)".to_owned(),
    };
    let bounds = period.bounds();
    let query = format!(
        "SELECT {group}, count(*), sum(verdict = 'conforms') FROM reading
         WHERE attempt = 1 AND verdict <> 'recorded' AND substr(at, 1, 10) BETWEEN ?1 AND ?2 GROUP BY 1"
    );
    let mut counted = select(ledger, &query, &[&bounds[0], &bounds[1]], |row| {
        Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?, row.get::<_, i64>(2)?))
    })?;
    // a/b < c/d as whole numbers; of equal ones the one with more answers tells more.
    counted.sort_by(|a, b| (a.2 * b.1).cmp(&(b.2 * a.1)).then(b.1.cmp(&a.1)).then(a.0.cmp(&b.0)));
    let rows = counted.into_iter().map(|(name, all, good)| {
        let (low, high) = proportion_interval(good.unsigned_abs(), all.unsigned_abs()).unwrap_or((0.0, 1.0));
        vec![
            text(name),
            Cell::Count(all),
            Cell::Count(all - good),
            Cell::Share(good as f64 / all as f64),
            Cell::Share(low),
            Cell::Share(high),
        ]
    });
    let rows = rows.collect();
    let query = "SELECT count(*), coalesce(sum(good), 0) FROM (
                   SELECT min(verdict IN ('conforms', 'recorded')) AS good FROM reading JOIN record USING (record)
                   WHERE attempt = 1 AND standing IN ('conforms', 'does-not-conform')
                     AND substr(at, 1, 10) BETWEEN ?1 AND ?2 GROUP BY record)";
    let whole =
        select(ledger, query, &[&bounds[0], &bounds[1]], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?)))?;
    let (jobs, clean) = whole.first().copied().unwrap_or_default();
    Ok(Answer {
        title: format!("right at the first go, by {}{}", by.word(), period.words()),
        columns: vec![by.word(), "answers", "not", "yield", "95 % from", "to"],
        rows,
        notes: vec![
            format!("{clean} of {jobs} finished jobs went through without any answer that did not conform at first"),
            "counted: the first answer to each step that was judged; few answers make a wide interval (Wilson)"
                .to_owned(),
        ],
        nothing: "no answer was judged",
        amiss: false,
    })
}
