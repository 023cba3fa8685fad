//! The circuit: a job's parts as a network, its solution in any state, and what a meter must read.
//!
//! Nodal analysis of the DC network. Every resistance lies between two nodes; loads are currents that depend on
//! their voltage; the negative post is the reference. Newton's iteration solves it, the relays follow from their
//! coil voltages, and one more solve of the same (symmetric) matrix gives how a reading depends on every value
//! that has a tolerance.

mod altered;
mod bulk;
mod change;
mod dense;
mod dictionary;
mod fault;
mod heat;
mod linear;
mod load_model;
mod meter;
mod network;
mod newton;
mod ports;
mod sampling;
mod sensitivity;
mod solve;
mod state;

pub use altered::{Altered, Point, Shown};
pub use bulk::Bulk;
pub use change::Change;
pub use dense::eliminate;
pub use dictionary::Dictionary;
pub use linear::{Factor, Pattern, Singular};
pub use load_model::bench_current;
pub use meter::{Expectation, MeterError, Step, Variation};
pub use network::Subject;
pub use solve::{NoOperatingPoint, Notice, Solution};
pub use state::{Engine, State};

use crate::job::Job;

/// A job's circuit, ready to be asked.
#[derive(Debug, Clone, Copy)]
pub struct Circuit<'j> {
    job: &'j Job,
    /// What is different from the job.
    changes: &'j [Change],
    /// Whether points that nothing lies between stay points of their own.
    apart: bool,
}

impl<'j> Circuit<'j> {
    /// The circuit of a job.
    pub fn of(job: &'j Job) -> Self {
        Self { job, changes: &[], apart: false }
    }

    /// The same circuit with some things different from the job: a fault. Fuses blow in it.
    #[must_use]
    pub fn with(self, changes: &'j [Change]) -> Self {
        Self { changes, ..self }
    }

    /// The job it belongs to.
    pub fn job(&self) -> &'j Job {
        self.job
    }
}
