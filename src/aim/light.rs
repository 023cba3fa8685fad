use super::Beam;
use crate::quantity::{Illuminance, Intensity, Length};

/// What the middle of a beam gives: E = I / d² · cos(incidence), the lamp taken as a point.
///
/// It holds from about five times the lamp's largest face on (`handbook::lamp::far_enough`), in clear air, and for the
/// intensity in the middle of the beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// Luminous intensity in the middle of the beam.
    pub intensity: Intensity,
}

impl Light {
    /// On a surface that faces the lamp, at a distance along the beam.
    pub fn facing(&self, distance: Length) -> Illuminance {
        Illuminance::lux(self.intensity.as_candela() / distance.as_metres().powi(2))
    }

    /// On an upright wall at a distance along the ground, where the middle of the beam meets it: the beam is longer
    /// than that distance by 1/cos(tilt), and falls in at the angle of the tilt.
    pub fn on_wall(&self, beam: &Beam, distance: Length) -> Illuminance {
        let cos = beam.tilt.as_angle().as_degrees().to_radians().cos();
        Illuminance::lux(self.facing(distance).as_lux() * cos.powi(3))
    }

    /// On the ground, where the middle of the beam meets it; `None` where it does not.
    pub fn on_ground(&self, beam: &Beam) -> Option<Illuminance> {
        beam.meets_ground()?;
        let sin = beam.tilt.as_angle().as_degrees().to_radians().sin();
        Some(Illuminance::lux(self.facing(beam.height).as_lux() * sin.powi(3)))
    }

    /// The distance at which a surface that faces the lamp gets just this much: √(I / E).
    pub fn reaches(&self, least: Illuminance) -> Length {
        Length::metres((self.intensity.as_candela() / least.as_lux()).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Angle, Slope};

    #[test]
    fn the_ground_gets_less_the_flatter_the_beam_falls_in() {
        let light = Light { intensity: Intensity::candela(900.0) };
        let beam = |degrees: f64| Beam { height: Length::metres(3.0), tilt: Slope::angle(Angle::degrees(degrees)) };
        // Straight down it is the plain inverse square: 900 / 9.
        assert!((light.on_ground(&beam(89.0)).unwrap().as_lux() - 100.0).abs() < 0.1);
        // At 30° the way is twice the height, a quarter of the light, and half of that by incidence.
        assert!((light.on_ground(&beam(30.0)).unwrap().as_lux() - 12.5).abs() < 1e-9);
        assert_eq!(light.on_ground(&beam(0.0)), None);
        // On a wall at 45° the way is √2 times the distance: a half, and 1/√2 of that by incidence.
        let wall = light.on_wall(&beam(45.0), Length::metres(3.0)).as_lux();
        assert!((wall - 100.0 / 2.0 / 2f64.sqrt()).abs() < 1e-9, "{wall}");
    }
}
