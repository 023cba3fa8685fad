//! Wire by the reel, what goes on its ends, and what goes over them.

use std::collections::BTreeSet;

use super::parts::whole;
use super::{Amount, Group, List};
use crate::handbook::materials::{count, length};
use crate::job::Job;
use crate::materials::cuts::Cut;
use crate::materials::ends::{End, Kind, barrel_of_splice, stud};
use crate::materials::runs::outer_of;
use crate::quantity::Length;

pub(super) fn add(job: &Job, cuts: &[Cut], ends: &[End], list: &mut List) {
    wire(cuts, list);
    let mut crimped = BTreeSet::new();
    terminals(job, ends, &mut crimped, list);
    splices(job, &mut crimped, list);
    spares(&crimped, list);
    over_ends(job, ends, list);
}

fn wire(cuts: &[Cut], list: &mut List) {
    let waste = count("wire-waste");
    let source = format!("the cut list; waste: {}", waste.citation());
    for cut in cuts {
        let need = Amount::Metres { need: cut.length, spare: Length::metres(0.0) };
        list.add(Group::Wire, cut.reel(), need, &cut.name, &source);
    }
    list.with_waste(Group::Wire, waste.value);
}

/// One terminal for each end; wires that lie in one barrel have one together.
fn terminals(job: &Job, ends: &[End], crimped: &mut BTreeSet<(Group, String)>, list: &mut List) {
    let mut done = BTreeSet::new();
    for end in ends.iter().filter(|end| end.terminal.kind != Kind::Splice) {
        if !end.terminal.with.is_empty() && !done.insert(&end.at) {
            continue;
        }
        let size = if end.terminal.with.is_empty() {
            format!("for {}", end.size)
        } else {
            format!("for {} wires, {:.2} mm² together", end.terminal.with.len() + 1, end.terminal.barrel.as_mm2())
        };
        let (group, what) = item(job, end);
        let item = format!("{what}, {size}");
        list.add(group, &item, Amount::pieces(1), &end.at, "one a barrel of the list of ends");
        crimped.insert((group, item));
    }
}

/// What is asked for, without the name of the part where parts alike take the same.
fn item(job: &Job, end: &End) -> (Group, String) {
    let part = end.at.split('.').next().unwrap_or_default();
    let connector = job.connectors.iter().find(|c| c.name == part);
    let rating = connector.and_then(|c| c.rating).map(|r| format!(", {}", r.as_rating())).unwrap_or_default();
    let fuse = job.fuses.iter().find(|f| f.name == part).and_then(|f| f.style);
    let holder = fuse.map(|style| format!(" for a {} fuse", style.word())).unwrap_or_default();
    let ground = job.grounds.iter().find(|g| g.name == part);
    match end.terminal.kind {
        Kind::Socket => (Group::Connectors, format!("socket contact{rating}")),
        Kind::Pin => (Group::Connectors, format!("pin contact{rating}")),
        Kind::Ring => match ground {
            Some(ground) => (Group::Terminals, format!("ring for {}", stud(&ground.fastener))),
            None if fuse.is_some() => {
                (Group::Terminals, format!("ring for the stud of the holder{holder} (measure it)"))
            }
            None => (Group::Terminals, end.terminal.words.clone()),
        },
        Kind::Blade => (Group::Terminals, "flat female terminal 6.3 mm".to_owned()),
        Kind::HolderTerminal => (Group::Terminals, format!("female terminal of the holder{holder}")),
        Kind::ByItsSheet | Kind::Splice => {
            (Group::Terminals, "terminal or joint as the sheet of its part asks".to_owned())
        }
    }
}

/// A sample of each kind and size is pulled apart, and some go wrong.
fn spares(crimped: &BTreeSet<(Group, String)>, list: &mut List) {
    let (sample, share) = (count("terminal-samples"), count("terminal-spares"));
    for row in &mut list.0 {
        if !crimped.contains(&(row.group, row.item.clone())) {
            continue;
        }
        if let Amount::Pieces { need, spare } = &mut row.amount {
            *spare = whole(sample.value) + whole(*need as f64 * share.value);
            row.source = format!("{}; {}; {}", row.source, sample.citation(), share.citation());
        }
    }
}

fn splices(job: &Job, crimped: &mut BTreeSet<(Group, String)>, list: &mut List) {
    for splice in &job.splices {
        let item = barrel_of_splice(job, &splice.name);
        let source = format!(
            "the job: {}; a barrel is chosen by the sum of the areas (airframe maker's wiring practice)",
            splice.method
        );
        list.add(Group::Terminals, &item, Amount::pieces(1), &splice.name, &source);
        crimped.insert((Group::Terminals, item));
    }
}

/// Why a sleeve is chosen by the thinnest wire in it.
const SHRINKS: &str = "shrunk freely it is narrower than the thinnest wire in it (from memory)";

fn over_ends(job: &Job, ends: &[End], list: &mut List) {
    let (longer, on) = (length("sleeve-over-joint"), length("sleeve-on-insulation"));
    for splice in &job.splices {
        let wires = job.wires.iter().filter(|w| w.from.name() == splice.name || w.to.name() == splice.name);
        let thinnest =
            wires.filter_map(outer_of).map(|(outer, _)| outer).min_by(|a, b| a.as_metres().total_cmp(&b.as_metres()));
        let shrinks = thinnest.map(|d| format!(", shrinks below {d}")).unwrap_or_default();
        let both = on.value * 2.0;
        let item = format!("adhesive-lined sleeve, as long as the barrel and {}{shrinks}", both.as_rating());
        let source = format!(
            "{}; never less than {} more ({}); {SHRINKS}",
            on.citation(),
            longer.value.as_rating(),
            longer.citation()
        );
        list.add(Group::Sleeves, item, Amount::pieces(1), &splice.name, &source);
    }
    let mut sleeved = BTreeSet::new();
    for end in ends {
        // Wires in one barrel have one sleeve together.
        let own = end.terminal.with.is_empty() || sleeved.insert(&end.at);
        if end.terminal.kind != Kind::Splice && end.sleeve.is_some() && own {
            let outer = job.wire(&end.wire).and_then(outer_of);
            let shrinks = outer.map(|(d, _)| format!(", shrinks below {d}")).unwrap_or_default();
            let item =
                format!("adhesive-lined sleeve, as long as the barrel and {}{shrinks}", longer.value.as_rating());
            list.add(Group::Sleeves, item, Amount::pieces(1), &end.at, &format!("{}; {SHRINKS}", longer.citation()));
        }
        if end.first.iter().any(|what| what.starts_with("boot for the live stud")) {
            let source = "33 CFR 183.445(b): a live stud without protection has a boot, cap or cover";
            list.add(Group::Sleeves, "boot for a live ring", Amount::pieces(1), &end.at, source);
        }
    }
    if ends.is_empty() {
        return;
    }
    list.add(Group::Sleeves, "label sleeve", Amount::pieces(ends.len()), "every wire end", "the list of labels");
}
