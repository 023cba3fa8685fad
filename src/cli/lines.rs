//! The walk for another front: one JSON object a line, questions on standard output, answers on standard input.
//!
//! Every question has `ask`; every answer is one of the keys of [`Said`]. What is on the disk comes back as `saved`, what
//! was not accepted as `refused`. The end of standard input breaks the walk off; nothing that was saved is lost.

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde_json::{Value, json};

use super::answers::disposition;
use super::failure::Failure;
use super::findings;
use super::signing;
use super::walk::{Front, Reply, SignOff};
use crate::diagnosis::Weights;
use crate::judgement::Verdict;
use crate::plan::{Ask, Probes, Rule, Step};
use crate::quantity::Amount;
use crate::record::SigningKey;
use crate::walk::{Answer, Event, Moment, Prompt, Refused, Standing, Walk};

/// One line of the other side: exactly one of these.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
enum Said {
    /// Who works: name and role.
    Person { name: String, role: String },
    /// The hazards are read, or the step is done.
    Yes(bool),
    /// What was read, written, chosen, or how long was waited.
    Typed(String),
    /// The wait begins now, or ends now.
    Now(bool),
    /// As in a file of answers: `measure again`, `rework STEP: reason`, ...
    Dispose(String),
    /// A release of a hold point; with `key` it is signed.
    Release { by: String, statement: String, key: Option<PathBuf> },
    /// A remark on the step.
    Remark(String),
    /// The step is put off, with the reason.
    Skip(String),
    /// The step before is open again, with the reason.
    Back(String),
    /// A picture for the step.
    Photo(PathBuf),
    /// Somebody else takes the work over.
    Shift { name: String, role: String },
    /// The sign-off; without `key` with this program's own.
    Sign { name: String, role: String, statement: String, key: Option<PathBuf> },
    /// The record stays unsigned for now.
    DoNotSign(bool),
    /// The reason to go on though the job file was changed.
    GoOn(String),
    /// Stop for now.
    Pause(bool),
}

/// Another front, at the other end of standard input and output.
pub(super) struct LinesFront {
    go_on: String,
    named_key: Option<PathBuf>,
    key: Option<PathBuf>,
}

fn send(line: &Value) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{line}")
        .and_then(|()| out.flush())
        .map_err(|error| Failure::message(format!("could not print: {error}")))
}

fn no_passphrase(_: &Path) -> Option<String> {
    None
}

impl LinesFront {
    pub(super) fn new(named_key: Option<PathBuf>, go_on: &str) -> Self {
        Self { go_on: go_on.to_owned(), named_key, key: None }
    }

    /// Puts a question until a line answers it: after each line that was refused the question comes again.
    fn until<T>(
        &self,
        question: &Value,
        mut answer: impl FnMut(Said) -> Result<Result<T, String>, Failure>,
    ) -> Result<T, Failure> {
        loop {
            send(question)?;
            let mut line = String::new();
            while line.trim().is_empty() {
                line.clear();
                if !matches!(std::io::stdin().lock().read_line(&mut line), Ok(1..)) {
                    return Err(Failure::BrokenOff(self.go_on.clone()));
                }
            }
            let refused = match serde_json::from_str(&line) {
                Ok(Said::Pause(true)) => return Err(Failure::BrokenOff(self.go_on.clone())),
                Ok(said) => match answer(said)? {
                    Ok(answer) => return Ok(answer),
                    Err(says) => says,
                },
                Err(error) => format!("this line is not understood: {error}"),
            };
            send(&json!({ "refused": refused }))?;
        }
    }
}

/// A key file that is not encrypted; what is wrong with it in words.
fn key_file(path: &Path) -> Result<Result<SigningKey, String>, Failure> {
    match signing::read(path, no_passphrase) {
        Ok(key) => Ok(Ok(key)),
        Err(Failure::Message(says)) => Ok(Err(says)),
        Err(other) => Err(other),
    }
}

/// What every question about a step says.
fn of_step(ask: &str, walk: &Walk, step: &Step) -> Value {
    let plan = walk.plan();
    let phase = &plan.phases[step.phase];
    json!({
        "ask": ask,
        "step": step.key,
        "place": plan.position(&step.key).map(|at| at + 1),
        "of": plan.steps.len(),
        "phase": phase.title,
        "instructions": step.instructions,
        "why": step.why,
        "look": step.look,
        "photo": step.photo,
    })
}

