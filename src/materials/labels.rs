//! The text on the sleeve at each end of each wire.

use serde::Serialize;

use super::ends::{End, Side};
use super::runs::outer_of;
use crate::handbook::Cited;
use crate::handbook::materials::count;
use crate::job::Job;
use crate::quantity::{ConductorSize, Length};

/// A label.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Label {
    /// The wire.
    pub wire: String,
    /// Which end.
    pub side: Side,
    /// Where this end goes.
    pub at: String,
    /// Where the other end goes.
    pub toward: String,
    /// Size of the conductor.
    #[serde(serialize_with = "super::as_text")]
    pub size: ConductorSize,
    /// Colour.
    pub colour: String,
    /// What is printed: wire, this end > other end, size, colour; what does not fit is left out from behind.
    pub text: String,
    /// Outside diameter of the wire, where it is known: the sleeve goes over it.
    #[serde(rename = "over_m")]
    pub over: Option<Length>,
}

/// The most letters that a label has.
pub fn most_letters() -> Cited<f64> {
    count("label-letters")
}

pub(super) fn labels(job: &Job, ends: &[End]) -> Vec<Label> {
    let most = most_letters().value;
    ends.iter()
        .map(|end| Label {
            wire: end.wire.clone(),
            side: end.side,
            at: end.at.clone(),
            toward: end.toward.clone(),
            size: end.size,
            colour: end.colour.clone().unwrap_or_default(),
            text: text(job, end, most),
            over: job.wire(&end.wire).and_then(outer_of).map(|(outer, _)| outer),
        })
        .collect()
}

/// The name of a terminal as it is found in the vehicle: `X1.A`, whichever half of the connector.
fn short<'t>(job: &Job, terminal: &'t str) -> &'t str {
    let part = terminal.split('.').next().unwrap_or(terminal);
    if !job.connectors.iter().any(|connector| connector.name == part) {
        return terminal;
    }
    terminal.strip_suffix(".in").or_else(|| terminal.strip_suffix(".out")).unwrap_or(terminal)
}

/// As much as fits: all; without colour; without size; the wire and this end; the wire cut off.
fn text(job: &Job, end: &End, most: f64) -> String {
    let fits = |text: &String| text.chars().count() as f64 <= most;
    let (at, toward) = (short(job, &end.at), short(job, &end.toward));
    let way = format!("{} {at} > {toward}", end.wire);
    let size = end.size.to_string().replace(' ', "");
    let full = match &end.colour {
        Some(colour) => format!("{way} {size} {colour}"),
        None => format!("{way} {size}"),
    };
    let choices = [full, format!("{way} {size}"), way, format!("{} {at}", end.wire), end.wire.clone()];
    choices.into_iter().find(fits).unwrap_or_else(|| {
        let mut cut = String::new();
        for letter in end.wire.chars() {
            if cut.chars().count() as f64 + 2.0 > most {
                break;
            }
            cut.push(letter);
        }
        cut + "…"
    })
}
