//! Whether words of a drawing lie on other words, or on lines.

use super::scene::{Anchor, Ink, Point, Scene, Shape, Type};
use super::width::text_width;

/// A box: left, upper, right, lower edge.
type Bounds = (f32, f32, f32, f32);

/// Above the base line reach capitals, below it the tails, as shares of the size.
const RISE: f32 = 0.72;
const TAIL: f32 = 0.2;

fn bounds(shape: &Shape) -> Option<(Bounds, &str)> {
    let Shape::Text { at, text, size, bold, anchor, upright, .. } = shape else { return None };
    let wide = text_width(text, *size, *bold);
    let before = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => wide / 2.0,
        Anchor::End => wide,
    };
    let along = (-before, wide - before);
    let (rise, tail) = (RISE * size, TAIL * size);
    let found = if *upright {
        (at.x - rise, at.y - along.1, at.x + tail, at.y - along.0)
    } else {
        (at.x + along.0, at.y - rise, at.x + along.1, at.y + tail)
    };
    Some((found, text))
}

fn overlap(a: Bounds, b: Bounds) -> bool {
    a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3
}

/// Whether a line between two points passes through a box (Liang and Barsky's clipping).
fn crosses((a, b): (Point, Point), (left, upper, right, lower): Bounds) -> bool {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (mut enter, mut leave) = (0.0f32, 1.0f32);
    for (step, room) in [(-dx, a.x - left), (dx, right - a.x), (-dy, a.y - upper), (dy, lower - a.y)] {
        if step == 0.0 {
            if room <= 0.0 {
                return false;
            }
        } else if step < 0.0 {
            enter = enter.max(room / step);
        } else {
            leave = leave.min(room / step);
        }
    }
    enter < leave
}

/// Whether a text lies on an outline. A pale line may run below words.
fn lies_on(own: Bounds, shape: &Shape) -> bool {
    match shape {
        Shape::Line { points, stroke } => {
            stroke.ink != Ink::PALE && points.windows(2).any(|pair| crosses((pair[0], pair[1]), own))
        }
        Shape::Area { points, stroke: Some(stroke), .. } => {
            let next = points.iter().cycle().skip(1);
            stroke.ink != Ink::PALE && points.iter().zip(next).any(|(a, b)| crosses((*a, *b), own))
        }
        Shape::Circle { centre, radius, .. } => {
            let near = Point::at(centre.x.clamp(own.0, own.2), centre.y.clamp(own.1, own.3));
            let corners = [(own.0, own.1), (own.2, own.1), (own.0, own.3), (own.2, own.3)];
            let away = |x: f32, y: f32| (x - centre.x).hypot(y - centre.y);
            let farthest = corners.iter().map(|(x, y)| away(*x, *y)).fold(0.0, f32::max);
            away(near.x, near.y) < *radius && farthest > *radius
        }
        _ => false,
    }
}

/// Room that a word keeps around it where a place is looked for, in points.
const CLEAR: f32 = 1.0;

/// Adds a text at the first of some places where it lies on nothing within `frame` (left, upper, right, lower edge);
/// says whether there was one.
pub(super) fn place_free(scene: &mut Scene, text: &str, kind: Type, places: &[(f32, f32)], frame: Bounds) -> bool {
    let shape_at = |at: (f32, f32)| {
        let mut trial = Scene::new("", 0.0, 0.0);
        trial.text(at, text, kind);
        trial.shapes.pop()
    };
    for at in places {
        let Some(shape) = shape_at(*at) else { continue };
        let Some((own, _)) = bounds(&shape) else { continue };
        let own = (own.0 - CLEAR, own.1 - CLEAR, own.2 + CLEAR, own.3 + CLEAR);
        let inside = own.0 >= frame.0 && own.1 >= frame.1 && own.2 <= frame.2 && own.3 <= frame.3;
        let taken = |other: &Shape| bounds(other).is_some_and(|(b, _)| overlap(own, b)) || lies_on(own, other);
        if inside && !scene.shapes.iter().any(taken) {
            scene.shapes.push(shape);
            return true;
        }
    }
    false
}

/// Everything that lies on something else, in words.
#[cfg(test)]
pub fn collisions(scene: &Scene) -> Vec<String> {
    let texts: Vec<(Bounds, &str)> = scene.shapes.iter().filter_map(bounds).collect();
    let mut found = Vec::new();
    for (index, (own, text)) in texts.iter().enumerate() {
        if own.0 < -0.5 || own.1 < -0.5 || own.2 > scene.width + 0.5 || own.3 > scene.height + 0.5 {
            found.push(format!("`{text}` leaves the sheet: {own:?} of {} x {}", scene.width, scene.height));
        }
        for (other, words) in &texts[index + 1..] {
            if overlap(*own, *other) {
                found.push(format!("`{text}` at {own:?} lies on `{words}` at {other:?}"));
            }
        }
        for shape in scene.shapes.iter().filter(|shape| lies_on(*own, shape)) {
            found.push(format!("`{text}` at {own:?} lies on {shape:?}"));
        }
    }
    found
}
