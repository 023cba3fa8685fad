//! The rows of a report: what was fitted, every reading, what did not conform, who released what.

use super::super::bar::Bar;
use super::{
    Counts, Fitted, Group, HazardRow, HistoryRow, Named, NonconformityRow, PartRow, PictureRow, ReadingRow, Release,
    ValueRow, WireRow, time, verdict_words,
};
use crate::job::{Acceptance, Instrument, Job, Terminal, loads_of, powers};
use crate::judgement::Verdict;
use crate::plan::{Ask, Measurement, Probes, Step};
use crate::procedure::Hazard;
use crate::quantity::{Amount, Dimension, Reading};
use crate::record::Entry;
use crate::walk::{Attempt, Disposition, Event, Photo, Walk, Witness};

/// The reading as it was typed, with its unit: the digits say how finely it was read.
pub(super) fn as_typed(attempt: &Attempt) -> String {
    match &attempt.reading {
        Some(reading) if reading.typed.chars().any(char::is_alphabetic) => reading.typed.clone(),
        _ => attempt.shown.clone(),
    }
}

pub(super) fn probes(measurement: &Measurement) -> String {
    let name = measurement.dimension.name();
    match &measurement.probes {
        Probes::Between(..) => format!("{name}, {}", measurement.probes),
        Probes::Wire(_) => format!("{name} {}", measurement.probes),
    }
}

pub(super) fn expected(attempt: &Attempt) -> String {
    match (attempt.low, attempt.high) {
        (Some(low), Some(high)) if low == high => format!("about {low}"),
        (Some(low), Some(high)) => low.range_to(high),
        _ => "open (OL)".to_owned(),
    }
}

/// Who took the last reading of a step, and when.
pub(super) fn taken(entries: &[Entry], step: &Step) -> (String, String) {
    let of_step = |entry: &&Entry| matches!(&entry.event, Event::Read { step: key, .. } if *key == step.key);
    entries.iter().rev().find(of_step).map_or_else(Default::default, |e| (e.by.clone(), time(e.at)))
}

