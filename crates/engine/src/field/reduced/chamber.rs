//! A chamber: the cases whose grid lines come in the same order, so that one grid, stretched, is the grid of each.
//!
//! Takes a reference case and another; gives the [`Design`] of the latter, where its lines are and what its materials are.
//! Fails with what keeps it out ([`Outside`]).

use super::super::mirror::{Halved, halve};
use crate::case::{Case, Conductor, Kind, Solid};
use crate::grid::{Grid, axes_until, line_coordinates};
use crate::stop::Stop;

/// Lines nearer than this share of an axis are one, as in the grid.
const SLACK: f64 = 1e-9;
/// A segment that a shape lies in may be longer or shorter by so much, relative.
const RIGID: f64 = 1e-6;
/// A coordinate beyond the outer wall has no line.
const NOWHERE: u16 = u16::MAX;

/// Why a case is none of those that a reduced model answers for.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Outside {
    /// Only volumes are reduced.
    #[error("only the volume model is reduced")]
    NoVolume,
    /// Something is there that has no reduced energy.
    #[error("{0}")]
    NotCarried(&'static str),
    /// Other pieces than the reference has.
    #[error("it has other pieces than the middle of the study")]
    OtherPieces,
    /// The lines of the grid come in another order, or some of them at one place.
    #[error("its edges come in another order, or meet")]
    OtherOrder,
    /// A shape lies in a segment that is longer or shorter than in the reference.
    #[error("an edge moves under a round or slanted outline")]
    UnderShape,
    /// It does not have the mirror planes of the model.
    #[error("it is not symmetric as the middle of the study is")]
    NotSymmetric,
    /// What is asked for is not what the model was made for.
    #[error("other conductors are asked for than the model has")]
    OtherDrives,
}

/// What tells one case of a chamber from another.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Design {
    /// Places of the grid lines along each axis \[m\], mirror planes first.
    pub lines_m: [Vec<f64>; 3],
    /// Relative permittivity of every material, the background last.
    pub permittivity: Vec<f64>,
}

/// The cases that share a grid.
pub struct Chamber {
    /// The reference, whole.
    reference: Case,
    /// Fineness M of the grid.
    pub(super) fineness: f64,
    /// The same, cut down by its mirror planes.
    pub(super) halved: Halved,
    /// Which axes have one.
    mirrors: [bool; 3],
    /// Line of every coordinate of the whole reference, in the order of [`line_coordinates`].
    order: [Vec<u16>; 3],
    /// Its grid.
    pub(super) grid: Grid,
    /// Its own design.
    pub(super) design: Design,
    /// First and last line along every axis of each shape.
    shapes: Vec<[[usize; 2]; 3]>,
    /// Lines that the open wall counts its distance from the middle of.
    span: [[usize; 2]; 3],
}

impl Chamber {
    /// The chamber of a reference on a grid of fineness M.
    ///
    /// # Errors
    /// Something in it is not reduced.
    pub fn of(stop: Stop, reference: &Case, fineness: f64) -> Result<Self, Outside> {
        carried(reference)?;
        let halved = halve(stop, reference);
        let mirrors = ["x", "y", "z"].map(|axis| halved.mirrors.iter().any(|m| m == axis));
        let grid = Grid::paint_until(stop, &halved.case, axes_until(stop, &halved.case, fineness));
        let found = Lines::of(reference, mirrors)?;
        let design = Design {
            lines_m: found.lines_m,
            permittivity: grid.permittivity.clone(),
        };
        let has_lines = |d: usize| design.lines_m[d].len() == grid.axes[d].lines.len();
        if !(0..3).all(has_lines) {
            return Err(Outside::NotCarried("its lines make no grid of their own"));
        }
        let shapes = shapes(&halved.case, &design.lines_m);
        let span =
            std::array::from_fn(|d| grid.open_span_m[d].map(|at| nearest(&design.lines_m[d], at)));
        Ok(Self {
            reference: reference.clone(),
            fineness,
            halved,
            mirrors,
            order: found.order,
            grid,
            design,
            shapes,
            span,
        })
    }

    /// Whether a case is one of this chamber.
    ///
    /// # Errors
    /// Why not.
    pub fn covers(&self, case: &Case) -> Result<(), Outside> {
        self.design_of(case).map(|_| ())
    }

