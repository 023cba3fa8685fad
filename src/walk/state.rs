use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::event::{Disposition, Event, FromPaper, Moment, Refused};
use super::prompt::Prompt;
use crate::circuit::{Expectation, Notice};
use crate::job::Job;
use crate::judgement::{How, Judgement, Verdict, cannot_decide};
use crate::plan::{Ask, Condition, Holds, Plan, Step, StepKey};
use crate::procedure::Hazard;
use crate::quantity::{Amount, Length, Reading, Toleranced, Voltage};

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

    /// Applies an event.
    ///
    /// # Errors
    /// [`Refused`] where it does not fit the state; the state is then unchanged.
    pub fn apply(&mut self, event: &Event) -> Result<(), Refused> {
        let behind_a_sign_off =
            matches!(event, Event::Recovered { .. } | Event::SignedOff { .. } | Event::Reopened { .. });
        if self.signed.is_some() && !behind_a_sign_off {
            return Err(Refused::new("the work is signed off: it goes on only where steps are opened again"));
        }
        match event {
            Event::Opened { .. } | Event::Recovered { .. } | Event::InShop { .. } => Ok(()),
            Event::OnDuty { name, role, .. } => {
                if !spoken(name) || !spoken(role) {
                    return Err(Refused::new("a name and a role are needed: every entry says who made it"));
                }
                self.took_part(name, role);
                self.person = Some((name.clone(), role.clone()));
                self.paper = None;
                Ok(())
            }
            Event::FromPaper(paper) => self.enter_from(paper),
            Event::Remark { step, text } => {
                if self.person.is_none() || text.trim().is_empty() {
                    return Err(Refused::new("a remark has words, and somebody on duty who makes it"));
                }
                let at = self.plan.position(step).ok_or_else(|| unknown(step))?;
                self.progress[at].remarks.push(text.clone());
                Ok(())
            }
            Event::HazardsAcknowledged { step, hazards } => self.acknowledge(step, hazards),
            Event::Done { step } => {
                let at = self.expect(step, StepStatus::Open)?;
                if !matches!(self.plan.steps[at].ask, Ask::Do) {
                    return Err(Refused::new(format!("{step} asks for a reading; it cannot be closed without one")));
                }
                self.close(at);
                Ok(())
            }
            Event::Read { step, reading, low, high, judgement } => {
                let at = self.expect(step, StepStatus::Open)?;
                if !matches!(self.plan.steps[at].ask, Ask::Measure(_) | Ask::Value { .. }) {
                    return Err(Refused::new(format!("{step} asks for no reading")));
                }
                let shown = reading.to_string();
                self.attempt(at, shown, Some(reading.clone()), (*low, *high), judgement);
                self.learn(at);
                Ok(())
            }
            Event::Noted { step, text, judgement } => {
                let at = self.expect(step, StepStatus::Open)?;
                if !matches!(self.plan.steps[at].ask, Ask::Text { .. }) {
                    return Err(Refused::new(format!("{step} asks for no text")));
                }
                self.attempt(at, text.clone(), None, (None, None), judgement);
                Ok(())
            }
            Event::PutOff { step, reason } => self.put_step_off(step, reason),
            Event::TakenBack { step, .. } => self.take_back(step),
            Event::Photographed { step, file, sha256, .. } => {
                let at = self.plan.position(step).ok_or_else(|| unknown(step))?;
                self.progress[at].photos.push(Photo { file: file.clone(), sha256: sha256.clone() });
                Ok(())
            }
            Event::JobDiffers { reason, .. } => match reason.trim().chars().count() {
                0..3 => Err(Refused::new("a reason is needed, in words that another person understands")),
                _ => Ok(()),
            },
            Event::Chosen { step, way } => self.choose(step, way),
            Event::Witnessed { step, came } => self.witness(step, came.as_deref()),
            Event::WaitBegun { step, at: moment } => {
                let at = self.expect(step, StepStatus::Open)?;
                if !matches!(self.plan.steps[at].ask, Ask::Wait { .. }) {
                    return Err(Refused::new(format!("{step} is no wait")));
                }
                self.progress[at].wait_begun = Some(*moment);
                Ok(())
            }
            Event::WaitEnded { step, waited, .. } => {
                let at = self.expect(step, StepStatus::Open)?;
                match &self.plan.steps[at].ask {
                    Ask::Wait { at_least } if waited >= at_least => {
                        self.close(at);
                        Ok(())
                    }
                    Ask::Wait { .. } => Err(Refused::new(format!("{step} must wait longer"))),
                    _ => Err(Refused::new(format!("{step} is no wait"))),
                }
            }
            Event::Disposed { step, disposition } => self.dispose(step, disposition),
            Event::Released { step, by, statement, .. } => {
                let at = self.expect(step, StepStatus::OnHold)?;
                self.check_release(at, by, statement)?;
                self.took_part(by, "released a hold point");
                self.progress[at].released_by = Some((by.clone(), statement.clone()));
                self.progress[at].releases += 1;
                self.progress[at].status = StepStatus::Closed;
                Ok(())
            }
            Event::Reopened { name, role, steps, reason } => self.reopen(name, role, steps, reason),
            Event::SignedOff { name, role, .. } => self.sign_off(name, role),
        }
    }

    fn enter_from(&mut self, paper: &FromPaper) -> Result<(), Refused> {
        if self.person() != Some((paper.taken_by.as_str(), paper.role.as_str())) {
            return Err(Refused::new("values on paper are those of the person on duty"));
        }
        if !spoken(&paper.entered_by) {
            return Err(Refused::new("a name is needed: who enters what stands on the sheets"));
        }
        if !paper.day.chars().any(|c| c.is_ascii_digit()) {
            return Err(Refused::new("the day of the work is needed, as it is written on the sheets"));
        }
        self.took_part(&paper.entered_by, "entered what was written on paper");
        self.paper = Some(paper.clone());
        Ok(())
    }

    fn sign_off(&mut self, name: &str, role: &str) -> Result<(), Refused> {
        if self.standing() == Standing::InProgress {
            return Err(Refused::new("steps are open: the work cannot be signed off yet"));
        }
        self.took_part(name, &format!("signed off as {role}"));
        self.signed = Some((name.to_owned(), role.to_owned()));
        Ok(())
    }

    fn put_step_off(&mut self, step: &StepKey, reason: &str) -> Result<(), Refused> {
        let at = self.expect(step, StepStatus::Open)?;
        let own = &self.plan.steps[at];
        let never = own.no_concession || own.hold.is_some() || own.opens.is_some() || own.closes.is_some();
        if never {
            return Err(Refused::new("what comes after relies on this step: it cannot be put off; pause instead"));
        }
        if self.progress[at].times_put_off > 0 {
            return Err(Refused::new("this step was put off before, and its time is now: do it, or pause"));
        }
        if reason.trim().chars().count() < 3 {
            return Err(Refused::new("say why it is put off: skip REASON"));
        }
        self.progress[at].put_off = Some(reason.trim().to_owned());
        self.progress[at].times_put_off += 1;
        Ok(())
    }

    fn take_back(&mut self, step: &StepKey) -> Result<(), Refused> {
        let Some(before) = self.step_before().map(|s| s.key.clone()) else {
            return Err(Refused::new("no step was closed yet"));
        };
        if before != *step {
            return Err(Refused::new(format!("only the step before can be taken back: {before}")));
        }
        let at = self.plan.position(step).ok_or_else(|| unknown(step))?;
        self.progress[at].reopen();
        self.learn_anew();
        Ok(())
    }

    /// What stale readings taught is forgotten with them.
    pub(super) fn learn_anew(&mut self) {
        self.job = Job::clone(&self.stated);
        for index in 0..self.plan.steps.len() {
            self.learn(index);
        }
    }

    fn choose(&mut self, step: &StepKey, way: &str) -> Result<(), Refused> {
        let at = self.expect(step, StepStatus::Open)?;
        let Ask::Choose { ways } = &self.plan.steps[at].ask else {
            return Err(Refused::new(format!("{step} offers no choice")));
        };
        if !ways.iter().any(|w| w.id == way) {
            return Err(Refused::new(format!("{step} has no way `{way}`")));
        }
        self.progress[at].chosen = Some(way.to_owned());
        self.close(at);
        Ok(())
    }

    fn witness(&mut self, step: &StepKey, came: Option<&str>) -> Result<(), Refused> {
        let at = self.expect(step, StepStatus::Open)?;
        if self.plan.steps[at].witness.is_none() {
            return Err(Refused::new(format!("{step} is no witness point")));
        }
        if let Some(name) = came {
            self.took_part(name, "watched a witness point");
        }
        self.progress[at].witnessed = Some(came.map_or(Witness::Nobody, |name| Witness::Came(name.to_owned())));
        Ok(())
    }

    pub(super) fn took_part(&mut self, name: &str, what: &str) {
        self.people.entry(name.to_owned()).or_default().insert(what.to_owned());
    }

    /// The step must be the one at which the walk stands, in this status.
    fn expect(&self, key: &StepKey, status: StepStatus) -> Result<usize, Refused> {
        let at = self.plan.position(key).ok_or_else(|| unknown(key))?;
        if self.person.is_none() {
            return Err(Refused::new("nobody has taken the work over yet"));
        }
        match self.position() {
            Some(here) if here == at && self.progress[at].status == status => Ok(at),
            Some(here) => Err(Refused::new(format!("the walk stands at {}", self.plan.steps[here].key))),
            None => Err(Refused::new("all steps are closed")),
        }
    }

    fn acknowledge(&mut self, step: &StepKey, ids: &[String]) -> Result<(), Refused> {
        let at = self.expect(step, StepStatus::Open)?;
        let shown: Vec<Hazard> = self.hazards_before(at).into_iter().cloned().collect();
        if shown.iter().any(|h| !ids.contains(&h.id)) {
            return Err(Refused::new("all hazards of the step must be acknowledged"));
        }
        for hazard in shown {
            if !self.acknowledged.iter().any(|h| h.id == hazard.id) {
                self.acknowledged.push(hazard);
            }
        }
        self.progress[at].acknowledged = true;
        Ok(())
    }

    fn close(&mut self, at: usize) {
        self.progress[at].done_by = self.person.as_ref().map(|(name, _)| name.clone());
        let held = self.plan.steps[at].hold.is_some();
        self.progress[at].status = if held { StepStatus::OnHold } else { StepStatus::Closed };
    }

    fn attempt(
        &mut self,
        at: usize,
        shown: String,
        reading: Option<Reading>,
        (low, high): (Option<Amount>, Option<Amount>),
        judgement: &Judgement,
    ) {
        let conforms = matches!(judgement.verdict, Verdict::Conforms | Verdict::Recorded);
        let judgement = judgement.clone();
        // What this meter cannot decide asks for a finer one, and not for the work again.
        let decided = judgement.verdict != Verdict::Undecided;
        let again = if conforms || !decided { None } else { self.begins_again(at) };
        let repeated = again.is_some();
        let attempt = Attempt { shown, reading, low, high, judgement, disposition: None, repeated, stale: false };
        self.progress[at].attempts.push(attempt);
        if conforms {
            self.close(at);
        } else if let Some(from) = again {
            self.progress[from..=at].iter_mut().for_each(Progress::reopen);
        } else {
            self.progress[at].status = StepStatus::Undisposed;
        }
    }

    /// Where the work begins again after a reading that does not conform, where the step itself asks for that and was
    /// not done too often yet.
    fn begins_again(&self, at: usize) -> Option<usize> {
        let repeat = self.plan.steps[at].repeat.as_ref()?;
        let times = self.progress[at].attempts.iter().rev().take_while(|a| a.repeated).count() + 1;
        self.plan.position(&repeat.from).filter(|from| *from <= at && times < repeat.at_most)
    }

    /// A battery voltage or a wire's length that was measured takes the place of the one in the job.
    fn learn(&mut self, at: usize) {
        self.learn_length(at);
        let Ask::Measure(measurement) = &self.plan.steps[at].ask else { return };
        let Some(attempt) = self.progress[at].latest() else { return };
        if !measurement.is_battery_at_rest() || attempt.judgement.verdict != Verdict::Conforms {
            return;
        }
        let (Some(reading), Some(meter)) = (&attempt.reading, attempt.judgement.meter) else { return };
        if let Some(volts) = reading.value {
            self.job.battery.rest_voltage = Toleranced::plus_minus(Voltage::volts(volts), Voltage::volts(meter.base()));
        }
    }

    /// The step `length` of a procedure for wires writes down the real length, good to one step of its last digit.
    fn learn_length(&mut self, at: usize) {
        let Some(name) = self.plan.wire_measured_at(&self.plan.steps[at]) else { return };
        let Some(reading) = self.progress[at].latest().and_then(|attempt| attempt.reading.as_ref()) else { return };
        let Some(metres) = reading.value.filter(|m| *m > 0.0 && self.progress[at].status != StepStatus::Undisposed)
        else {
            return;
        };
        let length =
            Toleranced::plus_minus(Length::metres(metres), Length::metres(reading.resolution.min(metres / 2.0)));
        if let Some(wire) = self.job.wires.iter_mut().find(|w| w.name == name) {
            wire.length = length;
        }
    }

    fn dispose(&mut self, step: &StepKey, disposition: &Disposition) -> Result<(), Refused> {
        let at = self.expect(step, StepStatus::Undisposed)?;
        let Some(attempt) = self.progress[at].attempts.last() else {
            return Err(Refused::new(format!("{step} has no reading yet")));
        };
        self.check_disposition(&self.plan.steps[at], attempt, disposition)?;
        if let Some(last) = self.progress[at].attempts.last_mut() {
            last.disposition = Some(disposition.clone());
        }
        match disposition {
            Disposition::MeasureAgain => self.progress[at].status = StepStatus::Open,
            Disposition::Explained { .. } => {
                self.close(at);
                self.learn_length(at);
            }
            Disposition::Nonconformity { .. } | Disposition::Concession { .. } => {
                self.progress[at].status = StepStatus::Nonconforming;
            }
            Disposition::Rework { from, .. } | Disposition::Repair { from, .. } => {
                let from = self.plan.position(from).ok_or_else(|| unknown(from))?;
                let mut stale: Vec<usize> =
                    (from..=at).filter(|&later| later == at || self.undone(from, later)).collect();
                stale.extend(self.temporary_states_again(from, at));
                for index in stale {
                    self.progress[index].reopen();
                }
                self.learn_anew();
            }
        }
        Ok(())
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
