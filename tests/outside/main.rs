//! Checks against what nobody here wrote: published tables, worked examples, a circuit simulator, OpenSSH.
//! Each file names its sources.

#![allow(missing_docs, reason = "tests speak through their names")]

mod conductors;
mod signatures;
mod simulator;
mod voltage_drop;
