//! From an answer to an event: entries are read and judged here, and what cannot be is refused in words.

use super::event::{Disposition, Event, Refused};
use super::prompt::{Answer, Prompt};
use super::state::{Attempt, Walk, unknown};
use super::suspicion;
use crate::job::Instrument;
use crate::judgement::{How, Judgement, Measured, Verdict, Yardstick, judge_measurement, judge_text, judge_value};
use crate::plan::{Step, StepKey};
use crate::quantity::{Amount, Dimension, Duration, QuantityError, Reading};

impl Walk {
    /// The event that an answer to the prompt stands for; readings are judged here. Whether the event is accepted is
    /// for [`Walk::apply`] to say.
    ///
    /// # Errors
    /// [`Refused`] where the answer does not fit the prompt, with what does.
    pub fn event_for(&self, prompt: &Prompt, answer: Answer) -> Result<Event, Refused> {
        match (prompt, answer) {
            (Prompt::WhoWorks, Answer::Person { name, role, from_file }) => {
                let (name, role) = (name.trim().to_owned(), role.trim().to_owned());
                let spoken = |word: &str| word.chars().any(char::is_alphabetic);
                if !spoken(&name) || !spoken(&role) {
                    return Err(Refused::new("a name and a role are needed: every entry says who made it"));
                }
                Ok(Event::OnDuty { name, role, from_file })
            }
            (Prompt::Hazards { step, hazards }, Answer::Yes) => {
                let hazards = hazards.iter().map(|h| h.id.clone()).collect();
                Ok(Event::HazardsAcknowledged { step: step.key.clone(), hazards })
            }
            (Prompt::Do { step }, Answer::Yes) => Ok(Event::Done { step: step.key.clone() }),
            (Prompt::Choose { step, ways }, Answer::Typed(text)) => {
                let typed = text.trim();
                let by_number = typed.parse::<usize>().ok().and_then(|n| ways.get(n.checked_sub(1)?));
                let way = ways.iter().find(|w| w.id.eq_ignore_ascii_case(typed)).or(by_number).ok_or_else(|| {
                    let ids: Vec<&str> = ways.iter().map(|w| w.id.as_str()).collect();
                    Refused::new(format!("`{typed}` is none of the ways: {}", ids.join(", ")))
                })?;
                Ok(Event::Chosen { step: step.key.clone(), way: way.id.clone() })
            }
            (Prompt::Witness { step, .. }, Answer::Typed(text)) => {
                let name = text.trim();
                let nobody = name.is_empty() || name.eq_ignore_ascii_case("nobody");
                if !nobody && name.chars().filter(|c| c.is_alphabetic()).count() < 2 {
                    return Err(Refused::new("write the name of who came to watch, or `nobody`"));
                }
                Ok(Event::Witnessed { step: step.key.clone(), came: (!nobody).then(|| name.to_owned()) })
            }
            (Prompt::Measure { step, measurement, expectation }, Answer::Typed(text)) => {
                let (text, named) = with_instrument(&text);
                let instrument = self.instrument(named, measurement.dimension)?;
                let how = How::of(self.job.acceptance, step.no_concession);
                let yardstick = Yardstick { instrument: instrument.as_ref(), how };
                let reading = Reading::parse(text, measurement.dimension)?;
                let mut judgement = judge_measurement(&reading, expectation, measurement.rule.as_ref(), yardstick);
                if judgement.verdict == Verdict::Conforms {
                    if let Some(says) = suspicion::doubt(self, step, measurement, &reading) {
                        judgement.verdict = Verdict::Unexpected;
                        judgement.says = says;
                    }
                } else if !judgement.says.contains(';') {
                    // No slip of unit or sign explains it: perhaps a probe stands elsewhere.
                    let off_by = judgement.uncertainty.map_or(0.0, Amount::base);
                    judgement.says += &suspicion::wrong_side(self, measurement, &reading, off_by).unwrap_or_default();
                }
                self.name_a_finer_one(&reading, &mut judgement);
                let (low, high) = (expectation.low, expectation.high);
                Ok(Event::Read { step: step.key.clone(), reading, low, high, judgement })
            }
            (Prompt::Value { step, dimension, unit, low, high, rule, .. }, Answer::Typed(text)) => {
                let (text, named) = with_instrument(&text);
                let instrument = self.instrument(named, *dimension)?;
                let how = How::of(self.job.acceptance, step.no_concession);
                let yardstick = Yardstick { instrument: instrument.as_ref(), how };
                let reading = Reading::parse_in(text, *dimension, unit)?;
                let mut judgement = judge_value(&reading, low.zip(*high), *rule, step.explainable, yardstick);
                self.name_a_finer_one(&reading, &mut judgement);
                Ok(Event::Read { step: step.key.clone(), reading, low: *low, high: *high, judgement })
            }
            (Prompt::Wait { step, begun: None, .. }, Answer::Now(at)) => {
                Ok(Event::WaitBegun { step: step.key.clone(), at })
            }
            (Prompt::Wait { step, at_least, begun: Some(begun) }, Answer::Now(now)) => {
                let waited = now.since(*begun);
                if waited < *at_least {
                    return Err(Refused::new(format!("{} of {at_least} are still to wait", *at_least - waited)));
                }
                Ok(Event::WaitEnded { step: step.key.clone(), waited, stated: false })
            }
            (Prompt::Wait { step, at_least, .. }, Answer::Typed(text)) => {
                let reading = Reading::parse_in(&text, Dimension::Duration, "min")?;
                let waited = Duration::seconds(reading.value.unwrap_or(0.0));
                if waited < *at_least {
                    return Err(Refused::new(format!("{waited} is less than the {at_least} that must pass")));
                }
                Ok(Event::WaitEnded { step: step.key.clone(), waited, stated: true })
            }
            (Prompt::Text { step, expect }, Answer::Typed(text)) => {
                let text = text.trim().to_owned();
                let no_answer = ["y", "yes", "n", "no", "ok", "done", "checked", "x", "-", "?"];
                if text.is_empty() || expect.is_none() && no_answer.contains(&text.to_lowercase().as_str()) {
                    return Err(Refused::new("write what you see, not that you looked; `none` where there is nothing"));
                }
                let judgement = judge_text(&text, *expect);
                Ok(Event::Noted { step: step.key.clone(), text, judgement })
            }
            (Prompt::Dispose { step, .. }, Answer::Dispose(disposition)) => {
                Ok(Event::Disposed { step: step.key.clone(), disposition })
            }
            (Prompt::Hold { step, .. }, Answer::Release { by, statement, signature }) => {
                let (by, statement) = (by.trim().to_owned(), statement.trim().to_owned());
                Ok(Event::Released { step: step.key.clone(), by, statement, signature })
            }
            (prompt, _) => Err(Refused::new(format!("this does not answer the question: {}", wanted(prompt)))),
        }
    }

