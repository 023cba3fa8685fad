//! Which trees of a job stand on which sheet, and in which rows.

use std::collections::BTreeSet;

use super::net::{Cell, Net, ends};
use super::returns::{Rows, cut, first_row, goes_on_by_name, lower, ways_back};
use super::symbol::{Symbol, Whereabouts};
use crate::job::Job;

/// How much a sheet may hold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Rows of a sheet.
    pub rows: usize,
    /// Symbols in a row up to a load.
    pub depth: usize,
    /// Symbols in a row from a load back to the ground.
    pub height: usize,
}

/// A sheet before it is laid out.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    /// What lies before the loads, from above to below.
    pub trees: Vec<Cell>,
    /// The ways back behind them.
    pub returns: Vec<Cell>,
    /// The number of its first row, from 1 over all sheets.
    pub first_row: usize,
}

/// All sheets of a job.
#[derive(Debug, Clone)]
pub(super) struct Sheets {
    /// The sheets, in order.
    pub each: Vec<Sheet>,
    /// In which row each part stands.
    pub at: Whereabouts,
    /// In which sheet and row (from 0 over all sheets) each far pin stands.
    pub rows: Rows,
    /// Things that no wire reaches, in words.
    pub unwired: Vec<String>,
}

/// Puts the trees of a job on sheets.
pub(super) fn sheets(job: &Job, limits: Limits) -> Sheets {
    let mut net = Net::of(job);
    let batteries: Vec<&str> =
        std::iter::once("battery").chain(job.further_batteries.iter().map(|b| b.name.as_str())).collect();
    let supplies: Vec<Cell> = batteries
        .iter()
        .map(|name| net.grow(Cell::at(&format!("{name}.+"), Symbol::Supply((*name).to_owned()))))
        .collect();
    let mut pins = Vec::new();
    for tree in &supplies {
        tree.each(&mut |cell| pins.extend(cell.symbol.left_by()));
    }
    let mut far = Vec::new();
    let mut returns = Vec::new();
    for tree in ways_back(&mut net, &pins) {
        returns.extend(lower(tree, limits.height, &mut far));
    }
    // Each group stays together as far as the rows of a sheet allow.
    let mut groups: Vec<Vec<Cell>> = Vec::new();
    let mut all = supplies.iter().flat_map(|tree| deep(tree.clone(), limits.depth)).collect::<Vec<_>>();
    let further: Vec<Cell> = all.extract_if(.., |tree| !matches!(tree.symbol, Symbol::Supply(_))).collect();
    for tree in all {
        let mut group = parts_of(tree, limits.rows);
        if let Some(Symbol::Supply(name)) = group.last().map(|last| last.symbol.clone())
            && !net.open_at(&format!("{name}.-")).is_empty()
            && name != "battery"
        {
            let post = format!("{name}.-");
            let tree = net.grow(Cell::at(&post, Symbol::Negative(name)));
            group.extend(deep(tree, limits.depth).into_iter().flat_map(|tree| parts_of(tree, limits.rows)));
        }
        groups.push(group);
    }
    let rest = further.into_iter().chain(far).chain(left_over(&mut net)).flat_map(|tree| deep(tree, limits.depth));
    groups.extend(rest.map(|tree| parts_of(tree, limits.rows)));
    let trees = fill(groups, limits.rows);
    number(job, &net, trees, returns)
}

/// Trees of the wires that neither a battery nor a way back reached.
fn left_over(net: &mut Net) -> Vec<Cell> {
    let mut trees = Vec::new();
    while let Some(wire) = net.drawn.iter().position(|drawn| !drawn) {
        let job = net.job;
        let wire = &job.wires[wire];
        let known = |end: &str| {
            net.seen.contains(end)
                || job.grounds.iter().any(|g| g.name == end)
                || end.split_once('.').is_some_and(|(part, _)| job.battery_named(part).is_some())
        };
        let start = if !known(wire.from.name()) && known(wire.to.name()) { &wire.to } else { &wire.from };
        let root = net.root_at(start.name());
        trees.push(net.grow(root));
    }
    trees
}

