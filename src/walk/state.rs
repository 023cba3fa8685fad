//! A walk: what is known of each step, and what is asked next.

mod applying;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::event::{Disposition, FromPaper, Moment, Refused};
use super::prompt::Prompt;
use crate::circuit::{Expectation, Notice};
use crate::job::Job;
use crate::judgement::{How, Judgement, cannot_decide};
use crate::plan::{Ask, Condition, Holds, Plan, Step, StepKey};
use crate::procedure::Hazard;
use crate::quantity::{Amount, Reading};

/// Where a step stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum StepStatus {
    /// Not done.
    #[default]
    Open,
    /// Read, and the reading asks for a decision.
    Undisposed,
    /// Done, waiting for the signature of a hold point.
    OnHold,
    /// Done, and it conforms.
    Closed,
    /// Left as a nonconformity.
    Nonconforming,
}

/// One reading or text of a step, first or repeated. Nothing is overwritten.
#[derive(Debug, Clone, PartialEq)]
pub struct Attempt {
    /// What was read, as text.
    pub shown: String,
    /// The reading, where it is one.
    pub reading: Option<Reading>,
    /// Least expected value at that moment.
    pub low: Option<Amount>,
    /// Greatest expected value at that moment.
    pub high: Option<Amount>,
    /// How it was judged.
    pub judgement: Judgement,
    /// What was done about it, where it did not conform.
    pub disposition: Option<Disposition>,
    /// Whether the work was done again after it, as the step itself asks for.
    pub repeated: bool,
    /// Whether later rework made it stale.
    pub stale: bool,
}

/// A requirement that is not fulfilled and stays so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Nonconformity {
    /// The step.
    pub step: StepKey,
    /// What was found.
    pub found: String,
    /// Why it stays.
    pub reason: String,
}

/// The job as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Steps are open.
    InProgress,
    /// All steps closed, all readings conform.
    Conforms,
    /// All steps closed, with nonconformities.
    DoesNotConform,
}

/// A picture that was taken into the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    /// Path inside the record, with `/`.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

/// What came of a witness point, once the party was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Witness {
    /// Nobody came; the work went on.
    Nobody,
    /// This person came to watch.
    Came(String),
}

/// How much a step had of everything when the work was opened again after its last sign-off; nothing where it never was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Before {
    /// Readings, and what was done about them.
    pub answers: usize,
    /// Remarks.
    pub remarks: usize,
    /// Pictures.
    pub photos: usize,
    /// Releases of a hold point.
    pub releases: usize,
    /// How often it was opened again.
    pub rounds: usize,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Progress {
    pub(super) status: StepStatus,
    attempts: Vec<Attempt>,
    remarks: Vec<String>,
    released_by: Option<(String, String)>,
    releases: usize,
    acknowledged: bool,
    /// Who closed the step last.
    done_by: Option<String>,
    /// How often the step was opened again.
    rounds: usize,
    wait_begun: Option<Moment>,
    chosen: Option<String>,
    /// Why the step was put off, while it is.
    put_off: Option<String>,
    times_put_off: usize,
    photos: Vec<Photo>,
    witnessed: Option<Witness>,
    before: Before,
}

impl Progress {
    /// Work that was signed off goes on: what is asked from here on is new, and hazards are read again.
    pub(super) fn begin_anew(&mut self) {
        self.acknowledged = false;
        self.times_put_off = 0;
        self.before = Before {
            answers: self.answered(),
            remarks: self.remarks.len(),
            photos: self.photos.len(),
            releases: self.releases,
            // The opening that comes now is no further round.
            rounds: self.rounds + 1,
        };
    }

    /// Readings that were taken, and what was done about them.
    fn answered(&self) -> usize {
        self.attempts.len() + self.attempts.iter().filter(|a| a.disposition.is_some()).count()
    }

    /// The step is open again, with everything that was read before it kept as stale.
    pub(super) fn reopen(&mut self) {
        self.status = StepStatus::Open;
        self.rounds += 1;
        self.released_by = None;
        self.wait_begun = None;
        self.chosen = None;
        self.put_off = None;
        self.witnessed = None;
        for attempt in &mut self.attempts {
            attempt.stale = true;
        }
    }

