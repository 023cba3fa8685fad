//! `rigproof ledger`: one index over many records, asked from the command line.

mod keep_up;
mod question;
mod sheet;

pub(super) use keep_up::keep_up;
pub(super) use question::day;

use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressStyle};

use super::arguments::{ExportForm, Ledger as Arguments, LedgerCommand, LedgerExport, LedgerForm, LedgerPlace};
use super::failure::{Failure, Outcome};
use super::layout;
use super::shop_folder::named_or_nearest;
use crate::ledger::{Done, Form, LEDGER, Ledger, LedgerError, Question, ask, export};

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
        LedgerCommand::Export(own) => write(own),
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
    let ledger = folder.join(LEDGER);
    let copies = match copies {
        0 => String::new(),
        copies => format!("\n  {copies} folders hold a copy of another record and count for nothing"),
    };
    layout::print(&format!("{}: records {records}, read {read}, gone {gone}{copies}", ledger.display()))?;
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

/// The ledger of a folder, with what is new in it unless it is to be taken as it is.
fn opened(place: &LedgerPlace, as_is: bool) -> Result<(PathBuf, Ledger), Failure> {
    let folder = named_or_nearest(place.shop.as_deref())?;
    if as_is && !Ledger::exists(&folder) {
        return Err(LedgerError::None(folder).into());
    }
    let mut ledger = Ledger::open(&folder)?;
    if !as_is {
        updated(&mut ledger)?;
    }
    Ok((folder, ledger))
}

fn write(own: &LedgerExport) -> Result<Outcome, Failure> {
    let (_, ledger) = opened(&own.place, own.as_is)?;
    let named = |form: Form| {
        let word = match form {
            Form::Csv => ExportForm::Csv,
            Form::Parquet => ExportForm::Parquet,
            Form::PostgreSql => ExportForm::Postgresql,
        };
        own.form.is_empty() || own.form.contains(&word)
    };
    let mut text = "wrote".to_owned();
    for form in Form::ALL.into_iter().filter(|form| named(*form)) {
        for path in export(&ledger, form, &own.out)? {
            text = format!("{text}\n  {}", path.display());
        }
    }
    layout::print(&text)?;
    Ok(Outcome::Conforms)
}

fn answer(form: &LedgerForm, question: impl FnOnce(&Path) -> Result<Question, Failure>) -> Result<Outcome, Failure> {
    let (folder, ledger) = opened(&form.place, form.as_is)?;
    let question = question(&folder)?;
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
