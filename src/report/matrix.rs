//! The matrix of faults against steps as a plot: which step would have noticed which fault.

use serde::{Deserialize, Serialize};

use super::drawing::scene::{Anchor, Ink, Point, Scene, Shape, Stroke};
use crate::diagnosis::{Coverage, Covered, Noticed, SURELY};

/// What the matrix comes to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Matrix {
    /// Faults that count.
    pub faults: usize,
    /// Faults noticed for sure.
    pub detected: usize,
    /// Of them by inspection alone.
    pub by_inspection: usize,
    /// Faults that are told from all others.
    pub isolated: usize,
    /// Faults that are not noticed for sure, in words.
    pub missed: Vec<String>,
}

/// Side of a cell, in points.
const CELL: f32 = 5.0;
/// Room for the words of the rows, in points.
const LEFT: f32 = 132.0;
/// Room for the words of the columns, in points.
const TOP: f32 = 96.0;
/// Words of columns stand at least so far apart, in points.
const APART: f32 = 9.0;
/// Words of rows stand at least so far apart, in points.
const BELOW: f32 = 6.5;

impl Matrix {
    /// The matrix in numbers, and as a drawing.
    pub(super) fn of(coverage: &Coverage) -> (Self, Scene) {
        let mut faults: Vec<&Covered> = coverage.counted().collect();
        faults.sort_by_key(|covered| covered.fault.kind);
        let missed = faults.iter().filter(|covered| !covered.is_detected()).map(|covered| covered.fault.says());
        let matrix = Self {
            faults: faults.len(),
            detected: coverage.detected().count(),
            by_inspection: faults.iter().filter(|covered| covered.noticed == Noticed::ByInspection).count(),
            isolated: coverage.isolated(),
            missed: missed.collect(),
        };
        let scene = matrix.scene(coverage, &faults);
        (matrix, scene)
    }

    fn scene(&self, coverage: &Coverage, faults: &[&Covered]) -> Scene {
        // A step that notices nothing has no column.
        let notices = |step: &usize| faults.iter().any(|covered| covered.by.iter().any(|(by, _)| by == step));
        let steps: Vec<usize> = (0..coverage.steps.len()).filter(notices).collect();
        let mut shapes = Vec::new();
        let word = |x: f32, y: f32, text: &str, anchor: Anchor, upright: bool| Shape::Text {
            at: Point { x, y },
            text: text.to_owned(),
            size: 6.5,
            bold: false,
            anchor,
            ink: Ink::DARK,
            upright,
        };
        let (mut last, mut lowest) = (String::new(), TOP);
        for (row, covered) in faults.iter().enumerate() {
            let y = TOP + CELL * row as f32;
            let kind = covered.fault.kind.word().replace('-', " ");
            if kind != last {
                // Words of neighbouring kinds with one fault each stand below each other.
                lowest = (y + CELL).max(lowest + BELOW);
                shapes.push(word(LEFT - 5.0, lowest, &kind, Anchor::End, false));
                last = kind;
            }
            for (step, share) in &covered.by {
                let Some(column) = steps.iter().position(|own| own == step) else { continue };
                shapes.push(cell(LEFT + CELL * column as f32, y, *share >= SURELY));
            }
        }
        let (mut last, mut right) = (String::new(), f32::MIN);
        for (column, step) in steps.iter().enumerate() {
            let key = coverage.steps[*step].key.as_str();
            let procedure = key.split('/').next().unwrap_or(key).to_owned();
            let x = LEFT + CELL * column as f32;
            if procedure != last && x >= right + APART {
                shapes.push(word(x + CELL, TOP - 4.0, &procedure, Anchor::Start, true));
                last = procedure;
                right = x;
            }
        }
        let says = format!("{} of {} faults are noticed for sure", self.detected, self.faults);
        let height = (TOP + CELL * faults.len() as f32).max(lowest) + 6.0;
        Scene { says, width: LEFT + CELL * steps.len() as f32 + 12.0, height, shapes }
    }
}

/// A fault that a step notices: full where it surely does, a small hollow square where perhaps.
fn cell(x: f32, y: f32, surely: bool) -> Shape {
    let (inset, side) = if surely { (0.5, CELL - 1.0) } else { (1.5, CELL - 3.0) };
    let (left, top) = (x + inset, y + inset);
    let corners = [(left, top), (left + side, top), (left + side, top + side), (left, top + side)];
    let points = corners.map(|(x, y)| Point { x, y }).to_vec();
    let stroke = Stroke { ink: Ink::SOFT, width: 0.6, dash: None };
    if surely {
        Shape::Area { points, fill: Some(Ink::DARK), stroke: None }
    } else {
        Shape::Area { points, fill: None, stroke: Some(stroke) }
    }
}