    fn latest(&self) -> Option<&Attempt> {
        self.attempts.iter().rev().find(|attempt| !attempt.stale)
    }
}

/// A job being walked.
#[derive(Debug, Clone)]
pub struct Walk {
    /// The job as its file states it.
    stated: Arc<Job>,
    /// The job with what has been measured of it.
    pub(super) job: Job,
    pub(super) plan: Arc<Plan>,
    pub(super) progress: Vec<Progress>,
    pub(super) person: Option<(String, String)>,
    /// Where the entries come from since somebody came on duty, if that is paper.
    pub(super) paper: Option<FromPaper>,
    people: BTreeMap<String, BTreeSet<String>>,
    acknowledged: Vec<Hazard>,
    pub(super) signed: Option<(String, String)>,
    /// Why work that was signed off went on, each time.
    pub(super) reopened: Vec<String>,
}

impl Walk {
    /// A walk at its beginning.
    pub fn new(job: Job, plan: Plan) -> Self {
        let progress = vec![Progress::default(); plan.steps.len()];
        Self {
            stated: Arc::new(job.clone()),
            job,
            plan: Arc::new(plan),
            progress,
            person: None,
            paper: None,
            people: BTreeMap::new(),
            acknowledged: Vec::new(),
            signed: None,
            reopened: Vec::new(),
        }
    }

    /// The job, with what has been measured of it so far.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The job as its file states it.
    pub fn stated(&self) -> &Job {
        &self.stated
    }

    /// The plan that is walked.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Who works now: name and role.
    pub fn person(&self) -> Option<(&str, &str)> {
        self.person.as_ref().map(|(name, role)| (name.as_str(), role.as_str()))
    }

    /// The sheets that the entries of now come from; `None` while they are made at the work itself.
    pub fn paper(&self) -> Option<&FromPaper> {
        self.paper.as_ref()
    }

    /// Everybody who worked or signed, with what they did.
    pub fn people(&self) -> &BTreeMap<String, BTreeSet<String>> {
        &self.people
    }

    /// Hazards that were acknowledged, each once.
    pub fn acknowledged(&self) -> &[Hazard] {
        &self.acknowledged
    }

    /// Steps that are closed, out of how many.
    pub fn count(&self) -> (usize, usize) {
        ((0..self.progress.len()).filter(|at| self.settled(*at)).count(), self.progress.len())
    }

    /// Whether nothing is left to do about a step: it is closed, or it is not needed.
    pub(super) fn settled(&self, at: usize) -> bool {
        is_closed(self.progress[at].status) || self.not_needed(at)
    }

    /// Whether an earlier answer decided that a step is not needed.
    fn not_needed(&self, at: usize) -> bool {
        let Some(condition) = &self.plan.steps[at].only_if else { return false };
        // The plan holds no condition on a step that it does not hold, and none on a later one.
        let Some(earlier) = self.plan.position(&condition.step).filter(|earlier| *earlier < at) else { return true };
        self.not_needed(earlier)
            || is_closed(self.progress[earlier].status) && !holds(&condition.holds, &self.progress[earlier])
    }

    /// The condition that makes a step not needed.
    pub fn why_not_needed(&self, key: &StepKey) -> Option<&Condition> {
        let at = self.plan.position(key).filter(|at| self.not_needed(*at))?;
        self.plan.steps[at].only_if.as_ref()
    }

    /// Everybody who did a step of the same operation.
    pub(super) fn workers(&self, at: usize) -> impl Iterator<Item = &str> {
        let phase = self.plan.steps[at].phase;
        let own = self.plan.steps.iter().zip(&self.progress).filter(move |(step, _)| step.phase == phase);
        own.filter_map(|(_, progress)| progress.done_by.as_deref())
    }

