//! The voltage along the path of one load: at each terminal from the positive post of its battery to the load, and from the
//! load back to the negative post, as the circuit gives it and as it was read.
//!
//! What is expected is computed as for the plan (`circuit::voltage`): nominal, and with every tolerance at its worst. The
//! state is that in which the walk reads the voltage at the load; without such a reading, the load's own switches are on.

use std::collections::{BTreeMap, VecDeque};

use super::axis::Axis;
use super::overlap::place_free;
use super::plot::{NOTES, PLOT_WIDTH, TITLE, WORDS, frame, grid, notes};
use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use super::width::text_width;
use crate::circuit::{Circuit, State};
use crate::job::{Job, Terminal, source_of, switches_of};
use crate::plan::{Ask, Probes};
use crate::quantity::{Dimension, Reading, show, show_with_sign};
use crate::walk::Walk;

/// Left and right edge of both panels, in points.
const LEFT: f32 = 48.0;
const RIGHT: f32 = 532.0;
/// Upper edge of the upper panel, and the heights of both.
const TOP: f32 = 26.0;
const FEED_HEIGHT: f32 = 140.0;
const RETURN_HEIGHT: f32 = 80.0;
/// Between the panels: room for the numbers at their ends.
const AIR: f32 = 12.0;
/// Height of a line of drops, in points.
const LANE: f32 = 15.0;
/// Steps of the axes of volts.
const STEPS: usize = 6;
const RETURN_STEPS: usize = 3;
/// An axis of volts spans at least this.
const LEAST_SPAN: f64 = 0.01;
/// A band of at least this height has room for a word, in points.
const BAND_FOR_WORDS: f32 = 18.0;
/// Half the width of the ends of a bar of uncertainty, in points.
const CAP: f32 = 3.0;
/// Nominal values, limits, readings.
const NOMINAL: Stroke = Stroke::plain(Ink::GOOD, 1.2);
const LIMIT: Stroke = Stroke::dashed(Ink::BAD, 1.2, 6.0, 3.0);
const READ: Stroke = Stroke::plain(Ink::DARK, 1.1);
/// A path of more terminals than this has no room for their names.
const MOST: usize = 44;

/// The terminals of a path, and what is expected at each against the negative post, in volts: low, nominal, high.
struct Path {
    terminals: Vec<Terminal>,
    expected: Vec<(f64, f64, f64)>,
    /// How many lie before the load.
    feed: usize,
}

/// A reading between two places of the path, in volts: its value, and its expanded uncertainty.
struct Taken {
    red: usize,
    black: usize,
    value: f64,
    uncertainty: f64,
    expected: Option<String>,
}

