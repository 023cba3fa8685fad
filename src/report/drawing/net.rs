//! The job as trees of conductors: from a battery post towards the loads, each wire once.

use std::collections::{BTreeSet, VecDeque};

use super::symbol::Symbol;
use crate::job::Job;

/// A symbol of the drawing and what goes on behind it.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// The wire by which it is reached, by its place in the job; `None` at a root, and where the terminal is the same.
    pub wire: Option<usize>,
    /// What stands there.
    pub symbol: Symbol,
    /// The terminals at which it goes on.
    pub ports: Vec<String>,
    /// What goes on, each from one of the ports; those of the first port come first.
    pub children: Vec<(usize, Cell)>,
}

impl Cell {
    /// A symbol at which nothing goes on.
    pub fn leaf(wire: Option<usize>, symbol: Symbol) -> Self {
        Self { wire, symbol, ports: Vec::new(), children: Vec::new() }
    }

    /// A root or joint at one terminal.
    pub fn at(terminal: &str, symbol: Symbol) -> Self {
        Self { wire: None, symbol, ports: vec![terminal.to_owned()], children: Vec::new() }
    }

    /// How many rows it takes: one for each of its ends.
    pub fn rows(&self) -> usize {
        self.children.iter().map(|(_, child)| child.rows()).sum::<usize>().max(1)
    }

    /// Visits the cell and all behind it, from above to below.
    pub fn each<'c>(&'c self, visit: &mut impl FnMut(&'c Cell)) {
        visit(self);
        for (_, child) in &self.children {
            child.each(visit);
        }
    }
}

/// The ends of the rows of a tree: loads, coils and everything else at which nothing goes on.
pub(super) fn ends<'c>(cell: &'c Cell, found: &mut Vec<&'c Cell>) {
    if cell.children.is_empty() {
        found.push(cell);
    }
    for (_, child) in &cell.children {
        ends(child, found);
    }
}

/// What is known of a job while its trees grow.
#[derive(Debug, Clone)]
pub(super) struct Net<'j> {
    pub job: &'j Job,
    /// Wires that stand in a tree.
    pub drawn: Vec<bool>,
    /// Terminals that stand in a tree; grounds and battery posts never count, they stand wherever a wire ends on them.
    pub seen: BTreeSet<String>,
}

/// One symbol of a growing tree.
struct Grown {
    cell: Cell,
    parent: Option<(usize, usize)>,
}

impl<'j> Net<'j> {
    pub fn of(job: &'j Job) -> Self {
        Self { job, drawn: vec![false; job.wires.len()], seen: BTreeSet::new() }
    }

    /// The wires at a terminal that stand in no tree yet, each with its other end.
    pub fn open_at(&self, terminal: &str) -> Vec<(usize, &'j str)> {
        let mut found = Vec::new();
        for (index, wire) in self.job.wires.iter().enumerate().filter(|(index, _)| !self.drawn[*index]) {
            if wire.from.name() == terminal {
                found.push((index, wire.to.name()));
            } else if wire.to.name() == terminal {
                found.push((index, wire.from.name()));
            }
        }
        found
    }

    /// Whether any wire of the job ends at a terminal.
    pub fn is_wired(&self, terminal: &str) -> bool {
        self.job.wires.iter().any(|w| w.from.name() == terminal || w.to.name() == terminal)
    }

    /// Grows the tree of everything that is reached from a root, in order of distance, so that a loop is cut where its
    /// two ways meet.
    pub fn grow(&mut self, root: Cell) -> Cell {
        for port in &root.ports {
            self.seen.insert(port.clone());
        }
        let first: VecDeque<(usize, usize)> = (0..root.ports.len()).map(|port| (0, port)).collect();
        let mut grown = vec![Grown { cell: root, parent: None }];
        let mut open = first;
        while let Some((at, port)) = open.pop_front() {
            let terminal = grown[at].cell.ports[port].clone();
            for (wire, end) in self.open_at(&terminal) {
                // A wire from a port to another port of the same symbol was met at its other end.
                if std::mem::replace(&mut self.drawn[wire], true) {
                    continue;
                }
                let mut place = grown.len();
                let cell = Cell { wire: Some(wire), ..self.arrive(end) };
                if !self.open_at(end).is_empty() && goes_through(&cell.symbol) {
                    // Further wires on the same terminal: they leave before the symbol.
                    let joint = Cell { wire: Some(wire), ..Cell::at(end, Symbol::Terminal(end.to_owned())) };
                    grown.push(Grown { cell: joint, parent: Some((at, port)) });
                    open.push_back((place, 0));
                    grown.push(Grown { cell: Cell { wire: None, ..cell }, parent: Some((place, 0)) });
                    place += 1;
                } else {
                    grown.push(Grown { cell, parent: Some((at, port)) });
                }
                open.extend((0..grown[place].cell.ports.len()).map(|port| (place, port)));
            }
        }
        fold(grown)
    }

