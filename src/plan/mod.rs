//! The plan: the procedures written out for one job, step by step, each reading with the state it is taken in.
//!
//! Expectations are computed from the job when they are asked for, not stored, so that a battery voltage measured
//! along the way narrows everything after it.

mod states;
mod template;
mod things;
mod write_out;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::circuit::{Circuit, Expectation, MeterError, State};
use crate::document::Problems;
use crate::job::{ForEach, ItemKind, Job, Terminal};
use crate::procedure::{Hazard, Library};
use crate::quantity::{Amount, Dimension, Duration};

/// The full name of a step: `ground/G1/bond`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StepKey(String);

impl StepKey {
    /// From its three parts.
    pub fn new(procedure: &str, item: &str, step: &str) -> Self {
        Self(format!("{procedure}/{item}/{step}"))
    }

    /// From its text; whether such a step exists only the plan knows.
    pub fn from_text(text: &str) -> Self {
        Self(text.trim().to_owned())
    }

    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for StepKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0)
    }
}

/// All steps of a job in the order in which they are walked.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Each procedure for each thing.
    pub phases: Vec<Phase>,
    /// All steps.
    pub steps: Vec<Step>,
}

/// One procedure for one thing.
#[derive(Debug, Clone)]
pub struct Phase {
    /// Id of the procedure.
    pub procedure: String,
    /// What kind of thing it is for.
    pub for_each: ForEach,
    /// The thing.
    pub item: String,
    /// The thing that it is a member of, where the procedure is for the members of something.
    pub group: Option<String>,
    /// What is done.
    pub title: String,
    /// Why.
    pub why: String,
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
    /// What must be true at the end.
    pub close: Vec<String>,
    /// It begins only when no temporary state is open.
    pub only_all_closed: bool,
    /// Hazards shown before the first step.
    pub hazards: Vec<Hazard>,
}

/// One step for one thing.
#[derive(Debug, Clone)]
pub struct Step {
    /// Its full name.
    pub key: StepKey,
    /// Place of its phase in [`Plan::phases`].
    pub phase: usize,
    /// The instruction, one sentence each.
    pub instructions: Vec<String>,
    /// Why.
    pub why: String,
    /// What good looks like.
    pub look: Vec<String>,
    /// The faults that an inspection in this step surely reveals.
    pub reveals: Vec<String>,
    /// Hazards shown right before it.
    pub hazards: Vec<Hazard>,
    /// What a picture must show.
    pub photo: Option<String>,
    /// Who must sign before the walk goes on.
    pub hold: Option<String>,
    /// Who is told beforehand and may watch.
    pub witness: Option<String>,
    /// The step is not needed where this does not hold.
    pub only_if: Option<Condition>,
    /// How often a reading that does not conform is taken again before a decision is asked for.
    pub repeat: Option<Repeat>,
    /// What the person answers.
    pub ask: Ask,
    /// The reading protects people: a nonconformity cannot be recorded instead.
    pub no_concession: bool,
    /// A value outside what is expected may be explained.
    pub explainable: bool,
    /// A temporary state that the step creates.
    pub opens: Option<String>,
    /// A temporary state that the step ends.
    pub closes: Option<String>,
}

/// A condition on the answer to an earlier step.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// The earlier step.
    pub step: StepKey,
    /// What its answer must be.
    pub holds: Holds,
}

/// What an earlier answer must be.
#[derive(Debug, Clone, PartialEq)]
pub enum Holds {
    /// The reading lies below this value.
    Below(Amount),
    /// The reading lies above this value.
    Above(Amount),
    /// The text is this one, whatever its letters' case.
    Is(String),
    /// This alternative was chosen.
    Chosen(String),
}

/// `prepare/job/rest-voltage is below 12.45 V`.
impl std::fmt::Display for Condition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.holds {
            Holds::Below(limit) => write!(f, "{} is below {limit}", self.step),
            Holds::Above(limit) => write!(f, "{} is above {limit}", self.step),
            Holds::Is(text) => write!(f, "{} is `{text}`", self.step),
            Holds::Chosen(way) => write!(f, "{} was done as `{way}`", self.step),
        }
    }
}

/// A reading that does not conform is taken again, beginning with an earlier step, until it does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repeat {
    /// Where the work begins again.
    pub from: StepKey,
    /// How often the reading is taken at most before a decision is asked for.
    pub at_most: usize,
}

/// One of several equally good ways.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alternative {
    /// Its name.
    pub id: String,
    /// The instruction, one sentence each.
    pub instructions: Vec<String>,
    /// What good looks like.
    pub look: Vec<String>,
}

/// What a step asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// That it is done.
    Do,
    /// Which of several equally good ways was taken.
    Choose {
        /// The ways.
        ways: Vec<Alternative>,
    },
    /// A reading of the circuit.
    Measure(Measurement),
    /// Another measured value, with what is expected of it.
    Value {
        /// What is measured.
        dimension: Dimension,
        /// Least expected value.
        low: Option<Amount>,
        /// Greatest expected value.
        high: Option<Amount>,
        /// A rule on it.
        rule: Option<Rule>,
        /// Why it is written down without being judged.
        no_limit: Option<String>,
    },
    /// That a time has passed.
    Wait {
        /// How long at least.
        at_least: Duration,
    },
    /// A text, such as the rating printed on a fuse.
    Text {
        /// The text that must be read.
        expect: Option<String>,
    },
}

