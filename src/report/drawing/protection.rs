//! What protects a conductor, over current and time: the longest time in which its fuse opens, and how long the conductor
//! stands the current.
//!
//! The times of the fuse are the upper limits that the handbook has for its body and rating (`handbook::fuse`, opening time
//! at per cent of rating), with straight lines between them in the logarithmic plot, as the design rules read them; below the
//! first of them nobody promises that it opens. The conductor heats without loss, t = (k S / I)² (IEC 60949), which is a
//! fair picture up to five seconds; S is the copper of its size, k that of its insulation from its continuous to its
//! short-time limit. The current of a short is that of a dead short at the far end of the conductor.

use std::fmt::Write;

use super::axis::Axis;
use super::overlap::place_free;
use super::plot::{PLOT_WIDTH, TITLE, WORDS, frame, grid, notes};
use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use crate::design::{ADIABATIC_UP_TO, ampacity, currents_of};
use crate::handbook::ampacity::{short_time_k, short_time_limit, withstand};
use crate::handbook::conductor::copper_area;
use crate::handbook::fuse::{TimePoint, longest_opening, time_current};
use crate::handbook::{Cited, Status};
use crate::job::{Fuse, Job, Wire, protected_wires};
use crate::quantity::{Current, Duration};

/// The plot: left, upper, right, lower edge, in points.
const PLOT: (f32, f32, f32, f32) = (44.0, 22.0, 524.0, 322.0);
/// Room for the numbers and the title of the lower axis.
const BELOW: f32 = 28.0;
/// Shortest and longest time that is shown, in seconds, where the curves ask for no more.
const TIMES: (f64, f64) = (0.01, 1000.0);
/// The axis of currents reaches at least so far around the rating.
const AROUND_RATING: (f64, f64) = (0.5, 7.0);
/// Room beside the largest current.
const BEYOND: f64 = 1.25;
/// A current below this share of the rating is not shown: the plot would be mostly empty.
const LEAST_SHARE: f64 = 0.05;
/// The plot reaches at least as far as where the conductor stands the current for this time, in seconds.
const SHORTEST_WITHSTAND: f64 = 0.5;
/// Radius of the mark of a published point, in points.
const MARK: f32 = 2.0;
/// Distance from one place that is tried for a label to the next, in points.
const TRY: f32 = 9.0;

/// The lines of the plot; each has a dash pattern and a label of its own, so that no colour is needed to read it.
const FUSE_LINE: Stroke = Stroke::plain(Ink::DARK, 1.6);
const WIRE_LINE: Stroke = Stroke::dashed(Ink::BAD, 1.4, 7.0, 3.0);
const FAULT_LINE: Stroke = Stroke::dashed(Ink::BAD, 1.2, 2.0, 2.0);
const AMPACITY_LINE: Stroke = Stroke::dashed(Ink::GOOD, 1.2, 10.0, 3.0);
const LOAD_LINE: Stroke = Stroke::dashed(Ink::GOOD, 1.2, 4.0, 2.0);
const RATING_LINE: Stroke = Stroke::plain(Ink::SOFT, 0.8);

/// What is known of a fuse and the conductor behind it.
struct Known<'j> {
    fuse: &'j Fuse,
    wire: Option<&'j Wire>,
    curve: Option<Cited<Vec<TimePoint>>>,
    load: Option<Current>,
    fault: Option<Current>,
    ampacity: Option<Cited<Current>>,
    withstand: Option<Cited<f64>>,
}