    /// The root of a tree that begins at a terminal: the part itself where it is not drawn yet.
    pub fn root_at(&mut self, terminal: &str) -> Cell {
        let (part, pole) = terminal.split_once('.').unwrap_or((terminal, ""));
        let opposite = match pole {
            "in" => format!("{part}.out"),
            "out" => format!("{part}.in"),
            "30" => format!("{part}.87"),
            "87" | "87a" => format!("{part}.30"),
            _ => match pole.rsplit_once('.') {
                Some((cavity, "in")) => format!("{part}.{cavity}.out"),
                Some((cavity, _)) => format!("{part}.{cavity}.in"),
                None => terminal.to_owned(),
            },
        };
        let reference = Cell::at(terminal, Symbol::Terminal(terminal.to_owned()));
        if self.seen.contains(terminal) {
            return reference;
        }
        match self.arrive(&opposite) {
            cell if cell.symbol.is_sink() => Cell { children: vec![(0, cell)], ..reference },
            cell if matches!(cell.symbol, Symbol::Ground(_)) => Cell { ports: vec![terminal.to_owned()], ..cell },
            cell if matches!(cell.symbol, Symbol::Terminal(_)) => reference,
            cell => cell,
        }
    }

    /// The symbol at the end of a wire, and its terminals as seen.
    fn arrive(&mut self, end: &str) -> Cell {
        let job = self.job;
        let (part, pole) = end.split_once('.').unwrap_or((end, ""));
        if job.grounds.iter().any(|g| g.name == end) || end == "chassis" {
            return Cell::leaf(None, Symbol::Ground(end.to_owned()));
        }
        if job.battery_named(part).is_some() || !self.seen.insert(end.to_owned()) {
            return Cell::leaf(None, Symbol::Terminal(end.to_owned()));
        }
        let mut through = |symbol: Symbol, all: &[&str], leave: Vec<String>| {
            self.seen.extend(all.iter().map(|pole| format!("{part}.{pole}")));
            Cell { wire: None, symbol, ports: leave, children: Vec::new() }
        };
        let name = part.to_owned();
        if job.splices.iter().any(|s| s.name == end) {
            return Cell::at(end, Symbol::Splice(name));
        }
        if job.load(part).is_some() {
            let leave = if pole == "+" { "-" } else { "+" };
            return through(Symbol::Load { name, enter: pole.to_owned(), leave }, &["+", "-"], Vec::new());
        }
        if job.relays.iter().any(|r| r.name == part) {
            let contacts = ["30", "87", "87a"];
            return match pole {
                "85" => through(Symbol::Coil { relay: name, enter: "85", leave: "86" }, &["85", "86"], Vec::new()),
                "86" => through(Symbol::Coil { relay: name, enter: "86", leave: "85" }, &["85", "86"], Vec::new()),
                "30" => {
                    let leave = ["87", "87a"].map(|pole| format!("{part}.{pole}")).to_vec();
                    let changes_over = job.wires.iter().any(|w| [&w.from, &w.to].iter().any(|t| t.name() == leave[1]));
                    through(Symbol::Contact { relay: name, enter: pole.to_owned(), changes_over }, &contacts, leave)
                }
                _ => {
                    let leave = vec![format!("{part}.30")];
                    let enter = pole.to_owned();
                    through(Symbol::Contact { relay: name, enter, changes_over: false }, &contacts, leave)
                }
            };
        }
        if let Some((cavity, side)) = pole.rsplit_once('.')
            && job.connectors.iter().any(|c| c.name == part)
        {
            let other = if side == "in" { "out" } else { "in" };
            let (own, leave) = (format!("{cavity}.{side}"), format!("{cavity}.{other}"));
            let symbol = Symbol::Cavity { name: format!("{part}.{cavity}"), enter: side.to_owned() };
            return through(symbol, &[&own, &leave], vec![format!("{part}.{leave}")]);
        }
        let other = if pole == "in" { "out" } else { "in" };
        let leave = vec![format!("{part}.{other}")];
        if job.fuses.iter().any(|f| f.name == part) {
            return through(Symbol::Fuse { name, enter: pole.to_owned() }, &["in", "out"], leave);
        }
        if job.switches.iter().any(|s| s.name == part) {
            return through(Symbol::Switch { name, enter: pole.to_owned() }, &["in", "out"], leave);
        }
        Cell::leaf(None, Symbol::Terminal(end.to_owned()))
    }
}

/// Whether a symbol has a far side of its own, so that wires on its near side must leave before it.
fn goes_through(symbol: &Symbol) -> bool {
    !matches!(symbol, Symbol::Splice(_) | Symbol::Ground(_) | Symbol::Terminal(_))
}

/// From the list of symbols, each after its parent, to the tree.
fn fold(mut grown: Vec<Grown>) -> Cell {
    loop {
        let Some(Grown { mut cell, parent }) = grown.pop() else {
            // The root has no parent and is always there.
            return Cell::leaf(None, Symbol::Terminal(String::new()));
        };
        // They were hung on from the last to the first.
        cell.children.reverse();
        cell.children.sort_by_key(|(port, _)| *port);
        match parent {
            Some((parent, port)) => grown[parent].cell.children.push((port, cell)),
            None => return cell,
        }
    }
}
