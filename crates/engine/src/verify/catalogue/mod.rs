//! The geometries of the checks, family by family.

mod axisymmetric;
mod draw;
mod planar_closed;
mod planar_open;
mod volume;

use super::{Problem, Tolerance};

/// Every problem the engine's geometry can express, in catalogue order.
pub fn catalogue() -> Vec<Problem> {
    let mut problems = planar_closed::problems();
    problems.extend(planar_open::problems());
    problems.extend(axisymmetric::problems());
    problems.extend(volume::problems());
    problems
}

/// Half-width of an open domain in sizes of what it holds.
const OPEN_DISTANCE: f64 = 30.0;

/// Fineness where electrodes touch: no accuracy can steer the grid there.
const TOUCHING_FINENESS: f64 = 16.0;
const TOUCHING_FINENESS_VOLUME: f64 = 6.0;

/// Fineness where four materials meet: the grid is graded to conductors only.
const CORNER_FINENESS: f64 = 64.0;

const CLOSED: Tolerance = Tolerance {
    relative: 0.001,
    reason: "closed box: 0.1 % asked of the engine in the plane and about an axis",
};
const CLOSED_VOLUME: Tolerance = Tolerance {
    relative: 0.003,
    reason: "closed box: 0.3 % asked of the engine in 3-D",
};
const COUPLING: Tolerance = Tolerance {
    relative: 0.01,
    reason: "off-diagonal: 1 % of itself asked of the engine",
};
const TOUCHING: Tolerance = Tolerance {
    relative: 0.002,
    reason: "touching electrodes: the jump between them is smeared over one cell of a fixed grid",
};
const TOUCHING_VOLUME: Tolerance = Tolerance {
    relative: 0.005,
    reason: "touching electrodes in 3-D: the same on a coarser grid",
};
const HARD_CORNER: Tolerance = Tolerance {
    relative: 0.002,
    reason: "checkerboard corner: the field is singular at a place the grid is not graded to",
};
const OPEN: Tolerance = Tolerance {
    relative: 0.003,
    reason: "open wall at 30 sizes: the part beyond the leading multipole is left out",
};
const OPEN_ISOLATED: Tolerance = Tolerance {
    relative: 0.005,
    reason: "isolated body, open wall at 30 sizes: 0.4 % measured at that distance",
};
const PUBLISHED_MICROSTRIP: Tolerance = Tolerance {
    relative: 0.004,
    reason: "formula stated within 0.2 %, open wall another 0.2 %",
};
const PUBLISHED_COUPLED: Tolerance = Tolerance {
    relative: 0.006,
    reason: "formula observed within 0.6 %",
};
