//! Gives the trees of a sheet their places: rows from above to below, columns by depth.

use super::net::Cell;
use super::returns::Rows;
use super::symbol::{LEADING, NAME, Symbol, WORDS, Whereabouts, Words};
use super::width::text_width;
use crate::job::{Job, Wire};

/// Height of a row, in points.
pub(super) const ROW: f32 = 52.0;
/// From the upper edge of a row to its line.
pub(super) const TO_LINE: f32 = 25.0;
/// Room beside the label of a wire, in points.
const LABEL_AIR: f32 = 2.0;
/// Between a symbol and the upright line at which its branches begin.
pub(super) const BUS: f32 = 4.0;
/// A connection without a wire.
const SHORT: f32 = 6.0;
/// A label wider than this sets its colour in a line of its own.
const BROAD: f32 = 58.0;
/// The words of a colour are cut off beyond this.
const COLOUR_WIDTH: f32 = 110.0;
/// Left of the first symbol stand the numbers of the rows.
const NUMBERS: f32 = 14.0;

/// A symbol at its place.
pub(super) struct Spot<'c> {
    /// What stands there.
    pub cell: &'c Cell,
    /// What is written at it.
    pub words: Words,
    /// How far it reaches to either side.
    pub reach: f32,
    /// Its middle.
    pub x: f32,
    /// The line of its row.
    pub y: f32,
    /// What goes on, each from a port.
    pub branches: Vec<(usize, Spot<'c>)>,
}

/// The label of a wire: lines above the conductor, and below it.
pub(super) struct Label {
    /// Name and colour; the lowest last.
    pub above: Vec<String>,
    /// Size and length.
    pub below: Vec<String>,
}

/// What is needed to lay out a sheet.
pub(super) struct Setting<'j> {
    pub job: &'j Job,
    pub built: &'j dyn Fn(&str) -> Option<String>,
    pub at: &'j Whereabouts,
    /// Whether symbols of one depth stand in one column; else each row is as short as it can be.
    pub aligned: bool,
}

impl Setting<'_> {
    /// The label of a wire.
    pub fn label(&self, wire: &Wire) -> Label {
        let colour = wire.colour.as_deref().map(|c| shortened(c, WORDS, COLOUR_WIDTH));
        let colour = colour.filter(|c| !c.is_empty()).unwrap_or_else(|| "colour not stated".to_owned());
        let one = format!("{} {colour}", wire.name);
        let above = if text_width(&one, WORDS, false) <= BROAD { vec![one] } else { vec![wire.name.clone(), colour] };
        let length = match (self.built)(&wire.name).filter(|built| !built.trim().is_empty()) {
            Some(built) => format!("built {built}"),
            None => wire.length.nominal.to_string(),
        };
        Label { above, below: vec![wire.size.to_string(), length] }
    }

    /// The room that a wire needs between two symbols.
    fn room(&self, wire: Option<usize>) -> f32 {
        let Some(wire) = wire.and_then(|index| self.job.wires.get(index)) else { return SHORT };
        let label = self.label(wire);
        let lines = label.above.iter().chain(&label.below);
        lines.map(|line| text_width(line, WORDS, false)).fold(0.0, f32::max) + 2.0 * LABEL_AIR
    }

    /// From the end of a symbol to that of the next.
    fn gap(&self, parent: &Cell, child: &Cell) -> f32 {
        self.room(child.wire) + if parent.children.len() > 1 { BUS } else { 0.0 }
    }

    fn spot<'c>(&self, cell: &'c Cell, mirrored: bool) -> Spot<'c> {
        let mut words = cell.symbol.words(self.job, self.at, mirrored);
        if matches!(cell.symbol, Symbol::Terminal(_)) && cell.wire.is_some() && !cell.children.is_empty() {
            // A joint in the middle of its row refers to nothing.
            words.below.clear();
        }
        let reach = cell.symbol.reach(self.job, &words);
        let branches = cell.children.iter().map(|(port, child)| (*port, self.spot(child, mirrored))).collect();
        Spot { cell, words, reach, x: 0.0, y: 0.0, branches }
    }
}

/// A text that is cut off where it grows wider than a measure, with a mark that it was.
pub(super) fn shortened(text: &str, size: f32, width: f32) -> String {
    let text = text.trim();
    if text_width(text, size, true) <= width {
        return text.to_owned();
    }
    let mut short = String::new();
    for letter in text.chars() {
        if text_width(&short, size, true) + text_width("m…", size, true) > width {
            break;
        }
        short.push(letter);
    }
    format!("{}…", short.trim_end())
}

