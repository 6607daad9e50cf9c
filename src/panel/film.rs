//! Water on the touched face: what a wet film is, and how far it conducts.
//!
//! Electrostatics knows a film only as a dielectric or as a conductor; which of the two bounds is
//! nearer to the truth is told by two numbers: the frequency above which water acts as a dielectric
//! ([`crossover_frequency`]), and the distance a potential travels in a thin film over the
//! capacitance of the overlay ([`Film::reach`]).

use super::{LayerContent, Panel};
use padfield_engine::units::{Conductivity, Frequency, Length, VACUUM_PERMITTIVITY};

/// Permittivity of water at 20 °C relative to vacuum, rounded from 80.2: IAPWS R8-97, static value,
/// good to far beyond the frequencies of measuring circuits.
pub const WATER_PERMITTIVITY: f64 = 80.0;

/// What a film is taken for in the field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FilmBound {
    /// Insulating water of [`WATER_PERMITTIVITY`]: the lower bound.
    Dielectric,
    /// A conductor connected to nothing.
    Floating,
    /// A conductor at 0 V, as by a wet bezel: the upper bound of the base capacitance.
    Earthed,
}

/// Outline of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FilmShape {
    /// Width along x, height along y.
    Rectangle {
        /// Along x.
        width: Length,
        /// Along y.
        height: Length,
    },
    /// A round drop.
    Disc { diameter: Length },
}

/// A wet film or a drop on the touched face.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    pub name: String,
    pub shape: FilmShape,
    /// Centre x, y.
    pub centre: [Length; 2],
    /// Thickness of the water.
    pub thickness: Length,
    /// What it is taken for.
    pub bound: FilmBound,
    /// Conductivity of the water, when known.
    pub conductivity: Option<Conductivity>,
}

impl Film {
    /// Half its extent along x and y \[m\].
    pub fn half_extent_m(&self) -> [f64; 2] {
        match self.shape {
            FilmShape::Rectangle { width, height } => [width, height].map(|l| l.metres() / 2.0),
            FilmShape::Disc { diameter } => [diameter.metres() / 2.0; 2],
        }
    }

    /// Distance of a point x, y \[m\] from the film, 0 inside \[m\].
    pub fn distance_m(&self, point_m: [f64; 2]) -> f64 {
        let away = [0, 1].map(|axis| point_m[axis] - self.centre[axis].metres());
        let half = self.half_extent_m();
        match self.shape {
            FilmShape::Rectangle { .. } => {
                let outside = [0, 1].map(|axis| (away[axis].abs() - half[axis]).max(0.0));
                outside[0].hypot(outside[1])
            }
            FilmShape::Disc { .. } => (away[0].hypot(away[1]) - half[0]).max(0.0),
        }
    }

    /// Resistance of a square of the film \[ohm\], where the conductivity is known.
    pub fn sheet_resistance_ohm(&self) -> Option<f64> {
        let conductivity = self.conductivity?.siemens_per_metre();
        Some(1.0 / (conductivity * self.thickness.metres()))
    }

    /// How far along the film a potential of this frequency reaches, where the conductivity is known:
    /// `sqrt(2 / (omega R C))`, R the sheet resistance, C the capacitance per area \[F/m²\] under the
    /// film: the diffusion line, a film without inductance whose water is all conductor.
    pub fn reach(&self, frequency: Frequency, capacitance_per_area: f64) -> Option<Length> {
        let omega = 2.0 * std::f64::consts::PI * frequency.hertz();
        let resistance = self.sheet_resistance_ohm()?;
        let squared = 2.0 / (omega * resistance * capacitance_per_area);
        Some(Length::from_metres(squared.sqrt()))
    }
}