/// The time-current plot of one fuse with the thinnest conductor that it protects; of several equally thin ones that with
/// the smallest current at a short, which opens the fuse last. `PLOT_WIDTH` wide; `None` where no fuse has this name.
///
/// What is not known (the curve of a bolt-down fuse, a current where the circuit has no steady state) is left out, and a
/// note says so. Sources stand below the plot, with `(from memory)` where the handbook says that of a value.
pub fn protection(job: &Job, fuse: &str) -> Option<Scene> {
    let fuse = job.fuses.iter().find(|f| f.name == fuse)?;
    let known = known(job, fuse);
    let (current, time) = axes(&known);
    let mut scene = Scene::new(says(&known), PLOT_WIDTH, PLOT.3 + BELOW);
    scene.text((2.0, TITLE), title(&known), Type::of(TITLE).bold());
    grid(&mut scene, &current, (PLOT.1, PLOT.3), 0, false);
    grid(&mut scene, &time, (PLOT.0, PLOT.2), 0, true);
    frame(&mut scene, PLOT);
    let middle = f32::midpoint(PLOT.0, PLOT.2);
    scene.text((middle, PLOT.3 + 21.0), "current in A", Type::of(WORDS).anchored(Anchor::Middle));
    let upright = Type::of(WORDS).anchored(Anchor::Middle).turned();
    scene.text((10.0, f32::midpoint(PLOT.1, PLOT.3)), "time in s", upright);
    let mut lost = Vec::new();
    let labels = draw(&mut scene, &known, &current, &time);
    for label in labels {
        if !label.place(&mut scene) {
            lost.push(label.text);
        }
    }
    let mut below: Vec<(String, Ink)> = lost.into_iter().map(|text| (text, Ink::DARK)).collect();
    below.extend(remarks(&known));
    notes(&mut scene, &below);
    Some(scene)
}

fn known<'j>(job: &'j Job, fuse: &'j Fuse) -> Known<'j> {
    let wires = protected_wires(job, &fuse.name);
    let area = |wire: &Wire| copper_area(wire.size).as_mm2();
    let least = wires.iter().map(|w| area(w)).fold(f64::INFINITY, f64::min);
    let thin: Vec<&Wire> = wires.into_iter().filter(|w| area(w) <= least * 1.000_001).collect();
    let currents = currents_of(job, fuse, &thin);
    let (load, faults) = currents.map_or((None, Vec::new()), |(load, faults)| (Some(load), faults));
    let with_fault = thin.iter().zip(&faults).filter_map(|(wire, fault)| Some((*wire, (*fault)?)));
    let least = with_fault.min_by(|a, b| a.1.as_amps().total_cmp(&b.1.as_amps()));
    let wire = least.map(|(wire, _)| wire).or_else(|| thin.first().copied());
    let insulated = wire.map(|wire| {
        let insulation = wire.insulation_or_usual();
        let limit = short_time_limit(insulation);
        let k = short_time_k(insulation, limit.value);
        let status = limit.status.max(k.status);
        Cited::new(k.value, format!("{}; {}", k.source, limit.source), status)
    });
    Known {
        fuse,
        wire,
        curve: fuse.style.and_then(|style| time_current(style, fuse.rating)).filter(|c| latest(c).next().is_some()),
        load,
        fault: least.map(|(_, fault)| fault),
        ampacity: wire.and_then(|wire| ampacity(job, wire)).filter(|a| a.value.as_amps() > 0.0),
        withstand: insulated.filter(|k| k.value > 0.0),
    }
}

/// The published upper limits: multiple of the rating, longest time in seconds, how far it can be trusted.
fn latest(curve: &Cited<Vec<TimePoint>>) -> impl Iterator<Item = (f64, f64, Status)> {
    curve.value.iter().filter_map(|p| Some((p.multiple, p.max?.as_seconds(), p.status)))
}

fn axes(known: &Known) -> (Axis, Axis) {
    let rating = known.fuse.rating.as_amps();
    let mut amps = vec![rating * AROUND_RATING.0, rating * AROUND_RATING.1];
    let shown = [known.load, known.fault, known.ampacity.as_ref().map(|a| a.value)].into_iter().flatten();
    amps.extend(shown.map(Current::as_amps).filter(|a| *a > rating * LEAST_SHARE));
    if let (Some(k), Some(wire)) = (&known.withstand, known.wire) {
        // The conductor's line has a visible length.
        amps.push(k.value * copper_area(wire.size).as_mm2() / SHORTEST_WITHSTAND.sqrt());
    }
    let low = amps.iter().copied().fold(f64::INFINITY, f64::min) / BEYOND;
    let high = amps.iter().copied().fold(0.0, f64::max) * BEYOND;
    let limits = known.curve.iter().flat_map(latest).map(|(_, seconds, _)| seconds);
    let (shortest, longest) = limits.fold(TIMES, |(low, high), s| (low.min(s / 2.0), high.max(s * 1.5)));
    (Axis::logarithmic(low, high, (PLOT.0, PLOT.2)), Axis::logarithmic(shortest, longest, (PLOT.3, PLOT.1)))
}

