//! Does the fuse protect the wire, does it open on a short, does it stay in normal use, does it sit where it must?

use super::facts::{Facts, ampacity_of};
use super::{Finding, Severity, by_status};
use crate::handbook::fuse::{FuseStyle, TimePoint, longest_opening, rerating, time_current};
use crate::handbook::{Cited, Status, ampacity, conductor};
use crate::job::{Fuse, Job, LoadKind, MOST_WAYS, Terminal, Wire, powers, protected_wires, ways_to_protection};
use crate::quantity::{Amount, Current, Duration, Length, Temperature};

/// Share of its rating that a fuse carries for long (fuse maker's guide, 25 °C).
const LOADING: f64 = 0.75;
pub(super) const LOADING_SOURCE: &str = "fuse maker's guide: at most 75 % of the rating at 25 °C";
/// A source must be able to deliver this many times the rating for the fuse to act.
const CLEARING: f64 = 3.0;
const CLEARING_SOURCE: &str = "ECSS-Q-ST-30-11C 6.17.3c: the source delivers three times the fuse rating";
/// Longest way from the source to the fuse, and in a sheath over its whole length.
const NEAR: Length = Length::metres(0.178);
const NEAR_SHEATHED: Length = Length::metres(1.016);
const NEAR_SOURCE: &str =
    "33 CFR 183.455(b): at the source, else within 178 mm (7 in), sheathed within 1.016 m (40 in)";
/// Breaking capacity of a blade fuse.
const BLADE_BREAKS: Current = Current::amps(1000.0);
/// Heating without loss is a fair picture of a conductor up to this time.
pub(crate) const ADIABATIC_UP_TO: Duration = Duration::seconds(5.0);

pub(super) fn check(facts: &Facts, findings: &mut Vec<Finding>) {
    for fuse in &facts.job.fuses {
        let wires = protected_wires(facts.job, &fuse.name);
        for wire in &wires {
            protects(facts, fuse, wire, findings);
        }
        stays_in_normal_use(facts, fuse, findings);
        for wire in &wires {
            opens_on_a_short(facts, fuse, wire, findings);
        }
        opens_on_a_stalled_motor(facts, fuse, findings);
        can_break_the_fault(facts, fuse, findings);
    }
    every_way_has_a_fuse(facts, findings);
    for wire in &facts.job.wires {
        carries_its_current(facts, wire, findings);
    }
}

/// What the size of one wire decides: its fuse protects it, a short at its end opens the fuse, it carries its current.
pub(super) fn check_wire(facts: &Facts, wire: &Wire, findings: &mut Vec<Finding>) {
    for fuse in &facts.job.fuses {
        if protected_wires(facts.job, &fuse.name).iter().any(|w| w.name == wire.name) {
            protects(facts, fuse, wire, findings);
            opens_on_a_short(facts, fuse, wire, findings);
        }
    }
    carries_its_current(facts, wire, findings);
}

/// Share of its rating that a fuse may carry for long in the warmest surroundings of the job.
pub(super) fn loading(job: &Job) -> f64 {
    let left = rerating(job.environment.ambient.high()).value / rerating(Temperature::celsius(25.0)).value;
    LOADING * left.min(1.0)
}

/// A fuse above the ampacity of its thinnest wire makes the wire the fuse.
fn protects(facts: &Facts, fuse: &Fuse, wire: &Wire, findings: &mut Vec<Finding>) {
    let Some(ampacity) = ampacity_of(facts.job, wire) else { return };
    let Some((severity, limit)) = ampacity.broken_by(fuse.rating) else { return };
    findings.push(Finding {
        rule: "fuse-above-ampacity",
        severity,
        subject: fuse.name.clone(),
        says: format!(
            "{} of {} is above the {} that {} ({}) may carry: the wire would be the fuse",
            fuse.name,
            fuse.rating.as_rating(),
            limit.value,
            wire.name,
            wire.size
        ),
        change: format!("a fuse of at most {}, or a larger conductor for {}", ampacity.limit.value, wire.name),
        value: Some(Amount::of(fuse.rating)),
        limit: Some(Amount::of(limit.value)),
        source: format!(
            "FAA AC 43.13-1B 11-48: the device opens before the wire's rating is exceeded; {}",
            limit.citation()
        ),
    });
}

fn stays_in_normal_use(facts: &Facts, fuse: &Fuse, findings: &mut Vec<Finding>) {
    let steady = facts.current(&fuse.name);
    let ambient = facts.job.environment.ambient.high();
    let limit = fuse.rating * loading(facts.job);
    if steady <= limit {
        return;
    }
    let above_rating = steady >= fuse.rating;
    findings.push(Finding {
        rule: "fuse-opens-in-use",
        severity: if above_rating { Severity::Error } else { Severity::Warning },
        subject: fuse.name.clone(),
        says: format!(
            "{} carries {steady} with everything on; a fuse of {} is good for {limit} for long at {:.0} °C",
            fuse.name,
            fuse.rating.as_rating(),
            ambient.as_celsius()
        ),
        change: "a larger fuse, and a conductor that it protects; or fewer loads on it".to_owned(),
        value: Some(Amount::of(steady)),
        limit: Some(Amount::of(limit)),
        source: format!("{LOADING_SOURCE}; warmth by one maker's rerating"),
    });
}