/// The voltage along the path of a load in its running state, with the readings that stand; `PLOT_WIDTH` wide. The two
/// panels have scales of their own: what the feed takes shows above, what the return takes below.
///
/// A reading against the negative post is a mark with its expanded uncertainty (k = 2); one between two other places of the
/// path is a line between them with its value. `None` where there is no such load, where no path leads to it and back, or
/// where the circuit has no steady state.
pub fn profile(walk: &Walk, load: &str) -> Option<Scene> {
    let job = walk.job();
    let state = state_of(walk, load)?;
    let path = path_of(job, load, &state)?;
    let taken = readings(walk, &path, &state);
    let needs = job.load(load).and_then(|l| l.needs).map(crate::quantity::Voltage::as_volts);
    let lower = path.expected.get(path.feed).map_or(0.0, |e| e.1);
    let limit = needs.map(|needs| needs + lower);
    let says = says(load, &path, &taken, needs);
    let mut scene = Scene::new(says, PLOT_WIDTH, TOP);
    let title = super::place::shortened(&format!("Voltage along the path of {load}"), TITLE, PLOT_WIDTH - 4.0);
    scene.text((2.0, TITLE), title, Type::of(TITLE).bold());
    let x = |index: usize| {
        let step = (RIGHT - LEFT) / path.terminals.len().max(1) as f32;
        LEFT + step * (index as f32 + 0.5)
    };
    let (marks, drops): (Vec<&Taken>, Vec<&Taken>) =
        taken.iter().partition(|t| t.black + 1 == path.terminals.len() && t.red != t.black);
    let middle = TOP + FEED_HEIGHT;
    let bottom = middle + AIR + RETURN_HEIGHT;
    let panels =
        [(0..path.feed, TOP, middle, STEPS), (path.feed..path.terminals.len(), middle + AIR, bottom, RETURN_STEPS)];
    let mut labels = Vec::new();
    let mut band = None;
    for (range, upper, lower, steps) in panels {
        let limit = limit.filter(|_| range.start == 0);
        let of_panel: Vec<&Taken> = marks.iter().copied().filter(|t| range.contains(&t.red)).collect();
        let axis = axis(&path, range.clone(), &of_panel, limit, steps, (lower, upper));
        panel(&mut scene, &axis, (upper, lower), steps);
        expected(&mut scene, &path, range.clone(), &axis, &x);
        if let (Some(limit), Some(needs)) = (limit, needs) {
            let y = axis.place(limit);
            scene.line(&[(x(range.end - 1) - 30.0, y), (RIGHT, y)], LIMIT);
            let text = format!("{load} needs {}", show(needs, Dimension::Voltage));
            labels.push((text, vec![(RIGHT - 3.0, y - 3.5), (RIGHT - 3.0, y + 9.0)], Anchor::End));
        }
        for reading in of_panel {
            labels.push(mark(&mut scene, reading, &axis, x(reading.red)));
        }
        let inside = range.clone().filter_map(|index| {
            let (low, _, high) = path.expected[index];
            let room = axis.place(low) - axis.place(high);
            (room > BAND_FOR_WORDS).then_some((x(index) + 4.0, axis.place(low) - 2.5))
        });
        let inside: Vec<(f32, f32)> = inside.collect();
        if !inside.is_empty() && range.start == 0 {
            band = Some(("expected".to_owned(), inside, Anchor::Start));
        }
    }
    let mut below = Vec::new();
    for (text, places, anchor) in labels {
        let kind = Type::of(WORDS).anchored(anchor);
        if !place_free(&mut scene, &text, kind, &places, (LEFT, TOP, RIGHT, bottom)) {
            below.push((text, Ink::DARK));
        }
    }
    if let Some((text, places, _)) = band {
        // The note below says it as well.
        place_free(&mut scene, &text, Type::of(NOTES).in_ink(Ink::GOOD), &places, (LEFT, TOP, RIGHT, bottom));
    }
    scene.height = bottom;
    drop_lines(&mut scene, &drops, &x);
    names(&mut scene, &path, &x);
    let about = format!(
        "Against {}. Band: what the circuit must show with {}; line: nominal.{}",
        path.terminals.last().map_or(String::new(), |t| t.name().replace(".-", " −")),
        state.describe(job),
        if taken.is_empty() {
            " No reading stands in this state.".to_owned()
        } else {
            " Circles and lines with ends: readings, with their expanded uncertainty (k = 2).".to_owned()
        }
    );
    below.push((about, Ink::SOFT));
    notes(&mut scene, &below);
    Some(scene)
}

/// The state in which the walk reads the load's own voltage, else that with its own switches on.
fn state_of(walk: &Walk, load: &str) -> Option<State> {
    let job = walk.job();
    job.load(load)?;
    let across = Probes::Between(Terminal::of(load, "+"), Terminal::of(load, "-"));
    let of_steps = walk.plan().steps.iter().filter_map(|step| match &step.ask {
        Ask::Measure(m) if m.dimension == Dimension::Voltage && m.probes == across => Some((step, &m.state)),
        _ => None,
    });
    let read = of_steps.clone().find(|(step, _)| walk.latest(&step.key).is_some());
    let state = read.or_else(|| of_steps.clone().next()).map(|(_, state)| state.clone());
    let own = || State { on: switches_of(job, load).into_iter().collect(), ..State::rest() };
    Some(state.unwrap_or_else(own))
}

fn path_of(job: &Job, load: &str, state: &State) -> Option<Path> {
    let circuit = Circuit::of(job);
    let solution = circuit.solve(state).ok()?;
    let source = source_of(job, load);
    let way = |from: &str, to: &str| shortest(job, &|relay| solution.energised.contains(relay), from, to);
    let mut terminals = way(&format!("{source}.+"), &format!("{load}.+"))?;
    let feed = terminals.len();
    terminals.extend(way(&format!("{load}.-"), &format!("{source}.-"))?);
    if terminals.len() > MOST {
        return None;
    }
    let minus = Terminal::of(source, "-");
    let terminals: Vec<Terminal> = terminals.into_iter().map(Terminal::new).collect();
    let mut expected = Vec::new();
    for terminal in &terminals {
        if *terminal == minus {
            expected.push((0.0, 0.0, 0.0));
            continue;
        }
        let found = circuit.voltage(terminal, &minus, state).ok()?;
        let volts = [found.low?.base(), found.nominal?.base(), found.high?.base()];
        if volts.iter().any(|v| !v.is_finite()) {
            return None;
        }
        expected.push((volts[0], volts[1], volts[2]));
    }
    Some(Path { terminals, expected, feed })
}

