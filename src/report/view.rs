//! What a report says, before anybody decides how it looks.

use jiff::Timestamp;
use serde::Serialize;

use super::bar::Bar;
use crate::job::{Job, loads_of, powers};
use crate::judgement::Verdict;
use crate::plan::{Ask, Measurement, Probes, Rule, Step};
use crate::procedure::Hazard;
use crate::quantity::show_range;
use crate::record::{Entry, NAMESPACE, principal};
use crate::walk::{Attempt, Disposition, Event, Standing, Walk};

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
    remarks: Vec<Named>,
    hazards: Vec<Hazard>,
    assumptions: Vec<String>,
    counts: Counts,
    head: String,
    program: &'static str,
    verify: Vec<String>,
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
        Verdict::DoesNotConform => ("does not conform", "bad"),
    }
}

impl View {
    /// The view of a walk and the entries that made it. `fingerprint` is that of the key that signs.
    pub fn of(walk: &Walk, entries: &[Entry], head: &str, fingerprint: &str) -> View {
        let job = walk.job();
        let (verdict, verdict_class) = match walk.standing() {
            Standing::Conforms if design_errors(entries) => ("Readings conform, design does not", "bad"),
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
            warnings: begun_in_spite(entries),
            begun: entries.first().map(|e| time(e.at)),
            signed,
            people: people(walk),
            fitted: fitted(job, &groups),
            wires: wires(walk),
            parts: parts(job),
            groups,
            values: values(walk),
            nonconformities: nonconformities(walk),
            history: history(walk),
            retaken: retaken(walk),
            from_file: entries.iter().any(|e| matches!(e.event, Event::OnDuty { from_file: true, .. })),
            releases: releases(walk),
            remarks: remarks(walk),
            hazards: walk.acknowledged().to_vec(),
            assumptions: assumptions(job),
            counts,
            head: head.to_owned(),
            program: env!("CARGO_PKG_VERSION"),
            verify: vec![
                "ssh-keygen -lf signer.pub".to_owned(),
                format!(
                    "ssh-keygen -Y verify -f allowed_signers -I {who} -n {NAMESPACE} -s SHA256SUMS.sig < SHA256SUMS"
                ),
                "sha256sum -c SHA256SUMS".to_owned(),
            ],
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

fn design_errors(entries: &[Entry]) -> bool {
    matches!(entries.first().map(|e| &e.event), Some(Event::Opened { design_errors, .. }) if !design_errors.is_empty())
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

fn latest<'w>(walk: &'w Walk, step: &Step) -> Option<&'w Attempt> {
    walk.attempts(&step.key).iter().rev().find(|a| !a.stale)
}

/// The limits of a rule in words.
fn limits(rule: &Rule) -> String {
    let least = rule.at_least.map(|a| format!("at least {a}"));
    let most = rule.at_most.map(|a| format!("at most {a}"));
    [least, most].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The reading as it was typed, with its unit: the digits say how finely it was read.
fn as_typed(attempt: &Attempt) -> String {
    match &attempt.reading {
        Some(reading) if reading.typed.chars().any(char::is_alphabetic) => reading.typed.clone(),
        _ => attempt.shown.clone(),
    }
}

fn probes(measurement: &Measurement) -> String {
    let name = measurement.dimension.name();
    match &measurement.probes {
        Probes::Between(red, black) => format!("{name}, {red} to {black}"),
        Probes::Wire(wire) => format!("{name} in {wire}"),
    }
}

fn expected(attempt: &Attempt, measurement: &Measurement) -> String {
    match (attempt.low, attempt.high) {
        (Some(low), Some(high)) if low == high => format!("about {low}"),
        (Some(low), Some(high)) => show_range(low.base(), high.base(), measurement.dimension),
        _ => "open (OL)".to_owned(),
    }
}

/// Who took the last reading of a step, and when.
fn taken(entries: &[Entry], step: &Step) -> (String, String) {
    let of_step = |entry: &&Entry| matches!(&entry.event, Event::Read { step: key, .. } if *key == step.key);
    entries.iter().rev().find(of_step).map_or_else(Default::default, |e| (e.by.clone(), time(e.at)))
}

fn groups(walk: &Walk, entries: &[Entry]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut last_phase = None;
    for step in &walk.plan().steps {
        let Ask::Measure(measurement) = &step.ask else { continue };
        let Some(attempt) = latest(walk, step) else { continue };
        if last_phase != Some(step.phase) {
            last_phase = Some(step.phase);
            groups.push(Group { title: walk.plan().phases[step.phase].title.clone(), readings: Vec::new() });
        }
        let Some(group) = groups.last_mut() else { continue };
        let (verdict, verdict_class) = verdict_words(attempt.judgement.verdict);
        let reading = attempt.reading.as_ref();
        let bar = match (attempt.low, attempt.high, reading.and_then(crate::quantity::Reading::amount)) {
            (Some(low), Some(high), Some(value)) => Some(Bar::of((low, high), attempt.judgement.limits, value)),
            _ => None,
        };
        let rule = measurement.rule.as_ref().map(|rule| format!("{} ({})", limits(rule), rule.because));
        let (by, at) = taken(entries, step);
        group.readings.push(ReadingRow {
            by,
            at,
            step: step.key.to_string(),
            what: probes(measurement),
            state: measurement.state.describe(walk.job()),
            expected: expected(attempt, measurement),
            low: attempt.low.map(crate::quantity::Amount::base),
            high: attempt.high.map(crate::quantity::Amount::base),
            unit: measurement.dimension.unit(),
            reading: as_typed(attempt),
            typed: reading.map(|r| r.typed.clone()).unwrap_or_default(),
            value: reading.and_then(|r| r.value),
            verdict,
            verdict_class,
            says: attempt.judgement.says.clone(),
            rule,
            bar,
        });
    }
    groups
}

fn counts(walk: &Walk, groups: &[Group]) -> Counts {
    let (closed, steps) = walk.count();
    let readings: Vec<&ReadingRow> = groups.iter().flat_map(|g| &g.readings).collect();
    let measured = walk.plan().steps.iter().filter(|s| matches!(s.ask, Ask::Measure(_)));
    let first_time = measured
        .filter(|s| walk.attempts(&s.key).first().is_some_and(|a| a.judgement.verdict == Verdict::Conforms))
        .count();
    Counts {
        steps,
        closed,
        readings: readings.len(),
        conforming: readings.iter().filter(|r| r.verdict_class == "good").count(),
        first_time,
    }
}

fn people(walk: &Walk) -> Vec<Named> {
    let named = |(name, what): (&String, &std::collections::BTreeSet<String>)| Named {
        name: name.clone(),
        what: what.iter().cloned().collect::<Vec<_>>().join(", "),
    };
    walk.people().iter().map(named).collect()
}

fn fitted(job: &Job, groups: &[Group]) -> Vec<Fitted> {
    let row = |load: &crate::job::Load| {
        let protects = |fuse: &&crate::job::Fuse| powers(job, &fuse.name).contains(&load.name);
        let fuses: Vec<String> =
            job.fuses.iter().filter(protects).map(|f| format!("{} {}", f.name, f.rating.as_rating())).collect();
        let across = format!("voltage, {0}.+ to {0}.-", load.name);
        let measured = groups.iter().flat_map(|g| &g.readings).find(|r| r.what == across);
        Fitted {
            name: load.name.clone(),
            kind: load.kind.word(),
            draws: load.draws(),
            place: load.place.clone().unwrap_or_default(),
            protected_by: fuses.join(", "),
            voltage: measured.map(|r| r.reading.clone()).unwrap_or_default(),
        }
    };
    job.loads.iter().map(row).collect()
}

/// The real length that was written down for a wire, where a step asked for it.
fn built_length(walk: &Walk, wire: &str) -> String {
    let mut steps = walk.plan().steps.iter();
    let step = steps.find(|s| {
        walk.plan().phases[s.phase].item == wire
            && matches!(s.ask, Ask::Value { dimension: crate::quantity::Dimension::Length, .. })
    });
    step.and_then(|s| latest(walk, s)).map(|a| a.shown.clone()).unwrap_or_default()
}

fn wires(walk: &Walk) -> Vec<WireRow> {
    let row = |wire: &crate::job::Wire| WireRow {
        name: wire.name.clone(),
        from: wire.from.to_string(),
        to: wire.to.to_string(),
        size: wire.size.to_string(),
        planned: wire.length.nominal.to_string(),
        built: built_length(walk, &wire.name),
        colour: wire.colour.clone().unwrap_or_default(),
        zone: wire.zone.clone().unwrap_or_default(),
    };
    walk.job().wires.iter().map(row).collect()
}

fn parts(job: &Job) -> Vec<PartRow> {
    let mut rows = Vec::new();
    let mut add = |name: &str, kind, what: String, place: Option<&String>| {
        let serves = loads_of(job, name).join(", ");
        rows.push(PartRow { name: name.to_owned(), kind, what, place: place.cloned().unwrap_or_default(), serves });
    };
    for fuse in &job.fuses {
        let body = fuse.style.map_or("circuit breaker", crate::handbook::fuse::FuseStyle::word);
        add(&fuse.name, "fuse", format!("{}, {body}", fuse.rating.as_rating()), fuse.place.as_ref());
    }
    for relay in &job.relays {
        let contact = relay.contact.map(|c| format!(", contact {}", c.as_rating())).unwrap_or_default();
        add(&relay.name, "relay", format!("coil {}{contact}", relay.coil.nominal.as_rating()), relay.place.as_ref());
    }
    for switch in &job.switches {
        add(
            &switch.name,
            "switch",
            switch.rating.map(crate::quantity::Current::as_rating).unwrap_or_default(),
            switch.place.as_ref(),
        );
    }
    for connector in &job.connectors {
        let what = format!("cavities {}", connector.cavities.join(", "));
        add(&connector.name, "connector", what, connector.place.as_ref());
    }
    for splice in &job.splices {
        add(&splice.name, "splice", splice.method.clone(), splice.place.as_ref());
    }
    for ground in &job.grounds {
        add(&ground.name, "ground", ground.bolt.clone().unwrap_or_default(), ground.place.as_ref());
    }
    rows
}

fn values(walk: &Walk) -> Vec<ValueRow> {
    let mut rows = Vec::new();
    for step in &walk.plan().steps {
        let (what, expected) = match &step.ask {
            Ask::Value { dimension, low, high, rule } => {
                let expected = match (low, high, rule) {
                    (Some(low), Some(high), _) => show_range(low.base(), high.base(), *dimension),
                    (_, _, Some(rule)) => limits(rule),
                    _ => String::new(),
                };
                (dimension.name().to_owned(), expected)
            }
            Ask::Text { expect } => ("text".to_owned(), expect.clone().unwrap_or_default()),
            _ => continue,
        };
        let Some(attempt) = latest(walk, step) else { continue };
        let (verdict, verdict_class) = verdict_words(attempt.judgement.verdict);
        let reading = as_typed(attempt);
        rows.push(ValueRow { step: step.key.to_string(), what, expected, reading, verdict, verdict_class });
    }
    rows
}

fn nonconformities(walk: &Walk) -> Vec<NonconformityRow> {
    let row =
        |n: crate::walk::Nonconformity| NonconformityRow { step: n.step.to_string(), found: n.found, reason: n.reason };
    walk.nonconformities().into_iter().map(row).collect()
}

/// Readings that did not stand, and what was done: nothing is overwritten.
fn history(walk: &Walk) -> Vec<HistoryRow> {
    let mut rows = Vec::new();
    for step in &walk.plan().steps {
        for attempt in walk.attempts(&step.key) {
            let done = match &attempt.disposition {
                Some(Disposition::MeasureAgain) => "measured again".to_owned(),
                Some(Disposition::Rework { from, reason }) => format!("rework from {from}: {reason}"),
                Some(Disposition::Explained { reason }) => format!("explained: {reason}"),
                Some(Disposition::Nonconformity { reason }) => format!("left as it is: {reason}"),
                None => continue,
            };
            rows.push(HistoryRow { step: step.key.to_string(), found: attempt.judgement.says.clone(), done });
        }
    }
    rows
}

/// Steps whose earlier reading stood and was taken again, since work before it was done again.
fn retaken(walk: &Walk) -> Vec<String> {
    let again = |step: &&Step| walk.attempts(&step.key).iter().any(|a| a.stale && a.disposition.is_none());
    walk.plan().steps.iter().filter(again).map(|s| s.key.to_string()).collect()
}

fn releases(walk: &Walk) -> Vec<Release> {
    let release = |step: &Step| {
        let (by, statement) = walk.release(&step.key)?;
        Some(Release { step: step.key.to_string(), by: by.to_owned(), statement: statement.to_owned() })
    };
    walk.plan().steps.iter().filter_map(release).collect()
}

fn remarks(walk: &Walk) -> Vec<Named> {
    let of_step = |step: &Step| {
        let name = step.key.to_string();
        walk.remarks(&step.key)
            .iter()
            .map(move |what| Named { name: name.clone(), what: what.clone() })
            .collect::<Vec<_>>()
    };
    walk.plan().steps.iter().flat_map(of_step).collect()
}

fn assumptions(job: &Job) -> Vec<String> {
    job.assumptions.iter().map(|a| format!("{}: {} {} ({})", a.subject, a.what, a.value, a.source)).collect()
}