    /// The instrument that a reading was taken with: the one that is named, else the first that measures such a thing.
    fn instrument(&self, named: Option<&str>, dimension: Dimension) -> Result<Option<Instrument>, Refused> {
        let found = self.job.instrument(named, dimension);
        match named {
            Some(name) if found.is_none() => {
                let fit = self.job.instruments.iter().filter(|i| i.measures(dimension));
                let names: Vec<&str> = fit.map(|i| i.name.as_str()).collect();
                let names = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
                let what = dimension.name();
                Err(Refused::new(format!(
                    "no instrument `{name}` of the job measures a {what}; those that do: {names}"
                )))
            }
            _ => Ok(found),
        }
    }

    /// Names the instrument of the job that reads an undecided value at least twice as finely.
    fn name_a_finer_one(&self, reading: &Reading, judgement: &mut Judgement) {
        let (Verdict::Undecided, Some(value), Some(now)) = (judgement.verdict, reading.amount(), judgement.meter)
        else {
            return;
        };
        let finer = self.job.instruments.iter().filter_map(|i| Some((i, i.least_error_at(value)?)));
        let finest = finer.min_by(|a, b| a.1.base().total_cmp(&b.1.base()));
        if let Some((instrument, error)) = finest.filter(|(_, error)| 2.0 * error.base() <= now.base()) {
            let error = Measured { value, largest_error: error }.expanded_uncertainty();
            let finer = format!("; {} reads it to ± {error}: add @{}", instrument.called(), instrument.name);
            judgement.says.push_str(&finer);
        }
    }

