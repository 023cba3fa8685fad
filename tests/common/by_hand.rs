//! A walk driven event by event, by a few procedures of a test's own.

use rigproof::circuit::Expectation;
use rigproof::document::Source;
use rigproof::job::Job;
use rigproof::judgement::Verdict;
use rigproof::plan::{Plan, PlanError, StepKey};
use rigproof::procedure::Library;
use rigproof::walk::{Answer, Disposition, Event, Prompt, Walk};

use super::small_job;

pub fn procedure(id: &str, for_each: &str, after: &str, steps: &str) -> Source {
    let text = small_job::procedure_file(id, for_each, after, steps);
    Source::new(format!("{id}.toml"), text)
}

/// The plan of a job by these procedures alone.
pub fn plan(job: &Job, procedures: Vec<Source>) -> Result<Plan, PlanError> {
    let mut sources = vec![Source::new("hazards.toml", "format = 1\nhazard = []\n")];
    sources.extend(procedures);
    let library = Library::read(sources).unwrap_or_else(|error| panic!("{error}"));
    Plan::of(job, &library)
}

pub fn job(text: &str) -> Job {
    Job::read(&Source::new("job.toml", text)).unwrap_or_else(|problems| panic!("{problems}"))
}

pub fn walk(text: &str, procedures: Vec<Source>) -> Walk {
    let job = job(text);
    let plan = plan(&job, procedures).unwrap_or_else(|error| panic!("{error}"));
    let mut walk = Walk::new(job, plan);
    give(&mut walk, Answer::Person { name: "Robin Alder".into(), role: "installer".into(), from_file: false });
    walk
}

pub fn give(walk: &mut Walk, answer: Answer) -> Event {
    let event = walk.event_for(&walk.prompt(), answer).unwrap_or_else(|refused| panic!("{refused}"));
    walk.apply(&event).unwrap_or_else(|refused| panic!("{refused}"));
    event
}

pub fn read(walk: &mut Walk, step: &str, text: &str) -> Verdict {
    assert_eq!(walk.current().map(|step| step.key.as_str()), Some(step));
    match give(walk, Answer::Typed(text.to_owned())) {
        Event::Read { judgement, .. } => judgement.verdict,
        other => panic!("{other:?}"),
    }
}

/// The step where the walk stands; nothing after the last.
pub fn here(walk: &Walk) -> &str {
    walk.current().map_or("", |step| step.key.as_str())
}

/// What the circuit must show at the reading that is asked for.
pub fn expectation(walk: &Walk) -> Expectation {
    match walk.prompt() {
        Prompt::Measure { expectation, .. } => *expectation,
        other => panic!("{other:?}"),
    }
}

pub fn rework(walk: &mut Walk, from: &str) {
    let from = StepKey::from_text(from);
    give(walk, Answer::Dispose(Disposition::Rework { from, reason: "it was not as it should be".into() }));
}
