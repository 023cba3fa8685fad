//! What is different in a circuit from its job: a fault, or a part that is not the one of the job.

use std::collections::BTreeSet;

use super::State;
use crate::job::{Job, Terminal};
use crate::quantity::Resistance;

/// Resistance of a path that is broken: ten times what a meter's own input lets through is nothing any more.
pub(super) const OPEN: Resistance = Resistance::ohms(1e9);

/// Two wires joined where the job has a switch.
pub(super) const JOINED: Resistance = Resistance::ohms(1e-3);

/// One thing that is different from the job.
///
/// Elements are named as in [`super::Solution::current`]: wires, fuses, switches, grounds and loads by their name,
/// `K1 contact`, `K1 coil`, `X1.A`, `chassis`.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Resistance that an element has beside its own.
    InSeries {
        /// The element.
        element: String,
        /// What is added.
        resistance: Resistance,
    },
    /// No path through an element.
    Broken {
        /// The element.
        element: String,
    },
    /// A path between two points that the job does not have.
    Bridge {
        /// One end.
        from: Terminal,
        /// The other end.
        to: Terminal,
        /// Its resistance.
        resistance: Resistance,
    },
    /// The wires of one terminal sit on the other, and the other way round.
    Exchange {
        /// One terminal.
        a: Terminal,
        /// The other.
        b: Terminal,
    },
    /// A resistance that is a multiple of that of the job: of a wire its conductor without the joints.
    Resists {
        /// The element.
        element: String,
        /// How many times as much.
        times: f64,
    },
    /// A load that draws a multiple of its current.
    Draws {
        /// The load.
        load: String,
        /// How many times as much.
        times: f64,
    },
    /// The armature of a relay does not move.
    Armature {
        /// The relay.
        relay: String,
        /// Where it stays: pulled in, or at rest.
        pulled_in: bool,
    },
    /// A switch sits in a wire instead of in its own place, where the wires are joined.
    SwitchMoved {
        /// The switch.
        switch: String,
        /// The wire that it opens and closes.
        wire: String,
    },
    /// Another voltage of the battery.
    RestVoltage {
        /// How many times that of the job.
        times: f64,
        /// How far it may lie from that either way, as a share of that of the job.
        give_or_take: f64,
    },
}

/// The resistance of an element in ohms, with what is different from the job; of a wire its conductor is left to
/// [`conductor_times`].
pub(super) fn changed(job: &Job, changes: &[Change], state: &State, element: &str, ohms: f64) -> f64 {
    let is_wire = || job.wire(element).is_some();
    changes.iter().fold(ohms, |ohms, change| match change {
        Change::InSeries { element: of, resistance } if of == element => ohms + resistance.as_ohms(),
        Change::Broken { element: of } if of == element => OPEN.as_ohms(),
        Change::Resists { element: of, times } if of == element && !is_wire() => ohms * times,
        Change::SwitchMoved { switch, wire } if wire == element => {
            let own = job.switches.iter().find(|s| s.name == *switch).map_or(JOINED, |s| s.resistance.nominal);
            ohms + if state.on.contains(switch) { own } else { OPEN }.as_ohms()
        }
        _ => ohms,
    })
}

/// The multiple of its resistance that the conductor of a wire has.
pub(super) fn conductor_times(changes: &[Change], wire: &str) -> f64 {
    changes.iter().fold(1.0, |all, change| match change {
        Change::Resists { element, times } if element == wire => all * times,
        _ => all,
    })
}

/// The multiple of its current that a load draws.
pub(super) fn draws(changes: &[Change], load: &str) -> f64 {
    changes.iter().fold(1.0, |times, change| match change {
        Change::Draws { load: of, times: more } if of == load => times * more,
        _ => times,
    })
}

/// Where the wires of a terminal sit.
pub(super) fn placed(changes: &[Change], terminal: &Terminal) -> Terminal {
    changes.iter().fold(terminal.clone(), |terminal, change| match change {
        Change::Exchange { a, b } if terminal == *a => b.clone(),
        Change::Exchange { a, b } if terminal == *b => a.clone(),
        _ => terminal,
    })
}

/// The paths that the job does not have, with their ohms.
pub(super) fn bridges(changes: &[Change]) -> impl Iterator<Item = (Terminal, Terminal, f64)> {
    changes.iter().filter_map(|change| match change {
        Change::Bridge { from, to, resistance } => Some((from.clone(), to.clone(), resistance.as_ohms())),
        Change::SwitchMoved { switch, .. } => {
            Some((Terminal::of(switch, "in"), Terminal::of(switch, "out"), JOINED.as_ohms()))
        }
        _ => None,
    })
}

/// Where the armature of a relay stays, if it stays.
pub(super) fn armature(changes: &[Change], name: &str) -> Option<bool> {
    changes.iter().find_map(|change| match change {
        Change::Armature { relay, pulled_in } if relay == name => Some(*pulled_in),
        _ => None,
    })
}

/// The relays that stand pulled in without any current: what an ohmmeter meets.
pub(super) fn held_without_current(job: &Job, changes: &[Change]) -> BTreeSet<String> {
    let held = |name: &&String| armature(changes, name) == Some(true);
    job.relays.iter().map(|relay| &relay.name).filter(held).cloned().collect()
}
