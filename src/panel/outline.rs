//! Copper outlines as corner polygons: placed, rotated, arcs subdivided; distances between them.
//!
//! Everything here is in metres. A placed outline is a list of closed polygons; the second one, if
//! any, is a hole. An arc becomes short chords whose corners lie slightly outside the true circle, so
//! that the polygon has exactly the circle's area (and not less, as inscribed corners would give).

use super::{Outline, Pad};
pub use padfield_engine::polygon::{
    Rectangle, are_closer, area, contains, corners, crosses_itself, distance, polygon_box,
};
use padfield_engine::polygon::{edges, point_to_segment};
use padfield_engine::units::Length;

/// Chords a full circle is divided into.
pub const CHORDS_PER_CIRCLE: usize = 64;

/// Closed polygons \[m\] of an outline turned counter-clockwise by `rotation_degrees` about its own
/// origin and moved to `centre`. The first polygon runs counter-clockwise for every shape but a
/// free polygon, which keeps its order; a second polygon is a hole.
///
/// ```
/// use padfield::panel::{Outline, outline::outline_polygons};
/// use padfield_engine::units::Length;
/// let square = Outline::Rectangle { width: Length::from_mm(2.0), height: Length::from_mm(2.0) };
/// let corners = outline_polygons(&square, 90.0, [Length::from_mm(5.0), Length::from_mm(0.0)]);
/// assert_eq!(corners.len(), 1);
/// assert!((corners[0][0][0] - 6e-3).abs() < 1e-12);
/// ```
pub fn outline_polygons(
    outline: &Outline,
    rotation_degrees: f64,
    centre: [Length; 2],
) -> Vec<Vec<[f64; 2]>> {
    let (sin, cos) = exact_sin_cos(rotation_degrees);
    let centre_m = centre.map(Length::metres);
    let mut polygons = local_polygons(outline);
    for corner in polygons.iter_mut().flatten() {
        let [x, y] = *corner;
        *corner = [
            cos * x - sin * y + centre_m[0],
            sin * x + cos * y + centre_m[1],
        ];
    }
    polygons
}

/// [`outline_polygons`] of a pad where it is, its hole last.
pub fn pad_polygons(pad: &Pad) -> Vec<Vec<[f64; 2]>> {
    let mut polygons = outline_polygons(&pad.outline, pad.rotation_degrees, pad.centre);
    if let Some(diameter) = pad.hole {
        let [x, y] = pad.centre.map(Length::metres);
        let hole = circle(diameter.metres() / 2.0);
        polygons.push(hole.into_iter().map(|[dx, dy]| [x + dx, y + dy]).collect());
    }
    polygons
}

/// Diameter of the largest round hole about the outline's own origin, which touches its edge; 0 when
/// the origin lies outside.
pub fn largest_hole(outline: &Outline) -> Length {
    let polygons = local_polygons(outline);
    if !contains(&polygons, [0.0; 2]) {
        return Length::default();
    }
    let edges = polygons.iter().flat_map(|polygon| edges(polygon));
    let nearest = edges.map(|edge| point_to_segment([0.0; 2], edge));
    Length::from_metres(2.0 * nearest.fold(f64::INFINITY, f64::min))
}

/// Sine and cosine; multiples of 90 degrees without rounding, so that turned rectangles stay exact.
fn exact_sin_cos(degrees: f64) -> (f64, f64) {
    match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        other => other.to_radians().sin_cos(),
    }
}

fn local_polygons(outline: &Outline) -> Vec<Vec<[f64; 2]>> {
    match outline {
        Outline::Rectangle { width, height } => {
            let [x, y] = [width.metres() / 2.0, height.metres() / 2.0];
            vec![vec![[-x, -y], [x, -y], [x, y], [-x, y]]]
        }
        Outline::RoundedRectangle {
            width,
            height,
            corner_radius,
        } => {
            let radius = corner_radius.metres();
            let [x, y] = [
                width.metres() / 2.0 - radius,
                height.metres() / 2.0 - radius,
            ];
            let corners = [([x, -y], 3), ([x, y], 0), ([-x, y], 1), ([-x, -y], 2)];
            vec![
                corners
                    .into_iter()
                    .flat_map(|(middle, quadrant)| quarter_circle(middle, radius, quadrant))
                    .collect(),
            ]
        }
        Outline::Disc { diameter } => vec![circle(diameter.metres() / 2.0)],
        Outline::Ring {
            outer_diameter,
            inner_diameter,
        } => vec![
            circle(outer_diameter.metres() / 2.0),
            circle(inner_diameter.metres() / 2.0),
        ],
        Outline::Polygon { corners } => {
            vec![corners.iter().map(|c| c.map(Length::metres)).collect()]
        }
    }
}

