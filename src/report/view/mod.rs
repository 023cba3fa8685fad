//! What a report says, before anybody decides how it looks.

mod rows;

use jiff::Timestamp;
use serde::Serialize;

use super::bar::Bar;
use super::matrix::Matrix;
use crate::diagnosis::{Weights, coverage};
use crate::judgement::Verdict;
use crate::procedure::Hazard;
use crate::record::{Entry, Part, principal, stock_commands};
use crate::walk::{Event, Standing, Walk};
use rows::{
    acceptance, assumptions, counts, fitted, groups, history, instruments, nonconformities, not_needed, parts, people,
    pictures, releases, remarks, retaken, values, wires, witnesses,
};

/// Everything that a report shows, as texts.
#[derive(Debug, Clone, Serialize)]
pub struct View {
    title: String,
    work_order: Option<String>,
    vehicle: String,
    identity: Option<String>,
    system: String,
    verdict: &'static str,
    verdict_class: &'static str,
    in_short: Vec<String>,
    warnings: Vec<String>,
    begun: Option<String>,
    signed: Option<Signed>,
    people: Vec<Named>,
    fitted: Vec<Fitted>,
    wires: Vec<WireRow>,
    parts: Vec<PartRow>,
    groups: Vec<Group>,
    values: Vec<ValueRow>,
    nonconformities: Vec<NonconformityRow>,
    history: Vec<HistoryRow>,
    retaken: Vec<String>,
    from_file: bool,
    releases: Vec<Release>,
    witnesses: Vec<Named>,
    not_needed: Vec<Named>,
    instruments: Vec<Named>,
    acceptance: String,
    pictures: Vec<Named>,
    remarks: Vec<Named>,
    hazards: Vec<Hazard>,
    matrix: Matrix,
    assumptions: Vec<String>,
    counts: Counts,
    head: String,
    program: &'static str,
    verify: [String; 3],
}

#[derive(Debug, Clone, Serialize)]
struct Signed {
    name: String,
    role: String,
    statement: String,
    at: String,
    fingerprint: String,
}

#[derive(Debug, Clone, Serialize)]
struct Named {
    name: String,
    what: String,
}

#[derive(Debug, Clone, Serialize)]
struct Fitted {
    name: String,
    kind: &'static str,
    draws: String,
    place: String,
    protected_by: String,
    voltage: String,
}

#[derive(Debug, Clone, Serialize)]
struct WireRow {
    name: String,
    from: String,
    to: String,
    size: String,
    planned: String,
    built: String,
    colour: String,
    zone: String,
}

#[derive(Debug, Clone, Serialize)]
struct PartRow {
    name: String,
    kind: &'static str,
    what: String,
    place: String,
    serves: String,
}

#[derive(Debug, Clone, Serialize)]
struct Group {
    title: String,
    readings: Vec<ReadingRow>,
}

#[derive(Debug, Clone, Serialize)]
struct ReadingRow {
    step: String,
    what: String,
    state: String,
    expected: String,
    low: Option<f64>,
    high: Option<f64>,
    unit: &'static str,
    reading: String,
    uncertainty: Option<String>,
    probability: Option<f64>,
    instrument: Option<String>,
    typed: String,
    value: Option<f64>,
    verdict: &'static str,
    verdict_class: &'static str,
    says: String,
    by: String,
    at: String,
    rule: Option<String>,
    bar: Option<Bar>,
}

