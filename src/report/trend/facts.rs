//! What a trend says, fact by fact; the terminal and the page show the same.

use super::Trend;
use crate::statistics::{FEW, Interval};

impl Trend {
    /// Label and words of each fact.
    pub fn facts(&self) -> Vec<(&'static str, String)> {
        let chart = &self.chart;
        let mut facts = vec![
            (
                "limits",
                format!("{} (mean {}, 3 sigma of the moving ranges)", chart.low.range_to(chart.high), chart.centre),
            ),
            (
                "moves",
                format!("by {} at most, {} in the mean; greater ones are marked", chart.range_high, chart.mean_range),
            ),
        ];
        let room = self.average.low.range_to(self.average.high);
        facts.push(match self.average.first_outside() {
            Some(at) => {
                let (number, day) = (at + 1, self.readings[at].at.strftime("%Y-%m-%d"));
                let says = format!(
                    "THE MOVING AVERAGE LEAVES {room} at reading {number} ({day}): a slow change, such as a tool that wears"
                );
                ("drift", says)
            }
            None => ("drift", format!("none seen; the moving average keeps to {room}")),
        });
        let broken = self.broken();
        if broken > 0 {
            let chance = match self.by_chance() {
                few if few < 1.0 => "less than one".to_owned(),
                more => format!("about {more:.0}"),
            };
            facts.push((
                "rules",
                format!(
                    "{broken} readings break one; of {} readings of a steady process {chance} would by chance",
                    self.readings.len()
                ),
            ));
        }
        if let Some(capability) = self.capability {
            let with = |figure: f64, interval: Option<Interval>| {
                let room = interval.map(|i| format!(" (95 %: {:.2} to {:.2})", i.low, i.high)).unwrap_or_default();
                format!("{figure:.2}{room}")
            };
            let cp = capability.cp.map(|cp| format!("Cp {}, ", with(cp, capability.cp_interval()))).unwrap_or_default();
            let cpk = with(capability.cpk, capability.cpk_interval());
            facts.push(("spread", format!("{cp}Cpk {cpk}; for a steady process with a normal distribution only")));
        }
        if chart.provisional() {
            let count = chart.count;
            let says = format!("limits from {count} readings are provisional; {FEW} or more tell (common practice)");
            facts.push(("few", says));
        }
        if chart.is_rounding(self.digit) {
            let says = "the readings move by less than two steps of their last digit: the chart shows the rounding of \
                        the meter";
            facts.push(("digits", says.to_owned()));
        }
        let says = "limits of a chart are what this process did, not what a joint needs; they judge no vehicle";
        facts.push(("note", says.to_owned()));
        facts
    }
}
