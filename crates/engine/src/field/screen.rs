//! What the free faces of screens leak, in the node network and in the exact energies.
//!
//! With g = (eps_below + eps_above)/(2 depth) per area over vacuum permittivity, v the potential of
//! the screen's conductor and phi that of the field, the energy of a screened problem is
//!
//! ```text
//! E(phi) = integral of eps |grad phi|^2 + integral over the screens of g (phi - v)^2,
//! W(D)   = integral of |D|^2/eps        + integral over the screens of q^2/g,
//! ```
//!
//! q the jump of the normal displacement. v C v is the least E of all continuous phi that have the
//! conductors' potentials (Dirichlet) and the greatest 2 (charge times potential) - W of all D that
//! are free of charge outside conductors and screens (Thomson; both squares are completed by the
//! solution, where q = g (phi - v)). So the four energies keep their order K <= L <= C <= Q <= N when
//! each gets its screen term:
//!
//! | | term of a face of area A with corner values u | |
//! |---|---|---|
//! | N | g times the sum of shares of A times (u - v)^2 at the corners | lumped |
//! | Q | g times the integral of the square of the trilinear function minus v | exact; N has more by squares of differences of the u |
//! | K | q^2/(g A) in series with both half cells, q = A times the jump | exact |
//! | L | the same: q and g are constant on a face | exact |
//!
//! As g is the sum of eps/(2 depth) of both sides, the energy of a face is shared out to the materials
//! beside it in these parts: then the share of a material is d ln C/d ln eps, as everywhere else, and
//! shares sum to 1.

use super::coefficients::CellExtent;
use crate::case::Kind;
use crate::grid::{FREE, Grid, unflatten};

/// One free face of a screen.
#[derive(Clone, Copy, Debug)]
pub(super) struct ScreenFace {
    pub conductor: u16,
    /// Cells on the low and on the high side; none beyond a mirror plane.
    pub cells: [Option<usize>; 2],
    /// Materials of these cells.
    pub materials: [u16; 2],
    /// Conductance per area over vacuum permittivity that each side contributes \[1/m\].
    pub leak_per_m: [f64; 2],
    /// Area not covered by a conductor \[m^2\], \[m\] in the plane.
    pub area: f64,
    /// Whether no conductor covers any of it.
    pub is_whole: bool,
    /// Corner nodes: low and high along axis 0, in volumes then the same one row further.
    corners: [usize; 4],
    /// Area each corner stands for; 0 for corners there are none of.
    shares: [f64; 4],
    /// In two dimensions what lumping has in excess of the exact square per squared difference of the
    /// two corners; in volumes the area over 36.
    excess: f64,
}

impl ScreenFace {
    /// Conductance to the conductor \[m\], \[1\] in the plane.
    pub fn conductance(&self) -> f64 {
        self.area * (self.leak_per_m[0] + self.leak_per_m[1])
    }

    /// Index of a cell beside it.
    pub fn beside(&self, grid: &Grid) -> [usize; 3] {
        let cell = self.cells[0].or(self.cells[1]).expect("a face has a cell");
        unflatten(cell, grid.cell_dims())
    }

    /// Parts of the energy that belong to the materials of the low and the high side; sum 1.
    pub fn material_parts(&self) -> [f64; 2] {
        let sum = self.leak_per_m[0] + self.leak_per_m[1];
        self.leak_per_m.map(|leak| leak / sum)
    }

    /// Node and conductance of every corner \[m\], \[1\] in the plane.
    pub fn corner_conductances(&self) -> impl Iterator<Item = (usize, f64)> {
        let leak = self.leak_per_m[0] + self.leak_per_m[1];
        let corners = self.corners.into_iter().zip(self.shares);
        corners
            .filter(|(_, share)| *share > 0.0)
            .map(move |(node, share)| (node, leak * share))
    }

    /// Lumped energy of two functions over the face, and what it has in excess of the exact one.
    /// `x` and `y` are node values, `v` and `w` the potential of the screen's conductor in either.
    pub fn energies(&self, x: &[f64], v: f64, y: &[f64], w: f64) -> [f64; 2] {
        let leak = self.leak_per_m[0] + self.leak_per_m[1];
        let at = |values: &[f64]| self.corners.map(|node| values[node]);
        let (x, y) = (at(x), at(y));
        let lumped: f64 = (0..4)
            .map(|c| self.shares[c] * (x[c] - v) * (y[c] - w))
            .sum();
        let excess = if self.shares[2] == 0.0 {
            (x[1] - x[0]) * (y[1] - y[0])
        } else {
            // With D = (difference)^2/6 and L = 1/2 per direction, L x D + D x L - D x D of the area.
            let pair = |a: usize, b: usize| (x[b] - x[a]) * (y[b] - y[a]);
            let both = |u: &[f64; 4]| u[3] - u[2] - u[1] + u[0];
            3.0 * (pair(0, 1) + pair(2, 3) + pair(0, 2) + pair(1, 3)) - both(&x) * both(&y)
        };
        [leak * lumped, leak * self.excess * excess]
    }
}

/// The free faces of all screens of a grid, in order.
pub(super) fn screen_faces(grid: &Grid) -> Vec<ScreenFace> {
    let axis = grid.dimensions() - 1;
    let dims = grid.face_dims(axis);
    (0..grid.screen_faces.len())
        .filter(|&face| grid.screen_faces[face] != FREE)
        .filter_map(|face| {
            let covering = grid.covering(axis, face..face + 1);
            let share: f64 = covering.iter().map(|partial| partial.share).sum();
            let left = (1.0 - share).max(0.0);
            let mut found = screen_face(grid, axis, face, unflatten(face, dims), left)?;
            found.is_whole = covering.is_empty();
            Some(found)
        })
        .collect()
}

/// The screen on the face `index` normal to the last axis, of which conductors leave a share free.
pub(super) fn screen_face(
    grid: &Grid,
    axis: usize,
    face: usize,
    index: [usize; 3],
    left: f64,
) -> Option<ScreenFace> {
    let screen = grid.screen(axis, face)?;
    let cells = grid.cells_beside(index, axis);
    let materials = cells.map(|cell| cell.map_or(0, |cell| grid.material[cell]));
    let leak_per_m = [0, 1].map(|side| {
        cells[side].map_or(0.0, |_| {
            grid.permittivity[usize::from(materials[side])] / (2.0 * screen.depth_m)
        })
    });
    let beside = if cells[0].is_some() {
        let mut below = index;
        below[axis] -= 1;
        below
    } else {
        index
    };
    let extent = CellExtent::of(grid, beside);
    let area = extent.face_area_m2(axis, 0.0);
    let (shares, excess) = match grid.kind {
        Kind::Planar => ([0.5 * area, 0.5 * area, 0.0, 0.0], area / 6.0),
        Kind::Volume => ([0.25 * area; 4], area / 36.0),
        Kind::Axisymmetric => {
            let ([low, high], cross) = extent.height_mass_m2();
            ([low, high, 0.0, 0.0], cross)
        }
    };
    let nodes = grid.node_dims();
    let node = index[0] + nodes[0] * (index[1] + nodes[1] * index[2]);
    let row = if grid.kind == Kind::Volume {
        nodes[0]
    } else {
        0
    };
    Some(ScreenFace {
        conductor: screen.conductor,
        cells,
        materials,
        leak_per_m,
        area: left * area,
        is_whole: true,
        corners: [node, node + 1, node + row, node + row + 1],
        shares: shares.map(|share| left * share),
        excess: left * excess,
    })
}

#[cfg(test)]
mod tests;
