//! What a report says, before anybody decides how it looks. Every text is plain and every value is worded here, so that
//! the page, the print and the tables say the same. `CONTEXT.md` beside the templates describes it.

mod plain;
mod rows;

pub use plain::visible;

use jiff::{Timestamp, ToSpan};
use serde::{Deserialize, Serialize};

use super::bar::Bar;
use super::matrix::Matrix;
use crate::handbook::CHECK_AGAIN_DAYS;
use crate::judgement::Verdict;
use crate::record::{Entry, Part, principal, stock_commands};
use crate::walk::{Event, Standing, Walk};
use rows::{
    acceptance, assumptions, counts, fitted, groups, hazards, history, instruments, nonconformities, not_needed,
    open_steps, parts, people, pictures, releases, remarks, retaken, values, wires, witnesses,
};

/// Everything that a report says, as texts. It is what a template is given, and what `report.json` holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct View {
    pub(super) title: String,
    pub(super) work_order: Option<String>,
    pub(super) vehicle: String,
    pub(super) identity: Option<String>,
    pub(super) system: String,
    pub(super) verdict: String,
    pub(super) verdict_class: String,
    pub(super) in_short: Vec<String>,
    pub(super) warnings: Vec<String>,
    pub(super) masked: bool,
    pub(super) begun: Option<String>,
    pub(super) signed: Vec<Signed>,
    pub(super) later: Vec<Later>,
    pub(super) check_again: Option<String>,
    pub(super) open_steps: Vec<String>,
    pub(super) people: Vec<Named>,
    pub(super) fitted: Vec<Fitted>,
    pub(super) wires: Vec<WireRow>,
    pub(super) parts: Vec<PartRow>,
    pub(super) groups: Vec<Group>,
    pub(super) values: Vec<ValueRow>,
    pub(super) nonconformities: Vec<NonconformityRow>,
    pub(super) history: Vec<HistoryRow>,
    pub(super) retaken: Vec<String>,
    pub(super) from_file: bool,
    pub(super) from_paper: Vec<String>,
    pub(super) releases: Vec<Release>,
    pub(super) witnesses: Vec<Named>,
    pub(super) not_needed: Vec<Named>,
    pub(super) instruments: Vec<Named>,
    pub(super) acceptance: String,
    pub(super) pictures: Vec<PictureRow>,
    pub(super) remarks: Vec<Named>,
    pub(super) hazards: Vec<HazardRow>,
    pub(super) cautions: Vec<String>,
    pub(super) advice: Vec<String>,
    pub(super) matrix: Matrix,
    pub(super) assumptions: Vec<String>,
    pub(super) counts: Counts,
    pub(super) head: String,
    pub(super) program: String,
    pub(super) verify: Vec<String>,
}

/// Somebody who signed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Signed {
    pub name: String,
    pub role: String,
    pub statement: String,
    pub at: String,
    pub fingerprint: String,
}

/// Work that went on after a sign-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Later {
    pub at: String,
    pub by: String,
    pub reason: String,
    pub steps: String,
}

/// A picture of the work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct PictureRow {
    pub step: String,
    pub caption: String,
    pub file: String,
    pub sha256: String,
}

/// A hazard that was read before the work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct HazardRow {
    pub signal: String,
    pub hazard: String,
    pub consequence: String,
    pub avoid: String,
    pub source: String,
}

/// A name, and what is said of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct Named {
    pub name: String,
    pub what: String,
}