fn with(mut question: Value, more: Value) -> Value {
    if let (Some(own), Value::Object(more)) = (question.as_object_mut(), more) {
        own.extend(more);
    }
    question
}

/// What is expected and what a rule asks, in the base unit.
fn limits(low: Option<Amount>, high: Option<Amount>, rule: Option<&Rule>) -> Value {
    let base = |amount: Option<Amount>| amount.map(Amount::base);
    json!({
        "low": base(low),
        "high": base(high),
        "at_least": base(rule.and_then(|r| r.at_least)),
        "at_most": base(rule.and_then(|r| r.at_most)),
        "rule": rule.map(ToString::to_string),
    })
}

fn question(walk: &Walk, prompt: &Prompt) -> Value {
    match prompt {
        Prompt::WhoWorks => json!({ "ask": "who-works", "job": walk.job().title }),
        Prompt::Hazards { step, hazards } => with(of_step("hazards", walk, step), json!({ "hazards": hazards })),
        Prompt::Do { step } => of_step("do", walk, step),
        Prompt::Choose { step, ways } => {
            let way =
                |w: &crate::plan::Alternative| json!({ "id": w.id, "instructions": w.instructions, "look": w.look });
            with(of_step("choose", walk, step), json!({ "ways": ways.iter().map(way).collect::<Vec<_>>() }))
        }
        Prompt::Witness { step, party } => with(of_step("witness", walk, step), json!({ "party": party })),
        Prompt::Measure { step, measurement, expectation } => {
            let probes = match &measurement.probes {
                Probes::Between(red, black) => json!({ "red": red.name(), "black": black.name() }),
                Probes::Wire(wire) => json!({ "wire": wire }),
            };
            let notices: Vec<&str> = expectation.notices.iter().map(|n| n.says.as_str()).collect();
            let more = json!({
                "quantity": measurement.dimension.name(),
                "unit": measurement.dimension.unit(),
                "state": measurement.state.describe(walk.job()),
                "open": expectation.is_open(),
                "notices": notices,
            });
            let limits = limits(expectation.low, expectation.high, measurement.rule.as_ref());
            with(with(with(of_step("measure", walk, step), probes), more), limits)
        }
        Prompt::Value { step, dimension, unit, low, high, rule, no_limit } => {
            let base = dimension.unit();
            let more = json!({ "quantity": dimension.name(), "asked_in": unit, "unit": base, "no_limit": no_limit });
            with(with(of_step("value", walk, step), more), limits(*low, *high, *rule))
        }
        Prompt::Wait { step, at_least, begun } => {
            let more = json!({ "seconds": at_least.as_seconds(), "begun": begun.map(|moment| moment.0) });
            with(of_step("wait", walk, step), more)
        }
        Prompt::Text { step, expect } => with(of_step("text", walk, step), json!({ "expect": expect })),
        Prompt::Dispose { step, attempt } => {
            let mut may = vec!["measure again", "rework STEP: reason", "repair STEP: reason"];
            if attempt.judgement.verdict == Verdict::Unexpected {
                may.push("explained: reason");
            }
            if !step.no_concession {
                may.extend(["nonconformity: reason", "concession by NAME for SCOPE: reason"]);
            }
            let mut judged =
                json!({ "says": attempt.judgement.says, "verdict": attempt.judgement.verdict, "may": may });
            if let Ask::Measure(_) = step.ask {
                judged["likely"] = findings::to_json(&walk.likely_faults(&Weights::default()));
            }
            with(of_step("dispose", walk, step), judged)
        }
        Prompt::Hold { step, who } => {
            let states = walk.temporary_states();
            with(of_step("hold", walk, step), json!({ "who": who, "temporary_states": states }))
        }
        Prompt::SignOff | Prompt::Finished => json!({ "ask": "sign-off" }),
    }
}