/// A limit that somebody sets.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Least value.
    pub at_least: Option<Amount>,
    /// Greatest value.
    pub at_most: Option<Amount>,
    /// Whose rule it is.
    pub because: String,
}

impl Rule {
    /// The limits alone: `at least 12.40 V, at most 12.80 V`.
    pub fn limits(&self) -> String {
        let least = self.at_least.map(|a| format!("at least {a}"));
        let most = self.at_most.map(|a| format!("at most {a}"));
        [least, most].into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}

/// The limits, and whose rule it is.
impl std::fmt::Display for Rule {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} ({})", self.limits(), self.because)
    }
}

/// Where the meter is put.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Probes {
    /// Red and black probe.
    Between(Terminal, Terminal),
    /// Around or in a wire; positive towards its load end.
    Wire(String),
}

/// `pump.+ to pump.-`, `in w1`.
impl std::fmt::Display for Probes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Between(red, black) => write!(f, "{red} to {black}"),
            Self::Wire(wire) => write!(f, "in {wire}"),
        }
    }
}

/// A reading of the circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// Voltage, current or resistance.
    pub dimension: Dimension,
    /// Where the meter is put.
    pub probes: Probes,
    /// The state in which it is taken.
    pub state: State,
    /// A rule on it beside the computed limits.
    pub rule: Option<Rule>,
}

impl Measurement {
    /// Between two points, without a rule.
    pub fn between(dimension: Dimension, red: &Terminal, black: &Terminal, state: &State) -> Self {
        let probes = Probes::Between(red.clone(), black.clone());
        Self { dimension, probes, state: state.clone(), rule: None }
    }

    /// What the meter must show, computed from the job's circuit.
    ///
    /// # Errors
    /// [`MeterError`] where the circuit has no steady state.
    pub fn expect(&self, job: &Job) -> Result<Expectation, MeterError> {
        self.expect_in(Circuit::of(job))
    }

    /// What the meter must show in a circuit that may differ from its job.
    ///
    /// # Errors
    /// As [`Measurement::expect`].
    pub fn expect_in(&self, circuit: Circuit) -> Result<Expectation, MeterError> {
        match (&self.probes, self.dimension) {
            (Probes::Between(a, b), Dimension::Resistance) => circuit.resistance(a, b, &self.state),
            (Probes::Between(a, b), _) => circuit.voltage(a, b, &self.state),
            (Probes::Wire(wire), _) => circuit.current(wire, &self.state_with_meter(circuit.job())),
        }
    }

    /// The state with the instrument in it: an ammeter in line changes what it reads; a clamp does not.
    pub fn state_with_meter(&self, job: &Job) -> State {
        let Probes::Wire(wire) = &self.probes else { return self.state.clone() };
        let instrument = job.instruments.iter().find(|i| i.measures(Dimension::Current));
        let in_line = instrument.and_then(|i| i.burden).map(|burden| (wire.clone(), burden));
        State { in_line, ..self.state.clone() }
    }

    /// Whether this reading is the battery's own voltage with nothing drawn from it by the job.
    pub fn is_battery_at_rest(&self) -> bool {
        let posts = Probes::Between(Terminal::battery_plus(), Terminal::battery_minus());
        self.dimension == Dimension::Voltage
            && self.probes == posts
            && self.state.on == BTreeSet::new()
            && self.state.engine == crate::circuit::Engine::Off
            && !self.state.battery_off
    }
}

/// Why no plan could be made.
#[derive(Debug, Clone)]
pub enum PlanError {
    /// A text of a procedure cannot be filled in for some thing of the job.
    Procedure(Box<Problems>),
    /// The circuit has no steady state in a step.
    Circuit {
        /// The step.
        step: StepKey,
        /// Why.
        error: MeterError,
    },
}

impl std::fmt::Display for PlanError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Procedure(problems) => problems.fmt(f),
            Self::Circuit { step, error } => write!(f, "{step}: {error}"),
        }
    }
}

impl std::error::Error for PlanError {}

impl Plan {
    /// Writes the procedures of a library out for a job.
    ///
    /// # Errors
    /// [`PlanError`] where a text cannot be filled in or the circuit has no steady state.
    pub fn of(job: &Job, library: &Library) -> Result<Plan, PlanError> {
        write_out::write_out(job, library)
    }

    /// What the texts of a procedure may say of a thing: the names behind `thing.`.
    pub fn fields(job: &Job, kind: ItemKind, item: &str) -> Vec<String> {
        template::fields(job, kind, item)
    }

    /// The wire whose real length a step writes down: the step `length` of a procedure for wires.
    pub fn wire_measured_at(&self, step: &Step) -> Option<&str> {
        let phase = &self.phases[step.phase];
        (phase.for_each.kind == ItemKind::Wire && phase.group.is_none() && step.key.as_str().ends_with("/length"))
            .then_some(phase.item.as_str())
    }

    /// The place of a step.
    pub fn position(&self, key: &StepKey) -> Option<usize> {
        self.steps.iter().position(|s| s.key == *key)
    }
}
