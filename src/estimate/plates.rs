//! Plates and discs.

use std::f64::consts::PI;

use padfield_engine::units::{Area, Capacitance, Length, Permittivity, VACUUM_PERMITTIVITY};

/// One layer of insulator between two plates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slab {
    pub thickness: Length,
    pub permittivity: Permittivity,
}

/// Parallel plates of an area with layers in series between them, C = eps0 A / sum(t / eps_r).
///
/// With the area of the contact patch it stands for the touch shift: too low without a ground
/// behind the pad (fringe and dome are left out), about right at 2 to 4 mm of plastic over a
/// ground, too high for thick overlays (the ground takes flux). With the area of the pad it is too
/// high throughout, 1.7 to 4 times. Source: textbook electrostatics.
///
/// ```
/// use padfield::estimate::{plates, Slab};
/// use padfield_engine::units::{Area, Length, Permittivity};
///
/// let acrylic = Slab { thickness: Length::from_mm(3.0), permittivity: Permittivity::from_relative(2.8) };
/// let contact = Area::from_square_mm(78.54);
/// assert!((plates(contact, &[acrylic]).pf() - 0.649).abs() < 0.001);
/// ```
pub fn plates(area: Area, layers: &[Slab]) -> Capacitance {
    let equivalent_gap_m: f64 = layers
        .iter()
        .map(|layer| layer.thickness.metres() / layer.permittivity.relative())
        .sum();
    Capacitance::from_farads(VACUUM_PERMITTIVITY * area.square_metres() / equivalent_gap_m)
}

/// Pad over a ground plane without its fringe, C = eps0 eps_r A / h.
///
/// Low by 30 to 45 % for a half-inch pad over 1.6 mm; [`disc_over_plane`] holds the fringe.
/// Source: textbook electrostatics.
///
/// ```
/// use padfield::estimate::pad_to_plane;
/// use padfield_engine::units::{Area, Length, Permittivity};
///
/// let pad = Area::from_square_mm(12.7 * 12.7);
/// let base = pad_to_plane(pad, Length::from_mm(1.6), Permittivity::from_relative(4.4));
/// assert!((base.pf() - 3.927).abs() < 0.001);
/// ```
pub fn pad_to_plane(area: Area, height: Length, permittivity: Permittivity) -> Capacitance {
    plates(
        area,
        &[Slab {
            thickness: height,
            permittivity,
        }],
    )
}

/// Radius of the disc whose area a square or any other compact pad has.
///
/// ```
/// use padfield::estimate::equal_area_radius;
/// use padfield_engine::units::Area;
///
/// assert!((equal_area_radius(Area::from_square_mm(12.7 * 12.7)).mm() - 7.165).abs() < 0.001);
/// ```
pub fn equal_area_radius(area: Area) -> Length {
    Length::from_metres((area.square_metres() / PI).sqrt())
}

/// Disc on a grounded dielectric slab under air, with edge correction:
/// C = eps pi a^2/h {1 + 2h/(pi eps_r a) [ln(a/(2h)) + 1.41 eps_r + 1.77 + h/a (0.268 eps_r + 1.65)]}.
///
/// For h much smaller than a; low by 0.07, 0.37 and 0.09 % for eps_r = 1, 2.65 and 9.6 at
/// h = a/10. An overlay on top and neighbours add to it. Square pads enter as the disc of equal
/// area ([`equal_area_radius`]). Source: W. C. Chew and J. A. Kong, IEEE Trans. MTT-28 (1980) 98
/// (from memory).
///
/// ```
/// use padfield::estimate::disc_over_plane;
/// use padfield_engine::units::{Length, Permittivity};
///
/// let board = Permittivity::from_relative(4.4);
/// let base = disc_over_plane(Length::from_mm(7.165), Length::from_mm(1.6), board);
/// assert!((base.pf() - 5.12).abs() < 0.01);
/// ```
pub fn disc_over_plane(radius: Length, height: Length, permittivity: Permittivity) -> Capacitance {
    let ratio = height / radius;
    let relative = permittivity.relative();
    let fringe = -(2.0 * ratio).ln() + 1.41 * relative + 1.77 + ratio * (0.268 * relative + 1.65);
    let edge = 1.0 + 2.0 * ratio / (PI * relative) * fringe;
    let flat_m = PI * radius.metres() / ratio;
    Capacitance::from_farads(VACUUM_PERMITTIVITY * relative * flat_m * edge)
}

/// Isolated disc, C = 8 eps0 eps_r a: the floor for a pad with no ground near.
///
/// Half of what a pad on a board under an overlay with neighbours has. Source: J. D. Jackson,
/// Classical Electrodynamics (from memory).
///
/// ```
/// use padfield::estimate::isolated_disc;
/// use padfield_engine::units::{Length, Permittivity};
///
/// let disc = isolated_disc(Length::from_mm(7.2), Permittivity::from_relative(1.0));
/// assert!((disc.pf() - 0.51).abs() < 0.001);
/// ```
pub fn isolated_disc(radius: Length, permittivity: Permittivity) -> Capacitance {
    Capacitance::from_farads(8.0 * VACUUM_PERMITTIVITY * permittivity.relative() * radius.metres())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const UNIT: Length = Length::from_metres(1.0);

    fn over_vacuum_permittivity(capacitance: Capacitance) -> f64 {
        capacitance.farads() / VACUUM_PERMITTIVITY
    }

    #[test]
    fn half_inch_pad_over_board() {
        // Check E17: arithmetic.
        let pad = Area::from_square_mm(12.7 * 12.7);
        let c = pad_to_plane(pad, Length::from_mm(1.6), Permittivity::from_relative(4.4));
        assert_relative_eq!(c.pf(), 3.927_252_9, max_relative = 1e-8);
    }

    #[test]
    fn layers_in_series_add_their_thickness_over_permittivity() {
        let slab = |mm, relative| Slab {
            thickness: Length::from_mm(mm),
            permittivity: Permittivity::from_relative(relative),
        };
        let area = Area::from_square_mm(100.0);
        // 0.1 mm of air equals 0.73 mm of glass of 7.3.
        let gap = plates(area, &[slab(3.0, 7.3), slab(0.1, 1.0)]);
        let glass = plates(area, &[slab(3.73, 7.3)]);
        assert_relative_eq!(gap.farads(), glass.farads(), max_relative = 1e-12);
    }

    #[test]
    fn disc_on_slab_matches_the_published_formula() {
        // Check P3: formula 97.956, exact 98.3166, so low by 0.37 %.
        let disc = disc_over_plane(
            UNIT,
            Length::from_metres(0.1),
            Permittivity::from_relative(2.65),
        );
        let value = over_vacuum_permittivity(disc);
        assert_relative_eq!(value, 97.956, max_relative = 1e-5);
        assert!((100.0 * (1.0 - value / 98.3166) - 0.37).abs() < 0.006);
        // Over eps 1 the exact value follows from the pair at twice the distance: low by 0.07 %.
        let air = disc_over_plane(
            UNIT,
            Length::from_metres(0.1),
            Permittivity::from_relative(1.0),
        );
        let low_percent = 100.0 * (1.0 - over_vacuum_permittivity(air) / (2.0 * 20.703_049_015));
        assert!((low_percent - 0.07).abs() < 0.006, "{low_percent}");
    }
}
