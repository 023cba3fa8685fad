//! `rigproof ledger`: one index over many records, asked from the command line.

mod keep_up;
mod question;
mod sheet;

pub(super) use keep_up::keep_up;
pub(super) use question::day;

use std::path::Path;

use indicatif::{ProgressBar, ProgressStyle};

use super::arguments::{Ledger as Arguments, LedgerCommand, LedgerForm, LedgerPlace};
use super::failure::{Failure, Outcome};
use super::layout;
use super::shop_folder::named_or_nearest;
use crate::ledger::{Done, LEDGER, Ledger, LedgerError, Question, ask};

/// With fewer records nobody waits.
const MANY: usize = 500;

impl From<LedgerError> for Failure {
    fn from(error: LedgerError) -> Self {
        Self::message(error.to_string())
    }
}

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    match &arguments.command {
        LedgerCommand::Update(place) => keep(place, Ledger::open),
        LedgerCommand::Rebuild(place) => keep(place, Ledger::make),
        LedgerCommand::Open(own) => answer(&own.form, |_| Ok(question::open())),
        LedgerCommand::Due(own) => answer(&own.form, question::due),
        LedgerCommand::Touched(own) => answer(&own.form, |_| question::touched(own)),
        LedgerCommand::Yield(own) => answer(&own.form, |_| question::yields(own)),
        LedgerCommand::Pareto(own) => answer(&own.form, |_| question::pareto(own)),
        LedgerCommand::Times(own) => answer(&own.form, |_| question::times(own)),
    }
}

fn keep(place: &LedgerPlace, open: fn(&Path) -> Result<Ledger, LedgerError>) -> Result<Outcome, Failure> {
    let folder = named_or_nearest(place.shop.as_deref())?;
    let done = updated(&mut open(&folder)?)?;
    let Done { records, read, gone, copies } = done;
    let mut says = format!("{}: records {records}, read {read}, gone {gone}", folder.join(LEDGER).display());
    if copies > 0 {
        says.push_str(&format!("\n  {copies} folders hold a copy of another record and count for nothing"));
    }
    layout::print(&says)?;
    Ok(Outcome::Conforms)
}

/// Reads what is new; with many records a bar says how far it is.
fn updated(ledger: &mut Ledger) -> Result<Done, Failure> {
    let mut bar: Option<ProgressBar> = None;
    let done = ledger.update(&mut |read, all| {
        if all < MANY {
            return;
        }
        let bar = bar.get_or_insert_with(|| {
            let style = ProgressStyle::with_template("  {bar:30} {pos} of {len} records").ok();
            let bar = ProgressBar::new(all as u64);
            if let Some(style) = style {
                bar.set_style(style);
            }
            bar
        });
        bar.set_position(read as u64);
    })?;
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    Ok(done)
}

fn answer(
    form: &LedgerForm,
    question: impl FnOnce(&Path) -> Result<Question, Failure>,
) -> Result<Outcome, Failure> {
    let folder = named_or_nearest(form.place.shop.as_deref())?;
    let question = question(&folder)?;
    if form.as_is && !Ledger::exists(&folder) {
        return Err(LedgerError::None(folder).into());
    }
    let mut ledger = Ledger::open(&folder)?;
    if !form.as_is {
        updated(&mut ledger)?;
    }
    let answer = ask(&ledger, &question)?;
    let text = if form.json {
        sheet::json(&answer)
    } else if form.csv {
        sheet::csv(&answer).map_err(Failure::message)?
    } else {
        sheet::table(&answer)
    };
    layout::print(&text)?;
    Ok(if answer.amiss { Outcome::DoesNotConform } else { Outcome::Conforms })
}
