//! Conductor sizes and fuses for a whole circuit at once: parts that are not wire eat the same budget.

use super::facts::Facts;
use super::{gravest_first, protection, voltage};
use crate::handbook::conductor::standard_metric_sizes;
use crate::job::{Fuse, Job, Terminal, Wire};
use crate::quantity::{Area, ConductorSize, Current, Length, Voltage};

/// Ratings of blade fuses that can be bought (ISO 8820-3 bodies, trade pages).
const RATINGS: [f64; 14] = [1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 60.0, 80.0];

/// The size that a wire needs.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeChoice {
    /// The wire.
    pub wire: String,
    /// As the job states it.
    pub stated: ConductorSize,
    /// The smallest standard metric size that does; `None` where none is large enough.
    pub needed: Option<ConductorSize>,
    /// What asks for it.
    pub because: String,
}

/// The rating that a fuse needs.
#[derive(Debug, Clone, PartialEq)]
pub struct FuseChoice {
    /// The fuse.
    pub fuse: String,
    /// As the job states it.
    pub stated: Current,
    /// The smallest standard rating that stays in normal use.
    pub needed: Option<Current>,
    /// What asks for it.
    pub because: String,
}

/// Sizes for a whole job.
#[derive(Debug, Clone, PartialEq)]
pub struct Sizing {
    /// One for each wire.
    pub wires: Vec<SizeChoice>,
    /// One for each fuse.
    pub fuses: Vec<FuseChoice>,
    /// The job with these sizes and ratings.
    pub job: Job,
}

/// What a sizing may choose. What it may not stays as the job states it.
#[derive(Clone, Copy)]
pub struct Free<'a> {
    /// Whether the size of this wire is open.
    pub wire: &'a dyn Fn(&Wire) -> bool,
    /// The least rating of this fuse; `None` where its rating is not open.
    pub fuse: &'a dyn Fn(&Fuse) -> Option<Current>,
    /// No wire is chosen thinner than this.
    pub least: Area,
}

/// Thinnest conductor that is chosen at all.
const THINNEST: Area = Area::mm2(0.75);

impl Free<'_> {
    /// Everything is open.
    pub const ALL: Free<'static> = Free { wire: &|_| true, fuse: &|_| Some(Current::amps(0.0)), least: THINNEST };
}

impl Sizing {
    /// [`Sizing::choosing`] where everything is open.
    pub fn of(job: &Job) -> Sizing {
        Self::choosing(job, Free::ALL)
    }

    /// Works the sizes out: fuses from the steady current, then for each wire the smallest size that its fuse
    /// protects and whose short opens the fuse, then larger ones along the way to each load until it gets its voltage.
    ///
    /// Wires of a cable keep one size.
    pub fn choosing(job: &Job, free: Free) -> Sizing {
        let mut sized = job.clone();
        if Facts::of(&sized).is_err() {
            // As stated nothing can be computed: begin at the other end, where the wires lose least.
            let widest = standard_metric_sizes().into_iter().next_back();
            let open = sized.wires.iter_mut().filter(|wire| (free.wire)(wire));
            open.for_each(|wire| wire.size = widest.unwrap_or(wire.size));
        }
        let fuses = choose_fuses(&mut sized, free);
        let mut reasons: Vec<String> = vec!["its current".to_owned(); sized.wires.len()];
        for index in 0..sized.wires.len() {
            if (free.wire)(&sized.wires[index]) {
                smallest_for_heat_and_fuse(&mut sized, index, free.least, &mut reasons);
            }
        }
        level_cables(&mut sized, free, &mut reasons);
        widen_for_voltage(&mut sized, free, &mut reasons);
        let wires = job
            .wires
            .iter()
            .zip(sized.wires.iter().zip(reasons))
            .map(|(stated, (wire, because))| SizeChoice {
                wire: wire.name.clone(),
                stated: stated.size,
                needed: (!because.is_empty()).then_some(wire.size),
                because,
            })
            .collect();
        Sizing { wires, fuses, job: sized }
    }
}

fn choose_fuses(job: &mut Job, free: Free) -> Vec<FuseChoice> {
    let original = job.clone();
    let Ok(facts) = Facts::of(&original) else { return Vec::new() };
    let loading = protection::loading(&original);
    let mut choices = Vec::new();
    for fuse in &mut job.fuses {
        let Some(least) = (free.fuse)(fuse) else { continue };
        let (steady, stated) = (facts.current(&fuse.name), fuse.rating);
        let wanted = steady / loading;
        let needed = RATINGS.iter().map(|r| Current::amps(*r)).find(|r| *r >= wanted && *r >= least);
        if let Some(rating) = needed {
            fuse.rating = rating;
        }
        let because = format!("{steady} with everything on, over {loading:.2} (fuse maker's guide)");
        choices.push(FuseChoice { fuse: fuse.name.clone(), stated, needed, because });
    }
    choices
}

fn larger_than(size: ConductorSize) -> Option<ConductorSize> {
    let area = size.area().as_mm2() * 1.000_001;
    standard_metric_sizes().into_iter().find(|s| s.area().as_mm2() > area)
}