/// The shortest way along wires and through closed parts, as names of terminals; neither a load nor a coil is passed.
fn shortest(job: &Job, holds: &dyn Fn(&str) -> bool, from: &str, to: &str) -> Option<Vec<String>> {
    let mut came_from: BTreeMap<String, String> = BTreeMap::new();
    let mut queue = VecDeque::from([from.to_owned()]);
    while let Some(here) = queue.pop_front() {
        if here == to {
            let mut way = vec![here];
            while let Some(before) = way.last().filter(|t| t.as_str() != from).and_then(|t| came_from.get(t)) {
                way.push(before.clone());
            }
            way.reverse();
            return Some(way);
        }
        for next in neighbours(job, holds, &here) {
            if next != from && !came_from.contains_key(&next) {
                came_from.insert(next.clone(), here.clone());
                queue.push_back(next);
            }
        }
    }
    None
}

fn neighbours(job: &Job, holds: &dyn Fn(&str) -> bool, here: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for wire in &job.wires {
        if wire.from.name() == here {
            found.push(wire.to.name().to_owned());
        } else if wire.to.name() == here {
            found.push(wire.from.name().to_owned());
        }
    }
    let is_ground = |name: &str| job.grounds.iter().any(|g| g.name == name);
    match here {
        "chassis" => {
            found.push("battery.-".to_owned());
            found.extend(job.grounds.iter().map(|g| g.name.clone()));
        }
        "battery.-" => found.push("chassis".to_owned()),
        ground if is_ground(ground) => found.push("chassis".to_owned()),
        _ => {}
    }
    let Some((part, pole)) = here.split_once('.') else { return found };
    if job.relays.iter().any(|r| r.name == part) {
        let closed = if holds(part) { "87" } else { "87a" };
        match pole {
            "30" => found.push(format!("{part}.{closed}")),
            pole if pole == closed => found.push(format!("{part}.30")),
            _ => {}
        }
    } else if let Some(front) = here.strip_suffix(".in") {
        found.push(format!("{front}.out"));
    } else if let Some(front) = here.strip_suffix(".out") {
        found.push(format!("{front}.in"));
    }
    found
}

/// The readings of the state that stand, between two places of the path, each pair once: the last one.
fn readings(walk: &Walk, path: &Path, state: &State) -> Vec<Taken> {
    let place = |terminal: &Terminal| path.terminals.iter().position(|t| t == terminal);
    let mut found: Vec<Taken> = Vec::new();
    for step in &walk.plan().steps {
        let Ask::Measure(measurement) = &step.ask else { continue };
        let Probes::Between(red, black) = &measurement.probes else { continue };
        if measurement.dimension != Dimension::Voltage || measurement.state != *state {
            continue;
        }
        let (Some(red), Some(black), Some(attempt)) = (place(red), place(black), walk.latest(&step.key)) else {
            continue;
        };
        let Some(value) = attempt.reading.as_ref().and_then(Reading::amount).map(crate::quantity::Amount::base) else {
            continue;
        };
        let uncertainty = attempt.judgement.uncertainty.map_or(0.0, crate::quantity::Amount::base);
        let expected = attempt.low.zip(attempt.high).map(|(low, high)| low.range_to(high));
        found.retain(|t| (t.red, t.black) != (red, black));
        if value.is_finite() && uncertainty.is_finite() && red != black {
            found.push(Taken { red, black, value, uncertainty, expected });
        }
    }
    found
}

fn axis(
    path: &Path,
    range: std::ops::Range<usize>,
    marks: &[&Taken],
    limit: Option<f64>,
    steps: usize,
    ends: (f32, f32),
) -> Axis {
    let mut volts: Vec<f64> = path.expected[range].iter().flat_map(|(low, _, high)| [*low, *high]).collect();
    volts.extend(marks.iter().flat_map(|t| [t.value - t.uncertainty, t.value + t.uncertainty]));
    volts.extend(limit);
    let low = volts.iter().copied().fold(f64::INFINITY, f64::min);
    let high = volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // A little air, so that nothing lies on the frame; and no axis is finer than a meter reads.
    let air = (0.04 * (high - low)).max((LEAST_SPAN - (high - low)) / 2.0);
    Axis::linear(low - air, high + air, steps, ends)
}

fn panel(scene: &mut Scene, axis: &Axis, (upper, lower): (f32, f32), steps: usize) {
    grid(scene, axis, (LEFT, RIGHT), steps, true);
    frame(scene, (LEFT, upper, RIGHT, lower));
    let unit = Type::of(WORDS).turned().anchored(Anchor::Middle);
    scene.text((10.0, f32::midpoint(upper, lower)), "voltage in V", unit);
}