#[derive(Debug, Clone, Serialize)]
struct ValueRow {
    step: String,
    what: String,
    expected: String,
    reading: String,
    verdict: &'static str,
    verdict_class: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct NonconformityRow {
    step: String,
    found: String,
    reason: String,
}

#[derive(Debug, Clone, Serialize)]
struct HistoryRow {
    step: String,
    found: String,
    done: String,
}

#[derive(Debug, Clone, Serialize)]
struct Release {
    step: String,
    by: String,
    statement: String,
}

#[derive(Debug, Clone, Serialize)]
struct Counts {
    steps: usize,
    closed: usize,
    readings: usize,
    conforming: usize,
    first_time: usize,
}

fn time(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn verdict_words(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Conforms => ("conforms", "good"),
        Verdict::Recorded => ("recorded", "plain"),
        Verdict::Unexpected => ("explained", "odd"),
        Verdict::Undecided => ("undecided", "odd"),
        Verdict::DoesNotConform => ("does not conform", "bad"),
    }
}

impl View {
    /// The view of a walk and the entries that made it. `fingerprint` is that of the key that signs.
    pub fn of(walk: &Walk, entries: &[Entry], head: &str, fingerprint: &str) -> View {
        let job = walk.job();
        let warnings = begun_in_spite(entries);
        let (verdict, verdict_class) = match walk.standing() {
            Standing::Conforms if !warnings.is_empty() => ("Readings conform, design does not", "bad"),
            Standing::Conforms => ("Conforms", "good"),
            Standing::DoesNotConform => ("Does not conform", "bad"),
            Standing::InProgress => ("In progress", "odd"),
        };
        let groups = groups(walk, entries);
        let counts = counts(walk, &groups);
        let signed = entries.iter().rev().find_map(|entry| match &entry.event {
            Event::SignedOff { name, role, statement, .. } => Some(Signed {
                name: name.clone(),
                role: role.clone(),
                statement: statement.clone(),
                at: time(entry.at),
                fingerprint: fingerprint.to_owned(),
            }),
            _ => None,
        });
        let who = signed.as_ref().map_or_else(|| "signer".to_owned(), |s| principal(&s.name));
        View {
            title: job.title.clone(),
            work_order: job.work_order.clone(),
            vehicle: job.vehicle.description.clone(),
            identity: job.vehicle.identity.clone(),
            system: format!("{} V", job.vehicle.system.as_volts()),
            verdict,
            verdict_class,
            in_short: in_short(walk, &counts),
            warnings,
            begun: entries.first().map(|e| time(e.at)),
            signed,
            people: people(walk),
            fitted: fitted(walk),
            wires: wires(walk),
            parts: parts(job),
            groups,
            values: values(walk),
            nonconformities: nonconformities(walk),
            history: history(walk),
            retaken: retaken(walk),
            from_file: entries.iter().any(|e| matches!(e.event, Event::OnDuty { from_file: true, .. })),
            releases: releases(walk),
            witnesses: witnesses(walk),
            not_needed: not_needed(walk),
            instruments: instruments(job, entries),
            acceptance: acceptance(job),
            pictures: pictures(walk),
            remarks: remarks(walk),
            hazards: walk.acknowledged().to_vec(),
            matrix: Matrix::of(&coverage(walk.stated(), walk.plan(), &Weights::default())),
            assumptions: assumptions(job),
            counts,
            head: head.to_owned(),
            program: env!("CARGO_PKG_VERSION"),
            verify: stock_commands(Part::FIRST, &who),
        }
    }

    /// Adds something that must stand on top of the report.
    pub fn warn(&mut self, text: &str) {
        self.warnings.push(text.to_owned());
    }

    /// Leaves the vehicle's identity out.
    pub fn mask_identity(&mut self) {
        self.identity = self.identity.as_ref().map(|_| "masked".to_owned());
    }
}

/// A design that does not conform stands on top of everything else.
fn begun_in_spite(entries: &[Entry]) -> Vec<String> {
    let Some(Event::Opened { design_errors, despite, .. }) = entries.first().map(|e| &e.event) else {
        return Vec::new();
    };
    let reason = despite.as_deref().unwrap_or("no reason is given");
    let line =
        |error: &String| format!("The design does not conform: {error}. The work was begun in spite of it: {reason}");
    design_errors.iter().map(line).collect()
}

fn in_short(walk: &Walk, counts: &Counts) -> Vec<String> {
    let mut lines = vec![format!(
        "{} of {} steps closed; {} of {} readings conform to what the circuit must show, {} at the first time.",
        counts.closed, counts.steps, counts.conforming, counts.readings, counts.first_time
    )];
    let open = walk.nonconformities().len();
    lines.push(match open {
        0 if walk.standing() == Standing::InProgress => "Steps are still open.".to_owned(),
        0 => "Nothing is left open.".to_owned(),
        1 => "One requirement is not fulfilled; see nonconformities.".to_owned(),
        n => format!("{n} requirements are not fulfilled; see nonconformities."),
    });
    lines
}
