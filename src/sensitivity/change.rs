//! How a field problem moves with one value of its panel.

use ndarray::Array2;
use padfield_engine::case::{Case, Solid};
use padfield_engine::field::Derivatives;
use padfield_engine::grid::line_coordinates;

/// Coordinates closer than this share of the axis are one grid line, as the grid has it.
const SAME_LINE: f64 = 1e-9;
/// Outlines may miss the place where the stretch of the grid lines carries them by this share of the
/// fastest movement.
const SHAPE_SLACK: f64 = 0.02;
/// Points on a round outline that are looked at.
const ROUND_POINTS: usize = 16;

/// Rates of grid lines and permittivities per unit of a value.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseChange {
    /// Per axis: coordinate \[m\] and rate \[m per unit\] of every grid line, increasing.
    lines: [Vec<(f64, f64)>; 3],
    /// Rate of every dielectric's relative permittivity \[per unit\].
    permittivity: Vec<f64>,
}

/// Why the engine's derivatives do not hold the change of a value; it has to be solved again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotFollowed {
    /// Other conductors, dielectrics or pieces.
    #[error("the field problem gets other parts")]
    Parts,
    /// A hatched sheet gets another depth.
    #[error("a hatch changes")]
    Hatch,
    /// Edges that lie on one grid line part.
    #[error("edges at one coordinate part")]
    Lines,
    /// A round or slanted outline does not move with the grid lines around it.
    #[error("an outline moves across grid lines")]
    Outline,
}

impl CaseChange {
    /// Rates by central difference of the cases at a value `less` and `more` by half of `span`.
    ///
    /// # Errors
    /// [`NotFollowed`].
    pub fn between(
        less: &Case,
        nominal: &Case,
        more: &Case,
        span: f64,
    ) -> Result<Self, NotFollowed> {
        for other in [less, more] {
            same_parts(nominal, other)?;
        }
        let [low, middle, high] = [less, nominal, more].map(line_coordinates);
        let mut lines: [Vec<(f64, f64)>; 3] = Default::default();
        for axis in 0..3 {
            let count = middle[axis].len();
            if low[axis].len() != count || high[axis].len() != count {
                return Err(NotFollowed::Parts);
            }
            let moving = (0..count).map(|i| {
                let rate = (high[axis][i] - low[axis][i]) / span;
                (middle[axis][i], rate)
            });
            lines[axis] = merged(moving.collect())?;
        }
        let ends = less.dielectrics.iter().zip(&more.dielectrics);
        let change = Self {
            lines,
            permittivity: ends
                .map(|(less, more)| {
                    (more.relative_permittivity - less.relative_permittivity) / span
                })
                .collect(),
        };
        change.carries_outlines(less, nominal, more, span)?;
        Ok(change)
    }

    /// Rate of a coordinate \[m per unit\], linear between grid lines.
    fn rate(&self, axis: usize, at_m: f64) -> f64 {
        let lines = &self.lines[axis];
        let after = lines.partition_point(|line| line.0 < at_m);
        match (
            after.checked_sub(1).map(|before| lines[before]),
            lines.get(after),
        ) {
            (Some((a, rate_a)), Some(&(b, rate_b))) => {
                rate_a + (rate_b - rate_a) * (at_m - a) / (b - a)
            }
            (Some(end), None) => end.1,
            (None, Some(&end)) => end.1,
            (None, None) => 0.0,
        }
    }

    /// Derivative of every entry of a matrix \[F per unit\], from its derivatives to segments and
    /// permittivities. `mirrors` are the axes of which only the upper half was solved: what moves there
    /// and what moves below counts with its mean.
    pub fn derivative(&self, derivatives: &Derivatives, mirrors: &[String]) -> Array2<f64> {
        let first = &derivatives.permittivity[0];
        let mut sum = Array2::zeros(first.raw_dim());
        for (rate, derivative) in self.permittivity.iter().zip(&derivatives.permittivity) {
            if *rate != 0.0 {
                sum.scaled_add(*rate, derivative);
            }
        }
        let mut start = [None; 3];
        for segment in &derivatives.segments {
            let axis = segment.axis;
            let middle = *start[axis].get_or_insert(segment.low_m);
            let is_mirrored = mirrors.iter().any(|name| name == ["x", "y", "z"][axis]);
            let rate = |at_m: f64| {
                let own = self.rate(axis, at_m);
                if is_mirrored {
                    0.5 * (own - self.rate(axis, 2.0 * middle - at_m))
                } else {
                    own
                }
            };
            let longer = rate(segment.high_m) - rate(segment.low_m);
            if longer != 0.0 {
                sum.scaled_add(longer, &segment.derivative);
            }
        }
        sum
    }

