//! Sheets for the garage: the plan on paper, to be ticked and filled in with a pencil, and a table of the same blanks for
//! entering them later.
//!
//! Everything is computed from the job as it is stated: what is measured along the way is known only when the sheets are
//! entered, and the walk judges then.

mod blanks;
mod code;
mod cover;
mod hazards;
mod steps;
mod table;

use std::collections::{BTreeSet, HashMap};

pub use blanks::{Blank, Kind};
pub use code::Code;
pub use table::COLUMNS;

use super::pdf::{self, Block, Document, Sheet};
use crate::plan::StepKey;
use crate::procedure::Hazard;
use crate::walk::Walk;

/// The sheets of a job.
#[derive(Debug, Clone)]
pub struct Sheets {
    /// At its beginning, with the job as stated.
    walk: Walk,
    code: Code,
    sheet: Sheet,
    blanks: Vec<Blank>,
    /// Steps that a record has already: struck out.
    settled: BTreeSet<StepKey>,
    /// Errors of the design check, and why the work begins in spite of them.
    despite: Option<(Vec<String>, String)>,
}

impl Sheets {
    /// The sheets of the job and the plan of a walk, as stated; steps that the walk has closed are struck out.
    pub fn of(walk: &Walk, sheet: Sheet) -> Sheets {
        let steps = &walk.plan().steps;
        let settled = steps.iter().filter(|step| walk.is_settled(&step.key)).map(|step| step.key.clone()).collect();
        let walk = Walk::new(walk.stated().clone(), walk.plan().clone());
        let code = Code::of(walk.job(), walk.plan(), sheet);
        Sheets { blanks: blanks::blanks(&walk), walk, code, sheet, settled, despite: None }
    }

    /// The same for a design that does not conform: its errors, and why the work begins all the same, stand on the cover.
    #[must_use]
    pub fn in_spite_of(self, errors: Vec<String>, reason: &str) -> Sheets {
        Sheets { despite: Some((errors, reason.to_owned())), ..self }
    }

    /// What stands at the foot of each page.
    pub fn code(&self) -> &Code {
        &self.code
    }

    /// Everything that is filled in, in the order of the sheets.
    pub fn blanks(&self) -> &[Blank] {
        &self.blanks
    }

    /// The hazards that are printed before a step.
    pub fn hazards_before(&self, step: &StepKey) -> Vec<&Hazard> {
        let plan = self.walk.plan();
        plan.position(step).map_or_else(Vec::new, |at| hazards::before(plan, at))
    }

    /// The page of each step, from 1, by its number.
    ///
    /// # Errors
    /// In words: what cannot be printed.
    pub fn pages(&self) -> Result<HashMap<usize, usize>, String> {
        let anchors = pdf::anchors(&self.document(), self.sheet).map_err(|error| error.to_string())?;
        Ok(anchors.into_iter().filter_map(|(number, page)| Some((number.parse().ok()?, page))).collect())
    }

    /// The print.
    ///
    /// # Errors
    /// In words: what cannot be printed.
    pub fn pdf(&self) -> Result<Vec<u8>, String> {
        pdf::write(&self.document(), self.sheet).map_err(|error| error.to_string())
    }

    /// The table of the blanks: CSV by RFC 4180, in UTF-8 with the mark that tells spreadsheets so.
    ///
    /// # Errors
    /// In words: what cannot be printed.
    pub fn csv(&self) -> Result<Vec<u8>, String> {
        table::write(self, &self.pages()?)
    }

    fn document(&self) -> Document {
        let job = self.walk.job();
        let mut blocks = cover::cover(self);
        let scenes = super::drawing::circuit::circuit_sheets(job, &|_| None);
        let count = scenes.len();
        for (at, scene) in scenes.into_iter().enumerate() {
            let title = match count {
                1 => "The circuit".to_owned(),
                _ => format!("The circuit, drawing {} of {count}", at + 1),
            };
            blocks.push(super::print::heading(2, &title));
            blocks.push(Block::Drawing { scene, caption: Vec::new() });
        }
        steps::steps(self, &mut blocks);
        cover::end(&mut blocks);
        let vehicle = &job.vehicle.description;
        Document {
            title: format!("{} – {vehicle}, work sheets", job.title),
            footer: format!("{} · {} · {vehicle}", self.code, job.title),
            // Not dated: the same job and procedures give the same sheets.
            created: None,
            blocks,
        }
    }
}
