//! Fault current: what flows through a fuse when a wire behind it touches the body, or the other pole.

use std::collections::BTreeSet;

use super::Circuit;
use super::network::{Branch, Found, Law, Purpose, build};
use super::newton;
use super::solve::{NoOperatingPoint, Solution};
use super::state::State;
use crate::job::Terminal;
use crate::quantity::{Current, Resistance};

/// A dead short: metal on metal.
const SHORT: Resistance = Resistance::ohms(1e-6);

impl Circuit<'_> {
    /// Current through an element while two terminals touch, engine off, every load and coil apart from the fault left
    /// out. Relays stand as they stood in `healthy`: the armature falls only after the fuse has to act.
    ///
    /// The battery's internal resistance, fuse, contacts, joints, wires and the way back through the body are in it.
    ///
    /// # Errors
    /// [`NoOperatingPoint`] where the network has no solution, which a passive one always has.
    pub fn fault_current(
        &self,
        (at, back): (&Terminal, &Terminal),
        through: &str,
        state: &State,
        healthy: &Solution,
    ) -> Result<Current, NoOperatingPoint> {
        let energised: BTreeSet<String> = healthy.energised.clone();
        let found = Found { energised, ..Found::default() };
        let mut network = build(*self, state, Purpose::Live, &found);
        network.branches.retain(|branch| !matches!(branch.law, Law::Load { .. }) && !branch.is_coil());
        if let (Some(a), Some(b)) = (network.node(at), network.node(back))
            && a != b
        {
            let law = Law::Resistance { ohms: SHORT.as_ohms(), follows: Vec::new() };
            network.branches.push(Branch { a, b, element: "short".into(), law });
        }
        let volts = self.job().battery.rest_voltage.nominal.as_volts();
        let point = newton::solve(&network, volts)
            .map_err(|_| NoOperatingPoint { says: format!("no fault current can be computed at {at}") })?;
        let faulted =
            Solution { network, point, energised: found.energised, blown: BTreeSet::new(), notices: Vec::new() };
        Ok(faulted.current(through).unwrap_or(Current::amps(0.0)).abs())
    }
}