    /// Whether round and slanted outlines move as the lines around them carry them.
    fn carries_outlines(
        &self,
        less: &Case,
        nominal: &Case,
        more: &Case,
        span: f64,
    ) -> Result<(), NotFollowed> {
        let rates = self.lines.iter().flatten().map(|line| line.1.abs());
        let slack = SHAPE_SLACK * rates.fold(0.0, f64::max);
        let [low, middle, high] = [less, nominal, more].map(outline_points);
        if low.len() != middle.len() || high.len() != middle.len() {
            return Err(NotFollowed::Parts);
        }
        for ((low, middle), high) in low.iter().zip(&middle).zip(&high) {
            for axis in 0..3 {
                let true_rate = (high[axis] - low[axis]) / span;
                if (true_rate - self.rate(axis, middle[axis])).abs() > slack {
                    return Err(NotFollowed::Outline);
                }
            }
        }
        Ok(())
    }
}

fn same_parts(nominal: &Case, other: &Case) -> Result<(), NotFollowed> {
    let conductors = nominal.conductors.iter().zip(&other.conductors);
    let same = nominal.kind == other.kind
        && nominal.dielectrics.len() == other.dielectrics.len()
        && nominal.conductors.len() == other.conductors.len()
        && nominal.screens.len() == other.screens.len()
        && conductors.clone().all(|(a, b)| {
            let mut solids = a.solids.iter().zip(&b.solids);
            let kind = std::mem::discriminant::<Solid>;
            a.name == b.name
                && a.solids.len() == b.solids.len()
                && solids.all(|(a, b)| kind(a) == kind(b))
        });
    if !same {
        return Err(NotFollowed::Parts);
    }
    let mut screens = nominal.screens.iter().zip(&other.screens);
    match screens.all(|(a, b)| a.depth_m == b.depth_m) {
        true => Ok(()),
        false => Err(NotFollowed::Hatch),
    }
}

/// Coordinates in order, those of one grid line made one.
fn merged(mut moving: Vec<(f64, f64)>) -> Result<Vec<(f64, f64)>, NotFollowed> {
    moving.sort_by(|a, b| a.0.total_cmp(&b.0));
    let extent = match (moving.first(), moving.last()) {
        (Some(first), Some(last)) => last.0 - first.0,
        _ => return Ok(moving),
    };
    let fastest = moving.iter().map(|line| line.1.abs()).fold(0.0, f64::max);
    let mut lines: Vec<(f64, f64)> = Vec::new();
    for line in moving {
        match lines.last() {
            Some(last) if line.0 - last.0 <= SAME_LINE * extent => {
                if (line.1 - last.1).abs() > 1e-6 * fastest {
                    return Err(NotFollowed::Lines);
                }
            }
            _ => lines.push(line),
        }
    }
    Ok(lines)
}

/// Points on the outlines of round and slanted pieces.
fn outline_points(case: &Case) -> Vec<[f64; 3]> {
    let mut points = Vec::new();
    for solid in case.conductors.iter().flat_map(|c| &c.solids) {
        match solid {
            Solid::Block(_) => {}
            // Of an axisymmetric case only the profile is there, whose corners are grid lines.
            Solid::Round(_) if case.kind != padfield_engine::case::Kind::Volume => {}
            Solid::Round(body) => {
                for radius in [body.contact_radius_m, body.dome_radius_m] {
                    for step in 0..ROUND_POINTS {
                        let angle = std::f64::consts::TAU * step as f64 / ROUND_POINTS as f64;
                        let [x, y] = body.centre_m;
                        points.push([
                            x + radius * angle.cos(),
                            y + radius * angle.sin(),
                            body.bottom_m,
                        ]);
                    }
                }
            }
            Solid::Prism(prism) => {
                let corners = prism.outlines_m.iter().flatten();
                points.extend(corners.map(|[x, y]| [*x, *y, prism.bottom_m]));
            }
        }
    }
    points
}
