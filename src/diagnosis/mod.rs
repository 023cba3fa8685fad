//! Finding a fault: what readings say about which fault is there, and which reading would say most.
//!
//! A fault has a weight (how likely it is before any reading) and, for many, a strength nobody knows: the ohms of a bad
//! joint. What a reading says is averaged over the strength. The next reading is the one that tells most about the fault
//! for its cost.

mod evidence;
mod fault;
mod information;
mod search;
mod sequence;

pub use evidence::{Marginal, Misreading, Predicted, Strengths, likelihood, over_strengths};
pub use fault::{Fault, Kind, faults_of};
pub use information::{entropy, expected_entropy, gain, posterior};
pub use search::{Findings, Next, Ranked, Taken, find};
pub use sequence::{PassOrFail, Sequence, cheapest, one_step_ahead};