/// A sheet with all its places.
pub(super) struct Laid<'c> {
    pub trees: Vec<Spot<'c>>,
    pub returns: Vec<Spot<'c>>,
    /// The line of each row of the sheet.
    pub lines: Vec<f32>,
    /// Right end of the load column's stubs.
    pub width: f32,
    /// Lower end of the last row.
    pub bottom: f32,
}

/// Lays out the trees of one sheet. `first` is the number of its first row, from 0; `top` its upper edge.
pub(super) fn lay<'c>(
    setting: &Setting,
    (trees, returns): (&'c [Cell], &'c [Cell]),
    rows: &Rows,
    first: usize,
    top: f32,
) -> Laid<'c> {
    let mut spots: Vec<Spot> = trees.iter().map(|tree| setting.spot(tree, false)).collect();
    let mut lines = Vec::new();
    let mut edge = top;
    for (index, spot) in spots.iter_mut().enumerate() {
        let begin = edge;
        for _ in 0..spot.cell.rows() {
            lines.push(edge + TO_LINE);
            edge += ROW;
        }
        // The cells of a battery need their height, and end above the next tree.
        let joined = trees.get(index + 1).is_some_and(|next| matches!(next.symbol, Symbol::Negative(_)));
        if matches!(spot.cell.symbol, Symbol::Supply(_)) && !joined {
            edge = edge.max(begin + TO_LINE + super::marks::SUPPLY_DEPTH + LEADING);
        }
        let mut own = lines[lines.len() - spot.cell.rows()..].iter().copied();
        set_lines(spot, &mut own);
    }
    // Loads and coils reach equally far, so that their wires begin and end in line.
    let reach = spots.iter().map(widest_sink).fold(0.0, f32::max);
    for spot in &mut spots {
        set_reach(spot, reach);
    }
    // Roots of all kinds stand in the first column.
    let roots = spots.iter().map(|spot| spot.reach).fold(0.0, f32::max);
    let columns = setting.aligned.then(|| columns(setting, &spots, NUMBERS + roots));
    let mut sinks = 0.0;
    let mut others = 0.0;
    for spot in &mut spots {
        // What hangs on the negative side of a battery begins below it.
        let below = setting.aligned || matches!(spot.cell.symbol, Symbol::Supply(_) | Symbol::Negative(_));
        let left = NUMBERS + if below { roots } else { spot.reach };
        set_x(setting, spot, left, 0, columns.as_deref(), &mut (&mut sinks, &mut others));
    }
    let load = f32::max(sinks, others + reach);
    for spot in &mut spots {
        set_sinks(spot, load);
    }
    let behind = load + reach;
    let mut back: Vec<Spot> = returns.iter().map(|tree| setting.spot(tree, true)).collect();
    let by_height = setting.aligned.then(|| heights(setting, &back, behind));
    let mut end = behind;
    for spot in &mut back {
        set_rows(spot, rows, first, &lines);
        set_back(setting, spot, behind, by_height.as_deref());
        end = f32::max(end, spot.x + spot.reach);
    }
    // All grounds in one column at the right.
    let widest = back.iter().map(|spot| spot.reach).fold(0.0, f32::max);
    let column = back.iter().map(|spot| spot.x).fold(end - widest, f32::max);
    for spot in &mut back {
        spot.x = column;
        end = f32::max(end, column + spot.reach);
    }
    Laid { trees: spots, returns: back, lines, width: end + 2.0, bottom: edge }
}

fn set_lines(spot: &mut Spot, lines: &mut impl Iterator<Item = f32>) -> f32 {
    let mut first = None;
    for (_, branch) in &mut spot.branches {
        let line = set_lines(branch, lines);
        first.get_or_insert(line);
    }
    spot.y = first.or_else(|| lines.next()).unwrap_or_default();
    spot.y
}

/// The middles of the columns: as far left as the widest symbol and label before them allow.
fn columns(setting: &Setting, spots: &[Spot], first: f32) -> Vec<f32> {
    fn measure(setting: &Setting, spot: &Spot, depth: usize, found: &mut Vec<(f32, f32)>) {
        if found.len() <= depth {
            found.resize(depth + 1, (0.0, 0.0));
        }
        found[depth].1 = found[depth].1.max(spot.reach);
        for (_, branch) in spot.branches.iter().filter(|(_, branch)| !branch.cell.symbol.is_sink()) {
            measure(setting, branch, depth + 1, found);
            found[depth + 1].0 = found[depth + 1].0.max(setting.gap(spot.cell, branch.cell));
        }
    }
    let mut found = Vec::new();
    for spot in spots {
        measure(setting, spot, 0, &mut found);
    }
    let mut columns = Vec::new();
    for (depth, (gap, reach)) in found.iter().enumerate() {
        let x = match columns.last() {
            None => first,
            Some(before) => before + found[depth - 1].1 + gap + reach,
        };
        columns.push(x);
    }
    columns
}

