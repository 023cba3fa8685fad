//! What the call asks, as a question to the ledger.

use std::path::Path;

use jiff::Timestamp;

use crate::cli::arguments::{
    LedgerPareto, LedgerPeriod, LedgerTimes, LedgerTouched, LedgerYield, ParetoOf, TimesBy, YieldBy,
};
use crate::cli::failure::Failure;
use crate::cli::house::House;
use crate::cli::shop_folder::SHOP_FILE;
use crate::ledger::{By, Of, Off, Period, Question, Touched};
use crate::quantity::{Day, Dimension, parse_any};
use crate::record::day_of;

fn today() -> Day {
    day_of(Timestamp::now())
}

pub(super) fn open() -> Question {
    Question::Open { today: today() }
}

/// In a shop, its own file says until when an instrument is calibrated.
pub(super) fn due(folder: &Path) -> Result<Question, Failure> {
    let mut calibrated = Vec::new();
    if folder.join(SHOP_FILE).is_file() {
        let shop = House::read(folder)?.shop;
        calibrated.extend(shop.instruments.iter().map(|own| (own.name.clone(), own.calibration_due)));
    }
    Ok(Question::Due { today: today(), calibrated })
}

pub(super) fn touched(own: &LedgerTouched) -> Result<Question, Failure> {
    let off = own.error.as_deref().map(off).transpose()?;
    Ok(Question::Touched(Touched { name: own.name.trim().to_owned(), period: period(&own.period)?, off }))
}

fn off(text: &str) -> Result<Off, Failure> {
    if let Some(share) = text.trim().strip_suffix('%') {
        let number = share.trim().replace(',', ".").parse::<f64>().ok().filter(|n| n.is_finite() && *n > -100.0);
        let Some(number) = number else {
            return Err(Failure::message(format!("--error \"{text}\": this is no share\n  write it as \"2.5 %\"")));
        };
        return Ok(Off::Share(number / 100.0));
    }
    // The unit says of what; a number alone says nothing.
    let measured = [
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Resistance,
        Dimension::Force,
        Dimension::Torque,
        Dimension::Temperature,
        Dimension::Length,
        Dimension::Illuminance,
    ];
    let read = |dimension: &Dimension| parse_any(text, *dimension).ok().filter(|(low, high)| low == high);
    let has_unit = text.chars().any(|c| c.is_alphabetic() || c == 'Ω' || c == '°');
    match measured.iter().find_map(read).filter(|_| has_unit) {
        Some((amount, _)) => Ok(Off::By(amount)),
        None => Err(Failure::message(format!(
            "--error \"{text}\": this is no amount that an instrument is off by\n  write it as \"2.5 %\" or \"0.1 V\""
        ))),
    }
}

pub(super) fn yields(own: &LedgerYield) -> Result<Question, Failure> {
    let by = match own.by {
        YieldBy::Step => By::Step,
        YieldBy::Procedure => By::Procedure,
        YieldBy::Person => By::Person,
        YieldBy::Month => By::Month,
        YieldBy::Tool => By::Tool,
        YieldBy::Record => By::Record,
    };
    Ok(Question::Yield { by, period: period(&own.period)? })
}

pub(super) fn pareto(own: &LedgerPareto) -> Result<Question, Failure> {
    let of = match own.of {
        ParetoOf::Nonconformities => Of::Nonconformities,
        ParetoOf::Faults => Of::Faults,
    };
    Ok(Question::Pareto { of, period: period(&own.period)? })
}

pub(super) fn times(own: &LedgerTimes) -> Result<Question, Failure> {
    let by = match own.by {
        TimesBy::Procedure => By::Procedure,
        TimesBy::Person => By::Person,
        TimesBy::Month => By::Month,
        TimesBy::Record => By::Record,
    };
    Ok(Question::Times { by, period: period(&own.period)? })
}

fn period(own: &LedgerPeriod) -> Result<Period, Failure> {
    Ok(Period { since: day("--since", own.since.as_deref())?, until: day("--until", own.until.as_deref())? })
}

/// A day behind an option of the call.
pub(in crate::cli) fn day(name: &str, text: Option<&str>) -> Result<Option<Day>, Failure> {
    let read = |text: &str| {
        Day::parse(text)
            .ok_or_else(|| Failure::message(format!("{name} \"{text}\": this is no day\n  write it as 2027-03-31")))
    };
    text.map(read).transpose()
}
