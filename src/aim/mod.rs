//! Where the beam of a lamp goes, and how bright it is there: plain geometry over a level ground, and the inverse
//! square. It says nothing of the shape of a beam, which only its maker and a look at the wall tell.

mod advice;
mod light;

pub use advice::{glare, is_lamp, missing, said, wall_steps};
pub use light::Light;

use crate::handbook::lamp::eye_height;
use crate::quantity::{Length, Slope};

/// The middle of a lamp's beam over a level ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beam {
    /// Height of the middle of the lens above the ground.
    pub height: Length,
    /// How far the beam falls on its way forward; negative where it rises.
    pub tilt: Slope,
}

/// How the middle of a beam lies to a height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Passing {
    /// It passes this height at this distance in front of the lamp.
    At(Length),
    /// It lies above it, or just at it, all the way.
    Above,
    /// It lies below it all the way.
    Below,
}

impl Beam {
    /// From the drop of the beam that was measured on a wall at a distance; negative where it lies above the lamp.
    pub fn by_wall(height: Length, drop: Length, distance: Length) -> Self {
        Self { height, tilt: Slope::of(drop, distance) }
    }

    /// From where the middle of the beam meets the ground.
    pub fn by_ground(height: Length, meets: Length) -> Self {
        Self { height, tilt: Slope::of(height, meets) }
    }

    /// How far the beam lies below the lamp at a distance: distance × tilt.
    pub fn drop_at(&self, distance: Length) -> Length {
        distance * self.tilt.as_ratio()
    }

    /// Height of the beam above the ground at a distance; negative where the ground comes before.
    pub fn height_at(&self, distance: Length) -> Length {
        self.height - self.drop_at(distance)
    }

    /// Where the middle of the beam meets the ground: height / tan(tilt). `None` for a beam that is level or rises.
    pub fn meets_ground(&self) -> Option<Length> {
        (self.tilt.as_ratio() > 0.0).then(|| self.height / self.tilt.as_ratio())
    }

    /// Where the middle of the beam passes a height.
    pub fn passes(&self, height: Length) -> Passing {
        let above = self.height - height;
        let distance = above.as_metres() / self.tilt.as_ratio();
        if distance > 0.0 && distance.is_finite() {
            Passing::At(Length::metres(distance))
        } else if above > Length::metres(0.0) || above.as_metres() == 0.0 && self.tilt.as_ratio() <= 0.0 {
            Passing::Above
        } else {
            Passing::Below
        }
    }

    /// How it lies to the eyes of an approaching driver.
    pub fn passes_eyes(&self) -> Passing {
        self.passes(eye_height().value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn beam(height: f64, percent: f64) -> Beam {
        Beam { height: Length::metres(height), tilt: Slope::percent(percent) }
    }

    #[test]
    fn a_level_or_rising_beam_never_meets_the_ground() {
        assert_eq!(beam(0.9, 0.0).meets_ground(), None);
        assert_eq!(beam(0.9, -1.0).meets_ground(), None);
        assert!((beam(0.9, 1.0).meets_ground().unwrap().as_metres() - 90.0).abs() < 1e-9);
    }

    #[test]
    fn what_was_measured_gives_the_same_beam() {
        let metres = Length::metres;
        for by in [Beam::by_wall(metres(0.9), metres(0.1), metres(10.0)), Beam::by_ground(metres(0.9), metres(90.0))] {
            assert!((by.tilt.as_percent() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_beam_passes_a_height_once_or_stays_on_its_side() {
        let eyes = Length::metres(1.1);
        let Passing::At(distance) = beam(2.0, 10.0).passes(eyes) else { panic!("it falls past them") };
        assert!((distance.as_metres() - 9.0).abs() < 1e-9);
        let Passing::At(distance) = beam(0.6, -1.0).passes(eyes) else { panic!("it rises past them") };
        assert!((distance.as_metres() - 50.0).abs() < 1e-9);
        assert_eq!(beam(0.6, 1.0).passes(eyes), Passing::Below);
        assert_eq!(beam(0.6, 0.0).passes(eyes), Passing::Below);
        assert_eq!(beam(2.0, -1.0).passes(eyes), Passing::Above);
        assert_eq!(beam(2.0, 0.0).passes(eyes), Passing::Above);
        assert_eq!(beam(1.1, 0.0).passes(eyes), Passing::Above);
        assert_eq!(beam(1.1, 1.0).passes(eyes), Passing::Below);
    }
}
