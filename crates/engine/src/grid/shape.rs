//! Where axis-parallel lines run inside round and prismatic solids.

use super::outline::Place;
use crate::case::{Prism, RoundBody, Solid};
use std::f64::consts::FRAC_PI_2;

/// Closed interval of a coordinate that lies inside a solid \[m\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Span {
    /// Start \[m\].
    pub low_m: f64,
    /// End \[m\].
    pub high_m: f64,
}

/// A solid whose outline does not follow the grid.
pub(crate) enum Shape<'a> {
    Round(&'a RoundBody, bool),
    Prism(&'a Prism),
}

impl<'a> Shape<'a> {
    /// None for blocks. `axisymmetric`: axes are r, z instead of x, y, z.
    pub fn of(solid: &'a Solid, axisymmetric: bool) -> Option<Self> {
        match solid {
            Solid::Block(_) => None,
            Solid::Round(body) => Some(Self::Round(body, axisymmetric)),
            Solid::Prism(prism) => Some(Self::Prism(prism)),
        }
    }

    /// Axis of height: 2 in volumes, 1 in axisymmetric cases.
    pub fn vertical(&self) -> usize {
        if matches!(self, Self::Round(_, true)) {
            1
        } else {
            2
        }
    }

    /// Levels of the two flat ends [m].
    pub fn levels(&self) -> [f64; 2] {
        match self {
            Self::Round(body, _) => [body.bottom_m, body.top_m],
            Self::Prism(prism) => [prism.bottom_m, prism.top_m],
        }
    }

    /// Parts of the line through `point` along `axis` that lie inside [m]; the coordinate of
    /// `point` along `axis` does not matter.
    pub fn spans(&self, point: [f64; 3], axis: usize) -> Vec<Span> {
        match self {
            Self::Round(body, axisymmetric) => round_span(body, point, axis, *axisymmetric)
                .into_iter()
                .collect(),
            Self::Prism(prism) => prism_spans(prism, point, axis),
        }
    }

    /// Size of the components in the plane of the outline's unit normal nearest to a point; along
    /// the first axis alone in axisymmetric cases.
    pub fn normal(&self, point: [f64; 3]) -> [f64; 2] {
        let [x, y] = match self {
            Self::Round(_, true) => return [1.0, 0.0],
            Self::Round(body, false) => [0, 1].map(|d| point[d] - body.centre_m[d]),
            Self::Prism(prism) => nearest_edge(prism, point).1,
        };
        let length = x.hypot(y);
        if length > 0.0 {
            [(x / length).abs(), (y / length).abs()]
        } else {
            [1.0, 0.0]
        }
    }

    /// Angle \[rad\] between the plane of a flat end and the wall that begins at its edge.
    pub fn opening_rad(&self, end: Place) -> f64 {
        match self {
            Self::Round(body, _)
                if end == Place::LowerEnd && body.dome_radius_m > body.contact_radius_m =>
            {
                body.contact_radius_m.atan2(body.dome_radius_m)
            }
            _ => FRAC_PI_2,
        }
    }

    /// Whether a point lies inside or within `slack` [m] of the outline; `spans` are those of the line through it
    /// along axis 0.
    pub fn contains(&self, spans: &[Span], point: [f64; 3], slack: f64) -> bool {
        let inside = spans
            .iter()
            .any(|s| point[0] >= s.low_m - slack && point[0] <= s.high_m + slack);
        // Crossings are half open: a point on an outline of edges may have none.
        inside
            || matches!(self, Self::Prism(prism) if slack > 0.0
                && point[2] >= prism.bottom_m - slack
                && point[2] <= prism.top_m + slack
                && nearest_edge(prism, point).0 <= slack)
    }
}

/// Distance in the plane of the edge of the outlines nearest to a point, and a vector across that
/// edge [m].
fn nearest_edge(prism: &Prism, point: [f64; 3]) -> (f64, [f64; 2]) {
    let mut nearest = (f64::INFINITY, [1.0, 0.0]);
    for outline in &prism.outlines_m {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let along = [b[0] - a[0], b[1] - a[1]];
            let from = [point[0] - a[0], point[1] - a[1]];
            let length2 = along[0] * along[0] + along[1] * along[1];
            if length2 == 0.0 {
                continue;
            }
            let t = ((from[0] * along[0] + from[1] * along[1]) / length2).clamp(0.0, 1.0);
            let distance = (from[0] - t * along[0]).hypot(from[1] - t * along[1]);
            if distance < nearest.0 {
                nearest = (distance, [along[1], -along[0]]);
            }
        }
    }
    nearest
}

