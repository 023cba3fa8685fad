use serde::{Deserialize, Serialize};

use super::drawing::scene::{Ink, Point, Scene, Shape, Stroke};
use crate::quantity::Amount;

/// An expected range with the reading on it, as shares of the drawn width (0 to 100).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(super) struct Bar {
    /// Left end of the expected band.
    pub from: f64,
    /// Width of the expected band.
    pub width: f64,
    /// Left end of the limits that were applied, the meter's error included.
    pub limit_from: f64,
    /// Width of those limits.
    pub limit_width: f64,
    /// The reading.
    pub at: f64,
    /// Whether the reading lies off the drawn scale, which shows at most four band widths to either side.
    pub clipped: bool,
}

impl Bar {
    /// The band takes the middle of the scale as far as the reading allows.
    pub(super) fn of((low, high): (Amount, Amount), limits: Option<(Amount, Amount)>, reading: Amount) -> Self {
        let (low, high, value) = (low.base(), high.base(), reading.base());
        let (limit_low, limit_high) = limits.map_or((low, high), |(a, b)| (a.base(), b.base()));
        let band = (high - low).max(1e-3 * high.abs().max(1e-9));
        let band = band.max((limit_high - limit_low) / 4.0);
        let left = (limit_low - 0.5 * band).min(value - 0.2 * band).max(low - 4.0 * band);
        let right = (limit_high + 0.5 * band).max(value + 0.2 * band).min(high + 4.0 * band);
        let share = |x: f64| (100.0 * (x - left) / (right - left)).clamp(0.0, 100.0);
        let round = |x: f64| (x * 10.0).round() / 10.0;
        let from = share(low);
        Self {
            from: round(from),
            width: round((share(high) - from).max(1.0)),
            limit_from: round(share(limit_low)),
            limit_width: round((share(limit_high) - share(limit_low)).max(1.0)),
            at: round(share(value).clamp(1.5, 98.5)),
            clipped: value < left || value > right,
        }
    }

    /// The bar as a drawing; a reading that does not conform stands in its own colour, and the word beside it says so.
    pub(super) fn scene(&self, conforms: bool, says: String) -> Scene {
        const WIDTH: f32 = 72.0;
        const HEIGHT: f32 = 9.0;
        // Shares of a hundred are exact enough in the smaller type.
        #[allow(clippy::cast_possible_truncation)]
        let x = |share: f64| share as f32 * WIDTH / 100.0;
        let line = |ink: Ink, width: f32, dash: Option<(f32, f32)>| Stroke { ink, width, dash };
        let box_of = |from: f64, width: f64, top: f32, fill: Ink, edge: Ink| {
            let (left, right) = (x(from), x(from + width));
            let corners = [(left, top), (right, top), (right, HEIGHT - top), (left, HEIGHT - top)];
            let points = corners.map(|(x, y)| Point { x, y }).to_vec();
            Shape::Area { points, fill: Some(fill), stroke: Some(line(edge, 0.5, None)) }
        };
        let upright = |share: f64| vec![Point { x: x(share), y: 0.0 }, Point { x: x(share), y: HEIGHT }];
        let middle = vec![Point { x: 0.0, y: HEIGHT / 2.0 }, Point { x: WIDTH, y: HEIGHT / 2.0 }];
        let mark = if conforms { Ink::DARK } else { Ink::BAD };
        let dash = self.clipped.then_some((1.6, 1.2));
        let shapes = vec![
            Shape::Line { points: middle, stroke: line(Ink::PALE, 0.6, None) },
            box_of(self.limit_from, self.limit_width, 2.4, Ink(0xee, 0xf3, 0xef), Ink(0x8f, 0xa8, 0x98)),
            box_of(self.from, self.width, 1.4, Ink::BAND, Ink::GOOD),
            Shape::Line { points: upright(self.at), stroke: line(mark, 1.3, dash) },
        ];
        Scene { says, width: WIDTH, height: HEIGHT, shapes }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Dimension;

    #[test]
    fn a_reading_in_the_middle_of_its_band_stands_in_the_middle_of_the_bar() {
        let volts = |value| Amount::new(value, Dimension::Voltage);
        let bar = Bar::of((volts(0.2), volts(0.4)), None, volts(0.3));
        assert!((bar.at - 50.0).abs() < 0.2 && (bar.from - 25.0).abs() < 0.2 && (bar.width - 50.0).abs() < 0.2);
        let far = Bar::of((volts(0.2), volts(0.4)), None, volts(300.0));
        assert!(far.clipped && far.at > 95.0);
    }
}