impl Front for LinesFront {
    fn ask(&mut self, walk: &Walk, prompt: &Prompt) -> Result<Reply, Failure> {
        self.until(&question(walk, prompt), |said| {
            let answer = match said {
                Said::Person { name, role } => Answer::Person { name, role, from_file: false },
                Said::Yes(true) => Answer::Yes,
                Said::Typed(text) => Answer::Typed(text),
                Said::Now(true) => Answer::Now(Moment(jiff::Timestamp::now().as_second())),
                Said::Dispose(text) => match disposition(&text) {
                    Some(disposition) => Answer::Dispose(disposition),
                    None => return Ok(Err(format!("`{text}` says nothing about the reading"))),
                },
                Said::Release { by, statement, key: None } => Answer::Release { by, statement, signature: None },
                Said::Release { by, statement, key: Some(path) } => {
                    return Ok(key_file(&path)?.map(|key| Reply::Release { by, statement, key: Box::new(key) }));
                }
                Said::Remark(text) => return Ok(Ok(Reply::Remark(text))),
                Said::Skip(reason) => return Ok(Ok(Reply::PutOff(reason))),
                Said::Back(reason) => return Ok(Ok(Reply::Back(reason))),
                Said::Photo(path) => return Ok(Ok(Reply::Photo(path))),
                Said::Shift { name, role } => return Ok(Ok(Reply::Shift { name, role })),
                Said::Yes(false)
                | Said::Now(false)
                | Said::Sign { .. }
                | Said::DoNotSign(_)
                | Said::GoOn(_)
                | Said::Pause(_) => return Ok(Err("this does not answer the question".to_owned())),
            };
            Ok(Ok(Reply::Answer(answer)))
        })
    }

    fn refused(&mut self, _: &Walk, refused: &Refused) -> Result<(), Failure> {
        send(&json!({ "refused": refused.says }))
    }

    fn noted(&mut self, text: &str) {
        let _ = send(&json!({ "noted": text }));
    }

    fn job_differs(&mut self, says: &str) -> Result<Option<String>, Failure> {
        self.until(&json!({ "ask": "job-differs", "says": says }), |said| {
            Ok(Ok(match said {
                Said::GoOn(reason) => Some(reason),
                _ => None,
            }))
        })
    }

    fn saved(&mut self, _: &Walk, event: &Event) {
        let _ = send(&json!({ "saved": event }));
    }

    fn sign_off(&mut self, walk: &Walk) -> Result<Option<SignOff>, Failure> {
        let open: Vec<Value> = walk
            .nonconformities()
            .into_iter()
            .map(|n| json!({ "step": n.step, "found": n.found, "reason": n.reason }))
            .collect();
        let signed = self.until(&json!({ "ask": "sign-off", "nonconformities": open }), |said| {
            Ok(match said {
                Said::Sign { name, role, statement, key } => Ok(Some((name, role, statement, key))),
                Said::DoNotSign(true) => Ok(None),
                _ => Err("all steps are closed: sign, or do-not-sign".to_owned()),
            })
        })?;
        let Some((name, role, statement, key)) = signed else { return Ok(None) };
        self.key = key;
        let key = self.own_key(&name)?;
        Ok(Some(SignOff { name, role, statement, key }))
    }

    fn resumed(&mut self, walk: &Walk) -> Result<Option<Answer>, Failure> {
        let Some((name, role)) = walk.person() else { return Ok(None) };
        self.until(&json!({ "ask": "who-goes-on", "name": name, "role": role }), |said| {
            Ok(match said {
                Said::Person { name, role } => Ok(Some(Answer::Person { name, role, from_file: false })),
                Said::Yes(true) => Ok(None),
                _ => Err("`yes` where the same person goes on, else `person`".to_owned()),
            })
        })
    }

    fn key_again(&mut self) -> Result<SigningKey, Failure> {
        self.own_key("signer")
    }

    fn ended(&mut self, walk: &Walk, _: &str) -> Result<(), Failure> {
        let standing = match walk.standing() {
            Standing::Conforms => "conforms",
            Standing::DoesNotConform => "does-not-conform",
            Standing::InProgress => "in-progress",
        };
        send(&json!({ "finished": standing, "signed": walk.signed().is_some() }))
    }
}

impl LinesFront {
    fn own_key(&self, name: &str) -> Result<SigningKey, Failure> {
        if let Some(path) = self.named_key.as_ref().or(self.key.as_ref()) {
            return signing::read(path, no_passphrase);
        }
        let (key, new) = signing::own(name, no_passphrase)?;
        if new {
            send(&json!({ "noted": signing::introduce(&key) }))?;
        }
        Ok(key)
    }
}