fn set_x(
    setting: &Setting,
    spot: &mut Spot,
    x: f32,
    depth: usize,
    columns: Option<&[f32]>,
    ends: &mut (&mut f32, &mut f32),
) {
    spot.x = x;
    if spot.cell.symbol.is_sink() {
        *ends.0 = ends.0.max(x);
        return;
    }
    *ends.1 = ends.1.max(x + spot.reach);
    for (_, branch) in &mut spot.branches {
        let nearest = x + spot.reach + setting.gap(spot.cell, branch.cell) + branch.reach;
        let column = columns.and_then(|c| c.get(depth + 1)).filter(|_| !branch.cell.symbol.is_sink());
        let place = column.copied().unwrap_or(nearest).max(nearest);
        set_x(setting, branch, place, depth + 1, columns, ends);
    }
}

fn widest_sink(spot: &Spot) -> f32 {
    let own = if spot.cell.symbol.is_sink() { spot.reach } else { 0.0 };
    spot.branches.iter().map(|(_, branch)| widest_sink(branch)).fold(own, f32::max)
}

fn set_reach(spot: &mut Spot, reach: f32) {
    if spot.cell.symbol.is_sink() {
        spot.reach = reach;
    }
    for (_, branch) in &mut spot.branches {
        set_reach(branch, reach);
    }
}

fn set_sinks(spot: &mut Spot, load: f32) {
    if spot.cell.symbol.is_sink() {
        spot.x = load;
    }
    for (_, branch) in &mut spot.branches {
        set_sinks(branch, load);
    }
}

fn set_rows(spot: &mut Spot, rows: &Rows, first: usize, lines: &[f32]) {
    for (_, branch) in &mut spot.branches {
        set_rows(branch, rows, first, lines);
    }
    let own = match &spot.cell.symbol {
        Symbol::Pin(pin) => rows.get(pin).and_then(|(_, row)| lines.get(row.checked_sub(first)?)).copied(),
        _ => spot.branches.first().map(|(_, branch)| branch.y),
    };
    spot.y = own.unwrap_or_default();
}

/// How many symbols lie between a spot and the farthest of its pins.
fn height_of(spot: &Spot) -> usize {
    spot.branches.iter().map(|(_, branch)| height_of(branch) + 1).max().unwrap_or(0)
}

/// The middles of the columns behind the loads, by the number of symbols before them.
fn heights(setting: &Setting, spots: &[Spot], behind: f32) -> Vec<f32> {
    fn measure(setting: &Setting, spot: &Spot, root: bool, found: &mut Vec<(f32, f32)>) {
        let height = height_of(spot);
        if found.len() <= height {
            found.resize(height + 1, (0.0, 0.0));
        }
        if !root {
            found[height].1 = found[height].1.max(spot.reach);
            for (_, branch) in &spot.branches {
                let gap = setting.gap(spot.cell, branch.cell);
                found[height].0 = found[height].0.max(gap);
            }
        }
        for (_, branch) in &spot.branches {
            measure(setting, branch, false, found);
        }
    }
    let mut found = vec![(0.0, 0.0)];
    for spot in spots {
        measure(setting, spot, true, &mut found);
    }
    let mut columns = vec![behind];
    for height in 1..found.len() {
        let before = if height == 1 { 0.0 } else { found[height - 1].1 };
        columns.push(columns[height - 1] + before + found[height].0 + found[height].1);
    }
    columns
}

fn set_back(setting: &Setting, spot: &mut Spot, behind: f32, columns: Option<&[f32]>) {
    let mut nearest = behind;
    for (_, branch) in &mut spot.branches {
        set_back(setting, branch, behind, columns);
        nearest = nearest.max(branch.x + branch.reach + setting.gap(spot.cell, branch.cell) + spot.reach);
    }
    let column = columns.and_then(|c| c.get(height_of(spot))).copied().unwrap_or(nearest);
    spot.x = if matches!(spot.cell.symbol, Symbol::Pin(_)) { behind } else { column.max(nearest) };
    if matches!(spot.cell.symbol, Symbol::Pin(_)) {
        spot.reach = 0.0;
    }
}

/// Size of the numbers of rows, in points.
pub(super) const ROW_NUMBER: f32 = NAME;
