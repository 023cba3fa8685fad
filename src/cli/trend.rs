//! `rigproof trend`: one reading over many records.

mod taken;
mod words;

use serde_json::{Value, json};

use self::taken::{Taken, all_taken, fits};
use super::arguments::Trend as Arguments;
use super::failure::{Failure, Outcome};
use super::layout;
use crate::quantity::{Amount, Dimension, parse_any};
use crate::statistics::{Capability, Ewma, Individuals, Interval, Rule, Series, Sigma, Signal, signals};

/// One reading over many records, and what a steady process would stay within.
struct Trend {
    readings: Vec<Taken>,
    chart: Individuals,
    signals: Vec<Signal>,
    average: Ewma,
    capability: Option<Capability>,
    /// Coarsest step of the last digit that was read.
    digit: Amount,
}

pub(super) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let all = all_taken(&arguments.records)?;
    let Some(step) = &arguments.step else {
        let text = if arguments.json { words::list_as_json(&all).to_string() } else { words::list(&all) };
        layout::print(&text)?;
        return Ok(Outcome::Conforms);
    };
    let trend = Trend::of(arguments, step, all)?;
    let text = if arguments.json { trend.as_json().to_string() } else { words::chart(step, &trend) };
    layout::print(&text)?;
    Ok(if trend.is_steady() { Outcome::Conforms } else { Outcome::DoesNotConform })
}

impl Trend {
    fn of(arguments: &Arguments, step: &str, all: Vec<Taken>) -> Result<Self, Failure> {
        let known = words::list(&all);
        let is_one = |word: &Option<String>, value: Option<&str>| word.as_deref().is_none_or(|w| Some(w) == value);
        let readings: Vec<Taken> = all
            .into_iter()
            .filter(|taken| fits(step, taken.step.as_str()))
            .filter(|taken| is_one(&arguments.person, Some(&taken.by)))
            .filter(|taken| is_one(&arguments.instrument, taken.instrument.as_deref()))
            .collect();
        if readings.len() < 2 {
            return Err(Failure::message(format!(
                "a chart needs two readings or more, and {} fit `{step}`\n{known}",
                readings.len()
            )));
        }
        let values: Vec<Amount> = readings.iter().map(|taken| taken.value).collect();
        let Ok(series) = Series::of(&values) else {
            let says = format!("`{step}` names readings of several kinds; name more of the step\n{known}");
            return Err(Failure::message(says));
        };
        let base = arguments.base.unwrap_or(values.len());
        if !(2..=values.len()).contains(&base) {
            let says = format!("--base {base}: there are {} readings, and two are the fewest", values.len());
            return Err(Failure::message(says));
        }
        let first = Series::of(&values[..base]).ok();
        let Some(chart) = first.and_then(|first| Individuals::of(&first, Sigma::Tabled)) else {
            return Err(Failure::message("a chart needs two readings or more".to_owned()));
        };
        let dimension = chart.centre.dimension();
        let low = limit("--at-least", arguments.at_least.as_deref(), dimension)?;
        let high = limit("--at-most", arguments.at_most.as_deref(), dimension)?;
        let digit = readings.iter().map(|taken| taken.digit.base()).fold(0.0, f64::max);
        Ok(Self {
            signals: signals(&series, &chart, &Rule::ALL),
            average: Ewma::of(&series, chart.centre, chart.sigma),
            capability: Capability::of(&series, low, high),
            digit: chart.centre.with(digit),
            chart,
            readings,
        })
    }

    /// No rule is broken, and the moving average stays within its limits.
    fn is_steady(&self) -> bool {
        self.signals.is_empty() && self.average.first_outside().is_none()
    }

    /// The rules that are broken at a reading.
    fn broken_at(&self, at: usize) -> impl Iterator<Item = Rule> {
        self.signals.iter().filter(move |signal| signal.at == at).map(|signal| signal.rule)
    }

    fn as_json(&self) -> Value {
        let chart = &self.chart;
        let readings = self.readings.iter().enumerate().map(|(at, taken)| {
            json!({
                "at": taken.at.to_string(), "record": taken.record, "step": taken.step.as_str(), "by": taken.by,
                "instrument": taken.instrument, "value": taken.value.base(),
                "average": self.average.averages[at].base(),
                "breaks": self.broken_at(at).map(Rule::says).collect::<Vec<_>>(),
            })
        });
        let interval = |i: Option<Interval>| i.map(|i| json!([i.low, i.high]));
        json!({
            "quantity": chart.centre.dimension().name(), "unit": chart.centre.dimension().unit(),
            "limits_from": chart.count, "provisional": chart.provisional(), "rounding": chart.is_rounding(self.digit),
            "centre": chart.centre.base(), "low": chart.low.base(), "high": chart.high.base(),
            "sigma": chart.sigma.base(), "mean_range": chart.mean_range.base(), "range_high": chart.range_high.base(),
            "average_low": self.average.low.base(), "average_high": self.average.high.base(),
            "average_outside_from": self.average.first_outside(),
            "capability": self.capability.map(|c| json!({
                "cp": c.cp, "cp_interval": interval(c.cp_interval()),
                "cpk": c.cpk, "cpk_interval": interval(c.cpk_interval()),
            })),
            "steady": self.is_steady(),
            "readings": readings.collect::<Vec<_>>(),
        })
    }
}

fn limit(name: &str, text: Option<&str>, dimension: Dimension) -> Result<Option<Amount>, Failure> {
    let Some(text) = text else { return Ok(None) };
    match parse_any(text, dimension) {
        Ok((low, high)) if low == high => Ok(Some(low)),
        Ok(_) => Err(Failure::message(format!("{name} \"{text}\": a limit is one value, without a tolerance"))),
        Err(error) => Err(Failure::message(format!("{name} \"{text}\": {}\n  {}", error.says, error.help))),
    }
}