/// Does this size carry its current, does its fuse protect it, does a short at its end open the fuse?
fn smallest_for_heat_and_fuse(job: &mut Job, index: usize, least: Area, reasons: &mut [String]) {
    for size in standard_metric_sizes() {
        if size.area() < least {
            continue;
        }
        job.wires[index].size = size;
        // A size with which the circuit has no steady state is too thin, whatever else may be said of it.
        let Ok(facts) = Facts::of(job) else {
            "its load".clone_into(&mut reasons[index]);
            continue;
        };
        let mut wrong = Vec::new();
        protection::check_wire(&facts, &facts.job.wires[index], &mut wrong);
        match wrong.first() {
            None => return,
            Some(finding) => reasons[index] = finding.rule.replace('-', " "),
        }
    }
    reasons[index] = String::new();
}

/// All cores of a cable take the largest size that one of them needs.
fn level_cables(job: &mut Job, free: Free, reasons: &mut [String]) {
    for cable in job.cables.clone() {
        let cores = cores_of(job, &cable.name);
        let largest =
            cores.iter().map(|i| job.wires[*i].size).max_by(|a, b| a.area().as_mm2().total_cmp(&b.area().as_mm2()));
        let Some(largest) = largest else { continue };
        for index in cores {
            if (free.wire)(&job.wires[index]) && job.wires[index].size.area() < largest.area() {
                reasons[index] = format!("the other core of {}", cable.name);
                job.wires[index].size = largest;
            }
        }
    }
}

/// Widens, one step at a time, the wire whose step gives the neediest load the most.
fn widen_for_voltage(job: &mut Job, free: Free, reasons: &mut [String]) {
    for _ in 0..400 {
        let Ok(facts) = Facts::of(job) else { return };
        let mut findings = Vec::new();
        voltage::check(&facts, &mut findings);
        // No conductor feeds a load whose way is open.
        let mendable = findings.into_iter().filter(|f| f.rule != "load-not-fed");
        let Some(load) = mendable.min_by(gravest_first).map(|f| f.subject) else { return };
        let before = load_voltage(&facts, &load);
        let mut best: Option<(usize, ConductorSize, f64)> = None;
        for index in 0..job.wires.len() {
            let siblings = siblings(job, index);
            if !siblings.iter().all(|i| (free.wire)(&job.wires[*i])) {
                continue;
            }
            let Some(size) = larger_than(job.wires[index].size).filter(|_| siblings[0] == index) else { continue };
            let mut wider = job.clone();
            for sibling in &siblings {
                wider.wires[*sibling].size = size;
            }
            let added: f64 = siblings.iter().map(|i| copper_added(&job.wires[*i], size)).sum();
            let Ok(wider) = Facts::of(&wider).map(|facts| load_voltage(&facts, &load)) else { continue };
            let gain = (wider - before) / added;
            if gain > 1e-9 && best.is_none_or(|(_, _, most)| gain > most) {
                best = Some((index, size, gain));
            }
        }
        let Some((index, size, _)) = best else { return };
        for sibling in siblings(job, index) {
            job.wires[sibling].size = size;
            reasons[sibling] = format!("the voltage at {load}");
        }
    }
}

/// Litres of copper do not matter; millimetres squared times metres say which step is the cheaper one.
fn copper_added(wire: &Wire, size: ConductorSize) -> f64 {
    (size.area().as_mm2() - wire.size.area().as_mm2()) * wire.length.nominal.as_metres()
}

fn siblings(job: &Job, index: usize) -> Vec<usize> {
    match &job.wires[index].cable {
        None => vec![index],
        Some(cable) => cores_of(job, cable),
    }
}

fn cores_of(job: &Job, cable: &str) -> Vec<usize> {
    (0..job.wires.len()).filter(|i| job.wires[*i].cable.as_deref() == Some(cable)).collect()
}

fn load_voltage(facts: &Facts, load: &str) -> f64 {
    let across = facts.solution.load_voltage(load).unwrap_or(Voltage::volts(0.0));
    let posts = facts.solution.voltage(&Terminal::battery_plus()).unwrap_or(Voltage::volts(0.0));
    across.as_volts() - posts.as_volts()
}

/// The smallest gauge (even numbers, and 1 AWG) whose run of `there_and_back` drops at most `allowed` at `current`.
///
/// `ohm_mm2_per_m` is the resistivity that the rule in use counts with; 10.75 ohm·cmil/ft of ABYC E-11 is
/// 0.017872 ohm·mm²/m. `None` where even 4/0 AWG drops more.
pub fn smallest_gauge_for_drop(
    current: Current,
    there_and_back: Length,
    allowed: Voltage,
    ohm_mm2_per_m: f64,
) -> Option<ConductorSize> {
    let gauges = [18i8, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3];
    let needed = area_for_drop(current, there_and_back, allowed, ohm_mm2_per_m);
    gauges.into_iter().map(ConductorSize::Awg).find(|size| size.area() >= needed)
}

/// The copper area whose run of `there_and_back` drops exactly `allowed` at `current`: ρ L I / U.
pub fn area_for_drop(current: Current, there_and_back: Length, allowed: Voltage, ohm_mm2_per_m: f64) -> Area {
    Area::mm2(ohm_mm2_per_m * there_and_back.as_metres() * current.as_amps() / allowed.as_volts())
}