/// Takes off what lies deeper than `most` symbols; it goes on as a tree of its own.
fn deep(tree: Cell, most: usize) -> Vec<Cell> {
    let mut open = vec![tree];
    let mut done = Vec::new();
    while let Some(mut tree) = open.pop() {
        let mut parts = Vec::new();
        take_deep(&mut tree, most.max(2), &mut parts);
        done.push(tree);
        parts.reverse();
        open.extend(parts);
    }
    done
}

fn take_deep(cell: &mut Cell, left: usize, parts: &mut Vec<Cell>) {
    if left > 0 {
        for (_, child) in &mut cell.children {
            take_deep(child, left - 1, parts);
        }
        return;
    }
    let mut children = std::mem::take(&mut cell.children);
    for (port, terminal) in cell.ports.iter().enumerate() {
        let own: Vec<(usize, Cell)> =
            children.extract_if(.., |(of, _)| *of == port).map(|(_, child)| (0, child)).collect();
        if own.is_empty() {
            continue;
        }
        let named = Symbol::Terminal(terminal.clone());
        parts.push(Cell { children: own, ..Cell::at(terminal, named.clone()) });
        if !goes_on_by_name(&cell.symbol) {
            cell.children.push((port, Cell::leaf(None, named)));
        }
    }
}

/// A tree in parts of at most so many rows; each later part begins at the terminal from which it goes on.
fn parts_of(tree: Cell, most: usize) -> Vec<Cell> {
    if tree.rows() <= most {
        return vec![tree];
    }
    let again = |tree: &Cell, port: usize| {
        if matches!(tree.symbol, Symbol::Supply(_)) {
            return Cell { children: Vec::new(), ..tree.clone() };
        }
        let terminal = tree.ports.get(port).cloned().unwrap_or_default();
        Cell::at(&terminal, Symbol::Terminal(terminal.clone()))
    };
    let mut done: Vec<Cell> = Vec::new();
    let mut now = Cell { children: Vec::new(), ..tree.clone() };
    let mut port_now = None;
    for (port, child) in tree.children.clone() {
        let supply = matches!(tree.symbol, Symbol::Supply(_));
        for (index, piece) in parts_of(child, most).into_iter().enumerate() {
            if index > 0 {
                // It has a root of its own.
                done.push(std::mem::replace(&mut now, again(&tree, port)));
                done.push(piece);
                port_now = Some(port);
                continue;
            }
            let full = !now.children.is_empty() && now.rows() + piece.rows() > most;
            // A reference stands for one terminal only.
            let other = !supply && port_now.is_some_and(|now| now != port);
            if full || other {
                done.push(std::mem::replace(&mut now, again(&tree, port)));
                port_now = Some(port);
            }
            now.children.push((if port_now.is_some() { 0 } else { port }, piece));
        }
    }
    if !now.children.is_empty() {
        done.push(now);
    }
    done.retain(|part| !part.children.is_empty());
    done
}

/// Fills sheets in order. A group that no longer fits begins a sheet of its own.
fn fill(groups: Vec<Vec<Cell>>, most: usize) -> Vec<Vec<Cell>> {
    let rows = |trees: &[Cell]| trees.iter().map(Cell::rows).sum::<usize>();
    let mut sheets: Vec<Vec<Cell>> = vec![Vec::new()];
    for group in groups {
        let whole = rows(&group) <= most;
        for (index, tree) in group.iter().enumerate() {
            let last = sheets.last().map_or(0, |sheet| rows(sheet));
            let wanted = if whole && index == 0 { rows(&group) } else { tree.rows() };
            if last > 0 && last + wanted > most {
                sheets.push(Vec::new());
            }
            let Some(sheet) = sheets.last_mut() else { continue };
            let mut tree = tree.clone();
            if let (Symbol::Negative(name), true) = (&tree.symbol, sheet.is_empty()) {
                // Its battery is drawn on the sheet before.
                tree.symbol = Symbol::Terminal(format!("{name}.-"));
            }
            sheet.push(tree);
        }
    }
    sheets
}