/// A label with the places that suit it, the best first.
struct Label {
    text: String,
    kind: Type,
    places: Vec<(f32, f32)>,
}

impl Label {
    /// Along a line that stands upright: beside it, from above to below, on its left or right.
    fn upright(text: String, x: f32) -> Self {
        let kind = Type::of(WORDS).turned().anchored(Anchor::End);
        let steps = (0..32u8).map(|step| PLOT.1 + 4.0 + TRY * f32::from(step));
        let places = steps.flat_map(|y| [(x - 3.5, y), (x + 9.0, y)]).collect();
        Self { text, kind, places }
    }

    /// Beside a curve: right of one of its places, or left of it.
    fn beside(text: String, curve: &[(f32, f32)]) -> Self {
        let kind = Type::of(WORDS).bold();
        let mut places = Vec::new();
        let wide = super::width::text_width(&text, WORDS, true);
        // Beginning at its end, where the plot is emptier.
        for pair in curve.windows(2).rev() {
            for step in 0..16u8 {
                let share = f32::from(step) / 16.0;
                let (x, y) = (pair[0].0 + share * (pair[1].0 - pair[0].0), pair[0].1 + share * (pair[1].1 - pair[0].1));
                places.extend([
                    (x + 3.0, y - 4.0),
                    (x + 10.0, y - 3.0),
                    (x - wide - 6.0, y + 9.0),
                    (x - wide - 14.0, y + 5.0),
                ]);
            }
        }
        Self { text, kind, places }
    }

    fn place(&self, scene: &mut Scene) -> bool {
        place_free(scene, &self.text, self.kind, &self.places, PLOT)
    }
}

fn draw(scene: &mut Scene, known: &Known, current: &Axis, time: &Axis) -> Vec<Label> {
    let mut labels = Vec::new();
    let mut stands_upright = |scene: &mut Scene, amps: f64, stroke: Stroke, text: String| {
        let x = current.place(amps);
        scene.line(&[(x, PLOT.1), (x, PLOT.3)], stroke);
        labels.push(Label::upright(text, x));
    };
    let rating = known.fuse.rating;
    stands_upright(scene, rating.as_amps(), RATING_LINE, format!("rating {}", rating.as_rating()));
    if let Some(load) = known.load.filter(|load| current.holds(load.as_amps())) {
        stands_upright(scene, load.as_amps(), LOAD_LINE, format!("everything on draws {load}"));
    }
    if let (Some(ampacity), Some(wire)) = (&known.ampacity, known.wire) {
        let text = format!("{} may carry {} for long", wire.name, ampacity.value);
        stands_upright(scene, ampacity.value.as_amps(), AMPACITY_LINE, text);
    }
    if let (Some(fault), Some(wire)) = (known.fault, known.wire) {
        stands_upright(scene, fault.as_amps(), FAULT_LINE, format!("short at the end of {}: {fault}", wire.name));
    }
    if let (Some(k), Some(wire)) = (&known.withstand, known.wire) {
        let stands = |amps: f64| withstand(copper_area(wire.size), k.value, Current::amps(amps)).as_seconds();
        let at = |seconds: f64| k.value * copper_area(wire.size).as_mm2() / seconds.sqrt();
        // From where it stands for five seconds to the end of the axes.
        let first = at(ADIABATIC_UP_TO.as_seconds()).max(current.low);
        let last = at(time.low).min(current.high);
        if first < last {
            let line = [first, last].map(|amps| (current.place(amps), time.place(stands(amps))));
            scene.line(&line, WIRE_LINE);
            labels.insert(0, Label::beside(format!("{} {} stands this long", wire.name, wire.size), &line));
        }
    }
    if let Some(curve) = &known.curve {
        let place = |(multiple, seconds): (f64, f64)| (current.place(multiple * rating.as_amps()), time.place(seconds));
        let mut line: Vec<(f32, f32)> =
            latest(curve).map(|(multiple, seconds, _)| place((multiple, seconds))).collect();
        if let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) {
            // Below the first point it may never open; beyond the last one its time is taken.
            line.insert(0, (first.0, PLOT.1));
            line.push((PLOT.2.max(last.0), last.1));
        }
        scene.line(&line, FUSE_LINE);
        for (multiple, seconds, status) in latest(curve) {
            let fill = if status == Status::Verified { Ink::DARK } else { Ink::WHITE };
            scene.circle(place((multiple, seconds)), MARK, Some(fill), Some(Stroke::plain(Ink::DARK, 1.0)));
        }
        labels.insert(0, Label::beside(format!("{} opens at the latest", known.fuse.name), &line[1..]));
    }
    labels
}