/// Corner radius of the regular polygon of [`CHORDS_PER_CIRCLE`] sides with the circle's area.
fn equal_area_radius(radius_m: f64) -> f64 {
    let angle = std::f64::consts::TAU / CHORDS_PER_CIRCLE as f64;
    radius_m * (angle / angle.sin()).sqrt()
}

/// Starts half a chord above the x axis: the axes then cross chords, and the bounding box is as
/// close to the diameter as corners outside the circle allow.
fn circle(radius_m: f64) -> Vec<[f64; 2]> {
    let radius_m = equal_area_radius(radius_m);
    (0..CHORDS_PER_CIRCLE)
        .map(|k| {
            let angle = std::f64::consts::TAU * (k as f64 + 0.5) / CHORDS_PER_CIRCLE as f64;
            [radius_m * angle.cos(), radius_m * angle.sin()]
        })
        .collect()
}

/// Corners of one quarter: both ends lie on the straight sides, the ones between are moved outwards
/// so that the area is the quarter circle's.
fn quarter_circle(middle: [f64; 2], radius_m: f64, quadrant: usize) -> Vec<[f64; 2]> {
    const CHORDS: usize = CHORDS_PER_CIRCLE / 4;
    let angle = std::f64::consts::FRAC_PI_2 / CHORDS as f64;
    // Fan of triangles: two at the ends with one side r and one side s, the others with sides s, s.
    // (CHORDS - 2) s^2 + 2 r s = r^2 (pi / 2) / sin(angle), solved for s / r.
    let count = (CHORDS - 2) as f64;
    let wanted = std::f64::consts::FRAC_PI_2 / angle.sin();
    let between = radius_m * ((1.0 + count * wanted).sqrt() - 1.0) / count;
    (0..=CHORDS)
        .map(|k| {
            let turn = std::f64::consts::FRAC_PI_2 * quadrant as f64 + angle * k as f64;
            let (reach, (sin, cos)) = match k {
                0 | CHORDS => (
                    radius_m,
                    exact_sin_cos(90.0 * (quadrant + k / CHORDS) as f64),
                ),
                _ => (between, turn.sin_cos()),
            };
            [middle[0] + reach * cos, middle[1] + reach * sin]
        })
        .collect()
}

/// Smallest and largest x, y \[m\] over all corners: `[low, high]`. Discs and rings count with their
/// true diameter, not with the corners of their polygon.
pub fn bounding_box(outline: &Outline, rotation_degrees: f64, centre: [Length; 2]) -> Rectangle {
    let round = match outline {
        Outline::Disc { diameter } => Some(diameter),
        Outline::Ring { outer_diameter, .. } => Some(outer_diameter),
        _ => None,
    };
    if let Some(diameter) = round {
        let radius = diameter.metres() / 2.0;
        let centre = centre.map(Length::metres);
        return [centre.map(|c| c - radius), centre.map(|c| c + radius)];
    }
    polygon_box(&outline_polygons(outline, rotation_degrees, centre))
}

/// Smallest and largest x, y \[m\] of a pad: `[low, high]`.
pub fn pad_box(pad: &Pad) -> Rectangle {
    bounding_box(&pad.outline, pad.rotation_degrees, pad.centre)
}

