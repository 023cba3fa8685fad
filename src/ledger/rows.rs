//! What a record says, as rows of the tables.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;
use rusqlite::types::Value;

use crate::diagnosis::{Kind, Weights, rank};
use crate::handbook::CHECK_AGAIN_DAYS;
use crate::judgement::{Judgement, Verdict};
use crate::plan::{Ask, StepKey};
use crate::quantity::{Amount, Day};
use crate::record::{Entry, Scan, day_of, sha256_hex};
use crate::walk::{Disposition, Event, Standing, Walk};

/// A gap between two entries that is longer is a pause, in seconds (an assumption: who works enters something every hour).
const PAUSE: f64 = 3600.0;

/// Below this share of all probability no fault explains the readings.
const LIKELY: f64 = 0.5;

/// The rows of one record, by table; the columns as `schema` orders them.
#[derive(Debug, Default)]
pub(super) struct Rows {
    /// What tells the record from all others, wherever it lies.
    pub record: String,
    pub tables: BTreeMap<&'static str, Vec<Vec<Value>>>,
}

impl Rows {
    /// All that a record says; `name` is where it lies as the ledger writes it.
    pub fn of(folder: &Path, name: &str) -> Self {
        let scan = Scan::of(folder);
        // Without a first line there is nothing to tell it by but its place.
        let first = scan.entries().first().and_then(|entry| entry.line().ok()).unwrap_or_else(|| name.to_owned());
        let mut rows = Self { record: sha256_hex(first.as_bytes())[..16].to_owned(), ..Self::default() };
        let replayed = Replayed::of(folder, &scan);
        rows.record_row(name, &scan, &replayed);
        rows.answers(scan.entries());
        rows.faults(&replayed);
        rows.work(scan.entries());
        rows.instruments(&scan);
        rows.signatures(scan.entries());
        rows
    }

    fn push(&mut self, table: &'static str, cells: Vec<Value>) {
        let mut row = vec![text(&self.record)];
        row.extend(cells);
        self.tables.entry(table).or_default().push(row);
    }

    fn record_row(&mut self, name: &str, scan: &Scan, replayed: &Replayed) {
        let entries = scan.entries();
        let job = scan.job.as_ref();
        let (title, steps) = match entries.first().map(|entry| &entry.event) {
            Some(Event::Opened { job, steps, .. }) => (job.as_str(), *steps),
            _ => ("", 0),
        };
        let trouble = scan.trouble.clone().or_else(|| replayed.trouble.clone());
        let standing = match (&trouble, replayed.standing) {
            (Some(_), _) => "unreadable",
            (None, Standing::Conforms) => "conforms",
            (None, Standing::DoesNotConform) => "does-not-conform",
            (None, Standing::InProgress) => "open",
        };
        let done = replayed.done.unwrap_or(steps);
        let due = recheck_due(entries).filter(|_| trouble.is_none());
        let cells = vec![
            text(name),
            text(title),
            text(job.map_or("", |job| &job.vehicle.description)),
            maybe(job.and_then(|job| job.vehicle.identity.clone())),
            maybe(job.and_then(|job| job.work_order.clone())),
            maybe(entries.first().map(|entry| moment(entry.at))),
            maybe(entries.last().map(|entry| moment(entry.at))),
            text(standing),
            count(steps),
            count(done),
            maybe(replayed.next.clone()),
            maybe(entries.iter().rev().map(|entry| entry.by.clone()).find(|by| !by.is_empty())),
            count(scan.sealed),
            maybe(due.map(|day| day.to_string())),
            text(scan.head()),
            maybe(trouble),
        ];
        self.push("record", cells);
    }

