//! Procedures: how an operation of the trade is written down (procedure file, format 1), and the library of them.
//!
//! A procedure knows nothing of a job; its texts are templates that the plan fills in for each thing it applies to.

mod hazard;
mod library;
mod read;
pub mod style;

pub use hazard::{Hazard, Signal};
pub use library::{Library, LibraryError};

use std::ops::Range;

use crate::circuit::Engine;
use crate::document::Source;
use crate::job::{ForEach, Level};
use crate::quantity::Dimension;

/// One operation of the trade.
#[derive(Debug, Clone)]
pub struct Procedure {
    /// Its name: `ground`.
    pub id: String,
    /// What is done, as a template.
    pub title: String,
    /// Why.
    pub why: String,
    /// The things it is walked for.
    pub for_each: ForEach,
    /// From which level of the job on it is walked.
    pub level: Level,
    /// Procedures that come before it.
    pub after: Vec<String>,
    /// What must be true before the start.
    pub conditions: Vec<String>,
    /// Who is needed.
    pub persons: Vec<String>,
    /// Tools and test equipment.
    pub tools: Vec<String>,
    /// What is used up.
    pub supplies: Vec<String>,
    /// What is fitted.
    pub parts: Vec<String>,
    /// What must be true at the end; temporary states that it closes.
    pub close: Vec<String>,
    /// It begins only when no temporary state is open.
    pub only_all_closed: bool,
    /// Hazards shown before its first step.
    pub hazards: Vec<String>,
    /// Its steps in order.
    pub steps: Vec<ProcedureStep>,
    /// The file it was read from.
    pub source: Source,
}

/// The faults that an inspection may reveal, as the search for a fault calls them.
pub const REVEALED: &[&str] = &[
    "open",
    "added-resistance",
    "short-to-body",
    "stray-path",
    "reversed",
    "dead-load",
    "wrong-load",
    "stuck-closed",
    "stuck-open",
    "30-and-86-exchanged",
    "87-and-87a-exchanged",
    "cavities-exchanged",
    "switch-in-return",
    "thin-conductor",
    "wrong-fuse",
    "low-battery",
];

/// One step as written.
#[derive(Debug, Clone)]
pub struct ProcedureStep {
    /// Unique in its procedure.
    pub id: String,
    /// Hazards shown right before it.
    pub hazards: Vec<String>,
    /// From which level of the job on it is done.
    pub level: Level,
    /// The step is left out where this expression is false.
    pub when: Option<String>,
    /// The step is not needed where this does not hold.
    pub only_if: Option<ConditionTemplate>,
    /// The instruction; empty for a step of looking only.
    pub instruction: String,
    /// Why.
    pub why: String,
    /// What good looks like.
    pub look: Vec<String>,
    /// The faults that this inspection surely reveals, see [`REVEALED`].
    pub reveals: Vec<String>,
    /// What a picture must show.
    pub photo: Option<String>,
    /// Who must sign before the walk goes on.
    pub hold: Option<String>,
    /// Who is told beforehand and may watch.
    pub witness: Option<String>,
    /// How often a reading that does not conform is taken again before a decision is asked for.
    pub repeat: Option<RepeatTemplate>,
    /// What the person answers.
    pub ask: AskTemplate,
    /// A rule on the answer.
    pub accept: Option<AcceptTemplate>,
    /// The reading protects people: a nonconformity cannot be recorded instead.
    pub no_concession: bool,
    /// A value outside what is expected may be explained.
    pub explainable: bool,
    /// Why a value is written down without being judged.
    pub no_limit: Option<String>,
    /// A temporary state that the step creates: `battery off`.
    pub opens: Option<String>,
    /// A temporary state that the step ends.
    pub closes: Option<String>,
    /// Where it stands in the file.
    pub place: Range<usize>,
}

/// What a step asks for.
#[derive(Debug, Clone)]
pub enum AskTemplate {
    /// That it is done.
    Do,
    /// Which of several equally good ways was taken.
    Choose(Vec<AlternativeTemplate>),
    /// A reading of the circuit, whose expected value is computed.
    Measure(MeasureTemplate),
    /// That a time has passed: a cure, a sleep, a restraint system's wait.
    Wait {
        /// How long at least.
        at_least: String,
    },
    /// Another value or a text.
    Record {
        /// What is written down.
        what: Recorded,
        /// The value or text that is expected.
        expect: Option<String>,
    },
}

impl AskTemplate {
    /// What is measured, where the answer is a reading.
    pub fn dimension(&self) -> Option<Dimension> {
        match self {
            Self::Measure(measure) => Some(measure.dimension),
            Self::Record { what: Recorded::Value(dimension), .. } => Some(*dimension),
            _ => None,
        }
    }
}

/// What a step of the kind `record` writes down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recorded {
    /// Words.
    Text,
    /// The rating printed on a part.
    Rating,
    /// A measured value.
    Value(Dimension),
}

/// One of several equally good ways.
#[derive(Debug, Clone)]
pub struct AlternativeTemplate {
    /// Unique in its step.
    pub id: String,
    /// The instruction.
    pub instruction: String,
    /// What good looks like.
    pub look: Vec<String>,
}

/// A condition on an earlier answer, as written.
#[derive(Debug, Clone)]
pub struct ConditionTemplate {
    /// The earlier step: its id, or `procedure/step`.
    pub step: String,
    /// What its answer must be.
    pub holds: HoldsTemplate,
    /// Where it stands in the file.
    pub place: Range<usize>,
}

/// What an earlier answer must be, as written.
#[derive(Debug, Clone)]
pub enum HoldsTemplate {
    /// The reading lies below this value.
    Below(String),
    /// The reading lies above this value.
    Above(String),
    /// The text is this one, whatever its letters' case.
    Is(String),
    /// This alternative was chosen.
    Chosen(String),
}

/// Doing again until the reading conforms, as written.
#[derive(Debug, Clone)]
pub struct RepeatTemplate {
    /// The step of this procedure where the work begins again.
    pub from: String,
    /// How often the reading is taken at most.
    pub at_most: usize,
    /// Where it stands in the file.
    pub place: Range<usize>,
}

/// A reading of the circuit as written.
#[derive(Debug, Clone)]
pub struct MeasureTemplate {
    /// Voltage, current or resistance.
    pub dimension: Dimension,
    /// Red and black probe.
    pub between: Option<[String; 2]>,
    /// The wire whose current is read.
    pub wire: Option<String>,
    /// Switches: `all`, `none`, `own` or names.
    pub on: Vec<String>,
    /// Whether the engine runs.
    pub engine: Engine,
    /// Fuses that are out: `all` or names.
    pub pull: Vec<String>,
    /// Connectors that are apart: `all` or names.
    pub unplug: Vec<String>,
    /// Whether the battery is disconnected.
    pub battery_off: bool,
}

/// A rule as written.
#[derive(Debug, Clone)]
pub struct AcceptTemplate {
    /// Least value.
    pub at_least: Option<String>,
    /// Greatest value.
    pub at_most: Option<String>,
    /// Whose rule it is.
    pub because: String,
}
