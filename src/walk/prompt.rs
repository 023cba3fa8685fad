use super::event::{Disposition, Moment, ReleaseSignature};
use super::state::Attempt;
use crate::circuit::Expectation;
use crate::plan::{Alternative, Measurement, Rule, Step};
use crate::procedure::Hazard;
use crate::quantity::{Amount, Dimension, Duration};

/// What the walk asks next.
#[derive(Debug, Clone)]
pub enum Prompt<'w> {
    /// Who does the work.
    WhoWorks,
    /// Hazards to be read before a step.
    Hazards {
        /// The step before which they are shown.
        step: &'w Step,
        /// Gravest first.
        hazards: Vec<&'w Hazard>,
    },
    /// A step to be done.
    Do {
        /// The step.
        step: &'w Step,
    },
    /// One of several equally good ways to be taken.
    Choose {
        /// The step.
        step: &'w Step,
        /// The ways.
        ways: &'w [Alternative],
    },
    /// A witness point: somebody is told beforehand and may watch.
    Witness {
        /// The step.
        step: &'w Step,
        /// Who is told.
        party: &'w str,
    },
    /// A reading to be taken.
    Measure {
        /// The step.
        step: &'w Step,
        /// Where and in which state.
        measurement: &'w Measurement,
        /// What the meter must show.
        expectation: Box<Expectation>,
    },
    /// Another value to be written down.
    Value {
        /// The step.
        step: &'w Step,
        /// What is measured.
        dimension: Dimension,
        /// The unit of a number without one.
        unit: &'static str,
        /// Least expected value.
        low: Option<Amount>,
        /// Greatest expected value.
        high: Option<Amount>,
        /// A rule on it.
        rule: Option<&'w Rule>,
        /// Why it is written down without being judged.
        no_limit: Option<&'w str>,
    },
    /// A time that must pass.
    Wait {
        /// The step.
        step: &'w Step,
        /// How long at least.
        at_least: Duration,
        /// When it was begun, where it was.
        begun: Option<Moment>,
    },
    /// A text to be written down.
    Text {
        /// The step.
        step: &'w Step,
        /// The text that must be there.
        expect: Option<&'w str>,
    },
    /// What to do about the last reading.
    Dispose {
        /// The step.
        step: &'w Step,
        /// The reading.
        attempt: &'w Attempt,
    },
    /// A hold point: somebody else looks and signs.
    Hold {
        /// The step.
        step: &'w Step,
        /// Who is asked for.
        who: &'w str,
    },
    /// All steps are closed: sign off.
    SignOff,
    /// Signed off: nothing more to ask.
    Finished,
}

/// What a person answers to a prompt; the walk turns it into an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Name and role.
    Person {
        /// Name.
        name: String,
        /// Role.
        role: String,
        /// Whether the answers come from a file.
        from_file: bool,
    },
    /// The hazards are read, or the step is done.
    Yes,
    /// What was typed for a reading, a value, a text, a way, who came to watch, or for how long was waited.
    Typed(String),
    /// The time now: begins a wait, or ends it.
    Now(Moment),
    /// What to do about a reading.
    Dispose(Disposition),
    /// A release.
    Release {
        /// By whom.
        by: String,
        /// What is stated.
        statement: String,
        /// That person's signature, where one is given.
        signature: Option<ReleaseSignature>,
    },
}
