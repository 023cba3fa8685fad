//! What a wire ends on, and whether it is wet there.

use super::ends::Side;
use crate::handbook::materials::{Place, exposure};
use crate::job::{Connector, Fuse, Ground, Job, Load, Relay, Splice, Switch, Terminal, Wire};

/// What a terminal belongs to.
#[derive(Debug, Clone, Copy)]
pub(super) enum Part<'j> {
    Battery,
    Chassis,
    Fuse(&'j Fuse),
    Relay(&'j Relay),
    Switch(&'j Switch),
    Connector(&'j Connector),
    Splice(&'j Splice),
    Ground(&'j Ground),
    Load(&'j Load),
}

impl<'j> Part<'j> {
    /// The part of a terminal. What is none of the others is a battery: the reader of the job knows every name.
    pub fn of(job: &'j Job, terminal: &Terminal) -> Part<'j> {
        let name = terminal.part();
        let fuse = || job.fuses.iter().find(|p| p.name == name).map(Part::Fuse);
        let relay = || job.relays.iter().find(|p| p.name == name).map(Part::Relay);
        let switch = || job.switches.iter().find(|p| p.name == name).map(Part::Switch);
        let connector = || job.connectors.iter().find(|p| p.name == name).map(Part::Connector);
        let splice = || job.splices.iter().find(|p| p.name == name).map(Part::Splice);
        let ground = || job.grounds.iter().find(|p| p.name == name).map(Part::Ground);
        let load = || job.loads.iter().find(|p| p.name == name).map(Part::Load);
        let chassis = || (name == "chassis").then_some(Part::Chassis);
        fuse()
            .or_else(relay)
            .or_else(switch)
            .or_else(connector)
            .or_else(splice)
            .or_else(ground)
            .or_else(load)
            .or_else(chassis)
            .unwrap_or(Part::Battery)
    }

    /// Where it sits, as the job says.
    pub fn place(self) -> Option<&'j str> {
        match self {
            Part::Battery | Part::Chassis => None,
            Part::Fuse(p) => p.place.as_deref(),
            Part::Relay(p) => p.place.as_deref(),
            Part::Switch(p) => p.place.as_deref(),
            Part::Connector(p) => p.place.as_deref(),
            Part::Splice(p) => p.place.as_deref(),
            Part::Ground(p) => p.place.as_deref(),
            Part::Load(p) => p.place.as_deref(),
        }
    }
}

/// The word by which the end of a wire is wet: that of the part's place, and where that tells nothing, of the wire's
/// zone. `None` where it is dry, or nothing tells. Of a zone such as `engine bay, then the sill` the first half holds for
/// one end and the last for the other.
pub(super) fn wet_by(part: Part<'_>, side: Side, zone: Option<&str>) -> Option<&'static str> {
    let halves = |zone: &'_ str| match side {
        Side::From => zone.split(" then ").next().and_then(exposure),
        Side::To => zone.rsplit(" then ").next().and_then(exposure),
    };
    let told = part.place().and_then(exposure).or_else(|| zone.and_then(halves))?;
    (told.0 == Place::Wet).then_some(told.1)
}

/// The two ends of a wire: the terminal, its part, and the terminal at the other end.
pub(super) fn both_ends<'j>(job: &'j Job, wire: &'j Wire) -> [(&'j Terminal, Part<'j>, &'j Terminal); 2] {
    [(&wire.from, Part::of(job, &wire.from), &wire.to), (&wire.to, Part::of(job, &wire.to), &wire.from)]
}
