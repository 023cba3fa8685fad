//! Drawings of a report: the circuit as built, and its plots.

pub mod axis;
pub mod circuit;
pub mod control;
mod marks;
mod net;
mod overlap;
mod place;
mod plot;
pub mod profile;
pub mod protection;
mod returns;
pub mod scene;
mod sheet;
pub mod svg;
mod symbol;
mod width;