    /// Readings, texts and decisions.
    fn answers(&mut self, entries: &[Entry]) {
        let mut tools: BTreeMap<&str, &str> = BTreeMap::new();
        let mut attempts: BTreeMap<&str, i64> = BTreeMap::new();
        let mut last: BTreeMap<&str, u64> = BTreeMap::new();
        for entry in entries {
            if let Event::Read { step, .. } | Event::Noted { step, .. } = &entry.event {
                last.insert(step.as_str(), entry.seq);
            }
        }
        for entry in entries {
            match &entry.event {
                Event::Read { step, judgement, .. } | Event::Noted { step, judgement, .. } => {
                    let attempt = attempts.entry(step.as_str()).or_default();
                    *attempt += 1;
                    let of = step.as_str().rsplit_once('/').map_or("", |(of, _)| of);
                    if let Event::Noted { text, .. } = &entry.event
                        && step.as_str().ends_with("/tool")
                    {
                        tools.insert(of, text.trim());
                    }
                    let stands = last.get(step.as_str()) == Some(&entry.seq);
                    let cells = answer(entry, step, judgement, tools.get(of).copied(), *attempt, stands);
                    self.push("reading", cells);
                }
                Event::Disposed { step, disposition } => {
                    let stands = last.get(step.as_str()).is_none_or(|seq| *seq < entry.seq);
                    let (what, reason, by) = decided(disposition);
                    let (procedure, _) = parts(step);
                    let cells = vec![
                        number(entry.seq),
                        text(&moment(entry.at)),
                        text(step.as_str()),
                        text(procedure),
                        text(&entry.by),
                        text(what),
                        maybe(reason.map(str::to_owned)),
                        maybe(by.map(str::to_owned)),
                        Value::Integer(stands.into()),
                    ];
                    self.push("decision", cells);
                }
                _ => {}
            }
        }
    }

    fn faults(&mut self, replayed: &Replayed) {
        for found in &replayed.faults {
            let cells = vec![
                number(found.entry),
                text(&moment(found.at)),
                text(&found.step),
                text(&found.by),
                text(found.fault),
                text(&found.place),
                Value::Real(found.probability),
            ];
            self.push("fault", cells);
        }
    }

    fn work(&mut self, entries: &[Entry]) {
        let mut spent: BTreeMap<(String, String, String), (f64, i64)> = BTreeMap::new();
        // What comes from a file or from paper was not done when it was entered.
        let mut at_work = false;
        for pair in entries.windows(2) {
            let (before, entry) = (&pair[0], &pair[1]);
            match &entry.event {
                Event::OnDuty { from_file, .. } => at_work = !from_file,
                Event::Reopened { .. } => at_work = true,
                Event::FromPaper(_) => at_work = false,
                _ => {}
            }
            let Some(step) = step_of(&entry.event).filter(|_| at_work) else { continue };
            let (procedure, thing) = parts(step);
            let own = spent.entry((procedure.to_owned(), thing.to_owned(), entry.by.clone())).or_default();
            let gap = entry.at.duration_since(before.at).as_secs_f64().max(0.0);
            if gap > PAUSE {
                own.1 += 1;
            } else {
                own.0 += gap;
            }
        }
        for ((procedure, thing, by), (seconds, pauses)) in spent {
            self.push(
                "work",
                vec![text(&procedure), text(&thing), text(&by), Value::Real(seconds), Value::Integer(pauses)],
            );
        }
    }

    fn instruments(&mut self, scan: &Scan) {
        for own in scan.job.iter().flat_map(|job| &job.instruments) {
            let due = own.calibration_due.map(|day| day.to_string());
            self.push(
                "instrument",
                vec![text(&own.name), maybe(own.description.clone()), maybe(own.serial.clone()), maybe(due)],
            );
        }
    }

    fn signatures(&mut self, entries: &[Entry]) {
        for entry in entries {
            let (seq, at) = (number(entry.seq), text(&moment(entry.at)));
            match &entry.event {
                Event::SignedOff { name, role, statement, .. } => {
                    self.push("signature", vec![seq, at, text(name), text(role), text(statement)]);
                }
                Event::Released { step, by, signature, .. } => {
                    let signed = Value::Integer(signature.is_some().into());
                    self.push("release", vec![seq, at, text(step.as_str()), text(by), signed]);
                }
                _ => {}
            }
        }
    }
}

