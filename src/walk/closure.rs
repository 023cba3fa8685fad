//! Readings that were taken in one state must add up around a loop (Kirchhoff): battery = feed drop + load + ground
//! drop. The sum finds a misplaced probe or a copied reading that each limit alone lets pass.

use super::state::Walk;
use crate::plan::{Ask, Measurement, Probes, Step};
use crate::quantity::{Dimension, Voltage};

/// By how much a loop of readings may miss (master's job plan, E4).
const MISS: Voltage = Voltage::volts(0.10);

/// One reading as an edge from its red to its black probe.
struct Edge<'w> {
    red: &'w str,
    black: &'w str,
    volts: f64,
    key: &'w str,
}

/// What is wrong with a reading that closes a loop with earlier ones of its phase and state, in words.
pub(super) fn gap(walk: &Walk, step: &Step, measurement: &Measurement, volts: Voltage) -> Option<String> {
    let (miss, keys) = rest(walk, step, measurement, volts)?;
    if miss.abs() <= MISS {
        return None;
    }
    Some(format!(
        "{volts} does not close the loop with {}: {} are left over, and at most {MISS} may be; one of these readings \
         is not what the circuit had, so take them again in one go",
        keys.join(", "),
        miss.abs()
    ))
}

/// What is left over where a reading closes a loop with earlier ones of its phase and state, and which ones these are.
pub(super) fn rest(
    walk: &Walk,
    step: &Step,
    measurement: &Measurement,
    volts: Voltage,
) -> Option<(Voltage, Vec<String>)> {
    let Probes::Between(red, black) = &measurement.probes else { return None };
    if measurement.dimension != Dimension::Voltage {
        return None;
    }
    let edges: Vec<Edge> = walk
        .plan()
        .steps
        .iter()
        .filter(|other| other.phase == step.phase && other.key != step.key)
        .filter_map(|other| edge(walk, other, measurement))
        .collect();
    let (sum, keys) = way(&edges, red.name(), black.name(), &mut vec![false; edges.len()])?;
    Some((Voltage::volts(volts.as_volts() - sum), keys))
}

fn edge<'w>(walk: &'w Walk, step: &'w Step, like: &Measurement) -> Option<Edge<'w>> {
    let Ask::Measure(measurement) = &step.ask else { return None };
    if measurement.state != like.state || measurement.dimension != Dimension::Voltage {
        return None;
    }
    let Probes::Between(red, black) = &measurement.probes else { return None };
    let volts = walk.latest(&step.key)?.reading.as_ref()?.value?;
    Some(Edge { red: red.name(), black: black.name(), volts, key: step.key.as_str() })
}

/// The sum of readings along a way from one terminal to another, and which readings it uses.
fn way(edges: &[Edge], from: &str, to: &str, used: &mut Vec<bool>) -> Option<(f64, Vec<String>)> {
    if from == to {
        return Some((0.0, Vec::new()));
    }
    for index in 0..edges.len() {
        let edge = &edges[index];
        let step = if edge.red == from {
            Some((edge.black, edge.volts))
        } else if edge.black == from {
            Some((edge.red, -edge.volts))
        } else {
            None
        };
        let Some((next, volts)) = step.filter(|_| !used[index]) else { continue };
        used[index] = true;
        if let Some((rest, mut keys)) = way(edges, next, to, used) {
            keys.insert(0, edge.key.rsplit('/').next().unwrap_or(edge.key).to_owned());
            return Some((volts + rest, keys));
        }
        used[index] = false;
    }
    None
}
