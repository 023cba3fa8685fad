//! Axes of plots: where the ticks stand, what is written at them, and where a value lies.

/// How a value becomes a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Equal distances for equal differences.
    Linear,
    /// Equal distances for equal ratios.
    Logarithmic,
}

/// An axis from one place on the drawing to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    /// How values lie on it.
    pub scale: Scale,
    /// Value at its beginning.
    pub low: f64,
    /// Value at its end.
    pub high: f64,
    /// Place of its beginning, in points.
    pub from: f32,
    /// Place of its end, in points.
    pub to: f32,
}

/// One tick: its value, and what is written at it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Where it stands.
    pub value: f64,
    /// The number; none where the tick is a fine one in between.
    pub text: Option<String>,
}

/// Steps of a linear axis between two powers of ten.
const STEPS: [f64; 4] = [1.0, 2.0, 5.0, 10.0];
/// Powers of ten beyond which numbers are no longer written out.
const LARGEST_WRITTEN: i32 = 5;
/// No axis has more ticks than this, whatever its ends.
const MOST_TICKS: usize = 1000;
/// Rounds after which the ends of a linear axis no longer move.
const SETTLED: usize = 4;
/// The last digits of a quotient are no reason for another step.
const GRAIN: f64 = 1e-6;
/// A logarithmic axis ends at one of these, times a power of ten.
const LOG_ENDS: [f64; 3] = [1.0, 2.0, 5.0];

impl Axis {
    /// A linear axis whose ends are ticks and enclose both values, with about so many steps.
    pub fn linear(low: f64, high: f64, steps: usize, (from, to): (f32, f32)) -> Self {
        let (mut low, mut high) = enclosed(low, high);
        // Round ends make the span longer, and that may ask for a longer step; two rounds settle it.
        for _ in 0..SETTLED {
            let step = step(high - low, steps);
            (low, high) = ((low / step + GRAIN).floor() * step, (high / step - GRAIN).ceil() * step);
        }
        Self { scale: Scale::Linear, low, high, from, to }
    }

    /// A logarithmic axis that encloses both values, both above nothing; it ends at 1, 2 or 5 times a power of ten.
    pub fn logarithmic(low: f64, high: f64, (from, to): (f32, f32)) -> Self {
        let positive = |value: f64| if value.is_finite() && value > 0.0 { value } else { 1.0 };
        let (low, high) = (positive(low).min(positive(high)), positive(low).max(positive(high)));
        let ends = |value: f64| {
            let decade = 10f64.powf(value.log10().floor());
            LOG_ENDS.map(|end| end * decade).into_iter().chain([10.0 * decade])
        };
        // What was computed as an end, but for the last digits, is that end.
        let slack = 1.0 + 1e-9;
        let first = ends(low).filter(|end| *end <= low * slack).fold(low, |_, end| end);
        let last = ends(high).find(|end| *end >= high / slack).unwrap_or(high);
        let last = if last > first { last } else { first * 10.0 };
        Self { scale: Scale::Logarithmic, low: first, high: last, from, to }
    }

    /// Where a value lies, in points; a value beyond the ends lies at the end.
    pub fn place(&self, value: f64) -> f32 {
        let share = match self.scale {
            Scale::Linear => (value - self.low) / (self.high - self.low),
            Scale::Logarithmic => (value.max(f64::MIN_POSITIVE) / self.low).ln() / (self.high / self.low).ln(),
        };
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        self.from + (self.to - self.from) * points(share)
    }

    /// Whether a value lies on it.
    pub fn holds(&self, value: f64) -> bool {
        let slack = 1e-9 * (self.high - self.low).abs();
        (self.low - slack..=self.high + slack).contains(&value)
    }

    /// Its ticks: on a linear axis about so many; on a logarithmic one every whole multiple of a power of ten, with
    /// numbers at 1, and where a decade has room for them at 2 and 5.
    pub fn ticks(&self, steps: usize) -> Vec<Tick> {
        match self.scale {
            Scale::Linear => self.linear_ticks(steps),
            Scale::Logarithmic => self.logarithmic_ticks(),
        }
    }

    fn linear_ticks(&self, steps: usize) -> Vec<Tick> {
        let step = step(self.high - self.low, steps);
        let places = decimals(step);
        let mut ticks = Vec::new();
        let mut multiple = (self.low / step - GRAIN).ceil();
        while multiple <= self.high / step + GRAIN && ticks.len() < MOST_TICKS {
            let value = multiple * step;
            ticks.push(Tick { value, text: Some(written(value, places)) });
            multiple += 1.0;
        }
        ticks
    }

    fn logarithmic_ticks(&self) -> Vec<Tick> {
        let decades = (self.high / self.low).log10();
        let room = (self.to - self.from).abs() / points(decades.max(1e-6));
        let mut ticks = Vec::new();
        let mut decade = 10f64.powf(self.low.log10().floor());
        while decade <= self.high * 1.000_001 && ticks.len() < MOST_TICKS {
            for multiple in 1..10u8 {
                let value = f64::from(multiple) * decade;
                if value < self.low * 0.999_999 || value > self.high * 1.000_001 {
                    continue;
                }
                let numbered = multiple == 1 || matches!(multiple, 2 | 5) && room >= ROOM_FOR_NUMBERS;
                ticks.push(Tick { value, text: numbered.then(|| written(value, decimals(decade))) });
            }
            decade *= 10.0;
        }
        ticks
    }
}

