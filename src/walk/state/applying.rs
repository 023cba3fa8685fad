//! What an event does to a walk, where it fits.

use super::super::event::{Disposition, Event, FromPaper, Refused};
use super::{Attempt, Photo, Progress, Standing, StepStatus, Walk, Witness, spoken, unknown};
use crate::job::Job;
use crate::judgement::{Judgement, Verdict};
use crate::plan::{Ask, StepKey};
use crate::procedure::Hazard;
use crate::quantity::{Amount, Length, Reading, Toleranced, Voltage};

impl Walk {
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
    pub(in crate::walk) fn learn_anew(&mut self) {
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

    pub(in crate::walk) fn took_part(&mut self, name: &str, what: &str) {
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
