//! What the plots share: frames with ticks, notes below them.

use super::axis::Axis;
use super::scene::{Anchor, Ink, Scene, Stroke, Type};
use super::width::text_width;

/// Width of a plot: A4 upright, less its margins, in points.
pub const PLOT_WIDTH: f32 = 540.0;
/// Size of the words of a plot, in points.
pub(super) const WORDS: f32 = 7.5;
/// Size of its notes.
pub(super) const NOTES: f32 = 7.0;
/// Size of its title.
pub(super) const TITLE: f32 = 10.0;
/// From one line of notes to the next.
const LEADING: f32 = 9.0;
/// Grid lines: at numbers, and in between.
const GRID: Stroke = Stroke::plain(Ink::PALE, 0.6);
const FINE_GRID: Stroke = Stroke::plain(Ink::PALE, 0.25);
/// Frames.
pub(super) const FRAME: Stroke = Stroke::plain(Ink::SOFT, 0.8);

/// Draws the grid of an axis across the other one, and its numbers.
pub(super) fn grid(scene: &mut Scene, axis: &Axis, across: (f32, f32), steps: usize, upright: bool) {
    for tick in axis.ticks(steps) {
        let place = axis.place(tick.value);
        let stroke = if tick.text.is_some() { GRID } else { FINE_GRID };
        if upright {
            scene.line(&[(across.0, place), (across.1, place)], stroke);
            if let Some(text) = tick.text {
                scene.text((across.0 - 4.0, place + 2.6), text, Type::of(WORDS).anchored(Anchor::End));
            }
        } else {
            scene.line(&[(place, across.0), (place, across.1)], stroke);
            if let Some(text) = tick.text {
                scene.text((place, across.1 + 10.0), text, Type::of(WORDS).anchored(Anchor::Middle));
            }
        }
    }
}

/// Draws the frame of a plot.
pub(super) fn frame(scene: &mut Scene, (left, upper, right, lower): (f32, f32, f32, f32)) {
    scene.area(&[(left, upper), (right, upper), (right, lower), (left, lower)], None, Some(FRAME));
}

/// Breaks a text into lines of at most a width.
pub(super) fn broken(text: &str, size: f32, width: f32) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let word = super::place::shortened(word, size, width);
        let next = if line.is_empty() { word.clone() } else { format!("{line} {word}") };
        if line.is_empty() || text_width(&next, size, false) <= width {
            line = next;
        } else {
            lines.push(std::mem::replace(&mut line, word));
        }
    }
    lines.extend(Some(line).filter(|line| !line.is_empty()));
    lines
}

/// Adds notes below everything, and makes the drawing as high as they ask for.
pub(super) fn notes(scene: &mut Scene, notes: &[(String, Ink)]) {
    let mut y = scene.height + LEADING;
    for (text, ink) in notes {
        for line in broken(text, NOTES, scene.width - 4.0) {
            scene.text((2.0, y), line, Type::of(NOTES).in_ink(*ink));
            y += LEADING;
        }
    }
    scene.height = y - LEADING + 3.0;
}