fn title(known: &Known) -> String {
    let wire = known.wire.map(|w| format!(" and {}, the thinnest conductor behind it", w.name)).unwrap_or_default();
    super::place::shortened(&format!("{}{wire}", called(known.fuse)), TITLE, PLOT_WIDTH - 4.0)
}

fn called(fuse: &Fuse) -> String {
    let body = fuse.style.map_or("circuit breaker", crate::handbook::fuse::FuseStyle::word);
    format!("{} {} {body}", fuse.name, fuse.rating.as_rating())
}

/// Seconds, or that there is no promise.
fn within(time: Option<Duration>) -> String {
    time.map_or_else(|| "may never open".to_owned(), |t| format!("opens within {t} at the latest"))
}

fn verdict(known: &Known) -> Option<String> {
    let (fault, wire) = (known.fault?, known.wire?);
    let mut text = format!("At a short at the end of {} ({}) {fault} flow", wire.name, wire.to);
    if let Some(curve) = &known.curve {
        let longest = longest_opening(&curve.value, known.fuse.rating, fault);
        let _ = write!(text, ": {} {}", known.fuse.name, within(longest));
    }
    if let Some(k) = &known.withstand {
        let stands = withstand(copper_area(wire.size), k.value, fault);
        let beyond = if stands > ADIABATIC_UP_TO { "more than 5 s".to_owned() } else { stands.to_string() };
        let _ = write!(text, "; {} stands them for {beyond}", wire.name);
    }
    Some(text + ".")
}

fn says(known: &Known) -> String {
    let rest = verdict(known).unwrap_or_else(|| "No current at a short is known.".to_owned());
    format!("Time over current of {}. {rest}", called(known.fuse))
}

fn remarks(known: &Known) -> Vec<(String, Ink)> {
    let mut texts: Vec<(String, Ink)> = verdict(known).into_iter().map(|text| (text, Ink::DARK)).collect();
    let mut soft = |text: String| texts.push((text, Ink::SOFT));
    match &known.curve {
        Some(curve) => {
            let remembered = latest(curve).any(|(_, _, status)| status == Status::FromMemory);
            let hollow = if remembered { "; hollow marks: that point is from memory" } else { "" };
            let source = Cited::new((), curve.source.clone(), curve.status).citation();
            soft(format!("Fuse, longest time: {source}{hollow}."));
        }
        None => soft(format!("The curve of {} is not known here.", known.fuse.name)),
    }
    if let (Some(k), Some(wire)) = (&known.withstand, known.wire) {
        let heat = short_time_limit(wire.insulation_or_usual()).value.as_celsius();
        let start = wire.insulation_or_usual().as_celsius();
        soft(format!(
            "Conductor: t = (k S / I)² up to 5 s, S = {:.2} mm² of copper, k = {:.0} A√s/mm² from {start:.0} to {heat:.0} °C; {}.",
            copper_area(wire.size).as_mm2(),
            k.value,
            k.citation()
        ));
    }
    if let Some(ampacity) = &known.ampacity {
        soft(format!("For long: {}.", ampacity.citation()));
    }
    if known.wire.is_none() {
        soft(format!("No wire lies behind {}.", known.fuse.name));
    } else if known.fault.is_none() {
        soft(
            "The current at a short is not known: an open contact lies before it, or there is no steady state."
                .to_owned(),
        );
    }
    match known.load {
        Some(load) if load.as_amps() <= known.fuse.rating.as_amps() * LEAST_SHARE => {
            soft(format!("Everything on draws {load}, left of the plot."));
        }
        _ => {}
    }
    texts
}

#[cfg(test)]
#[path = "protection_tests.rs"]
mod tests;
