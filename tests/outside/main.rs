//! Checks against what nobody here wrote: published tables, worked examples, a circuit simulator, OpenSSH.
//! Each file names its sources.

#![allow(missing_docs, reason = "tests speak through their names")]

mod agreement;
#[path = "../common/mod.rs"]
mod common;
mod conductors;
mod diagnosis;
mod fault_to_reading;
mod injected_faults;
mod lamps_and_energy;
mod materials;
mod measurement;
mod new_jobs;
mod pdf;
mod pdf_sample;
mod protection;
mod published_dictionary;
mod report;
mod sentences;
mod signatures;
mod simulator;
mod statistics;
mod stock_tools;
mod uncertainty;
mod voltage_drop;
mod workmanship;
