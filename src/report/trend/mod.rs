//! One reading over many records: a chart of single readings, run rules, drift, and how the spread fits a limit.

mod facts;
mod page;

use jiff::Timestamp;
use serde_json::{Value, json};

use super::drawing::control;
use super::drawing::svg::svg;
use crate::document::harmless;
use crate::plan::StepKey;
use crate::quantity::Amount;
use crate::statistics::{Capability, Ewma, Individuals, Interval, Rule, Series, Sigma, Signal, signals};

/// A reading as it stood in the end.
#[derive(Debug, Clone)]
pub struct Taken {
    /// When.
    pub at: Timestamp,
    /// Folder of the record.
    pub record: String,
    /// The step.
    pub step: StepKey,
    /// By whom.
    pub by: String,
    /// With which instrument, where the job names it.
    pub instrument: Option<String>,
    /// With which tool the work was done: what was written at the step `tool` of the same procedure and thing.
    pub tool: Option<String>,
    /// The reading.
    pub value: Amount,
    /// One step of the last digit that was typed.
    pub digit: Amount,
}

/// One reading over many records, and what a steady process would stay within.
#[derive(Debug, Clone)]
pub struct Trend {
    /// The readings in the order of time.
    pub readings: Vec<Taken>,
    /// The chart of single readings and moving ranges.
    pub chart: Individuals,
    /// Where rules are broken.
    pub signals: Vec<Signal>,
    /// The moving average.
    pub average: Ewma,
    /// How the spread fits the limits, where one is given.
    pub capability: Option<Capability>,
    /// The least and the greatest value that the reading may have.
    pub limits: (Option<Amount>, Option<Amount>),
    /// Coarsest step of the last digit that was read.
    pub digit: Amount,
}

/// Why readings make no chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoChart {
    /// There are fewer than two.
    TooFew(usize),
    /// They are of several kinds.
    Mixed,
    /// The limits are to come from fewer than two, or from more than there are: so many.
    Base(usize),
}

impl Trend {
    /// The chart of readings in the order of time. Its limits come from the first `base` of them, or from all.
    ///
    /// # Errors
    /// [`NoChart`]
    pub fn of(
        readings: Vec<Taken>,
        base: Option<usize>,
        limits: (Option<Amount>, Option<Amount>),
    ) -> Result<Self, NoChart> {
        if readings.len() < 2 {
            return Err(NoChart::TooFew(readings.len()));
        }
        let values: Vec<Amount> = readings.iter().map(|taken| taken.value).collect();
        let series = Series::of(&values).map_err(|_| NoChart::Mixed)?;
        let base = base.unwrap_or(values.len());
        if !(2..=values.len()).contains(&base) {
            return Err(NoChart::Base(values.len()));
        }
        let first = Series::of(&values[..base]).ok();
        let chart =
            first.and_then(|first| Individuals::of(&first, Sigma::Tabled)).ok_or(NoChart::Base(values.len()))?;
        let digit = readings.iter().map(|taken| taken.digit.base()).fold(0.0, f64::max);
        Ok(Self {
            signals: signals(&series, &chart, &Rule::ALL),
            average: Ewma::of(&series, chart.centre, chart.sigma),
            capability: Capability::of(&series, limits.0, limits.1),
            digit: chart.centre.with(digit),
            limits,
            chart,
            readings,
        })
    }

    /// No rule is broken, and the moving average stays within its limits.
    pub fn is_steady(&self) -> bool {
        self.signals.is_empty() && self.average.first_outside().is_none()
    }

    /// The rules that are broken at a reading.
    pub fn broken_at(&self, at: usize) -> impl Iterator<Item = Rule> {
        self.signals.iter().filter(move |signal| signal.at == at).map(|signal| signal.rule)
    }

    /// All of it as JSON; numbers in the unit that it names.
    pub fn as_json(&self) -> Value {
        let chart = &self.chart;
        let readings = self.readings.iter().enumerate().map(|(at, taken)| {
            json!({
                "at": taken.at.to_string(), "record": taken.record, "step": taken.step.as_str(), "by": taken.by,
                "instrument": taken.instrument, "tool": taken.tool, "value": taken.value.base(),
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

    /// How many readings of a steady process would break one of the four rules by chance: one in 91.75 (Champ and Woodall
    /// 1987, in the NIST/SEMATECH e-Handbook 6.3.2).
    pub fn by_chance(&self) -> f64 {
        self.readings.len() as f64 / 91.75
    }

    /// How many readings break a rule.
    pub fn broken(&self) -> usize {
        (0..self.readings.len()).filter(|at| self.broken_at(*at).next().is_some()).count()
    }

    /// The files of a trend: a page with its charts, the drawing alone, and the readings as CSV.
    ///
    /// # Errors
    /// In words, where a writer fails.
    pub fn files(&self, title: &str) -> Result<Vec<(&'static str, Vec<u8>)>, String> {
        let drawing = svg(&control::chart(self, title), "trend");
        let page = page::render(self, title, &drawing)?;
        Ok(vec![("trend.html", page.into_bytes()), ("trend.svg", drawing.into_bytes()), ("trend.csv", self.csv()?)])
    }

    fn csv(&self) -> Result<Vec<u8>, String> {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let head = ["at", "record", "step", "by", "instrument", "tool", "unit", "value", "average", "breaks"];
        writer.write_record(head).map_err(|error| error.to_string())?;
        for (at, taken) in self.readings.iter().enumerate() {
            let word = |text: &Option<String>| harmless(text.as_deref().unwrap_or_default());
            let cells = [
                taken.at.to_string(),
                harmless(&taken.record),
                harmless(taken.step.as_str()),
                harmless(&taken.by),
                word(&taken.instrument),
                word(&taken.tool),
                taken.value.dimension().unit().to_owned(),
                taken.value.base().to_string(),
                self.average.averages[at].base().to_string(),
                self.broken_at(at).map(Rule::says).collect::<Vec<_>>().join("; "),
            ];
            writer.write_record(&cells).map_err(|error| error.to_string())?;
        }
        writer.into_inner().map_err(|error| error.to_string())
    }
}