fn expected(scene: &mut Scene, path: &Path, range: std::ops::Range<usize>, axis: &Axis, x: &dyn Fn(usize) -> f32) {
    let mut outline: Vec<(f32, f32)> = range.clone().map(|i| (x(i), axis.place(path.expected[i].2))).collect();
    outline.extend(range.clone().rev().map(|i| (x(i), axis.place(path.expected[i].0))));
    // Behind the grid nothing is lost: the band is pale.
    scene.area(&outline, Some(Ink::BAND), None);
    let edge = Stroke::plain(Ink::PALE, 0.8);
    scene.line(&outline, edge);
    let nominal: Vec<(f32, f32)> = range.map(|i| (x(i), axis.place(path.expected[i].1))).collect();
    scene.line(&nominal, NOMINAL);
    for (x, y) in nominal {
        scene.circle((x, y), 1.1, Some(NOMINAL.ink), None);
    }
}

type Wanted = (String, Vec<(f32, f32)>, Anchor);

/// Draws a reading against the negative post, and says where its value may be written.
fn mark(scene: &mut Scene, reading: &Taken, axis: &Axis, x: f32) -> Wanted {
    let (value, off) = (reading.value, reading.uncertainty);
    let (upper, lower, y) = (axis.place(value + off), axis.place(value - off), axis.place(value));
    scene.line(&[(x, upper), (x, lower)], READ);
    for end in [upper, lower] {
        scene.line(&[(x - CAP, end), (x + CAP, end)], READ);
    }
    scene.circle((x, y), 2.2, Some(Ink::WHITE), Some(READ));
    let text = show_with_sign(value, off, Dimension::Voltage);
    let wide = text_width(&text, WORDS, false);
    let mut places = Vec::new();
    for step in 0..8u8 {
        let away = 11.0 * f32::from(step);
        places.extend([(x + 6.0, y + 2.5 - away), (x + 6.0, y + 2.5 + away)]);
        places.extend([(x - wide - 6.0, y + 2.5 - away), (x - wide - 6.0, y + 2.5 + away)]);
    }
    (text, places, Anchor::Start)
}

/// Draws the readings between two places of the path as lines between them, each in a lane of its own.
fn drop_lines(scene: &mut Scene, drops: &[&Taken], x: &dyn Fn(usize) -> f32) {
    for reading in drops {
        let y = scene.height + LANE - 4.0;
        let (from, to) = (x(reading.red.min(reading.black)), x(reading.red.max(reading.black)));
        scene.line(&[(from, y), (to, y)], READ);
        for end in [from, to] {
            scene.line(&[(end, y - CAP), (end, y + CAP)], READ);
        }
        let read = show_with_sign(reading.value, reading.uncertainty, Dimension::Voltage);
        let expected = reading.expected.as_ref().map(|e| format!(", expected {e}")).unwrap_or_default();
        let text = format!("{read}{expected}");
        let wide = text_width(&text, WORDS, false);
        // Beside the line where there is room, else above it.
        let (at, lane) = if to + 4.0 + wide < PLOT_WIDTH {
            ((to + 6.0, y + 2.5), LANE)
        } else if from - 6.0 - wide > 0.0 {
            ((from - 6.0 - wide, y + 2.5), LANE)
        } else {
            let middle = f32::midpoint(from, to) - wide / 2.0;
            ((middle.clamp(1.0, (PLOT_WIDTH - wide - 1.0).max(1.0)), y + 10.0), LANE + 8.0)
        };
        scene.text(at, text, Type::of(WORDS));
        scene.height += lane;
    }
}

/// Writes the names of the terminals below everything, reading upwards.
fn names(scene: &mut Scene, path: &Path, x: &dyn Fn(usize) -> f32) {
    let shown: Vec<String> = path
        .terminals
        .iter()
        .map(|t| if t.name() == "chassis" { "body".to_owned() } else { t.name().replace(".-", ".−") })
        .collect();
    let widest = shown.iter().map(|t| text_width(t, WORDS, false)).fold(0.0, f32::max);
    let base = scene.height + 6.0;
    for (index, name) in shown.into_iter().enumerate() {
        let kind = Type::of(WORDS).turned().anchored(Anchor::End);
        scene.text((x(index) + 2.7, base), name, kind);
    }
    scene.height = base + widest;
}

fn says(load: &str, path: &Path, taken: &[Taken], needs: Option<f64>) -> String {
    let volts = |value: f64| show(value, Dimension::Voltage);
    let at = |index: usize| path.expected.get(index).map_or(0.0, |e| e.1);
    let across = at(path.feed.saturating_sub(1)) - at(path.feed);
    let needs = needs.map(|needs| format!(" of the {} it needs", volts(needs))).unwrap_or_default();
    format!(
        "Voltage along the path of {load}: {} at the battery, {} expected across the load{needs}; {} readings stand.",
        volts(at(0)),
        volts(across),
        taken.len()
    )
}

#[cfg(test)]
#[path = "profile_tests.rs"]
mod tests;
