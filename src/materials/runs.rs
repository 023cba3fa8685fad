//! Wires that lie together on their way, and what holds and covers them.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Known;
use super::ends::Side;
use super::part::{Part, wet_by};
use crate::handbook::conductor::usual_outer;
use crate::handbook::hardware::{bend_radius, bundle_diameter, clamp_size, conduit_bore, support_spacing};
use crate::handbook::materials::{Place, count, exposure, says};
use crate::job::{Job, Wire};
use crate::quantity::Length;

/// A run: wires and cables of one zone that are about equally long, and share a part, the place of a part, or the number
/// of wires that lie side by side by the job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// The zone, as the job says; empty where it says none.
    pub zone: String,
    /// Its wires and cables.
    pub members: Vec<String>,
    /// Length of the longest, by the job.
    #[serde(rename = "length_m")]
    pub length: Length,
    /// Diameter of the bundle; `None` where the outside diameter of a member is not known.
    #[serde(rename = "diameter_m")]
    pub diameter: Option<Known<Length>>,
    /// Bore of its clamps.
    #[serde(rename = "clamp_m")]
    pub clamp: Option<Known<Length>>,
    /// Largest distance between two clamps.
    #[serde(rename = "spacing_m")]
    pub spacing: Known<Length>,
    /// How many clamps: one more than there are distances.
    pub clamps: usize,
    /// Least inside radius of a bend.
    #[serde(rename = "bend_m")]
    pub bend: Option<Known<Length>>,
    /// Bore of a tube over it.
    #[serde(rename = "tube_bore_m")]
    pub tube_bore: Option<Known<Length>>,
    /// Whether the job says that it lies in a tube.
    pub in_tube: bool,
    /// Why a grommet is needed, where the job tells of a wall on the way.
    pub grommet: Option<String>,
    /// What to measure, and what the job says beside.
    pub notes: Vec<String>,
    /// Where outside diameters come from that the job does not state.
    pub outer_source: Option<String>,
}

/// A wire, or a cable with its cores.
struct Member<'j> {
    name: &'j str,
    zone: &'j str,
    length: Length,
    outer: Option<(Length, Option<String>)>,
    shared: Vec<String>,
    wires: Vec<&'j Wire>,
}

pub(super) fn runs(job: &Job) -> Vec<Run> {
    let mut groups: Vec<Vec<Member<'_>>> = Vec::new();
    let mut members = members(job);
    // The longest first, so that a run is named by its longest wire and the same job gives the same runs.
    members.sort_by(|a, b| b.length.as_metres().total_cmp(&a.length.as_metres()).then_with(|| a.name.cmp(b.name)));
    for member in members {
        match groups.iter_mut().find(|group| lies_with(&member, group)) {
            Some(group) => group.push(member),
            None => groups.push(vec![member]),
        }
    }
    let mut runs: Vec<Run> = groups.iter().map(|group| run(job, group)).collect();
    runs.sort_by(|a, b| a.zone.cmp(&b.zone));
    runs
}

fn members(job: &Job) -> Vec<Member<'_>> {
    let single = job.wires.iter().filter(|w| w.cable.is_none()).map(|wire| Member {
        name: &wire.name,
        zone: wire.zone.as_deref().unwrap_or_default(),
        length: wire.length.nominal,
        outer: outer_of(wire),
        shared: shared(job, &[wire]),
        wires: vec![wire],
    });
    let cables = job.cables.iter().map(|cable| {
        let wires: Vec<&Wire> = cable.cores.iter().filter_map(|name| job.wire(name)).collect();
        Member {
            name: &cable.name,
            zone: cable.zone.as_deref().unwrap_or_default(),
            length: cable.length.nominal,
            outer: cable.outer.map(|outer| (outer, None)),
            shared: shared(job, &wires),
            wires,
        }
    });
    single.chain(cables).collect()
}

/// The outside diameter that the job states, else the greatest of thin-wall cable with its source.
pub(super) fn outer_of(wire: &Wire) -> Option<(Length, Option<String>)> {
    wire.outer.map(|outer| (outer, None)).or_else(|| {
        let usual = usual_outer(wire.size)?;
        let source = usual.citation();
        Some((usual.value, Some(source)))
    })
}

