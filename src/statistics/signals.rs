use super::chart::Individuals;
use super::series::Series;

/// A rule of the zones of a chart: the four of Western Electric (NIST/SEMATECH e-Handbook 6.3.2).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// One reading beyond three sigma.
    Beyond,
    /// Two of three in a row beyond two sigma, on one side.
    TwoOfThree,
    /// Four of five in a row beyond one sigma, on one side.
    FourOfFive,
    /// Eight in a row on one side of the centre.
    EightOnOneSide,
}

impl Rule {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Beyond, Self::TwoOfThree, Self::FourOfFive, Self::EightOnOneSide];

    /// What it asks to look at in a row, how many of these it wants, and beyond how many sigma.
    const fn asks(self) -> (usize, usize, f64) {
        match self {
            Self::Beyond => (1, 1, 3.0),
            Self::TwoOfThree => (3, 2, 2.0),
            Self::FourOfFive => (5, 4, 1.0),
            Self::EightOnOneSide => (8, 8, 0.0),
        }
    }

    /// In words.
    pub const fn says(self) -> &'static str {
        match self {
            Self::Beyond => "one beyond 3 sigma",
            Self::TwoOfThree => "two of three beyond 2 sigma on one side",
            Self::FourOfFive => "four of five beyond 1 sigma on one side",
            Self::EightOnOneSide => "eight in a row on one side of the centre",
        }
    }
}

/// A reading at which a rule is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signal {
    /// Its place in the series, from 0.
    pub at: usize,
    /// The rule.
    pub rule: Rule,
    /// Whether the readings lie above the centre.
    pub above: bool,
}

/// The readings at which rules are broken, in their order. A reading on a line counts to the inner zone, a rule speaks
/// only at a reading that is itself beyond its line, and runs go on after a signal.
pub fn signals(series: &Series, chart: &Individuals, rules: &[Rule]) -> Vec<Signal> {
    let distances: Vec<f64> = series.values().iter().map(|&x| chart.distance(series.amount(x))).collect();
    let mut found = Vec::new();
    for at in 0..distances.len() {
        for &rule in rules {
            let (span, wanted, sigma) = rule.asks();
            // The first readings have a shorter past: two of the first two are two of three.
            let past = &distances[(at + 1).saturating_sub(span)..=at];
            for above in [true, false] {
                let beyond = |z: f64| if above { z > sigma } else { z < -sigma };
                if beyond(distances[at]) && past.iter().filter(|&&z| beyond(z)).count() >= wanted {
                    found.push(Signal { at, rule, above });
                }
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Amount, Dimension};

    /// Signals of readings on a chart with centre 0 and sigma 1.
    fn found(values: &[f64]) -> Vec<(usize, Rule)> {
        let force = |value: f64| Amount::new(value, Dimension::Force);
        let series = Series::of(&values.iter().map(|&v| force(v)).collect::<Vec<_>>()).unwrap();
        let chart = Individuals {
            count: values.len(),
            centre: force(0.0),
            mean_range: force(1.128),
            sigma: force(1.0),
            low: force(-3.0),
            high: force(3.0),
            range_high: force(3.685),
        };
        signals(&series, &chart, &Rule::ALL).iter().map(|s| (s.at, s.rule)).collect()
    }

    #[test]
    fn a_reading_on_the_line_counts_to_the_inner_zone() {
        assert_eq!(found(&[3.0]), []);
        assert_eq!(found(&[3.001]), [(0, Rule::Beyond)]);
        assert_eq!(found(&[-3.001]), [(0, Rule::Beyond)]);
    }

    #[test]
    fn two_of_three_and_four_of_five_need_one_side() {
        assert_eq!(found(&[2.1, 0.0, 2.1]), [(2, Rule::TwoOfThree)]);
        assert_eq!(found(&[2.1, 0.0, -2.1]), []);
        assert_eq!(found(&[2.1, 0.0, 0.0, 2.1]), []);
        assert_eq!(found(&[1.1, 1.1, -0.5, 1.1, 1.1]), [(4, Rule::FourOfFive)]);
        assert_eq!(found(&[1.1, 1.1, -0.5, 1.1, 1.0]), []);
    }

    #[test]
    fn eight_on_one_side_speak_at_the_eighth_and_go_on() {
        let low = [-0.1; 9];
        assert_eq!(found(&low[..7]), []);
        assert_eq!(found(&low), [(7, Rule::EightOnOneSide), (8, Rule::EightOnOneSide)]);
        let broken = [-0.1, -0.1, -0.1, -0.1, 0.0, -0.1, -0.1, -0.1, -0.1];
        assert_eq!(found(&broken), []);
    }
}