/// A load.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Fitted {
    pub name: String,
    pub kind: String,
    pub draws: String,
    pub place: String,
    pub protected_by: String,
    pub voltage: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct WireRow {
    pub name: String,
    pub from: String,
    pub to: String,
    pub size: String,
    pub planned: String,
    pub built: String,
    pub colour: String,
    pub zone: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct PartRow {
    pub name: String,
    pub kind: String,
    pub what: String,
    pub place: String,
    pub serves: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct Group {
    pub title: String,
    pub readings: Vec<ReadingRow>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct ReadingRow {
    pub step: String,
    pub what: String,
    pub state: String,
    pub expected: String,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub unit: String,
    pub reading: String,
    pub uncertainty: Option<String>,
    pub probability: Option<f64>,
    pub instrument: Option<String>,
    pub typed: String,
    pub value: Option<f64>,
    pub verdict: String,
    pub verdict_class: String,
    pub says: String,
    pub by: String,
    pub at: String,
    pub rule: Option<String>,
    pub bar: Option<Bar>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct ValueRow {
    pub step: String,
    pub what: String,
    pub expected: String,
    pub reading: String,
    pub verdict: String,
    pub verdict_class: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct NonconformityRow {
    pub step: String,
    pub found: String,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct HistoryRow {
    pub step: String,
    pub found: String,
    pub done: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct Release {
    pub step: String,
    pub by: String,
    pub statement: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(in crate::report) struct Counts {
    pub steps: usize,
    pub closed: usize,
    pub readings: usize,
    pub conforming: usize,
    pub first_time: usize,
}

fn time(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn verdict_words(verdict: Verdict) -> (String, String) {
    let (word, class) = match verdict {
        Verdict::Conforms => ("conforms", "good"),
        Verdict::Recorded => ("recorded", "plain"),
        Verdict::Unexpected => ("explained", "odd"),
        Verdict::Undecided => ("undecided", "odd"),
        Verdict::DoesNotConform => ("does not conform", "bad"),
    };
    (word.to_owned(), class.to_owned())
}

/// What no report of this program says (common practice of the trade, and plain honesty).
const CAUTIONS: [&str; 3] = [
    "It says what was measured against what, on the days that it names. It does not say that the vehicle is free of other \
     faults.",
    "The vehicle maker's instructions, local codes and licensed practice come first; lamps on public roads are a matter of \
     local law.",
    "A signature proves which key signed these bytes. It does not prove who holds the key, or that the readings were really \
     taken.",
];

/// What is advised to whoever drives the vehicle (common practice).
const ADVICE: [&str; 4] = [
    "Joints settle. Check the tightness of grounds and fixings, and the voltage drops, again after about 1,000 km or one month \
     (common practice).",
    "Replace a fuse only by one of the same rating and style. A fuse that blows twice has a cause: find it before the third.",
    "Disconnect the battery before anything is changed on this wiring, and have the change entered in the record.",
    "Stop using a circuit that smells, is hot to the touch, or whose lamp flickers, and have it measured.",
];

impl View {
    /// The view of a walk and the entries that made it.
    pub(super) fn of(walk: &Walk, entries: &[Entry], head: &str, matrix: Matrix) -> View {
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
        let mut sign_offs = entries.iter().filter(|entry| matches!(entry.event, Event::SignedOff { .. }));
        let signed: Vec<Signed> = entries.iter().filter_map(signed).collect();
        let who = signed.last().map_or_else(|| "signer".to_owned(), |s| principal(&s.name));
        let part = (1..signed.len()).fold(Part::FIRST, |part, _| part.next());
        let last = sign_offs.next_back().map(|entry| entry.at);
        let again = last.and_then(|at| at.checked_add((24 * CHECK_AGAIN_DAYS).hours()).ok());
        let view = View {
            title: job.title.clone(),
            work_order: job.work_order.clone(),
            vehicle: job.vehicle.description.clone(),
            identity: job.vehicle.identity.clone(),
            system: format!("{} V", job.vehicle.system.as_volts()),
            verdict: verdict.to_owned(),
            verdict_class: verdict_class.to_owned(),
            in_short: in_short(walk, &counts),
            warnings,
            masked: false,
            begun: entries.first().map(|e| time(e.at)),
            signed,
            later: entries.iter().filter_map(later).collect(),
            check_again: again.map(|at| at.strftime("%Y-%m-%d").to_string()),
            open_steps: open_steps(walk),
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
            from_paper: from_paper(entries),
            releases: releases(walk),
            witnesses: witnesses(walk),
            not_needed: not_needed(walk),
            instruments: instruments(job, entries),
            acceptance: acceptance(job),
            pictures: pictures(walk),
            remarks: remarks(walk),
            hazards: hazards(walk),
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
            advice: ADVICE.map(str::to_owned).to_vec(),
            matrix,
            assumptions: assumptions(job),
            counts,
            head: head.to_owned(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            verify: stock_commands(part, &who).to_vec(),
        };
        view.each_text(&plain::visible)
    }

    /// The length of a wire as it was built, where it was written down.
    pub(super) fn built(&self, wire: &str) -> Option<String> {
        let row = self.wires.iter().find(|row| row.name == wire)?;
        (!row.built.is_empty()).then(|| row.built.clone())
    }

    /// Adds something that must stand on top of the report.
    pub(super) fn warn(&mut self, text: &str) {
        self.warnings.push(plain::visible(text));
    }

    /// Leaves out what tells which vehicle it is and whose: its identity, the order, who came for the owner. Where these
    /// words stand in other texts they are left out there too. The record, whose last line the report names, keeps them.
    #[must_use]
    pub(super) fn masked(mut self) -> View {
        let mut words: Vec<String> = self.identity.iter().chain(&self.work_order).cloned().collect();
        for witness in &mut self.witnesses {
            if let Some((name, _)) = witness.what.split_once(" came for the ") {
                words.push(name.to_owned());
            }
        }
        words.retain(|word| plain::is_telling(word));
        // A word that holds another one goes first.
        words.sort_by_key(|word| std::cmp::Reverse(word.len()));
        self.identity = self.identity.map(|_| plain::MASKED.to_owned());
        self.work_order = None;
        let head = self.head.clone();
        let mut view =
            self.each_text(&|text| words.iter().fold(text.to_owned(), |text, word| plain::without(&text, word)));
        view.head = head;
        view.masked = true;
        view
    }

    /// The view with every text of it changed.
    fn each_text(self, change: &dyn Fn(&str) -> String) -> View {
        fn visit(value: &mut serde_json::Value, change: &dyn Fn(&str) -> String) {
            match value {
                serde_json::Value::String(text) => *text = change(text),
                serde_json::Value::Array(items) => items.iter_mut().for_each(|item| visit(item, change)),
                serde_json::Value::Object(members) => members.values_mut().for_each(|member| visit(member, change)),
                _ => {}
            }
        }
        // Through its own JSON: no text that is added later can be forgotten here.
        let changed = serde_json::to_value(&self).ok().and_then(|mut value| {
            visit(&mut value, change);
            serde_json::from_value(value).ok()
        });
        changed.unwrap_or(self)
    }
}

/// A sign-off, as the report shows it.
fn signed(entry: &Entry) -> Option<Signed> {
    let Event::SignedOff { name, role, statement, key } = &entry.event else { return None };
    Some(Signed {
        name: name.clone(),
        role: role.clone(),
        statement: statement.clone(),
        at: time(entry.at),
        fingerprint: crate::record::fingerprint_of(key).unwrap_or_default(),
    })
}

/// Work that went on after a sign-off, as the report shows it.
fn later(entry: &Entry) -> Option<Later> {
    let Event::Reopened { name, role, steps, reason } = &entry.event else { return None };
    let steps: Vec<String> = steps.iter().map(ToString::to_string).collect();
    let by = format!("{name}, {role}");
    Some(Later { at: time(entry.at), by, reason: reason.clone(), steps: steps.join(", ") })
}

/// Values that were on paper first: a sentence for each person, day and hand that entered them.
fn from_paper(entries: &[Entry]) -> Vec<String> {
    let mut told: Vec<(String, String)> = Vec::new();
    for entry in entries {
        let Event::FromPaper(paper) = &entry.event else { continue };
        let who = format!(
            "Values were written on paper first (sheets {}): taken by {}, {}, on {} as written there, and entered later by {}",
            paper.code, paper.taken_by, paper.role, paper.day, paper.entered_by
        );
        let day = entry.at.strftime("%Y-%m-%d").to_string();
        if !told.iter().any(|earlier| *earlier == (who.clone(), day.clone())) {
            told.push((who, day));
        }
    }
    let sentence =
        |(who, day): (String, String)| format!("{who} on {day}; the times of these entries are those of entering.");
    told.into_iter().map(sentence).collect()
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