/// Frequency at which the conduction current in water equals the displacement current:
/// `conductivity / (2 pi eps0 80)`; a conductor well below, a dielectric well above.
pub fn crossover_frequency(conductivity: Conductivity) -> Frequency {
    let permittivity = VACUUM_PERMITTIVITY * WATER_PERMITTIVITY;
    Frequency::from_hertz(
        conductivity.siemens_per_metre() / (2.0 * std::f64::consts::PI * permittivity),
    )
}

/// Capacitance per area \[F/m²\] of the layers between the touched face and the first copper.
pub fn overlay_capacitance_per_area(panel: &Panel) -> f64 {
    VACUUM_PERMITTIVITY / equivalent_thickness(panel).metres()
}

/// Thickness of the air that has the capacitance per area of the layers between the touched face and the
/// first copper: the sum of thickness over permittivity.
pub fn equivalent_thickness(panel: &Panel) -> Length {
    let layers = panel.layers.iter().map_while(|layer| match &layer.content {
        LayerContent::Dielectric { permittivity, .. } => {
            Some(layer.thickness.nominal.metres() / permittivity.nominal.relative())
        }
        LayerContent::Copper => None,
    });
    Length::from_metres(layers.sum())
}

#[cfg(test)]
mod tests {
    use super::super::sample::{four_keys, mm};
    use super::*;
    use crate::panel::Panel;
    use padfield_engine::units::Permittivity;

    fn film() -> Film {
        Film {
            name: "rain".to_owned(),
            shape: FilmShape::Rectangle {
                width: mm(40.0),
                height: mm(20.0),
            },
            centre: [mm(5.0), mm(0.0)],
            thickness: mm(0.1),
            bound: FilmBound::Floating,
            conductivity: Some(Conductivity::from_siemens_per_metre(0.05)),
        }
    }

    /// One layer of glass, 4 mm, permittivity 7.3, over the copper.
    fn behind_glass() -> Panel {
        let mut panel = four_keys();
        panel.layers.remove(1);
        panel.layers[0].content = LayerContent::Dielectric {
            material: "glass".to_owned(),
            permittivity: padfield_engine::units::Toleranced::exact(Permittivity::from_relative(
                7.3,
            )),
            source: "given".to_owned(),
        };
        panel
    }

    /// Tap water, 0.05 S/m, permittivity 80: 11.234 MHz, from the formula in five digits.
    #[test]
    fn tap_water_turns_into_a_dielectric_at_eleven_megahertz() {
        let found = crossover_frequency(Conductivity::from_siemens_per_metre(0.05));
        approx::assert_abs_diff_eq!(found.hertz() / 1e6, 11.234, epsilon = 0.0005);
    }

    /// 0.1 mm of tap water on 4 mm of glass at 100 kHz: 31.38 mm, from the formula in four digits.
    #[test]
    fn a_tap_water_film_reaches_three_centimetres_at_a_hundred_kilohertz() {
        let below = overlay_capacitance_per_area(&behind_glass());
        approx::assert_relative_eq!(film().sheet_resistance_ohm().unwrap(), 200e3);
        let reach = film().reach(Frequency::from_khz(100.0), below);
        approx::assert_abs_diff_eq!(reach.unwrap().mm(), 31.38, epsilon = 0.005);
        let unknown = Film {
            conductivity: None,
            ..film()
        };
        assert_eq!(unknown.reach(Frequency::from_khz(100.0), below), None);
    }

    #[test]
    fn distances_from_a_film_are_those_from_its_edge() {
        let film = film();
        assert_eq!(film.distance_m([0.0, 0.0]), 0.0);
        approx::assert_relative_eq!(film.distance_m([28e-3, 14e-3]), 5e-3, max_relative = 1e-9);
        let drop = Film {
            shape: FilmShape::Disc { diameter: mm(6.0) },
            ..film
        };
        approx::assert_relative_eq!(drop.distance_m([9e-3, 3e-3]), 2e-3, max_relative = 1e-9);
        assert_eq!(drop.distance_m([6e-3, 1e-3]), 0.0);
    }
}