    /// Its reference.
    pub fn reference(&self) -> &Case {
        &self.reference
    }

    /// Cells of its grid, after symmetry.
    pub fn cells(&self) -> usize {
        self.grid.cells()
    }

    /// The design of a case of this chamber.
    pub(super) fn design_of(&self, case: &Case) -> Result<Design, Outside> {
        if !has_pieces_of(case, &self.reference) {
            return Err(Outside::OtherPieces);
        }
        let found = Lines::of(case, self.mirrors)?;
        if found.order != self.order {
            return Err(Outside::OtherOrder);
        }
        let keeps_length = |d: usize, [first, last]: [usize; 2]| {
            let (new, old) = (
                &found.lines_m[d][first..=last],
                &self.design.lines_m[d][first..=last],
            );
            let mut segments = new.windows(2).zip(old.windows(2));
            segments.all(|(new, old)| ((new[1] - new[0]) / (old[1] - old[0]) - 1.0).abs() < RIGID)
        };
        let is_rigid = |shape: &[[usize; 2]; 3]| (0..3).all(|d| keeps_length(d, shape[d]));
        if !self.shapes.iter().all(is_rigid) {
            return Err(Outside::UnderShape);
        }
        let materials = case.dielectrics.iter().map(|d| d.relative_permittivity);
        Ok(Design {
            lines_m: found.lines_m,
            permittivity: materials
                .chain([case.background_relative_permittivity])
                .collect(),
        })
    }

    /// Moves a clone of a grid of this chamber, `original`, to where a design has it.
    pub(super) fn place(&self, grid: &mut Grid, original: &Grid, design: &Design) {
        grid.follow(original, &design.lines_m);
        grid.permittivity.clone_from(&design.permittivity);
        for d in 0..3 {
            grid.open_span_m[d] = self.span[d].map(|line| design.lines_m[d][line]);
        }
    }

    /// Checks that a case, painted by itself, has the marks of the reference where its design puts them.
    pub(super) fn check_painting(&self, stop: Stop, case: &Case) -> Result<(), Outside> {
        let design = self.design_of(case)?;
        let halved = halve(stop, case);
        if halved.mirrors != self.halved.mirrors {
            // What is more symmetric than the reference is painted another way, and not less alike.
            let has_all = self
                .halved
                .mirrors
                .iter()
                .all(|m| halved.mirrors.contains(m));
            return has_all.then_some(()).ok_or(Outside::NotSymmetric);
        }
        let mut moved = self.grid.clone();
        self.place(&mut moved, &self.grid, &design);
        let painted = Grid::paint_until(stop, &halved.case, moved.axes.clone());
        match painted.is_painted_like(&moved) {
            true => Ok(()),
            false => Err(Outside::OtherPieces),
        }
    }

    /// How much longer every segment is than in the reference, along each axis.
    pub(super) fn stretches(&self, design: &Design) -> [Vec<f64>; 3] {
        std::array::from_fn(|d| {
            let both = design.lines_m[d]
                .windows(2)
                .zip(self.design.lines_m[d].windows(2));
            both.map(|(new, old)| (new[1] - new[0]) / (old[1] - old[0]))
                .collect()
        })
    }
}

/// Whether everything in a case has a reduced energy.
fn carried(case: &Case) -> Result<(), Outside> {
    if case.kind != Kind::Volume {
        return Err(Outside::NoVolume);
    }
    if !case.screens.is_empty() {
        return Err(Outside::NotCarried("a hatch that is no drawn copper"));
    }
    Ok(())
}

/// The lines of a case, and which of them its coordinates are.
struct Lines {
    lines_m: [Vec<f64>; 3],
    order: [Vec<u16>; 3],
}

