use std::sync::Arc;

use super::Job;
use crate::document;

/// A point of the circuit that a probe can touch or a wire can end on, by its full name: `F1.in`, `X1.A.out`, `J1`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Terminal(Arc<str>);

impl Terminal {
    pub(crate) fn new(name: impl AsRef<str>) -> Self {
        Self(Arc::from(name.as_ref()))
    }

    /// The positive post.
    pub fn battery_plus() -> Self {
        Self("battery.+".into())
    }

    /// The negative post.
    pub fn battery_minus() -> Self {
        Self("battery.-".into())
    }

    /// The body metal.
    pub fn chassis() -> Self {
        Self("chassis".into())
    }

    /// A terminal of a part: `of("F1", "in")`.
    pub fn of(part: &str, terminal: &str) -> Self {
        Self(format!("{part}.{terminal}").into())
    }

    /// The full name.
    pub fn name(&self) -> &str {
        &self.0
    }

    /// The part it belongs to.
    pub fn part(&self) -> &str {
        self.0.split('.').next().unwrap_or(&self.0)
    }
}

impl std::fmt::Display for Terminal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0)
    }
}

/// A name that is no terminal of the job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownTerminal {
    /// As it was written.
    pub written: String,
    /// What is wrong, and what there is: `the fuses of this job are F1, F2`.
    pub says: String,
    /// The terminal that was probably meant.
    pub meant: Option<String>,
}

impl std::fmt::Display for UnknownTerminal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "no terminal is called `{}`: {}", self.written, self.says)?;
        if let Some(meant) = &self.meant {
            write!(f, "; did you mean `{meant}`?")?;
        }
        Ok(())
    }
}

impl std::error::Error for UnknownTerminal {}

impl Job {
    /// Every terminal of the job.
    pub fn terminals(&self) -> Vec<Terminal> {
        let mut all = vec![Terminal::battery_plus(), Terminal::battery_minus(), Terminal::chassis()];
        let mut add = |part: &str, names: &[&str]| all.extend(names.iter().map(|n| Terminal::of(part, n)));
        for battery in &self.further_batteries {
            add(&battery.name, &["+", "-"]);
        }
        for fuse in &self.fuses {
            add(&fuse.name, &["in", "out"]);
        }
        for relay in &self.relays {
            add(&relay.name, &["30", "87", "87a", "85", "86"]);
        }
        for switch in &self.switches {
            add(&switch.name, &["in", "out"]);
        }
        for connector in &self.connectors {
            for cavity in &connector.cavities {
                add(&connector.name, &[&format!("{cavity}.in"), &format!("{cavity}.out")]);
            }
        }
        for load in &self.loads {
            add(&load.name, &["+", "-"]);
        }
        all.extend(self.splices.iter().map(|s| Terminal::new(&s.name)));
        all.extend(self.grounds.iter().map(|g| Terminal::new(&g.name)));
        all
    }

    /// The terminal of this name. A connector cavity without its side (`X1.A`) is its battery side.
    ///
    /// # Errors
    /// [`UnknownTerminal`] with what there is and what was probably meant.
    pub fn terminal(&self, written: &str) -> Result<Terminal, UnknownTerminal> {
        self.terminal_on_side(written, Side::In)
    }

    pub(super) fn terminal_on_side(&self, written: &str, side: Side) -> Result<Terminal, UnknownTerminal> {
        let all = self.terminals();
        let name = written.trim();
        let sided = match side {
            Side::In => format!("{name}.in"),
            Side::Out => format!("{name}.out"),
        };
        if let Some(found) = all.iter().find(|t| t.name() == name) {
            return Ok(found.clone());
        }
        let cavity = name.split_once('.').is_some_and(|(part, _)| self.connectors.iter().any(|c| c.name == part));
        if let Some(found) = all.iter().find(|t| cavity && t.name() == sided) {
            return Ok(found.clone());
        }
        Err(Self::explain_unknown(name, &all))
    }

    fn explain_unknown(name: &str, all: &[Terminal]) -> UnknownTerminal {
        let part = name.split('.').next().unwrap_or(name);
        let mut own: Vec<&str> = all.iter().filter(|t| t.part() == part).map(Terminal::name).collect();
        let names: Vec<&str> = all.iter().map(Terminal::name).collect();
        let says = if own.is_empty() {
            let mut parts: Vec<&str> = all.iter().map(Terminal::part).collect();
            parts.dedup();
            format!("the parts of this job are {}", parts.join(", "))
        } else {
            own.dedup();
            format!("{part} has {}", own.join(", "))
        };
        // Words such as `plus` are no slip of the pen for `-`.
        let spoken = match name.rsplit_once('.') {
            Some((part, "plus" | "positive" | "pos")) => Some(format!("{part}.+")),
            Some((part, "minus" | "negative" | "neg")) => Some(format!("{part}.-")),
            _ => None,
        };
        let spoken = spoken.filter(|meant| names.contains(&meant.as_str()));
        let meant =
            spoken.or_else(|| document::closest(name, if own.is_empty() { &names } else { &own }).map(str::to_owned));
        UnknownTerminal { written: name.to_owned(), says, meant }
    }
}

/// The side of a connector on which a wire ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// The wire's `to` end lands there.
    In,
    /// The wire's `from` end leaves there.
    Out,
}
