//! `rigproof trend`: one reading over many records.

mod taken;
mod words;

use std::collections::BTreeMap;

use serde_json::Value;

use self::taken::{all_taken, fits};
use super::arguments::{Trend as Arguments, TrendGroup};
use super::failure::{Failure, Outcome};
use super::layout;
use super::ledger::day;
use crate::quantity::{Amount, Dimension, parse_any};
use crate::record::{RecordError, day_of};
use crate::report::trend::{NoChart, Taken, Trend};

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let all = all_taken(&arguments.records)?;
    let Some(step) = &arguments.step else {
        let text = if arguments.json { words::list_as_json(&all).to_string() } else { words::list(&all) };
        layout::print(&text)?;
        return Ok(Outcome::Conforms);
    };
    let known = words::list(&all);
    let readings = chosen(arguments, step, all)?;
    let limits = limits(arguments, &readings)?;
    let chart = |readings: Vec<Taken>| {
        Trend::of(readings, arguments.base, limits).map_err(|why| no_chart(why, step, arguments.base, &known))
    };
    let Some(by) = arguments.by else {
        let trend = chart(readings)?;
        if let Some(out) = &arguments.out {
            write(&trend, step, out)?;
        } else {
            let text = if arguments.json { trend.as_json().to_string() } else { words::chart(step, &trend) };
            layout::print(&text)?;
        }
        return Ok(outcome(trend.is_steady()));
    };
    let mut groups: BTreeMap<String, Vec<Taken>> = BTreeMap::new();
    for taken in readings {
        groups.entry(by.of(&taken).unwrap_or_else(|| "(none)".to_owned())).or_default().push(taken);
    }
    // One reading alone moves nowhere.
    let groups = groups.into_iter().filter(|(_, readings)| readings.len() > 1);
    let groups = groups.map(|(name, readings)| Ok((name, chart(readings)?))).collect::<Result<Vec<_>, Failure>>()?;
    if groups.is_empty() {
        let says = format!("no {} has two readings that fit `{step}`: there is nothing to compare", by.word());
        return Err(Failure::message(says));
    }
    let steady = groups.iter().all(|(_, trend)| trend.is_steady());
    let text = if arguments.json {
        Value::Object(groups.iter().map(|(name, trend)| (name.clone(), trend.as_json())).collect()).to_string()
    } else {
        words::groups(step, by.word(), &groups)
    };
    layout::print(&text)?;
    Ok(outcome(steady))
}

fn outcome(steady: bool) -> Outcome {
    if steady { Outcome::Conforms } else { Outcome::DoesNotConform }
}

impl TrendGroup {
    fn word(self) -> &'static str {
        match self {
            Self::Person => "person",
            Self::Instrument => "instrument",
            Self::Tool => "tool",
            Self::Thing => "thing",
        }
    }

    /// What a reading belongs to.
    fn of(self, taken: &Taken) -> Option<String> {
        match self {
            Self::Person => Some(taken.by.clone()),
            Self::Instrument => taken.instrument.clone(),
            Self::Tool => taken.tool.clone(),
            Self::Thing => taken.step.as_str().split('/').nth(1).map(str::to_owned),
        }
    }
}

/// The readings that the call names.
fn chosen(arguments: &Arguments, step: &str, all: Vec<Taken>) -> Result<Vec<Taken>, Failure> {
    let since = day("--since", arguments.since.as_deref())?;
    let until = day("--until", arguments.until.as_deref())?;
    let is_one = |word: &Option<String>, value: Option<&str>| word.as_deref().is_none_or(|w| Some(w) == value);
    let fits = |taken: &Taken| {
        let own = day_of(taken.at);
        fits(step, taken.step.as_str())
            && is_one(&arguments.person, Some(&taken.by))
            && is_one(&arguments.instrument, taken.instrument.as_deref())
            && is_one(&arguments.tool, taken.tool.as_deref())
            && since.is_none_or(|since| since <= own)
            && until.is_none_or(|until| own <= until)
    };
    Ok(all.into_iter().filter(fits).collect())
}

fn no_chart(why: NoChart, step: &str, base: Option<usize>, known: &str) -> Failure {
    Failure::message(match why {
        NoChart::TooFew(count) => format!("a chart needs two readings or more, and {count} fit `{step}`\n{known}"),
        NoChart::Mixed => format!("`{step}` names readings of several kinds; name more of the step\n{known}"),
        NoChart::Base(count) => {
            format!("--base {}: there are {count} readings, and two are the fewest", base.unwrap_or_default())
        }
    })
}

fn write(trend: &Trend, step: &str, out: &std::path::Path) -> Result<(), Failure> {
    let failed = |tried, path: &std::path::Path| {
        let path = path.to_owned();
        move |error| RecordError::File { tried, path, error }
    };
    std::fs::create_dir_all(out).map_err(failed("create", out))?;
    let mut written = Vec::new();
    for (name, bytes) in trend.files(step).map_err(Failure::message)? {
        let path = out.join(name);
        std::fs::write(&path, bytes).map_err(failed("write", &path))?;
        written.push(path.display().to_string());
    }
    layout::print(&format!("wrote\n  {}", written.join("\n  ")))
}

fn limits(arguments: &Arguments, readings: &[Taken]) -> Result<(Option<Amount>, Option<Amount>), Failure> {
    let Some(dimension) = readings.first().map(|taken| taken.value.dimension()) else { return Ok((None, None)) };
    Ok((
        limit("--at-least", arguments.at_least.as_deref(), dimension)?,
        limit("--at-most", arguments.at_most.as_deref(), dimension)?,
    ))
}

fn limit(name: &str, text: Option<&str>, dimension: Dimension) -> Result<Option<Amount>, Failure> {
    let Some(text) = text else { return Ok(None) };
    match parse_any(text, dimension) {
        Ok((low, high)) if low == high => Ok(Some(low)),
        Ok(_) => Err(Failure::message(format!("{name} \"{text}\": a limit is one value, without a tolerance"))),
        Err(error) => Err(Failure::message(format!("{name} \"{text}\": {}\n  {}", error.says, error.help))),
    }
}
