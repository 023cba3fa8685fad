//! Finding a fault: what readings say about which fault is there, and which reading would say most.
//!
//! A fault has a weight (how likely it is before any reading) and, for many, a strength nobody knows: the ohms of a bad
//! joint. What a reading says is averaged over the strength. The next reading is the one that tells most about the fault
//! for its cost.

mod coverage;
mod evidence;
mod fault;
mod information;
mod likelihood;
mod model;
mod next;
mod predict;
mod search;
mod sequence;
mod weights;

pub use coverage::{Addition, Coverage, Covered, CoveringStep, Noticed, SURELY, coverage};
pub use evidence::{Marginal, Misreading, Predicted, Strengths, over_strengths};
pub use fault::{Fault, Kind, Range, Strength};
pub use information::{entropy, expected_entropy, gain, posterior};
pub use likelihood::{Likelihood, Shared, likelihood};
pub use model::faults_of;
pub use next::Next;
pub use predict::Questions;
pub use search::{Findings, Ranked, Taken, find, rank};
pub use sequence::{PassOrFail, Sequence, cheapest, one_step_ahead};
pub use weights::Weights;
