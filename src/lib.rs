//! rigproof leads a person through fitting 12/24 V equipment to a vehicle, knows from the circuit what a meter must
//! read at every step, and leaves a signed record.
//!
//! The folders are the way of the data; each may use only what stands above it in this list:
//!
//! - [`quantity`]: volts, ohms, metres, with their tolerances; how people write and read them
//! - [`document`]: a text file with places, the problems found in it, a reader of tables
//! - [`handbook`]: published tables, each with its source
//! - [`statistics`]: charts, run rules, capability and tolerance factors of a reading that repeats
//! - [`job`]: the job file: vehicle, parts, wires
//! - [`shop`]: who may do what, which instruments are calibrated, limits of a shop
//! - [`circuit`]: the network of a job, its solution, the virtual meter
//! - [`design`]: rules on the circuit, and the sizes it needs
//! - [`aim`]: where the beam of a lamp goes, and how bright it is there
//! - [`energy`]: how long the batteries last, what the alternator leaves, what a parked vehicle draws
//! - [`materials`]: what a job takes before the first cut: shopping, cuts, ends, bolts and clamps, labels
//! - [`brief`]: what a layman can say of a load, and the job that follows from it
//! - [`kit`]: a job that is done again and again, and what differs from vehicle to vehicle
//! - [`procedure`]: how operations are written down, and the library of them
//! - [`plan`]: the procedures written out for a job, step by step
//! - [`judgement`]: a reading against its limits
//! - [`diagnosis`]: which fault explains the readings, and which reading would tell most
//! - [`walk`]: the state machine: events in, prompts out
//! - [`record`]: the journal, the seal, the verification
//! - [`ledger`]: an index over many records, which can be made anew from them at any time
//! - [`report`]: the view of a record, as a page and as JSON
//! - [`cli`]: arguments, terminal, files
//!
//! Up to [`walk`] nothing reads a file, a clock, a terminal or a random source.

pub mod aim;
pub mod brief;
pub mod circuit;
pub mod cli;
pub mod design;
pub mod diagnosis;
pub mod document;
pub mod energy;
pub mod handbook;
pub mod job;
pub mod judgement;
pub mod kit;
pub mod ledger;
pub mod materials;
pub mod plan;
pub mod procedure;
pub mod quantity;
pub mod record;
pub mod report;
pub mod shop;
pub mod statistics;
pub mod walk;