pub(super) fn groups(walk: &Walk, entries: &[Entry]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut last_phase = None;
    for step in &walk.plan().steps {
        let Ask::Measure(measurement) = &step.ask else { continue };
        let Some(attempt) = walk.latest(&step.key) else { continue };
        if last_phase != Some(step.phase) {
            last_phase = Some(step.phase);
            groups.push(Group { title: walk.plan().phases[step.phase].title.clone(), readings: Vec::new() });
        }
        let Some(group) = groups.last_mut() else { continue };
        let (verdict, verdict_class) = verdict_words(attempt.judgement.verdict);
        let reading = attempt.reading.as_ref();
        let bar = match (attempt.low, attempt.high, reading.and_then(Reading::amount)) {
            (Some(low), Some(high), Some(value)) => Some(Bar::of((low, high), attempt.judgement.limits, value)),
            _ => None,
        };
        let rule = measurement.rule.as_ref().map(ToString::to_string);
        let (by, at) = taken(entries, step);
        group.readings.push(ReadingRow {
            by,
            at,
            step: step.key.to_string(),
            what: probes(measurement),
            state: measurement.state.describe(walk.job()),
            expected: expected(attempt),
            low: attempt.low.map(Amount::base),
            high: attempt.high.map(Amount::base),
            unit: measurement.dimension.unit().to_owned(),
            reading: as_typed(attempt),
            uncertainty: attempt.judgement.uncertainty.map(|u| u.to_string()),
            probability: attempt.judgement.probability,
            instrument: attempt.judgement.instrument.clone(),
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

pub(super) fn counts(walk: &Walk, groups: &[Group]) -> Counts {
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

pub(super) fn people(walk: &Walk) -> Vec<Named> {
    let named = |(name, what): (&String, &std::collections::BTreeSet<String>)| Named {
        name: name.clone(),
        what: what.iter().cloned().collect::<Vec<_>>().join(", "),
    };
    walk.people().iter().map(named).collect()
}

pub(super) fn fitted(walk: &Walk) -> Vec<Fitted> {
    let job = walk.job();
    let row = |load: &crate::job::Load| {
        let protects = |fuse: &&crate::job::Fuse| powers(job, &fuse.name).contains(&load.name);
        let fuses: Vec<String> =
            job.fuses.iter().filter(protects).map(|f| format!("{} {}", f.name, f.rating.as_rating())).collect();
        let across = Probes::Between(Terminal::of(&load.name, "+"), Terminal::of(&load.name, "-"));
        let at_load = |step: &&Step| matches!(&step.ask, Ask::Measure(m) if m.dimension == Dimension::Voltage && m.probes == across);
        let measured = walk.plan().steps.iter().filter(at_load).find_map(|step| walk.latest(&step.key));
        Fitted {
            name: load.name.clone(),
            kind: load.kind.word().to_owned(),
            draws: load.draws(),
            place: load.place.clone().unwrap_or_default(),
            protected_by: fuses.join(", "),
            voltage: measured.map(as_typed).unwrap_or_default(),
        }
    };
    job.loads.iter().map(row).collect()
}

/// The real length that was written down for a wire, where a step asked for it.
pub(super) fn built_length(walk: &Walk, wire: &str) -> String {
    let step = walk.plan().steps.iter().find(|step| walk.plan().wire_measured_at(step) == Some(wire));
    step.and_then(|s| walk.latest(&s.key)).map(|a| a.shown.clone()).unwrap_or_default()
}

pub(super) fn wires(walk: &Walk) -> Vec<WireRow> {
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
    walk.stated().wires.iter().map(row).collect()
}

pub(super) fn parts(job: &Job) -> Vec<PartRow> {
    let mut rows = Vec::new();
    let mut add = |name: &str, kind: &str, what: String, place: Option<&String>| {
        let serves = loads_of(job, name).join(", ");
        rows.push(PartRow {
            name: name.to_owned(),
            kind: kind.to_owned(),
            what,
            place: place.cloned().unwrap_or_default(),
            serves,
        });
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
        add(&ground.name, "ground", ground.fastener.bolt.clone().unwrap_or_default(), ground.place.as_ref());
    }
    rows
}

pub(super) fn values(walk: &Walk) -> Vec<ValueRow> {
    let mut rows = Vec::new();
    for step in &walk.plan().steps {
        let (what, expected) = match &step.ask {
            Ask::Value { dimension, low, high, rule, .. } => {
                let expected = match (low, high, rule) {
                    (Some(low), Some(high), _) => low.range_to(*high),
                    (_, _, Some(rule)) => rule.limits(),
                    _ => String::new(),
                };
                (dimension.name().to_owned(), expected)
            }
            Ask::Text { expect } => ("text".to_owned(), expect.clone().unwrap_or_default()),
            Ask::Choose { ways } => {
                let Some(chosen) = walk.chosen(&step.key) else { continue };
                let way = ways.iter().find(|w| w.id == chosen);
                let reading = way.map_or(chosen.to_owned(), |w| format!("{chosen}: {}", w.instructions.join(" ")));
                let (verdict, verdict_class) = verdict_words(Verdict::Recorded);
                let (step, what, expected) = (step.key.to_string(), "way taken".to_owned(), String::new());
                rows.push(ValueRow { step, what, expected, reading, verdict, verdict_class });
                continue;
            }
            _ => continue,
        };
        let Some(attempt) = walk.latest(&step.key) else { continue };
        let (verdict, verdict_class) = verdict_words(attempt.judgement.verdict);
        let reading = as_typed(attempt);
        rows.push(ValueRow { step: step.key.to_string(), what, expected, reading, verdict, verdict_class });
    }
    rows
}

pub(super) fn nonconformities(walk: &Walk) -> Vec<NonconformityRow> {
    let row =
        |n: crate::walk::Nonconformity| NonconformityRow { step: n.step.to_string(), found: n.found, reason: n.reason };
    walk.nonconformities().into_iter().map(row).collect()
}

/// Readings that did not stand, and what was done: nothing is overwritten.
pub(super) fn history(walk: &Walk) -> Vec<HistoryRow> {
    let mut rows = Vec::new();
    for step in &walk.plan().steps {
        for attempt in walk.attempts(&step.key) {
            let done = match &attempt.disposition {
                Some(Disposition::Nonconformity { reason }) => format!("left as it is: {reason}"),
                Some(other) => other.to_string(),
                None if attempt.repeated => "done again, as the step asks".to_owned(),
                None => continue,
            };
            rows.push(HistoryRow { step: step.key.to_string(), found: attempt.judgement.says.clone(), done });
        }
    }
    rows
}

/// Steps whose earlier reading stood and was taken again, since work before it was done again.
pub(super) fn retaken(walk: &Walk) -> Vec<String> {
    let again =
        |step: &&Step| walk.attempts(&step.key).iter().any(|a| a.stale && a.disposition.is_none() && !a.repeated);
    walk.plan().steps.iter().filter(again).map(|s| s.key.to_string()).collect()
}

/// Witness points: who was told, and who came.
pub(super) fn witnesses(walk: &Walk) -> Vec<Named> {
    let row = |step: &Step| {
        let came = walk.witnessed(&step.key)?;
        let party = step.witness.as_deref().unwrap_or("owner");
        let what = match came {
            Witness::Nobody => format!("{party} was told; nobody came"),
            Witness::Came(name) => format!("{name} came for the {party}"),
        };
        Some(Named { name: step.key.to_string(), what })
    };
    walk.plan().steps.iter().filter_map(row).collect()
}

/// Steps that an earlier answer made unnecessary, and why.
pub(super) fn not_needed(walk: &Walk) -> Vec<Named> {
    let row = |step: &Step| {
        let condition = walk.why_not_needed(&step.key)?;
        Some(Named { name: step.key.to_string(), what: format!("only if {condition}") })
    };
    walk.plan().steps.iter().filter_map(row).collect()
}

/// The instruments of the job: what they are, how far they are trusted, and where their calibration was overdue.
pub(super) fn instruments(job: &Job, entries: &[Entry]) -> Vec<Named> {
    let row = |instrument: &Instrument| {
        let mut what = instrument.description.clone().unwrap_or_default();
        let mut add = |text: String| {
            if !what.is_empty() {
                what.push_str("; ");
            }
            what.push_str(&text);
        };
        add(match instrument.class {
            Some(class) => format!("accuracy taken for class {} (from memory)", class.word()),
            None => "accuracy as the job states it".to_owned(),
        });
        add(match instrument.calibration_due {
            Some(due) => format!("calibration due {due}"),
            None => "calibration not stated".to_owned(),
        });
        let late = entries.iter().filter(|entry| {
            let own = matches!(&entry.event, Event::Read { judgement, .. } if judgement.instrument.as_ref() == Some(&instrument.name));
            own && instrument.overdue(entry.day())
        });
        match late.count() {
            0 => {}
            count => add(format!("overdue at {count} of its readings")),
        }
        Named { name: instrument.name.clone(), what }
    };
    let rows: Vec<Named> = job.instruments.iter().map(row).collect();
    if rows.is_empty() {
        return vec![Named { name: "not stated".to_owned(), what: Instrument::generic().called() }];
    }
    rows
}

/// The rule of acceptance in words.
pub(super) fn acceptance(job: &Job) -> String {
    match job.acceptance {
        Acceptance::Simple => "simple acceptance: the limit itself decides; for readings that protect people the meter must be fine enough for it",
        Acceptance::Guarded => "guarded acceptance: a reading keeps its limit by its whole expanded uncertainty (k = 2)",
    }
    .to_owned()
}

/// Pictures that were taken into the record, with what the step asked them to show.
pub(super) fn pictures(walk: &Walk) -> Vec<PictureRow> {
    let of_step = |step: &Step| {
        let asked = step.photo.clone().or_else(|| step.instructions.first().cloned()).unwrap_or_default();
        let row = move |photo: &Photo| PictureRow {
            step: step.key.to_string(),
            caption: asked.clone(),
            file: photo.file.clone(),
            sha256: photo.sha256.clone(),
        };
        walk.photos(&step.key).iter().map(row).collect::<Vec<_>>()
    };
    walk.plan().steps.iter().flat_map(of_step).collect()
}

/// The hazards that were read, gravest first.
pub(super) fn hazards(walk: &Walk) -> Vec<HazardRow> {
    let mut read: Vec<&Hazard> = walk.acknowledged().iter().collect();
    read.sort_by_key(|hazard| std::cmp::Reverse(hazard.signal));
    let row = |hazard: &Hazard| HazardRow {
        signal: hazard.signal.word().to_owned(),
        hazard: hazard.hazard.clone(),
        consequence: hazard.consequence.clone(),
        avoid: hazard.avoid.clone(),
        source: hazard.source.clone(),
    };
    read.into_iter().map(row).collect()
}

/// Steps that are still open.
pub(super) fn open_steps(walk: &Walk) -> Vec<String> {
    let open = |step: &&Step| !walk.is_settled(&step.key);
    walk.plan().steps.iter().filter(open).map(|step| step.key.to_string()).collect()
}

pub(super) fn releases(walk: &Walk) -> Vec<Release> {
    let release = |step: &Step| {
        let (by, statement) = walk.release(&step.key)?;
        Some(Release { step: step.key.to_string(), by: by.to_owned(), statement: statement.to_owned() })
    };
    walk.plan().steps.iter().filter_map(release).collect()
}

pub(super) fn remarks(walk: &Walk) -> Vec<Named> {
    let of_step = |step: &Step| {
        let name = step.key.to_string();
        walk.remarks(&step.key)
            .iter()
            .map(move |what| Named { name: name.clone(), what: what.clone() })
            .collect::<Vec<_>>()
    };
    walk.plan().steps.iter().flat_map(of_step).collect()
}

pub(super) fn assumptions(job: &Job) -> Vec<String> {
    job.assumptions.iter().map(|a| format!("{}: {} {} ({})", a.subject, a.what, a.value, a.source)).collect()
}