/// Numbers the rows, cuts the ways back to them, and finds what no wire reaches.
fn number(job: &Job, net: &Net, trees: Vec<Vec<Cell>>, returns: Vec<Cell>) -> Sheets {
    let (mut rows, mut at) = (Rows::new(), Whereabouts::new());
    let mut row = 0;
    let mut first_rows = Vec::new();
    for (sheet, trees) in trees.iter().enumerate() {
        first_rows.push(row + 1);
        for tree in trees {
            note(tree, row, &mut at);
            let mut found = Vec::new();
            ends(tree, &mut found);
            for (index, end) in found.iter().enumerate() {
                rows.extend(end.symbol.left_by().map(|pin| (pin, (sheet, row + index))));
            }
            row += tree.rows();
        }
    }
    let returns = cut(returns, &rows);
    for tree in &returns {
        tree.each(&mut |cell| {
            for terminal in cell.symbol.terminals() {
                at.entry(terminal).or_insert(first_row(cell, &rows).1 + 1);
            }
        });
    }
    let sheets = trees.into_iter().zip(first_rows).enumerate().map(|(index, (trees, first_row_here))| {
        let own = returns.iter().filter(|tree| first_row(tree, &rows).0 == index).cloned().collect();
        Sheet { trees, returns: own, first_row: first_row_here }
    });
    let sheets = sheets.collect();
    let unwired = unwired(job, net, &at);
    Sheets { each: sheets, at, rows, unwired }
}

/// Notes the row of every symbol of a tree.
fn note(cell: &Cell, row: usize, at: &mut Whereabouts) {
    for terminal in cell.symbol.terminals() {
        at.entry(terminal).or_insert(row + 1);
    }
    let mut below = row;
    for (_, child) in &cell.children {
        note(child, below, at);
        below += child.rows();
    }
}

/// What stands in no row, since no wire ends on it.
fn unwired(job: &Job, net: &Net, at: &Whereabouts) -> Vec<String> {
    let absent = |terminal: String| !at.contains_key(&terminal);
    let mut found = Vec::new();
    for fuse in job.fuses.iter().filter(|f| absent(format!("{}.in", f.name))) {
        let kind = if fuse.style.is_some() { "fuse" } else { "breaker" };
        found.push(format!("{} ({kind} {})", fuse.name, fuse.rating.as_rating()));
    }
    for relay in &job.relays {
        let (coil, contact) = (absent(format!("{}.86", relay.name)), absent(format!("{}.30", relay.name)));
        match (coil, contact) {
            (true, true) => found.push(format!("{} (relay)", relay.name)),
            (true, false) => found.push(format!("{} (coil, 85 and 86)", relay.name)),
            (false, true) => found.push(format!("{} (contact, 30 and 87)", relay.name)),
            (false, false) => {}
        }
    }
    found.extend(
        job.switches.iter().filter(|s| absent(format!("{}.in", s.name))).map(|s| format!("{} (switch)", s.name)),
    );
    for connector in &job.connectors {
        let open: BTreeSet<&str> = connector
            .cavities
            .iter()
            .filter(|cavity| absent(format!("{}.{cavity}.in", connector.name)))
            .map(String::as_str)
            .collect();
        found.extend(open.iter().map(|cavity| format!("{}.{cavity} (cavity)", connector.name)));
    }
    found.extend(job.splices.iter().filter(|s| absent(s.name.clone())).map(|s| format!("{} (splice)", s.name)));
    found.extend(job.grounds.iter().filter(|g| !net.is_wired(&g.name)).map(|g| format!("{} (ground)", g.name)));
    for load in job.loads.iter().filter(|l| absent(format!("{}.+", l.name))) {
        found.push(format!("{} ({}, {})", load.name, load.kind.word(), load.draws()));
    }
    found
}