/// What only the walk knows.
struct Replayed {
    standing: Standing,
    /// Closed steps; all of them where the walk was not asked.
    done: Option<usize>,
    next: Option<String>,
    faults: Vec<FoundFault>,
    trouble: Option<String>,
}

struct FoundFault {
    entry: u64,
    at: Timestamp,
    step: String,
    by: String,
    fault: &'static str,
    place: String,
    probability: f64,
}

impl Replayed {
    /// Work that was signed off without any decision conforms in all its steps: nobody can sign it otherwise, and the
    /// walk, which takes time, is not asked again.
    fn of(folder: &Path, scan: &Scan) -> Self {
        let mut own = Self { standing: Standing::Conforms, done: None, next: None, faults: Vec::new(), trouble: None };
        let entries = scan.entries();
        let closed = entries.iter().rev().find_map(|entry| match entry.event {
            Event::SignedOff { .. } => Some(true),
            Event::Recovered { .. } | Event::InShop { .. } => None,
            _ => Some(false),
        });
        let decided = entries.iter().any(|entry| matches!(entry.event, Event::Disposed { .. }));
        if scan.trouble.is_some() || (closed == Some(true) && !decided) {
            return own;
        }
        let weights = Weights::default();
        let mut faults = Vec::new();
        let mut see = |walk: &Walk, entry: &Entry| faults.extend(found(walk, entry, &weights));
        match scan.replay(folder, &mut see) {
            Ok(walk) => {
                own.standing = walk.standing();
                own.done = Some(walk.count().0);
                own.next = walk.current().map(|step| step.key.to_string());
            }
            Err(error) => own.trouble = Some(error.to_string()),
        }
        own.faults = faults;
        own
    }
}

/// The likeliest fault when something is to be mended or stays as it is.
fn found(walk: &Walk, entry: &Entry, weights: &Weights) -> Option<FoundFault> {
    let Event::Disposed { step, disposition } = &entry.event else { return None };
    if matches!(disposition, Disposition::MeasureAgain | Disposition::Explained { .. }) {
        return None;
    }
    // Torques and texts tell nothing of the circuit.
    let taken = walk.taken();
    let at_this_step = walk.plan().steps.iter().any(|own| own.key == *step && matches!(own.ask, Ask::Measure(_)));
    if !at_this_step || taken.is_empty() {
        return None;
    }
    let ranked = rank(walk.job(), weights, &taken);
    let likely = ranked.first().filter(|first| first.probability >= LIKELY && first.fault.kind != Kind::AsDesigned);
    let (fault, place, probability) = match likely {
        Some(first) => (first.fault.kind.word(), first.fault.at.join(", "), first.probability),
        None => ("unexplained", step.to_string(), ranked.first().map_or(0.0, |first| first.probability)),
    };
    let (entry, at, by, step) = (entry.seq, entry.at, entry.by.clone(), step.to_string());
    Some(FoundFault { entry, at, step, by, fault, place, probability })
}

/// Agreed with the owner where a day stands at the step `re-check`, else some days after the sign-off; nothing once the
/// work was opened again after it.
fn recheck_due(entries: &[Entry]) -> Option<Day> {
    let signed = entries.iter().position(|entry| matches!(entry.event, Event::SignedOff { .. }))?;
    if entries[signed..].iter().any(|entry| matches!(entry.event, Event::Reopened { .. })) {
        return None;
    }
    let agreed = entries.iter().rev().find_map(|entry| match &entry.event {
        Event::Noted { step, text, .. } if step.as_str().ends_with("/re-check") => text
            .split(|c: char| c.is_whitespace() || ",;()".contains(c))
            .find_map(|word| Day::parse(word.trim_end_matches('.'))),
        _ => None,
    });
    let later = || entries[signed].at.checked_add(jiff::SignedDuration::from_hours(24 * CHECK_AGAIN_DAYS)).ok();
    agreed.or_else(|| later().map(day_of))
}

