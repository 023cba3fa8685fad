//! Drawings of a report: the circuit as built, and its plots.

pub mod scene;