/// What puts a wire beside another: its parts, the places of its parts up to the first comma, how many lie side by side.
fn shared(job: &Job, wires: &[&Wire]) -> Vec<String> {
    let mut all = Vec::new();
    for wire in wires {
        for terminal in [&wire.from, &wire.to] {
            all.push(format!("part {}", terminal.part()));
            let place = Part::of(job, terminal).place().and_then(|place| place.split(',').next());
            all.extend(place.map(|place| format!("place {}", place.trim().to_lowercase())));
        }
        all.extend(wire.bundle.filter(|count| *count > 1).map(|count| format!("bundle of {count}")));
    }
    all
}

/// Whether a wire lies in a run: by its first member, whose zone and about whose length it has, and anything in common.
fn lies_with(member: &Member<'_>, group: &[Member<'_>]) -> bool {
    let Some(longest) = group.first() else { return false };
    let alike = count("alike").value;
    let share = |other: &Member<'_>| other.shared.iter().any(|thing| member.shared.contains(thing));
    member.zone == longest.zone && member.length >= longest.length * (1.0 - alike) && group.iter().any(share)
}

fn run(job: &Job, group: &[Member<'_>]) -> Run {
    let zone = group[0].zone;
    let length = group[0].length;
    let mut notes = Vec::new();
    let outers: Option<Vec<Length>> = group.iter().map(|m| m.outer.as_ref().map(|(outer, _)| *outer)).collect();
    let mut assumed: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for member in group {
        match &member.outer {
            Some((_, Some(source))) => assumed.entry(source).or_default().push(member.name),
            Some(_) => {}
            None => notes.push(format!("{}: measure its outside diameter, the job does not state it", member.name)),
        }
    }
    for names in assumed.values() {
        notes.push(format!("outside diameter of {} taken from a table: measure it", names.join(", ")));
    }
    let outer_source = assumed.keys().next().map(|source| (*source).to_owned());
    let count_of_wires: usize = group.iter().map(|m| m.wires.len()).sum();
    let stated = group.iter().flat_map(|m| &m.wires).filter_map(|w| w.bundle).max();
    if let Some(stated) = stated.filter(|stated| *stated > count_of_wires) {
        notes.push(format!(
            "the job says that {stated} conductors lie side by side: size clamps and tube for all of them"
        ));
    }
    let spacing = support_spacing(Some(zone));
    let diameter = outers.map(|outers| bundle_diameter(&outers));
    let value = diameter.as_ref().map(|d| d.value);
    let single_wires = || group.iter().flat_map(|m| &m.wires).filter(|w| w.cable.is_none());
    Run {
        zone: zone.to_owned(),
        members: group.iter().map(|m| m.name.to_owned()).collect(),
        length,
        clamps: clamps(length, spacing.value),
        spacing: spacing.into(),
        clamp: value.map(|d| clamp_size(d).into()),
        bend: value.map(|d| bend_radius(d).into()),
        tube_bore: value.map(|d| conduit_bore(d).into()),
        diameter: diameter.map(Known::from),
        in_tube: says(zone, Place::Tube).is_some() || single_wires().any(|w| w.sheathed),
        grommet: grommet(job, group),
        notes,
        outer_source,
    }
}

/// How many clamps hold a length: as many as there are distances, and one more.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a count of distances; `as` stops at its end"
)]
fn clamps(length: Length, spacing: Length) -> usize {
    let distances = (length / spacing - 1e-6).ceil().max(1.0) as usize;
    distances.saturating_add(1)
}

/// Where the zone speaks of a wall, or a wire has one end wet and the other dry.
fn grommet(job: &Job, group: &[Member<'_>]) -> Option<String> {
    if let Some(word) = says(group[0].zone, Place::Through) {
        return Some(format!("the zone says \"{word}\""));
    }
    let crosses = |wire: &&&Wire| {
        let (from, to) = (Part::of(job, &wire.from), Part::of(job, &wire.to));
        let wet = |part, side| wet_by(part, side, wire.zone.as_deref()).is_some();
        let dry = |part: Part<'_>| part.place().and_then(exposure).is_some_and(|(place, _)| place == Place::Dry);
        (wet(from, Side::From) && dry(to)) || (wet(to, Side::To) && dry(from))
    };
    let wire = group.iter().flat_map(|m| &m.wires).find(crosses)?;
    Some(format!("{} leads from a wet place to a dry one", wire.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_needs_one_clamp_more_than_it_has_distances() {
        let spacing = Length::metres(0.3);
        for (length, expected) in [(0.15, 2), (0.3, 2), (0.31, 3), (0.9, 4), (4.2, 15), (0.001, 2)] {
            assert_eq!(clamps(Length::metres(length), spacing), expected, "{length}");
        }
    }
}