/// The fault current at the far end of a wire: to the body, and where the wire ends at a load also to its other pole,
/// since a cable is crushed with both its cores; the smaller one.
pub(super) fn least_fault(facts: &Facts, fuse: &Fuse, wire: &Wire) -> Option<Current> {
    let other_pole = wire.to.name().strip_suffix(".+").map(|load| Terminal::of(load, "-"));
    let ends = [Some(Terminal::chassis()), other_pole].into_iter().flatten();
    let faults = ends.filter_map(|back| {
        facts.circuit.fault_current((&wire.to, &back), &fuse.name, &facts.state, &facts.solution).ok()
    });
    faults.min_by(|a, b| a.as_amps().total_cmp(&b.as_amps()))
}

/// How long this fuse may take at a current, at most.
fn opening(fuse: &Fuse, current: Current) -> Option<(Cited<Vec<TimePoint>>, Option<Duration>)> {
    let points = time_current(fuse.style?, fuse.rating)?;
    let longest = longest_opening(&points.value, fuse.rating, current);
    Some((points, longest))
}

fn opens_on_a_short(facts: &Facts, fuse: &Fuse, wire: &Wire, findings: &mut Vec<Finding>) {
    let Some(fault) = least_fault(facts, fuse, wire) else { return };
    if fault.as_amps() < 1e-3 {
        return; // an open contact lies before it in this state
    }
    let finding = |severity, says: String, limit, source: String| Finding {
        rule: "short-does-not-open-fuse",
        severity,
        subject: wire.name.clone(),
        says,
        change: format!(
            "a larger conductor or a shorter run before {}, or a smaller fuse than {}",
            wire.to,
            fuse.rating.as_rating()
        ),
        value: Some(Amount::of(fault)),
        limit,
        source,
    };
    let ratio = fault / fuse.rating;
    let beginning = format!(
        "a short at the far end of {} ({}) draws {fault}, {:.0} % of {}",
        wire.name,
        wire.to,
        100.0 * ratio,
        fuse.name
    );
    let Some((points, longest)) = opening(fuse, fault) else {
        if ratio < CLEARING {
            let says = format!("{beginning}; its curve is not known here");
            findings.push(finding(
                Severity::Warning,
                says,
                Some(Amount::of(fuse.rating * CLEARING)),
                CLEARING_SOURCE.into(),
            ));
        }
        return;
    };
    let Some(longest) = longest else {
        let says = format!("{beginning}: it may never open, and the wire smoulders while every drop test passes");
        findings.push(finding(
            Severity::Error,
            says,
            Some(Amount::of(fuse.rating * CLEARING)),
            format!("{CLEARING_SOURCE}; {}", points.citation()),
        ));
        return;
    };
    if let Some((severity, says, source)) = burns_first(wire, fault, longest, &points) {
        findings.push(finding(severity, format!("{beginning}; {says}"), None, source));
    } else if ratio < CLEARING {
        let says = format!("{beginning}: it opens within {longest} at the latest, later than a short should last");
        findings.push(finding(
            Severity::Warning,
            says,
            Some(Amount::of(fuse.rating * CLEARING)),
            CLEARING_SOURCE.into(),
        ));
    }
}

/// Whether the insulation gives way before the fuse has surely opened.
fn burns_first(
    wire: &Wire,
    fault: Current,
    longest: Duration,
    points: &Cited<Vec<TimePoint>>,
) -> Option<(Severity, String, String)> {
    let insulation = wire.insulation_or_usual();
    let limit = ampacity::short_time_limit(insulation);
    let k = ampacity::short_time_k(insulation, limit.value);
    let stands = ampacity::withstand(conductor::copper_area(wire.size), k.value, fault);
    // Beyond a few seconds heat leaves the wire, and the table of allowable currents is the better judge.
    if longest <= stands || longest > ADIABATIC_UP_TO {
        return None;
    }
    let says = format!(
        "the fuse may take {longest}, and the insulation of {} stands it for {stands} ({:.0} to {:.0} °C)",
        wire.name,
        insulation.as_celsius(),
        limit.value.as_celsius()
    );
    let status = [limit.status, k.status, points.status].into_iter().max().unwrap_or(Status::FromMemory);
    let source = format!("{}; {}", Cited::new((), k.source, status).citation(), points.source);
    Some((by_status(status), says, source))
}

/// A motor that jams draws its stall current until somebody or something ends it.
fn opens_on_a_stalled_motor(facts: &Facts, fuse: &Fuse, findings: &mut Vec<Finding>) {
    for load in &facts.job.loads {
        let LoadKind::Motor { stall: Some(stall), .. } = &load.kind else { continue };
        if !powers(facts.job, &fuse.name).contains(&load.name) {
            continue;
        }
        let Some((points, None)) = opening(fuse, *stall) else { continue };
        findings.push(Finding {
            rule: "stall-does-not-open-fuse",
            severity: Severity::Warning,
            subject: load.name.clone(),
            says: format!(
                "{} draws {stall} when it jams, {:.0} % of {}: the fuse may never open",
                load.name,
                100.0 * (*stall / fuse.rating),
                fuse.name
            ),
            change: "a motor with its own thermal cut-out, or a smaller fuse".to_owned(),
            value: Some(Amount::of(*stall)),
            limit: Some(Amount::of(fuse.rating * 1.35)),
            source: points.citation(),
        });
    }
}