    pub(super) fn check_disposition(
        &self,
        step: &Step,
        attempt: &Attempt,
        disposition: &Disposition,
    ) -> Result<(), Refused> {
        let reason = match disposition {
            Disposition::MeasureAgain => return Ok(()),
            Disposition::Rework { from, reason } | Disposition::Repair { from, reason } => {
                let here = self.plan.position(&step.key);
                if self.plan.position(from).is_none_or(|at| here.is_none_or(|here| at > here)) {
                    return Err(Refused::new(format!("rework begins at a step up to this one; `{from}` is none")));
                }
                reason
            }
            Disposition::Explained { reason } => {
                if attempt.judgement.verdict == Verdict::Undecided {
                    return Err(Refused::new(
                        "a reading that this meter cannot decide is not explained: read it on the lowest range that \
                         holds it, or with a finer meter, and measure again",
                    ));
                }
                if attempt.judgement.verdict == Verdict::DoesNotConform {
                    return Err(Refused::new(
                        "a reading outside its limits cannot be explained away: measure again, rework, or record a nonconformity",
                    ));
                }
                reason
            }
            Disposition::Nonconformity { .. } | Disposition::Concession { .. } if step.no_concession => {
                return Err(Refused::new(
                    "this reading protects people: no nonconformity can stand in its place; mend the cause and measure \
                     again, or stop the work here",
                ));
            }
            Disposition::Concession { by, scope, reason } => {
                if by.chars().filter(|c| c.is_alphabetic()).count() < 2 {
                    return Err(Refused::new("a concession names the person who has the right to give it"));
                }
                if scope.trim().chars().count() < 3 {
                    return Err(Refused::new("a concession says for what use and how long it holds"));
                }
                reason
            }
            Disposition::Nonconformity { reason } => reason,
        };
        if reason.trim().chars().count() < 3 {
            return Err(Refused::new("a reason is needed, in words that another person understands"));
        }
        Ok(())
    }

    /// Whether somebody may release a hold point with a statement.
    ///
    /// # Errors
    /// [`Refused`]: no name, too few words, or the person who did the work without `self-check`.
    pub fn may_release(&self, step: &StepKey, by: &str, statement: &str) -> Result<(), Refused> {
        let at = self.plan.position(step).ok_or_else(|| unknown(step))?;
        self.check_release(at, by.trim(), statement.trim())
    }

    pub(super) fn check_release(&self, at: usize, by: &str, statement: &str) -> Result<(), Refused> {
        if by.is_empty() || statement.is_empty() {
            return Err(Refused::new("a release names who looked and what was seen"));
        }
        if by.chars().filter(|c| c.is_alphabetic()).count() < 2 {
            return Err(Refused::new("a release names the person who looked"));
        }
        if statement.split_whitespace().count() < 3 {
            return Err(Refused::new("say in a few words what was checked and what was seen"));
        }
        let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let on_duty = self.person.iter().map(|(name, _)| name.as_str());
        let own = on_duty.chain(self.workers(at)).any(|name| plain(name) == plain(by));
        if own && !statement.to_lowercase().starts_with("self-check") {
            return Err(Refused::new(
                "a hold point needs another person; who works alone leaves, comes back, checks from the document, \
                 and begins the statement with `self-check`",
            ));
        }
        Ok(())
    }
}

/// A reading and the instrument behind it: `12.4 V @M1`.
fn with_instrument(text: &str) -> (&str, Option<&str>) {
    match text.rsplit_once('@') {
        Some((reading, name)) if !name.trim().is_empty() => (reading.trim(), Some(name.trim())),
        _ => (text, None),
    }
}

impl From<QuantityError> for Refused {
    fn from(error: QuantityError) -> Self {
        Self::new(error.to_string())
    }
}

fn wanted(prompt: &Prompt) -> String {
    match prompt {
        Prompt::WhoWorks => "who works?".to_owned(),
        Prompt::Hazards { step, .. } => format!("{} asks that its hazards be read and acknowledged", step.key),
        Prompt::Do { step } => format!("{} asks to be done", step.key),
        Prompt::Choose { step, .. } => format!("{} asks which way was taken", step.key),
        Prompt::Witness { step, party } => format!("{} asks whether the {party} came to watch", step.key),
        Prompt::Measure { step, measurement, .. } => {
            format!("{} asks for a {}", step.key, measurement.dimension.name())
        }
        Prompt::Value { step, dimension, .. } => format!("{} asks for a {}", step.key, dimension.name()),
        Prompt::Text { step, .. } => format!("{} asks for a text", step.key),
        Prompt::Wait { step, at_least, .. } => format!("{} asks to wait {at_least}", step.key),
        Prompt::Dispose { step, .. } => format!("{} asks what to do about its reading", step.key),
        Prompt::Hold { step, who } => format!("{} is a hold point for a {who}", step.key),
        Prompt::SignOff => "the work asks to be signed off".to_owned(),
        Prompt::Finished => "the work is signed off".to_owned(),
    }
}