/// A decade of at least this length, in points, has numbers at 2 and 5.
const ROOM_FOR_NUMBERS: f32 = 50.0;

/// Two different finite values, the lower first.
fn enclosed(low: f64, high: f64) -> (f64, f64) {
    let finite = |value: f64| if value.is_finite() { value } else { 0.0 };
    let (low, high) = (finite(low).min(finite(high)), finite(low).max(finite(high)));
    if high - low > 1e-9 * high.abs().max(low.abs()).max(1e-9) { (low, high) } else { (low - 0.5, high + 0.5) }
}

/// The round step that comes nearest to so many steps over a span, from above.
fn step(span: f64, steps: usize) -> f64 {
    let wanted = (span / steps.max(1) as f64).max(f64::MIN_POSITIVE);
    let decade = 10f64.powf(wanted.log10().floor());
    STEPS.map(|s| s * decade).into_iter().find(|s| *s >= wanted * 0.999_999).unwrap_or(10.0 * decade)
}

/// Decimals that a step needs.
fn decimals(step: f64) -> usize {
    (0..9).find(|places| 10f64.powi(*places) * step > 0.999_999).and_then(|p| usize::try_from(p).ok()).unwrap_or(9)
}

fn written(value: f64, places: usize) -> String {
    if value.abs() >= 10f64.powi(LARGEST_WRITTEN + 1) {
        return format!("{value:.0e}");
    }
    let text = format!("{value:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        return text.trim_start_matches('-').to_owned();
    }
    text
}

/// A number as a coordinate.
#[expect(clippy::cast_possible_truncation, reason = "a coordinate needs no more than seven digits")]
pub(super) fn points(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(axis: &Axis, steps: usize) -> Vec<String> {
        axis.ticks(steps).into_iter().filter_map(|t| t.text).collect()
    }

    #[test]
    fn a_linear_axis_begins_and_ends_at_round_values() {
        let axis = Axis::linear(11.83, 12.61, 5, (100.0, 0.0));
        assert_eq!(texts(&axis, 5), ["11.8", "12.0", "12.2", "12.4", "12.6", "12.8"]);
        assert_eq!(axis.place(11.8), 100.0);
        assert!((axis.place(12.8)).abs() < 1e-4);
        assert!((axis.place(12.3) - 50.0).abs() < 1e-3);
    }

    #[test]
    fn no_tick_lies_beyond_the_ends_and_both_ends_have_one() {
        for (low, high) in [(-0.02, 0.47), (0.0, 0.61), (10.9, 12.83), (-3.7, 1e4), (1e-3, 2e-3)] {
            for steps in 2..9 {
                let axis = Axis::linear(low, high, steps, (0.0, 100.0));
                let ticks = axis.ticks(steps);
                assert!(ticks.iter().all(|t| axis.holds(t.value)), "{axis:?} {ticks:?}");
                let grain = 1e-6 * (axis.high - axis.low);
                assert!((ticks[0].value - axis.low).abs() < grain, "{axis:?} {ticks:?}");
                assert!((ticks[ticks.len() - 1].value - axis.high).abs() < grain, "{axis:?} {ticks:?}");
                assert!(axis.low <= low && high <= axis.high, "{axis:?}");
            }
        }
    }

    #[test]
    fn a_linear_axis_of_one_value_has_a_width_all_the_same() {
        let axis = Axis::linear(12.0, 12.0, 4, (0.0, 10.0));
        assert!(axis.high > axis.low);
        assert!(axis.holds(12.0));
        let axis = Axis::linear(f64::NAN, f64::INFINITY, 4, (0.0, 10.0));
        assert!(axis.place(f64::NAN).is_finite());
    }

    #[test]
    fn a_logarithmic_axis_ends_at_one_two_or_five() {
        let axis = Axis::logarithmic(3.0, 180.0, (0.0, 300.0));
        assert_eq!((axis.low, axis.high), (2.0, 200.0));
        assert_eq!(texts(&axis, 0), ["2", "5", "10", "20", "50", "100", "200"]);
        assert!((axis.place(20.0) - 150.0).abs() < 1e-3);
        assert_eq!(axis.place(1e9), 300.0);
        assert_eq!(axis.place(0.0), 0.0);
    }

    #[test]
    fn small_values_are_written_with_their_decimals() {
        let axis = Axis::logarithmic(0.01, 1000.0, (200.0, 0.0));
        assert_eq!(texts(&axis, 0), ["0.01", "0.1", "1", "10", "100", "1000"]);
        assert_eq!(axis.ticks(0).len(), 46);
        assert_eq!(texts(&Axis::logarithmic(0.0, -3.0, (0.0, 1.0)), 0), ["1", "10"]);
    }
}