    /// Whether nothing is left to do about a step.
    pub fn is_settled(&self, key: &StepKey) -> bool {
        self.plan.position(key).is_some_and(|at| self.settled(at))
    }

    /// The pictures of a step.
    pub fn photos(&self, key: &StepKey) -> &[Photo] {
        self.progress_of(key).map_or(&[], |progress| &progress.photos)
    }

    /// Why a step is put off, while it is.
    pub fn put_off(&self, key: &StepKey) -> Option<&str> {
        self.progress_of(key)?.put_off.as_deref()
    }

    /// How often a step was put off.
    pub fn times_put_off(&self, key: &StepKey) -> usize {
        self.progress_of(key).map_or(0, |progress| progress.times_put_off)
    }

    /// The step that can be taken back: the last one that was closed before the one at which the walk stands.
    pub fn step_before(&self) -> Option<&Step> {
        let here = self.position().unwrap_or(self.progress.len());
        let at = (0..here).rev().find(|at| is_closed(self.progress[*at].status) && !self.not_needed(*at))?;
        Some(&self.plan.steps[at])
    }

    /// How often a step was opened again since the beginning.
    pub fn rounds(&self, key: &StepKey) -> usize {
        self.progress_of(key).map_or(0, |progress| progress.rounds)
    }

    /// How many answers a step has had: readings, and what was done about them.
    pub fn times_answered(&self, key: &StepKey) -> usize {
        self.progress_of(key).map_or(0, Progress::answered)
    }

    /// What a step had when the work was opened again after its last sign-off.
    pub fn before(&self, key: &StepKey) -> Before {
        self.progress_of(key).map_or_else(Before::default, |progress| progress.before)
    }

    /// Which of the equally good ways of a step was taken.
    pub fn chosen(&self, key: &StepKey) -> Option<&str> {
        self.progress_of(key)?.chosen.as_deref()
    }

    /// What came of a witness point, once the party was told.
    pub fn witnessed(&self, key: &StepKey) -> Option<&Witness> {
        self.progress_of(key)?.witnessed.as_ref()
    }

    fn progress_of(&self, key: &StepKey) -> Option<&Progress> {
        self.plan.position(key).map(|at| &self.progress[at])
    }

    /// The readings of a step, first to last.
    pub fn attempts(&self, key: &StepKey) -> &[Attempt] {
        self.progress_of(key).map_or(&[], |progress| &progress.attempts)
    }

    /// The reading of a step that stands: the last one, unless work that was done again made it stale.
    pub fn latest(&self, key: &StepKey) -> Option<&Attempt> {
        self.progress_of(key)?.latest()
    }

    /// Remarks on a step.
    pub fn remarks(&self, key: &StepKey) -> &[String] {
        self.progress_of(key).map_or(&[], |progress| &progress.remarks)
    }

    /// Who released a hold point, and with which statement.
    pub fn release(&self, key: &StepKey) -> Option<(&str, &str)> {
        let (by, statement) = self.progress_of(key)?.released_by.as_ref()?;
        Some((by, statement))
    }

    /// How often a hold point was released; work that was done again asks for it anew.
    pub fn times_released(&self, key: &StepKey) -> usize {
        self.progress_of(key).map_or(0, |progress| progress.releases)
    }

    /// Name and role of who signed off.
    pub fn signed(&self) -> Option<(&str, &str)> {
        self.signed.as_ref().map(|(name, role)| (name.as_str(), role.as_str()))
    }

    /// What stays unfulfilled.
    pub fn nonconformities(&self) -> Vec<Nonconformity> {
        let open = (0..self.progress.len()).filter(|at| self.nonconforming(*at));
        open.map(|at| (&self.plan.steps[at], &self.progress[at]))
            .filter_map(|(step, progress)| {
                let last = progress.attempts.last()?;
                let reason = match &last.disposition {
                    Some(Disposition::Nonconformity { reason }) => reason.clone(),
                    Some(concession @ Disposition::Concession { .. }) => concession.to_string(),
                    _ => return None,
                };
                Some(Nonconformity { step: step.key.clone(), found: last.judgement.says.clone(), reason })
            })
            .collect()
    }

