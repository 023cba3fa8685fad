//! Bolts and studs of grounds and mounts.

use serde::Serialize;

use super::ends::stud;
use crate::handbook::hardware::standard_length_from;
use crate::job::{BoltLength, Fastener, Ground, Job, Mount};
use crate::quantity::{Length, Torque};

/// What a bolt holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BoltOf {
    /// The rings of a ground point.
    Ground,
    /// A part on the vehicle.
    Mount,
}

/// A bolt or stud with what goes on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bolt {
    /// The ground or mount.
    pub name: String,
    /// What it holds.
    pub of: BoltOf,
    /// Where, as the job says.
    pub place: Option<String>,
    /// Thread as it is asked for: `M6`.
    pub thread: String,
    /// Strength, where the job states it.
    pub class: Option<String>,
    /// Whether the place says that a stud is there already: a nut is needed, and no bolt.
    pub stud: bool,
    /// Whether a nut is needed: not in a blind hole.
    pub nut: bool,
    /// Least and greatest length that fits; `None` where the stack is not stated.
    #[serde(rename = "lengths_m")]
    pub lengths: Option<[Length; 2]>,
    /// The length in words: what fits, or what is to be measured.
    pub length_words: String,
    /// Where the length comes from.
    pub length_source: Option<String>,
    /// Torque: least, aimed at, greatest.
    #[serde(rename = "torque_newton_metres")]
    pub torque: Option<[Torque; 3]>,
    /// The torque in words.
    pub torque_words: String,
    /// Order of the parts on it, from the surface outwards.
    pub order: Vec<String>,
    /// How many; `None` where the job does not say how many holes there are.
    pub pieces: Option<usize>,
}

pub(super) fn bolts(job: &Job) -> Vec<Bolt> {
    let grounds = job.grounds.iter().map(|ground| of_ground(job, ground));
    grounds.chain(job.mounts.iter().map(of_mount)).collect()
}

fn of_ground(job: &Job, ground: &Ground) -> Bolt {
    let mut rings: Vec<_> =
        job.wires.iter().filter(|w| w.from.name() == ground.name || w.to.name() == ground.name).collect();
    rings.sort_by(|a, b| (b.size.area().as_mm2().total_cmp(&a.size.area().as_mm2())).then_with(|| a.name.cmp(&b.name)));
    // The largest ring lies next to the metal, and nothing between them: current passes by the faces, not by the stud.
    let mut order = vec!["bare, clean metal".to_owned()];
    order.extend(rings.iter().map(|w| format!("ring of {} ({})", w.name, w.size)));
    order.extend(["flat washer", "lock washer", "nut"].map(str::to_owned));
    bolt(&ground.name, BoltOf::Ground, ground.place.as_deref(), &ground.fastener, order)
}

fn of_mount(mount: &Mount) -> Bolt {
    let part = mount.of.clone().unwrap_or_else(|| mount.name.clone());
    let mut order = vec!["head".to_owned(), "flat washer".to_owned(), part, "structure".to_owned()];
    if mount.fastener.thread_depth.is_none() {
        order.extend(["flat washer", "lock washer or locking nut"].map(str::to_owned));
    }
    bolt(&mount.name, BoltOf::Mount, mount.place.as_deref(), &mount.fastener, order)
}

/// The standard length that a blind hole takes: `, such as 16 mm`. With a nut the words name it already.
fn standard_in_blind(fastener: &Fastener) -> Option<String> {
    let BoltLength::Blind(hole) = fastener.needed_length()?.value else { return None };
    let standard = standard_length_from(fastener.thread()?, hole.at_least)?;
    (standard.value <= hole.at_most).then(|| format!(", such as {}", standard.value.as_rating()))
}

fn bolt(name: &str, of: BoltOf, place: Option<&str>, fastener: &Fastener, order: Vec<String>) -> Bolt {
    let written = format!("{} {}", fastener.bolt.as_deref().unwrap_or_default(), place.unwrap_or_default());
    let is_stud = of == BoltOf::Ground && written.to_lowercase().contains("stud");
    let needed = fastener.needed_length();
    let length_words = match (fastener.needed_length_in_words(), fastener.stated_length()) {
        _ if is_stud => "a stud is there".to_owned(),
        (Some(words), _) => words + &standard_in_blind(fastener).unwrap_or_default(),
        (None, Some(stated)) => format!("{} by the job; measure the stack to check it", stated.as_rating()),
        (None, None) => "measure the stack, the job does not state it".to_owned(),
    };
    let torque = fastener.torque();
    let torque_words = match &torque {
        Some((torque, source)) => format!("{torque} ({source})"),
        None => "the job states none: take that of the part's maker".to_owned(),
    };
    Bolt {
        name: name.to_owned(),
        of,
        place: place.map(str::to_owned),
        thread: stud(fastener),
        class: fastener.class.map(|class| class.word().to_owned()),
        stud: is_stud,
        nut: fastener.thread_depth.is_none(),
        lengths: fastener.fitting_lengths().filter(|_| !is_stud).map(|(least, most)| [least, most]),
        length_words,
        length_source: needed.filter(|_| !is_stud).map(|needed| needed.citation()),
        torque: torque.map(|(torque, _)| [torque.low(), torque.nominal, torque.high()]),
        torque_words,
        order,
        pieces: (of == BoltOf::Ground).then_some(1),
    }
}
