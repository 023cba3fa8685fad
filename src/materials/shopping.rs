//! What is bought: equal things in one row, with what each is for.

mod fixing;
mod parts;
mod wiring;

use serde::Serialize;

use super::bolts::Bolt;
use super::cuts::Cut;
use super::ends::End;
use super::runs::Run;
use super::{tenths, up_to_steps};
use crate::handbook::materials::length;
use crate::job::Job;
use crate::quantity::Length;

/// What a thing is, for the order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// What uses the current, and batteries beside the first.
    Loads,
    /// Fuses, breakers and their holders.
    Protection,
    /// Relays and switches.
    Switching,
    /// Connectors with contacts, seals and plugs.
    Connectors,
    /// Terminals and splices.
    Terminals,
    /// Wire and cable.
    Wire,
    /// Sleeves, boots and labels.
    Sleeves,
    /// Clamps, grommets, tubes.
    Fixing,
    /// Bolts, nuts, washers.
    Bolts,
}

impl Group {
    /// Its heading.
    pub fn words(self) -> &'static str {
        match self {
            Group::Loads => "Loads and batteries",
            Group::Protection => "Fuses and holders",
            Group::Switching => "Relays and switches",
            Group::Connectors => "Connectors",
            Group::Terminals => "Terminals and splices",
            Group::Wire => "Wire and cable",
            Group::Sleeves => "Sleeves, boots and labels",
            Group::Fixing => "Clamps, grommets and tubes",
            Group::Bolts => "Bolts, nuts and washers",
        }
    }
}

/// How much of a thing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "unit")]
pub enum Amount {
    /// Pieces, and how many more for spares.
    Pieces {
        /// What the job takes.
        need: usize,
        /// What is bought beside it.
        spare: usize,
    },
    /// Metres, and how much more for waste.
    Metres {
        /// What the job takes.
        need: Length,
        /// What is bought beside it.
        spare: Length,
    },
    /// One for each hole; the job does not say how many there are.
    EachHole,
}

impl Amount {
    /// As many pieces, without spares.
    fn pieces(need: usize) -> Self {
        Amount::Pieces { need, spare: 0 }
    }

    /// What the job takes, in words: `3`, `4.27 m`.
    pub fn need_in_words(self) -> String {
        match self {
            Amount::Pieces { need, .. } => need.to_string(),
            Amount::Metres { need, .. } => metres(need),
            Amount::EachHole => "1 a hole".to_owned(),
        }
    }

    /// What is bought beside it, in words; empty where that is nothing.
    pub fn spare_in_words(self) -> String {
        match self {
            Amount::Pieces { spare, .. } if spare > 0 => spare.to_string(),
            Amount::Metres { spare, .. } if spare.as_metres() > 5e-4 => metres(spare),
            _ => String::new(),
        }
    }

    /// What is bought in all, in words.
    pub fn buy_in_words(self) -> String {
        match self {
            Amount::Pieces { need, spare } => (need + spare).to_string(),
            Amount::Metres { need, spare } => metres(need + spare),
            Amount::EachHole => "count".to_owned(),
        }
    }
}

/// Metres to the centimetre, whatever their size: lengths that are added up stand in one unit.
fn metres(length: Length) -> String {
    format!("{:.2} m", length.as_metres())
}

/// A row of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Purchase {
    /// What kind of thing.
    pub group: Group,
    /// What to ask for: neither brand nor part number.
    pub item: String,
    /// How much.
    pub amount: Amount,
    /// Parts and wires that it is for.
    pub used_for: Vec<String>,
    /// Where figures come from that the job does not state, and why there are spares.
    pub source: String,
}

/// The list while it grows: equal things are merged.
#[derive(Debug, Default)]
struct List(Vec<Purchase>);

impl List {
    fn add(&mut self, group: Group, item: impl Into<String>, amount: Amount, used_for: &str, source: &str) {
        let item = item.into();
        let known = self.0.iter_mut().find(|row| row.group == group && row.item == item);
        let Some(row) = known else {
            self.0.push(Purchase {
                group,
                item,
                amount,
                used_for: vec![used_for.to_owned()],
                source: source.to_owned(),
            });
            return;
        };
        row.amount = match (row.amount, amount) {
            (Amount::Pieces { need: a, spare: b }, Amount::Pieces { need: c, spare: d }) => {
                Amount::Pieces { need: a.saturating_add(c), spare: b + d }
            }
            (Amount::Metres { need: a, spare: b }, Amount::Metres { need: c, spare: d }) => {
                Amount::Metres { need: a + c, spare: b + d }
            }
            // A thing is counted in one way; where one row cannot be counted, the sum cannot.
            _ => Amount::EachHole,
        };
        if !row.used_for.iter().any(|name| name == used_for) {
            row.used_for.push(used_for.to_owned());
        }
    }

    /// Adds a share of a group's metres for waste, so that what is bought comes in whole steps.
    fn with_waste(&mut self, group: Group, share: f64) {
        let step = length("buy-step").value;
        for row in self.0.iter_mut().filter(|row| row.group == group) {
            if let Amount::Metres { need, spare } = &mut row.amount {
                *spare = up_to_steps(*need * (1.0 + share), step) - *need;
            }
        }
    }
}

pub(super) fn shopping(job: &Job, cuts: &[Cut], ends: &[End], bolts: &[Bolt], runs: &[Run]) -> Vec<Purchase> {
    let mut list = List::default();
    parts::add(job, &mut list);
    wiring::add(job, cuts, ends, &mut list);
    fixing::add(bolts, runs, &mut list);
    // Things alike stand together, in the order of their sizes in which they came.
    let alike = |item: &str| item.split(|c: char| c == ',' || c.is_ascii_digit()).next().unwrap_or_default().to_owned();
    list.0
        .sort_by_cached_key(|row| (row.group, if row.group == Group::Wire { String::new() } else { alike(&row.item) }));
    list.0
}