/// Whether a pad's outer outline is its [`pad_box`]: a rectangle along x and y, drawn as one or by its corners.
pub fn is_box(pad: &Pad) -> bool {
    let Outline::Rectangle { .. } = pad.outline else {
        let [low, high] = pad_box(pad);
        let polygons = outline_polygons(&pad.outline, pad.rotation_degrees, pad.centre);
        let at_end = |at: f64, axis: usize| at == low[axis] || at == high[axis];
        let corners = polygons.first().map_or(&[][..], Vec::as_slice);
        // Of four corners at the box's ends a rectangle has them all, and no two beside each other are across.
        return corners.len() == 4
            && corners
                .iter()
                .all(|corner| (0..2).all(|axis| at_end(corner[axis], axis)))
            && edges(corners).all(|(a, b)| (a[0] == b[0]) != (a[1] == b[1]));
    };
    pad.rotation_degrees.rem_euclid(90.0) == 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value)
    }

    fn placed(outline: &Outline, rotation: f64, x: f64, y: f64) -> Vec<Vec<[f64; 2]>> {
        outline_polygons(outline, rotation, [mm(x), mm(y)])
    }

    const DISC: Outline = Outline::Disc {
        diameter: Length::from_mm(10.0),
    };

    #[test]
    fn round_shapes_keep_their_exact_area() {
        let pi = std::f64::consts::PI;
        let rounded = Outline::RoundedRectangle {
            width: mm(12.0),
            height: mm(8.0),
            corner_radius: mm(2.0),
        };
        let ring = Outline::Ring {
            outer_diameter: mm(10.0),
            inner_diameter: mm(4.0),
        };
        let cases = [
            (&DISC, pi * 25.0),
            (&rounded, 96.0 - 16.0 + pi * 4.0),
            (&ring, pi * 21.0),
        ];
        for (outline, area_mm2) in cases {
            let computed = area(&placed(outline, 30.0, 3.0, -2.0)) * 1e6;
            approx::assert_relative_eq!(computed, area_mm2, max_relative = 1e-12);
        }
    }

    #[test]
    fn boxes_follow_rotation() {
        let bar = Outline::Rectangle {
            width: mm(10.0),
            height: mm(2.0),
        };
        let [low, high] = bounding_box(&bar, 90.0, [mm(1.0), mm(0.0)]);
        assert_eq!([low, high], [[0.0, -5e-3], [2e-3, 5e-3]]);
        let [low, high] = bounding_box(&DISC, 45.0, [mm(0.0), mm(0.0)]);
        assert_eq!([low, high], [[-5e-3; 2], [5e-3; 2]]);
    }

    #[test]
    fn a_rectangle_by_its_corners_is_a_box_and_a_leaning_one_is_none() {
        let pad = |corners: &[[f64; 2]], rotation_degrees: f64| {
            let mut pad = super::super::sample::square_pad("bar", 1.0, 0.0, 0.0);
            pad.outline = Outline::Polygon {
                corners: corners.iter().map(|corner| corner.map(mm)).collect(),
            };
            pad.rotation_degrees = rotation_degrees;
            pad
        };
        let bar = [[1.0, -7.0], [9.0, -7.0], [9.0, 7.0], [1.0, 7.0]];
        assert!(is_box(&pad(&bar, 0.0)) && is_box(&pad(&bar, 90.0)));
        assert!(!is_box(&pad(&bar, 30.0)));
        let leaning = [[1.0, -7.0], [9.0, -7.0], [10.0, 7.0], [2.0, 7.0]];
        assert!(!is_box(&pad(&leaning, 0.0)));
        let notched = [[1.0, -7.0], [9.0, -7.0], [9.0, 7.0], [5.0, 0.0], [1.0, 7.0]];
        assert!(!is_box(&pad(&notched, 0.0)));
    }

    #[test]
    fn distances_between_outlines() {
        let square = Outline::Rectangle {
            width: mm(10.0),
            height: mm(10.0),
        };
        let at = |x: f64| {
            distance(
                &placed(&square, 0.0, 0.0, 0.0),
                &placed(&square, 0.0, x, 0.0),
            )
        };
        approx::assert_relative_eq!(at(14.0), 4e-3, max_relative = 1e-12);
        assert!(at(10.0) < 1e-15);
        assert_eq!(at(9.0), 0.0);
        let turned = distance(
            &placed(&square, 0.0, 0.0, 0.0),
            &placed(&square, 45.0, 14.0, 0.0),
        );
        approx::assert_relative_eq!(turned * 1e3, 9.0 - 50f64.sqrt(), max_relative = 1e-12);
        let ring = Outline::Ring {
            outer_diameter: mm(30.0),
            inner_diameter: mm(20.0),
        };
        let hole = distance(
            &placed(&ring, 0.0, 0.0, 0.0),
            &placed(&square, 0.0, 0.0, 0.0),
        );
        assert!((hole * 1e3 - (10.0 - 50f64.sqrt())).abs() < 0.02, "{hole}");
        let within = distance(
            &placed(&square, 0.0, 0.0, 0.0),
            &placed(&DISC, 0.0, 0.0, 0.0),
        );
        assert_eq!(within, 0.0);
    }

    #[test]
    fn a_bow_tie_crosses_itself() {
        assert!(crosses_itself(&[
            [0.0, 0.0],
            [1.0, 1.0],
            [1.0, 0.0],
            [0.0, 1.0]
        ]));
        assert!(!crosses_itself(&[
            [0.0, 0.0],
            [1.0, 0.0],
            [1.0, 1.0],
            [0.0, 1.0]
        ]));
    }
}
