//! The job that comes of a kit and the answers, and the sizes that it needs.

use std::collections::BTreeMap;
use std::ops::Range;

use super::{Filling, Place, place};
use crate::brief::Asking;
use crate::design::{self, Finding, Free, Sizing};
use crate::document::{Problems, Source};
use crate::handbook::conductor::standard_metric_sizes;
use crate::job::{Job, Wire};
use crate::quantity::{Area, ConductorSize};

/// A conductor that is thicker than the kit has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Raised {
    /// Wire or cable: `w3`.
    pub name: String,
    /// As the kit has it.
    pub kit: ConductorSize,
    /// What is put in its place.
    pub now: ConductorSize,
    /// What asks for it.
    pub because: String,
    /// The value of the job file.
    path: String,
}

/// A job that comes of a kit.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The whole job file.
    pub text: String,
    /// The job.
    pub job: Job,
    /// What was put in, by the path of the value.
    pub filled: Vec<(String, String)>,
    /// Conductors that these lengths ask to be thicker.
    pub raised: Vec<Raised>,
    /// What the rules of the design say of it, the gravest first.
    pub findings: Vec<Finding>,
}

impl Proposal {
    /// Puts the answers into the job file of the kit. Where the design does not keep its rules then, thicker conductors
    /// are looked for, each only where the rules are broken without it. Fuses stay as they are.
    ///
    /// Every question needs its answer: see [`Asking::missing`].
    ///
    /// # Errors
    /// The problems of the job file that comes of it, where an answer makes no value of a job.
    pub fn of(filling: &Filling) -> Result<Proposal, Box<Problems>> {
        debug_assert!(filling.missing().is_empty());
        let kit = filling.kit;
        let mut put = Vec::new();
        let mut filled = Vec::new();
        for differing in &kit.differs {
            let Some(answer) = filling.holds(differing) else { continue };
            for place in &differing.places {
                let text = with_tolerance_of(&place.text, &answer);
                filled.push((place.path.clone(), text.clone()));
                put.push((place.at.clone(), text));
            }
        }
        let text = put_in(&kit.job.text, put);
        let job = read(&kit.job.name, &text)?;
        let findings = design::check(&job);
        let as_filled = Proposal { text, job, filled, raised: Vec::new(), findings };
        if as_filled.conforms() {
            return Ok(as_filled);
        }
        // First only the conductors that this vehicle has otherwise than the kit, then any.
        for own_only in [true, false] {
            let is_open = |path: &str| {
                let table = path.trim_end_matches("size");
                !own_only || as_filled.filled.iter().any(|(own, _)| own.starts_with(table))
            };
            let raised = raise(&as_filled.job, &is_open);
            let text = with_sizes(&as_filled.text, &raised);
            let job = read(&kit.job.name, &text)?;
            let findings = design::check(&job);
            if design::conforms(&findings) {
                return Ok(Proposal { text, job, filled: as_filled.filled, raised, findings });
            }
        }
        // Copper that does not mend it is none that anybody should buy.
        Ok(as_filled)
    }

    /// Whether the design keeps all rules that were checked.
    pub fn conforms(&self) -> bool {
        design::conforms(&self.findings)
    }
}

fn read(name: &str, text: &str) -> Result<Job, Box<Problems>> {
    Job::read(&Source::new(format!("{name}, filled in"), text))
}

/// A length that is told as 5 m where the kit has 4 m ± 5 % is as uncertain as that one.
fn with_tolerance_of(kit: &str, answer: &str) -> String {
    let signs = ["±", "+/-", ".."];
    let tolerance = ["±", "+/-"].iter().find_map(|sign| kit.find(sign)).map(|at| kit[at..].trim());
    match tolerance {
        Some(tolerance) if !signs.iter().any(|sign| answer.contains(sign)) => format!("{answer} {tolerance}"),
        _ => answer.to_owned(),
    }
}

/// Puts texts in the place of values; whatever stands around them stays.
fn put_in(text: &str, mut put: Vec<(Range<usize>, String)>) -> String {
    put.sort_by_key(|(at, _)| at.start);
    let mut all = text.to_owned();
    for (at, new) in put.into_iter().rev() {
        all.replace_range(at, &toml::Value::String(new).to_string());
    }
    all
}

/// The sizes that the file states for a wire or cable, by their paths.
fn sizes_in(text: &str) -> BTreeMap<String, Place> {
    let Ok(document) = toml::de::DeTable::parse(text) else { return BTreeMap::new() };
    let places = place::texts(document.get_ref()).into_iter();
    places
        .filter(|place| place.path.rsplit('.').next() == Some("size"))
        .map(|place| (place.path.clone(), place))
        .collect()
}

fn with_sizes(text: &str, raised: &[Raised]) -> String {
    let places = sizes_in(text);
    let put = raised.iter().filter_map(|own| Some((places.get(&own.path)?.at.clone(), own.now.to_string())));
    put_in(text, put.collect())
}

/// The path of the size of a wire, or of the cable that it is a core of.
fn path_of_size(wire: &Wire) -> String {
    match &wire.cable {
        Some(cable) => format!("cable.{cable}.size"),
        None => format!("wire.{}.size", wire.name),
    }
}