impl Lines {
    /// Of a whole case; only what lies beyond its mirror planes.
    fn of(case: &Case, mirrors: [bool; 3]) -> Result<Self, Outside> {
        let mut order: [Vec<u16>; 3] = Default::default();
        let mut lines_m: [Vec<f64>; 3] = Default::default();
        for (d, coordinates) in line_coordinates(case).into_iter().enumerate() {
            let (low, high) = (case.domain.low_m[d], case.domain.high_m[d]);
            let slack = SLACK * (high - low);
            let within = |at: &f64| *at >= low - slack && *at <= high + slack;
            let mut sorted: Vec<f64> = coordinates.iter().copied().filter(within).collect();
            sorted.sort_by(f64::total_cmp);
            sorted.dedup_by(|next, last| *next - *last <= slack);
            let line = |at: &f64| match within(at) {
                true => nearest(&sorted, *at) as u16,
                false => NOWHERE,
            };
            order[d] = coordinates.iter().map(line).collect();
            lines_m[d] = match mirrors[d] {
                true => beyond_mirror(&sorted, slack)?,
                false => sorted,
            };
        }
        Ok(Self { lines_m, order })
    }
}

/// Lines on the high side of the mirror plane in the middle, which comes first.
fn beyond_mirror(lines: &[f64], slack: f64) -> Result<Vec<f64>, Outside> {
    let centre = 0.5 * (lines[0] + lines[lines.len() - 1]);
    let images = lines.iter().rev().map(|at| 2.0 * centre - at);
    let mut both = lines.iter().zip(images);
    if !both.all(|(at, image)| (at - image).abs() <= 4.0 * slack) {
        return Err(Outside::NotSymmetric);
    }
    let high = lines.iter().copied().filter(|at| *at > centre + slack);
    Ok(std::iter::once(centre).chain(high).collect())
}

fn nearest(lines: &[f64], at: f64) -> usize {
    let after = lines.partition_point(|line| *line < at);
    match after {
        0 => 0,
        _ if after == lines.len() => after - 1,
        _ if at - lines[after - 1] < lines[after] - at => after - 1,
        _ => after,
    }
}

/// First and last line of every shape of a case along each axis.
fn shapes(case: &Case, lines_m: &[Vec<f64>; 3]) -> Vec<[[usize; 2]; 3]> {
    let solids = case.conductors.iter().flat_map(|c| &c.solids);
    let boxes = solids.filter_map(|solid| match solid {
        Solid::Block(_) => None,
        Solid::Round(body) => {
            let reach = body.dome_radius_m.max(body.contact_radius_m);
            let [x, y] = [0, 1].map(|d| [body.centre_m[d] - reach, body.centre_m[d] + reach]);
            Some([x, y, [body.bottom_m, body.top_m]])
        }
        Solid::Prism(prism) => {
            let corners = || prism.outlines_m.iter().flatten();
            let [x, y] = [0, 1].map(|d| {
                let low = corners().map(|c| c[d]).fold(f64::INFINITY, f64::min);
                let high = corners().map(|c| c[d]).fold(f64::NEG_INFINITY, f64::max);
                [low, high]
            });
            Some([x, y, [prism.bottom_m, prism.top_m]])
        }
    });
    let line = |d: usize, at: f64| nearest(&lines_m[d], at);
    boxes
        .map(|ends| std::array::from_fn(|d| ends[d].map(|at| line(d, at))))
        .collect()
}

/// Whether two cases are made of the same pieces, wherever these are and whatever they are made of.
fn has_pieces_of(case: &Case, other: &Case) -> bool {
    let alike = |a: &Conductor, b: &Conductor| {
        let kind = |solid: &Solid| match solid {
            Solid::Block(_) => [0, 0],
            Solid::Round(body) => [1, usize::from(body.dome_radius_m > body.contact_radius_m)],
            Solid::Prism(prism) => [2, prism.outlines_m.iter().map(Vec::len).sum()],
        };
        a.name == b.name && a.solids.iter().map(kind).eq(b.solids.iter().map(kind))
    };
    let dielectrics = case.dielectrics.iter().zip(&other.dielectrics);
    let conductors = case.conductors.iter().zip(&other.conductors);
    case.kind == other.kind
        && case.walls == other.walls
        && case.screens.is_empty()
        && case.dielectrics.len() == other.dielectrics.len()
        && case.conductors.len() == other.conductors.len()
        && dielectrics
            .into_iter()
            .all(|(a, b)| a.comes_with == b.comes_with)
        && conductors.into_iter().all(|(a, b)| alike(a, b))
}