fn round_span(body: &RoundBody, point: [f64; 3], axis: usize, axisymmetric: bool) -> Option<Span> {
    let slack = 1e-9 * (body.dome_radius_m + (body.top_m - body.bottom_m).abs());
    let vertical = if axisymmetric { 1 } else { 2 };
    let (dome, contact) = (body.dome_radius_m, body.contact_radius_m);
    if axis == vertical {
        let across2 = if axisymmetric {
            point[0] * point[0]
        } else {
            (point[0] - body.centre_m[0]).powi(2) + (point[1] - body.centre_m[1]).powi(2)
        };
        if across2.sqrt() > dome + slack {
            return None;
        }
        let start = body.bottom_m + ((across2 - contact * contact) / (2.0 * dome)).max(0.0);
        return (start <= body.top_m).then_some(Span {
            low_m: start,
            high_m: body.top_m,
        });
    }
    let height = point[vertical];
    if height < body.bottom_m - slack || height > body.top_m + slack {
        return None;
    }
    let rise = (height - body.bottom_m).max(0.0);
    let radius2 = (contact * contact + 2.0 * dome * rise).min(dome * dome);
    if axisymmetric {
        return Some(Span {
            low_m: 0.0,
            high_m: radius2.sqrt(),
        });
    }
    let other = 1 - axis;
    let half2 = radius2 - (point[other] - body.centre_m[other]).powi(2);
    // A line that touches the outline does so whatever the rounding: grid lines touch every circle.
    (half2 >= -2.0 * dome * slack).then(|| {
        let half = half2.max(0.0).sqrt();
        Span {
            low_m: body.centre_m[axis] - half,
            high_m: body.centre_m[axis] + half,
        }
    })
}

fn prism_spans(prism: &Prism, point: [f64; 3], axis: usize) -> Vec<Span> {
    let slack = 1e-9 * (1e-3 + (prism.top_m - prism.bottom_m).abs());
    if axis == 2 {
        let inside = prism_crossings(prism, point, 0)
            .chunks(2)
            .any(|s| s.len() == 2 && point[0] >= s[0] && point[0] <= s[1]);
        return if inside {
            vec![Span {
                low_m: prism.bottom_m,
                high_m: prism.top_m,
            }]
        } else {
            Vec::new()
        };
    }
    if point[2] < prism.bottom_m - slack || point[2] > prism.top_m + slack {
        return Vec::new();
    }
    prism_crossings(prism, point, axis)
        .chunks(2)
        .filter(|s| s.len() == 2)
        .map(|s| Span {
            low_m: s[0],
            high_m: s[1],
        })
        .collect()
}

/// Coordinates along `axis` where the line through `point` crosses the outlines, increasing.
fn prism_crossings(prism: &Prism, point: [f64; 3], axis: usize) -> Vec<f64> {
    let other = 1 - axis;
    let level = point[other];
    let mut crossings = Vec::new();
    for outline in &prism.outlines_m {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            // Half-open in the other coordinate, so that a corner counts once.
            if (a[other] <= level) != (b[other] <= level) {
                let t = (level - a[other]) / (b[other] - a[other]);
                crossings.push(a[axis] + t * (b[axis] - a[axis]));
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings
}