/// Thicker conductors among those that are open, with which the job keeps the rules or comes near to it.
fn raise(job: &Job, is_open: &dyn Fn(&str) -> bool) -> Vec<Raised> {
    let open = |wire: &Wire| is_open(&path_of_size(wire));
    let sizing = Sizing::choosing(job, Free { wire: &open, fuse: &|_| None, least: Area::mm2(0.0) });
    let mut raised: Vec<Raised> = Vec::new();
    for (wire, choice) in job.wires.iter().zip(&sizing.wires) {
        let path = path_of_size(wire);
        let name = wire.cable.as_ref().unwrap_or(&wire.name);
        let Some(now) = choice.needed.filter(|needed| needed.area() > wire.size.area()) else { continue };
        if raised.iter().all(|own| own.path != path) {
            let because = choice.because.clone();
            raised.push(Raised { name: name.clone(), kit: wire.size, now, because, path });
        }
    }
    // The search knows nothing of what the kit has already: each conductor goes back as far as the rules allow.
    for at in (0..raised.len()).rev() {
        let (kit, now) = (raised[at].kit, raised[at].now);
        let between = standard_metric_sizes().into_iter().filter(|size| {
            let area = size.area();
            kit.area() < area && area < now.area()
        });
        for size in std::iter::once(kit).chain(between) {
            let mut thinner = raised.clone();
            thinner[at].now = size;
            if design::conforms(&design::check(&sized(job, &thinner))) {
                raised = thinner;
                break;
            }
        }
    }
    raised.retain(|own| own.now != own.kit);
    raised
}

fn sized(job: &Job, raised: &[Raised]) -> Job {
    let mut job = job.clone();
    for wire in &mut job.wires {
        let path = path_of_size(wire);
        if let Some(own) = raised.iter().find(|own| own.path == path) {
            wire.size = own.now;
        }
    }
    job
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, JOB, KIT};
    use super::*;
    use crate::kit::Kit;

    fn proposal(kit: &Kit, way: &str) -> Proposal {
        let mut filling = Filling::of(kit);
        for (id, text) in [("vehicle", "Market van"), ("identity", "V-5"), ("way_to_lamp", way), ("colour", "")] {
            filling.answer(id, text).unwrap_or_else(|refused| panic!("{id}: {}", refused.says));
        }
        assert!(filling.missing().is_empty());
        Proposal::of(&filling).unwrap_or_else(|says| panic!("{says}"))
    }

    #[test]
    fn only_what_differs_is_changed_and_every_remark_stays() {
        let kit = sample::read(KIT).unwrap();
        let made = proposal(&kit, "4.5");
        assert!(made.conforms(), "{:?}", made.findings);
        assert!(made.raised.is_empty(), "{:?}", made.raised);
        let changed: Vec<(&str, &str)> = JOB.lines().zip(made.text.lines()).filter(|(kit, own)| kit != own).collect();
        let expected = [
            ("description = \"the vehicle\"", "description = \"Market van\""),
            ("identity = \"its number\" # on the frame", "identity = \"V-5\" # on the frame"),
            ("length = \"4 m ± 5 %\" # along the sill", "length = \"4.5 m ± 5 %\" # along the sill"),
            ("length = \"4 m ± 5 %\"", "length = \"4.5 m ± 5 %\""),
        ];
        assert_eq!(changed, expected);
        assert_eq!(JOB.lines().count(), made.text.lines().count());
    }

    #[test]
    fn a_longer_way_asks_for_a_thicker_conductor_and_no_other_one_is_touched() {
        let kit = sample::read(KIT).unwrap();
        let made = proposal(&kit, "9 m");
        assert!(made.conforms(), "{:?}", made.findings);
        assert!(!made.raised.is_empty());
        for own in &made.raised {
            assert!(own.now.area() > own.kit.area() && ["w2", "w3"].contains(&own.name.as_str()), "{own:?}");
            let wire = made.job.wires.iter().find(|wire| wire.name == own.name).unwrap();
            assert_eq!(wire.size, own.now);
        }
        // Without any one of them the rules are broken.
        for own in &made.raised {
            let mut thin = made.job.clone();
            thin.wires.iter_mut().find(|wire| wire.name == own.name).unwrap().size = own.kit;
            assert!(!design::conforms(&design::check(&thin)), "{own:?}");
        }
    }

    #[test]
    fn a_tolerance_of_its_own_goes_before_that_of_the_kit() {
        assert_eq!(with_tolerance_of("4 m ± 5 %", "5 m"), "5 m ± 5 %");
        assert_eq!(with_tolerance_of("4 m ± 5 %", "5 m ± 1 %"), "5 m ± 1 %");
        assert_eq!(with_tolerance_of("4 m +/- 0.1 m", "5..6 m"), "5..6 m");
        assert_eq!(with_tolerance_of("4 m", "5 m"), "5 m");
    }

    #[test]
    fn quotes_and_line_ends_in_an_answer_stay_one_value() {
        let text = put_in("a = \"x\" # y\nb = 1\n", vec![(4..7, "two\n\"lines\" \\".to_owned())]);
        let read: toml::Table = toml::from_str(&text).unwrap();
        assert_eq!(read["a"].as_str(), Some("two\n\"lines\" \\"));
        assert!(text.contains("# y\nb = 1"));
    }
}
