//! The ways back: from the far pin of each load and coil to a ground or a negative post, as trees with their root there.

use std::collections::BTreeMap;

use super::net::{Cell, Net};
use super::symbol::Symbol;

/// Where a pin of a load or coil is drawn: sheet and row.
pub(super) type Rows = BTreeMap<String, (usize, usize)>;

/// The trees of all ways back. Only what leads to one of the pins is taken; other wires stay open.
pub(super) fn ways_back(net: &mut Net, pins: &[String]) -> Vec<Cell> {
    let job = net.job;
    // A pin stands in one tree; a second wire from it is drawn by itself.
    let mut pins = pins.to_vec();
    let mut roots: Vec<(String, Symbol)> =
        job.grounds.iter().map(|g| (g.name.clone(), Symbol::Ground(g.name.clone()))).collect();
    roots.push(("chassis".to_owned(), Symbol::Ground("chassis".to_owned())));
    let batteries = std::iter::once("battery").chain(job.further_batteries.iter().map(|b| b.name.as_str()));
    roots.extend(batteries.map(|name| format!("{name}.-")).map(|post| (post.clone(), Symbol::Terminal(post))));
    let mut trees = Vec::new();
    for (terminal, symbol) in roots {
        // Each wire of a ground has a symbol of its own: the same stud, wherever it is drawn.
        for (wire, _) in net.open_at(&terminal) {
            if net.drawn[wire] {
                continue;
            }
            let mut trial = net.clone();
            for pin in &pins {
                trial.seen.remove(pin);
            }
            for (other, _) in net.open_at(&terminal).into_iter().filter(|(other, _)| *other != wire) {
                trial.drawn[other] = true;
            }
            let grown = trial.grow(Cell::at(&terminal, symbol.clone()));
            let Some(kept) = keep(grown, &pins) else { continue };
            kept.each(&mut |cell| {
                if let Some(wire) = cell.wire {
                    net.drawn[wire] = true;
                }
                net.seen.extend(cell.ports.iter().cloned());
                net.seen.extend(cell.symbol.terminals());
            });
            let taken = pins_of(&kept);
            pins.retain(|pin| !taken.contains(pin));
            trees.push(kept);
        }
    }
    trees
}

/// What of a tree leads to a pin; a load or coil is replaced by that pin.
fn keep(cell: Cell, pins: &[String]) -> Option<Cell> {
    if let Some(pin) = cell.symbol.entered().filter(|pin| pins.contains(pin)) {
        return Some(Cell::leaf(cell.wire, Symbol::Pin(pin)));
    }
    // Through a changeover contact only one way is followed: the other would look like the same conductor.
    let one_port = matches!(cell.symbol, Symbol::Contact { .. });
    let onward = cell.children.into_iter().filter(|(port, _)| !one_port || *port == 0);
    let children: Vec<(usize, Cell)> = onward.filter_map(|(port, child)| Some((port, keep(child, pins)?))).collect();
    (!children.is_empty()).then_some(Cell { children, ..cell })
}

/// Cuts trees so that no upright line crosses a row of another: what would is a tree of its own, and begins at a
/// reference to the terminal. `rows` tells where each pin is.
pub(super) fn cut(trees: Vec<Cell>, rows: &Rows) -> Vec<Cell> {
    let mut open = trees;
    let mut done = Vec::new();
    while let Some(mut tree) = open.pop() {
        let mut parts = Vec::new();
        split(&mut tree, rows, &mut parts);
        open.extend(parts);
        done.push(tree);
    }
    done.sort_by_key(|tree| first_row(tree, rows));
    done
}

/// Sorts the branches by row and takes off those that do not follow on the row above without a gap.
fn split(cell: &mut Cell, rows: &Rows, parts: &mut Vec<Cell>) {
    for (_, child) in &mut cell.children {
        split(child, rows, parts);
    }
    let own: Vec<(usize, usize)> = pins_of(cell).iter().filter_map(|pin| rows.get(pin).copied()).collect();
    cell.children.sort_by_key(|(_, child)| first_row(child, rows));
    let taken: Vec<(usize, usize)> = rows.values().copied().filter(|row| !own.contains(row)).collect();
    let mut apart = Vec::new();
    let mut kept: Vec<(usize, Cell)> = Vec::new();
    for (port, child) in std::mem::take(&mut cell.children) {
        let Some(above) = kept.last().map(|(_, above)| first_row(above, rows)) else {
            kept.push((port, child));
            continue;
        };
        let here = first_row(&child, rows);
        let crosses = above.0 != here.0 || taken.iter().any(|row| *row > above && *row < here);
        if crosses { apart.push((port, child)) } else { kept.push((port, child)) }
    }
    cell.children = kept;
    if !apart.is_empty() {
        let terminal = cell.ports.first().cloned().unwrap_or_default();
        let root = Cell::at(&terminal, Symbol::Terminal(terminal.clone()));
        parts.push(Cell { children: apart, ..root });
    }
}

fn pins_of(tree: &Cell) -> Vec<String> {
    let mut pins = Vec::new();
    tree.each(&mut |cell| {
        if let Symbol::Pin(pin) = &cell.symbol {
            pins.push(pin.clone());
        }
    });
    pins
}

/// The uppermost row of a tree.
pub(super) fn first_row(tree: &Cell, rows: &Rows) -> (usize, usize) {
    pins_of(tree).iter().filter_map(|pin| rows.get(pin).copied()).min().unwrap_or((usize::MAX, usize::MAX))
}

/// How many wires lie between a cell and the farthest of its pins.
pub(super) fn height(cell: &Cell) -> usize {
    cell.children.iter().map(|(_, child)| height(child) + 1).max().unwrap_or(0)
}

/// Takes off everything that lies more than `most` symbols from its pins: a tree of its own to be drawn elsewhere.
/// What is left begins at a reference.
pub(super) fn lower(tree: Cell, most: usize, far: &mut Vec<Cell>) -> Vec<Cell> {
    if height(&tree) <= most {
        return vec![tree];
    }
    let mut near = Vec::new();
    far.push(take_near(tree, most, &mut near));
    near
}

fn take_near(mut cell: Cell, most: usize, near: &mut Vec<Cell>) -> Cell {
    let terminal = cell.ports.first().cloned().unwrap_or_default();
    if height(&cell) <= most && !cell.children.is_empty() {
        let root = Cell::at(&terminal, Symbol::Terminal(terminal.clone()));
        near.push(Cell { children: std::mem::take(&mut cell.children), ..root });
        if !goes_on_by_name(&cell.symbol) {
            cell.children = vec![(0, Cell::leaf(None, Symbol::Terminal(terminal)))];
        }
        return cell;
    }
    let children = std::mem::take(&mut cell.children);
    let mut kept = Vec::new();
    for (port, child) in children {
        if matches!(child.symbol, Symbol::Pin(_)) {
            // The wire to a pin close by stays with its pin.
            let root = Cell::at(&terminal, Symbol::Terminal(terminal.clone()));
            near.push(Cell { children: vec![(port, child)], ..root });
        } else {
            kept.push((port, take_near(child, most, near)));
        }
    }
    cell.children = kept;
    cell
}

/// Whether a symbol shows the name of the terminal at which it goes on.
pub(super) fn goes_on_by_name(symbol: &Symbol) -> bool {
    matches!(symbol, Symbol::Splice(_) | Symbol::Terminal(_))
}