    /// How the job stands as a whole.
    pub fn standing(&self) -> Standing {
        if self.position().is_some() {
            Standing::InProgress
        } else if (0..self.progress.len()).any(|at| self.nonconforming(at)) {
            Standing::DoesNotConform
        } else {
            Standing::Conforms
        }
    }

    fn nonconforming(&self, at: usize) -> bool {
        self.progress[at].status == StepStatus::Nonconforming && !self.not_needed(at)
    }

    /// The step at which the walk stands.
    pub fn current(&self) -> Option<&Step> {
        self.position().map(|at| &self.plan.steps[at])
    }

    fn position(&self) -> Option<usize> {
        let open = |at: &usize| !self.settled(*at);
        let put_off = |at: &usize| self.progress[*at].put_off.is_some();
        let next = (0..self.progress.len()).find(|at| open(at) && !put_off(at));
        let waiting = (0..self.progress.len()).find(|at| open(at) && put_off(at));
        match (next, waiting) {
            // Nothing that was put off is passed at a point where somebody relies on all before it.
            (Some(next), Some(waiting)) if waiting < next && self.relies_on_all_before(next, waiting) => Some(waiting),
            (Some(next), _) => Some(next),
            (None, waiting) => waiting,
        }
    }

    /// Whether a step cannot come before one that was put off: a hold point, the closing of the work, one that makes or
    /// ends a temporary state, one whose condition looks at it.
    fn relies_on_all_before(&self, at: usize, waiting: usize) -> bool {
        let (step, earlier) = (&self.plan.steps[at], &self.plan.steps[waiting]);
        step.hold.is_some()
            || step.opens.is_some()
            || step.closes.is_some()
            || self.plan.phases[step.phase].only_all_closed
            || step.only_if.as_ref().is_some_and(|condition| condition.step == earlier.key)
            || step.repeat.as_ref().is_some_and(|repeat| repeat.from == earlier.key)
    }

