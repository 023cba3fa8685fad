//! The chart of a trend: single readings above, moving ranges below, both with the limits of a steady process.

use super::axis::Axis;
use super::plot::{NOTES, PLOT_WIDTH, TITLE, WORDS, frame, grid};
use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use crate::quantity::Amount;
use crate::report::trend::Trend;

/// Left and right edge of both panels, in points.
const LEFT: f32 = 52.0;
const RIGHT: f32 = 500.0;
/// Upper edge of the upper panel, heights of both, and the air between them.
const TOP: f32 = 34.0;
const HEIGHT: f32 = 170.0;
const RANGES: f32 = 80.0;
const AIR: f32 = 34.0;
/// Steps of the axes.
const STEPS: usize = 6;
const RANGE_STEPS: usize = 3;
/// Most numbers along the lower edge.
const NUMBERS: usize = 12;
const LIMIT: Stroke = Stroke::dashed(Ink::BAD, 1.0, 6.0, 3.0);
const STATED: Stroke = Stroke::plain(Ink::BAD, 1.2);
const CENTRE: Stroke = Stroke::plain(Ink::GOOD, 1.0);
const LINE: Stroke = Stroke::plain(Ink::PALE, 0.8);
const AVERAGE: Stroke = Stroke::plain(Ink::SOFT, 1.4);

/// Both panels, `PLOT_WIDTH` wide. Readings at which a rule is broken are red, the thick line is the moving average.
pub fn chart(trend: &Trend, title: &str) -> Scene {
    let own = &trend.chart;
    let unit = own.centre.dimension().unit();
    let count = trend.readings.len();
    let says = format!(
        "{title}: {count} readings, {} of them break a rule; centre {}, limits {}",
        trend.broken(),
        own.centre,
        own.low.range_to(own.high)
    );
    let mut scene = Scene::new(says, PLOT_WIDTH, TOP);
    let title = super::place::shortened(&format!("{title}: single readings, {unit}"), TITLE, PLOT_WIDTH - 4.0);
    scene.text((2.0, 12.0), title, Type::of(TITLE).bold());
    let words =
        "thick line: moving average; green: mean; dashed: limits of a steady process; red mark: a rule is broken";
    scene.text((2.0, 24.0), words, Type::of(NOTES).in_ink(Ink::SOFT));

    let values: Vec<f64> = trend.readings.iter().map(|taken| taken.value.base()).collect();
    let stated = [trend.limits.0, trend.limits.1].into_iter().flatten().map(Amount::base);
    let all: Vec<f64> = values.iter().copied().chain([own.low.base(), own.high.base()]).chain(stated.clone()).collect();
    let (low, high) = all.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
    let axis = Axis::linear(low, high, STEPS, (TOP + HEIGHT, TOP));
    let across = |at: usize| LEFT + 6.0 + (RIGHT - LEFT - 12.0) * at as f32 / (count - 1).max(1) as f32;
    grid(&mut scene, &axis, (LEFT, RIGHT), STEPS, true);
    let level = |scene: &mut Scene, axis: &Axis, value: f64, stroke: Stroke, word: String| {
        let y = axis.place(value);
        scene.line(&[(LEFT, y), (RIGHT, y)], stroke);
        scene.text((RIGHT + 3.0, y + 2.4), word, Type::of(NOTES).in_ink(stroke.ink));
    };
    for value in stated {
        level(&mut scene, &axis, value, STATED, format!("{} limit", short(value)));
    }
    for (limit, stroke) in [(own.low, LIMIT), (own.centre, CENTRE), (own.high, LIMIT)] {
        level(&mut scene, &axis, limit.base(), stroke, short(limit.base()));
    }
    let place = |at: usize, value: f64| (across(at), axis.place(value));
    let line: Vec<(f32, f32)> = values.iter().enumerate().map(|(at, value)| place(at, *value)).collect();
    scene.line(&line, LINE);
    let average: Vec<(f32, f32)> =
        trend.average.averages.iter().enumerate().map(|(at, value)| place(at, value.base())).collect();
    scene.line(&average, AVERAGE);
    for (at, point) in line.iter().enumerate() {
        let broken = trend.broken_at(at).next().is_some();
        scene.circle(*point, if broken { 2.6 } else { 1.6 }, Some(if broken { Ink::BAD } else { Ink::DARK }), None);
    }
    frame(&mut scene, (LEFT, TOP, RIGHT, TOP + HEIGHT));

    let upper = TOP + HEIGHT + AIR;
    let lower = upper + RANGES;
    scene.text((2.0, upper - 6.0), format!("from one reading to the next, {unit}"), Type::of(WORDS).bold());
    let ranges: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let most = ranges.iter().copied().fold(own.range_high.base(), f64::max);
    let axis = Axis::linear(0.0, most, RANGE_STEPS, (lower, upper));
    grid(&mut scene, &axis, (LEFT, RIGHT), RANGE_STEPS, true);
    level(&mut scene, &axis, own.range_high.base(), LIMIT, short(own.range_high.base()));
    level(&mut scene, &axis, own.mean_range.base(), CENTRE, short(own.mean_range.base()));
    for (at, range) in ranges.iter().enumerate() {
        let ink = if *range > own.range_high.base() { Ink::BAD } else { Ink::DARK };
        scene.circle((across(at + 1), axis.place(*range)), 1.4, Some(ink), None);
    }
    frame(&mut scene, (LEFT, upper, RIGHT, lower));
    let every = count.div_ceil(NUMBERS).max(1);
    for at in (0..count).step_by(every) {
        let day = trend.readings[at].at.strftime("%y-%m-%d").to_string();
        let kind = Type::of(NOTES).anchored(Anchor::Middle);
        scene.text((across(at), lower + 10.0), (at + 1).to_string(), kind);
        scene.text((across(at), lower + 19.0), day, kind.in_ink(Ink::SOFT));
    }
    scene.height = lower + 24.0;
    scene
}

/// Three figures, which is what the eye takes in beside a line.
fn short(value: f64) -> String {
    let size = value.abs();
    let digits = [100.0, 10.0, 1.0, 0.1, 0.01, 0.001].iter().position(|from| size >= *from);
    format!("{value:.*}", digits.unwrap_or(if value == 0.0 { 0 } else { 6 }))
}