fn can_break_the_fault(facts: &Facts, fuse: &Fuse, findings: &mut Vec<Finding>) {
    let blade = matches!(fuse.style, Some(FuseStyle::Blade | FuseStyle::Mini | FuseStyle::Maxi));
    let Some(limit) = fuse.breaking_capacity.or(blade.then_some(BLADE_BREAKS)) else { return };
    let at = Terminal::of(&fuse.name, "out");
    let Ok(fault) = facts.circuit.fault_current((&at, &Terminal::chassis()), &fuse.name, &facts.state, &facts.solution)
    else {
        return;
    };
    if fault <= limit {
        return;
    }
    findings.push(Finding {
        rule: "breaking-capacity",
        severity: Severity::Error,
        subject: fuse.name.clone(),
        says: format!("a short right behind {} draws {fault}; it can break {limit}", fuse.name),
        change: "a fuse of higher breaking capacity at the post, such as a bolt-down class T".to_owned(),
        value: Some(Amount::of(fault)),
        limit: Some(Amount::of(limit)),
        source: if fuse.breaking_capacity.is_some() {
            "the job: what the fuse can break"
        } else {
            "ISO 8820-3: 1,000 A"
        }
        .to_owned(),
    });
}

fn every_way_has_a_fuse(facts: &Facts, findings: &mut Vec<Finding>) {
    let ways = ways_to_protection(facts.job);
    let many = ways.iter().find(|way| ways.iter().filter(|other| other.battery == way.battery).count() >= MOST_WAYS);
    if let Some(many) = many {
        findings.push(Finding {
            rule: "too-many-ways",
            severity: Severity::Error,
            subject: many.battery.clone(),
            says: format!(
                "more than {MOST_WAYS} ways lead from {} to a fuse; not all of them were checked",
                post(&many.battery)
            ),
            change: "one wire in the place of parallel ones, and a fuse before the wiring branches".to_owned(),
            value: None,
            limit: None,
            source: "rigproof: what it follows".to_owned(),
        });
        return;
    }
    for way in ways {
        let last = way.wires.last().map_or("", |w| w.name.as_str());
        let length = way.wires.iter().fold(Length::metres(0.0), |sum, w| sum + w.length.nominal);
        let names: Vec<&str> = way.wires.iter().map(|w| w.name.as_str()).collect();
        let Some(fuse) = &way.fuse else {
            findings.push(Finding {
                rule: "no-fuse",
                severity: Severity::Error,
                subject: last.to_owned(),
                says: format!("{} runs from {} without any fuse", names.join(", "), post(&way.battery)),
                change: "a fuse at the battery, before this wire".to_owned(),
                value: Some(Amount::of(length)),
                limit: Some(Amount::of(NEAR)),
                source: NEAR_SOURCE.to_owned(),
            });
            continue;
        };
        let sheathed = way.wires.iter().all(|w| w.sheathed);
        let limit = if sheathed { NEAR_SHEATHED } else { NEAR };
        // The printed limit is a whole number of inches: a millimetre of rounding is no finding.
        if length.as_metres() <= limit.as_metres() + 0.001 {
            continue;
        }
        findings.push(Finding {
            rule: "fuse-far-from-source",
            severity: Severity::Error,
            subject: fuse.clone(),
            says: format!(
                "{fuse} lies {length} along {} from {}, unprotected on the way",
                names.join(", "),
                post(&way.battery)
            ),
            change: if sheathed || length > NEAR_SHEATHED {
                "the fuse at the battery".to_owned()
            } else {
                "the fuse at the battery, or a sheath over the whole way (sheath = true)".to_owned()
            },
            value: Some(Amount::of(length)),
            limit: Some(Amount::of(limit)),
            source: NEAR_SOURCE.to_owned(),
        });
    }
}

/// A battery in a sentence: the one that starts the engine needs no name.
fn post(battery: &str) -> String {
    if battery == "battery" { "the battery".to_owned() } else { format!("battery {battery}") }
}

fn carries_its_current(facts: &Facts, wire: &Wire, findings: &mut Vec<Finding>) {
    let current = facts.current(&wire.name);
    let Some(ampacity) = ampacity_of(facts.job, wire) else { return };
    let Some((severity, limit)) = ampacity.broken_by(current) else { return };
    findings.push(Finding {
        rule: "wire-above-ampacity",
        severity,
        subject: wire.name.clone(),
        says: format!(
            "{} ({}) carries {current} with everything on; it may carry {}",
            wire.name, wire.size, limit.value
        ),
        change: "a larger conductor".to_owned(),
        value: Some(Amount::of(current)),
        limit: Some(Amount::of(limit.value)),
        source: limit.citation(),
    });
}