    /// What to ask next.
    pub fn prompt(&self) -> Prompt<'_> {
        if self.signed.is_some() {
            return Prompt::Finished;
        }
        if self.person.is_none() {
            return Prompt::WhoWorks;
        }
        let Some(at) = self.position() else { return Prompt::SignOff };
        let (step, progress) = (&self.plan.steps[at], &self.progress[at]);
        match progress.status {
            StepStatus::Undisposed => {
                if let Some(attempt) = progress.attempts.last() {
                    return Prompt::Dispose { step, attempt };
                }
            }
            StepStatus::OnHold => {
                return Prompt::Hold { step, who: step.hold.as_deref().unwrap_or("second person") };
            }
            _ => {}
        }
        let hazards = self.hazards_before(at);
        if !progress.acknowledged && !hazards.is_empty() {
            return Prompt::Hazards { step, hazards };
        }
        if let Some(party) = step.witness.as_deref().filter(|_| progress.witnessed.is_none()) {
            return Prompt::Witness { step, party };
        }
        self.ask(step, progress.wait_begun)
    }

    /// What a step itself asks for, whether its turn has come or not: without hazards, witness and hold.
    pub fn prompt_at<'w>(&'w self, step: &'w Step) -> Prompt<'w> {
        self.ask(step, None)
    }

    fn ask<'w>(&'w self, step: &'w Step, begun: Option<Moment>) -> Prompt<'w> {
        match &step.ask {
            Ask::Do => Prompt::Do { step },
            Ask::Choose { ways } => Prompt::Choose { step, ways },
            Ask::Measure(measurement) => match self.expectation(step) {
                Some(mut expectation) => {
                    let instrument = self.job.instrument(None, measurement.dimension);
                    let coarse = instrument.and_then(|i| {
                        let how = How::of(self.job.acceptance, step.no_concession);
                        cannot_decide(&expectation, measurement.rule.as_ref(), &i, how)
                    });
                    let notice = coarse.map(|says| Notice { subject: "meter".to_owned(), says });
                    expectation.notices.extend(notice);
                    Prompt::Measure { step, measurement, expectation: Box::new(expectation) }
                }
                None => Prompt::Do { step },
            },
            Ask::Value { dimension, low, high, rule, no_limit } => {
                let limit = high.or(rule.as_ref().and_then(|r| r.at_most.or(r.at_least)));
                let (dimension, unit, no_limit) = (*dimension, dimension.asked_in(limit), no_limit.as_deref());
                Prompt::Value { step, dimension, unit, low: *low, high: *high, rule: rule.as_ref(), no_limit }
            }
            Ask::Wait { at_least } => Prompt::Wait { step, at_least: *at_least, begun },
            Ask::Text { expect } => Prompt::Text { step, expect: expect.as_deref() },
        }
    }

    /// What the meter must show at a step, by what is known of the circuit now.
    pub fn expectation(&self, step: &Step) -> Option<Expectation> {
        let Ask::Measure(measurement) = &step.ask else { return None };
        measurement.expect(&self.job).ok().or_else(|| {
            // The plan was made only after every expectation had been computed once, for the job as stated.
            let mut expectation = measurement.expect(&self.stated).ok()?;
            let says = "with the lengths and the battery voltage that were measured the circuit has no steady state; \
                        this is for the job as stated";
            expectation.notices.push(Notice { subject: "circuit".to_owned(), says: says.to_owned() });
            Some(expectation)
        })
    }

    /// Hazards of a step that were not read yet in its procedure: those of the procedure with the first of its steps that
    /// is done, once, and those of the step itself with the first thing it is walked for.
    fn hazards_before(&self, at: usize) -> Vec<&Hazard> {
        let step = &self.plan.steps[at];
        let phase = &self.plan.phases[step.phase];
        let same = |s: &Step| self.plan.phases[s.phase].procedure == phase.procedure;
        let read = self.plan.steps.iter().zip(&self.progress).enumerate();
        let read: Vec<(usize, &Step)> =
            read.filter(|(_, (s, p))| p.acknowledged && same(s)).map(|(n, (s, _))| (n, s)).collect();
        let mut hazards: Vec<&Hazard> = Vec::new();
        if read.is_empty() {
            hazards.extend(&phase.hazards);
        }
        let read_before = |hazard: &Hazard| {
            let earlier = read.iter().filter(|(n, _)| *n < at).flat_map(|(_, s)| &s.hazards);
            let of_procedure = phase.hazards.iter().filter(|_| !read.is_empty());
            earlier.chain(of_procedure).any(|h| h.id == hazard.id)
        };
        for hazard in &step.hazards {
            if !read_before(hazard) && !hazards.iter().any(|h| h.id == hazard.id) {
                hazards.push(hazard);
            }
        }
        hazards.sort_by_key(|h| std::cmp::Reverse(h.signal));
        hazards
    }
}

/// Whether the answer to an earlier step is what a condition asks for.
fn holds(holds: &Holds, earlier: &Progress) -> bool {
    let latest = earlier.latest();
    let reading = latest.and_then(|a| a.reading.as_ref());
    match holds {
        // Over-range lies above everything.
        Holds::Below(limit) => reading.and_then(|r| r.value).is_some_and(|value| value < limit.base()),
        Holds::Above(limit) => reading.is_some_and(|r| r.value.is_none_or(|value| value > limit.base())),
        Holds::Is(text) => latest.is_some_and(|a| a.shown.trim().eq_ignore_ascii_case(text.trim())),
        Holds::Chosen(way) => earlier.chosen.as_ref() == Some(way),
    }
}

/// Whether a word has letters in it.
pub(super) fn spoken(word: &str) -> bool {
    word.chars().any(char::is_alphabetic)
}

pub(super) fn is_closed(status: StepStatus) -> bool {
    matches!(status, StepStatus::Closed | StepStatus::Nonconforming)
}

pub(super) fn unknown(step: &StepKey) -> Refused {
    Refused::new(format!("the plan has no step {step}"))
}