fn answer(
    entry: &Entry,
    step: &StepKey,
    judgement: &Judgement,
    tool: Option<&str>,
    attempt: i64,
    stands: bool,
) -> Vec<Value> {
    let (procedure, thing) = parts(step);
    let mut cells = vec![
        number(entry.seq),
        text(&moment(entry.at)),
        text(step.as_str()),
        text(procedure),
        text(thing),
        text(&entry.by),
        maybe(judgement.instrument.clone()),
        maybe(tool.map(str::to_owned)),
    ];
    match &entry.event {
        Event::Read { reading, low, high, .. } => {
            let (low, high) = judgement.limits.map_or((*low, *high), |(low, high)| (Some(low), Some(high)));
            let limit = |limit: Option<Amount>| real(limit.map(Amount::base).filter(|limit| limit.is_finite()));
            cells.extend([
                text(reading.dimension.name()),
                text(reading.dimension.unit()),
                real(reading.value),
                Value::Real(reading.resolution),
                limit(low),
                limit(high),
                Value::Null,
            ]);
        }
        Event::Noted { text: words, .. } => {
            cells.extend(std::iter::repeat_n(Value::Null, 6));
            cells.push(maybe(Some(words.clone())));
        }
        _ => cells.extend(std::iter::repeat_n(Value::Null, 7)),
    }
    cells.extend([text(verdict(judgement.verdict)), Value::Integer(attempt), Value::Integer(stands.into())]);
    cells
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Conforms => "conforms",
        Verdict::Recorded => "recorded",
        Verdict::Unexpected => "unexpected",
        Verdict::Undecided => "undecided",
        Verdict::DoesNotConform => "does-not-conform",
    }
}

/// What was decided, why, and who permitted it.
fn decided(disposition: &Disposition) -> (&'static str, Option<&str>, Option<&str>) {
    match disposition {
        Disposition::MeasureAgain => ("measure-again", None, None),
        Disposition::Rework { reason, .. } => ("rework", Some(reason), None),
        Disposition::Repair { reason, .. } => ("repair", Some(reason), None),
        Disposition::Concession { by, reason, .. } => ("concession", Some(reason), Some(by)),
        Disposition::Explained { reason } => ("explained", Some(reason), None),
        Disposition::Nonconformity { reason } => ("nonconformity", Some(reason), None),
    }
}

/// The step that an event is about.
fn step_of(event: &Event) -> Option<&StepKey> {
    match event {
        Event::HazardsAcknowledged { step, .. }
        | Event::Done { step }
        | Event::Read { step, .. }
        | Event::Noted { step, .. }
        | Event::Chosen { step, .. }
        | Event::Witnessed { step, .. }
        | Event::PutOff { step, .. }
        | Event::TakenBack { step, .. }
        | Event::Photographed { step, .. }
        | Event::WaitBegun { step, .. }
        | Event::WaitEnded { step, .. }
        | Event::Disposed { step, .. }
        | Event::Released { step, .. }
        | Event::Remark { step, .. } => Some(step),
        _ => None,
    }
}

/// Procedure and thing of a step.
fn parts(step: &StepKey) -> (&str, &str) {
    let mut words = step.as_str().splitn(3, '/');
    (words.next().unwrap_or(""), words.next().unwrap_or(""))
}

/// As all moments stand in the ledger: by UTC, to the microsecond, so that they sort as text.
fn moment(at: Timestamp) -> String {
    at.strftime("%Y-%m-%dT%H:%M:%S.%6fZ").to_string()
}

fn text(words: &str) -> Value {
    Value::Text(words.to_owned())
}

/// A text without a letter is nothing, here and in every export.
fn maybe(words: Option<String>) -> Value {
    words.filter(|words| !words.is_empty()).map_or(Value::Null, Value::Text)
}

fn real(value: Option<f64>) -> Value {
    value.map_or(Value::Null, Value::Real)
}

fn count(number: usize) -> Value {
    Value::Integer(i64::try_from(number).unwrap_or(i64::MAX))
}

fn number(seq: u64) -> Value {
    Value::Integer(i64::try_from(seq).unwrap_or(i64::MAX))
}
