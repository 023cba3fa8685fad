//! Clamps, grommets, tubes and bolts.

use super::{Amount, Group, List, tenths, up_to_steps};
use crate::handbook::hardware::grommet_clearance;
use crate::handbook::materials::length;
use crate::materials::bolts::{Bolt, BoltOf};
use crate::materials::runs::Run;

/// When a hole needs none.
fn grommet_rule() -> String {
    let clearance = grommet_clearance();
    format!("none where all wires stay {} clear of the edge ({})", clearance.value.as_rating(), clearance.source)
}

pub(super) fn add(bolts: &[Bolt], runs: &[Run], list: &mut List) {
    for run in runs {
        let name = run.members.join(" + ");
        let clamp = match &run.clamp {
            Some(clamp) => format!("cushioned clamp, bore {}", tenths(clamp.value)),
            None => "cushioned clamp, bore by the measured bundle".to_owned(),
        };
        let size = run.clamp.as_ref().map(|c| format!("{}; ", c.source)).unwrap_or_default();
        let source = format!("{size}spacing: {}", run.spacing.source);
        list.add(Group::Fixing, clamp, Amount::pieces(run.clamps), &name, &source);
        list.add(
            Group::Fixing,
            "screw with locking nut and washer for a clamp",
            Amount::pieces(run.clamps),
            "every clamp",
            "one a clamp; an existing threaded hole takes the place of the nut",
        );
        if run.grommet.is_some() {
            let bore = run.diameter.as_ref().map_or("the measured bundle".to_owned(), |d| tenths(d.value));
            list.add(
                Group::Fixing,
                format!("grommet for a bundle of {bore}"),
                Amount::pieces(1),
                &name,
                &format!("grommet: {}", grommet_rule()),
            );
        }
        if run.in_tube {
            let bore = run.tube_bore.as_ref();
            let item = match bore {
                Some(bore) => format!("tube, bore at least {}", tenths(bore.value)),
                None => "tube, bore by the measured bundle".to_owned(),
            };
            let bought = up_to_steps(run.length, length("buy-step").value);
            let source = bore.map_or_else(String::new, |b| {
                format!("{}; a drain hole at its lowest point (FAA AC 43.13-1B)", b.source)
            });
            let amount = Amount::Metres { need: run.length, spare: bought - run.length };
            list.add(Group::Fixing, item, amount, &name, &source);
        }
    }
    for bolt in bolts {
        let class = bolt.class.as_ref().map(|c| format!(" {c}")).unwrap_or_default();
        // A welded or riveted nut may be there; the job has no word for it.
        let nut = match (bolt.of, bolt.nut) {
            (_, false) => "",
            (BoltOf::Ground, true) => ", nut",
            (BoltOf::Mount, true) => ", nut where none is fixed",
        };
        let washers = match (bolt.of, bolt.nut) {
            (BoltOf::Mount, true) => "2 flat washers, lock washer or locking nut",
            (BoltOf::Mount, false) => "flat washer",
            (BoltOf::Ground, _) => "flat washer, lock washer",
        };
        let item = if bolt.stud {
            format!("for a stud {}{class}: nut, {washers}", bolt.thread)
        } else {
            format!("bolt {}{class}{nut}, {washers}; length: {}", bolt.thread, bolt.length_words)
        };
        let amount = bolt.pieces.map_or(Amount::EachHole, Amount::pieces);
        let source = bolt.length_source.as_deref().unwrap_or("the job; washers and lock: common practice");
        list.add(Group::Bolts, item, amount, &bolt.name, source);
    }
}
