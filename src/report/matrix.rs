//! The matrix of faults against steps as a plot: which step would have noticed which fault.

use serde::{Deserialize, Serialize};

use crate::diagnosis::{Coverage, Covered, Noticed, SURELY};

/// The plot, and what it comes to.
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
    /// Width of the drawing.
    pub width: usize,
    /// Height of the drawing.
    pub height: usize,
    /// Left edge of the cells.
    pub left: usize,
    /// Upper edge of the cells.
    pub top: usize,
    /// One word for each kind of fault, at the first of its rows.
    pub rows: Vec<Mark>,
    /// One word for each procedure, at the first of its columns.
    pub columns: Vec<Mark>,
    /// What is noticed for sure.
    pub sure: Vec<Cell>,
    /// What is noticed perhaps.
    pub perhaps: Vec<Cell>,
}

/// A word at a row or column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Mark {
    text: String,
    at: usize,
}

/// A fault that a step notices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Cell {
    x: usize,
    y: usize,
}

/// Side of a cell.
const CELL: usize = 5;
/// Room for the words of the rows.
const LEFT: usize = 132;
/// Room for the words of the columns.
const TOP: usize = 84;
/// Words of columns stand at least so far apart.
const APART: usize = 9;
/// Words of rows stand at least so far apart.
const BELOW: usize = 6;

impl Matrix {
    pub(super) fn of(coverage: &Coverage) -> Self {
        let mut faults: Vec<&Covered> = coverage.counted().collect();
        faults.sort_by_key(|covered| covered.fault.kind);
        // A step that notices nothing has no column.
        let notices = |step: &usize| faults.iter().any(|covered| covered.by.iter().any(|(by, _)| by == step));
        let steps: Vec<usize> = (0..coverage.steps.len()).filter(notices).collect();
        let mut matrix = Self {
            faults: faults.len(),
            detected: coverage.detected().count(),
            by_inspection: faults.iter().filter(|covered| covered.noticed == Noticed::ByInspection).count(),
            isolated: coverage.isolated(),
            missed: faults
                .iter()
                .filter(|covered| !covered.is_detected())
                .map(|covered| covered.fault.says())
                .collect(),
            width: LEFT + CELL * steps.len() + 60,
            height: TOP + CELL * faults.len() + 6,
            left: LEFT,
            top: TOP,
            rows: Vec::new(),
            columns: Vec::new(),
            sure: Vec::new(),
            perhaps: Vec::new(),
        };
        let mut last = String::new();
        for (row, covered) in faults.iter().enumerate() {
            let y = TOP + CELL * row;
            let word = covered.fault.kind.word().replace('-', " ");
            if word != last {
                matrix.rows.push(Mark { text: word.clone(), at: y + CELL });
                last = word;
            }
            for (step, share) in &covered.by {
                let Some(column) = steps.iter().position(|own| own == step) else { continue };
                let cell = Cell { x: LEFT + CELL * column, y };
                if *share >= SURELY { matrix.sure.push(cell) } else { matrix.perhaps.push(cell) }
            }
        }
        let mut last = String::new();
        for (column, step) in steps.iter().enumerate() {
            let key = coverage.steps[*step].key.as_str();
            let procedure = key.split('/').next().unwrap_or(key).to_owned();
            let x = LEFT + CELL * column;
            let crowded = matrix.columns.last().is_some_and(|mark| x < mark.at + APART);
            if procedure != last && !crowded {
                matrix.columns.push(Mark { text: procedure.clone(), at: x });
                last = procedure;
            }
        }
        // Words of neighbouring kinds with one fault each stand below each other.
        for row in 1..matrix.rows.len() {
            let above = matrix.rows[row - 1].at;
            matrix.rows[row].at = matrix.rows[row].at.max(above + BELOW);
        }
        let lowest = matrix.rows.last().map_or(0, |mark| mark.at);
        matrix.height = matrix.height.max(lowest + 6);
        matrix
    }
}
