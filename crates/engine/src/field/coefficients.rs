//! The coefficients of one cell: edge conductances of the node network, half-cell resistances of
//! the cell network.
//!
//! Both are over, respectively times, the permittivity of the cell. The builders, the energies and
//! the derivatives take them from here, so that they cannot differ.

use crate::case::Kind;
use crate::grid::Grid;
use std::f64::consts::PI;

/// Resistances x permittivity of one cell along one axis [1/m].
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Resistance {
    /// From the low face to the middle.
    pub low: f64,
    /// From the middle to the high face.
    pub high: f64,
    /// Off-diagonal of the flux energy: what the sum of two half resistances over-counts.
    pub cross: f64,
}

/// Extents of one cell; what its coefficients depend on.
#[derive(Clone, Copy, Debug)]
pub(super) struct CellExtent {
    kind: Kind,
    /// Width along each axis [m]; 1 on an axis without extent.
    pub width_m: [f64; 3],
    /// Coordinates of the two faces of axis 0 [m]: the radii of an axisymmetric cell.
    pub radius_m: [f64; 2],
}

impl CellExtent {
    /// Of the cell `index` of a grid.
    #[inline]
    pub fn of(grid: &Grid, index: [usize; 3]) -> Self {
        let nodes = &grid.axes[0].nodes_m;
        let width = |d: usize| grid.axes[d].width_m(index[d]);
        let third = if grid.dimensions() == 3 {
            width(2)
        } else {
            1.0
        };
        Self {
            kind: grid.kind,
            width_m: [width(0), width(1), third],
            radius_m: [nodes[index[0]], nodes[index[0] + 1]],
        }
    }

    /// The same cell between other faces of axis 0 [m].
    pub fn between(self, radius_m: [f64; 2]) -> Self {
        let mut moved = self;
        moved.width_m[0] = radius_m[1] - radius_m[0];
        moved.radius_m = radius_m;
        moved
    }

    /// Edge conductances over permittivity [m]: per axis, for the low and the high half of the
    /// cell. Only the height axis of axisymmetric cells has unequal halves.
    #[inline]
    pub fn edge_weights(&self) -> [[f64; 2]; 3] {
        let w = self.width_m;
        match self.kind {
            Kind::Planar => [[0.5 * w[1] / w[0]; 2], [0.5 * w[0] / w[1]; 2], [0.0; 2]],
            Kind::Volume => [
                [0.25 * w[1] * w[2] / w[0]; 2],
                [0.25 * w[0] * w[2] / w[1]; 2],
                [0.25 * w[0] * w[1] / w[2]; 2],
            ],
            Kind::Axisymmetric => {
                let [r1, r2] = self.radius_m;
                let radial = radial_weights(r1, r2);
                [
                    [radial.along * w[1]; 2],
                    [radial.low / w[1], radial.high / w[1]],
                    [0.0; 2],
                ]
            }
        }
    }

    /// Off-diagonal of the mass matrix of the height axis of axisymmetric cells, over permittivity
    /// and height [m]: what lumping the squares of two neighbouring height edges over-counts.
    fn radial_cross(&self) -> f64 {
        radial_weights(self.radius_m[0], self.radius_m[1]).cross / self.width_m[1]
    }

    /// Integrals over the radii of an axisymmetric cell of 2 pi r times the share of the low and of
    /// the high radius, and times both shares [m^2].
    pub fn height_mass_m2(&self) -> ([f64; 2], f64) {
        let radial = radial_weights(self.radius_m[0], self.radius_m[1]);
        ([radial.low, radial.high], radial.cross)
    }

    /// What the two directions of an axisymmetric or planar cell have in excess of the energy of the
    /// function between its nodes, over permittivity, per squared mixed difference [m].
    #[inline]
    pub fn plane_excess(&self) -> f64 {
        let w = self.edge_weights();
        // Lumped minus exact mass per direction: 1/6 (difference)^2 of a full area, which is twice the
        // edge conductance.
        let along_height = match self.kind {
            Kind::Axisymmetric => self.radial_cross(),
            _ => w[1][0] / 3.0,
        };
        w[0][0] / 3.0 + along_height
    }

    /// Resistances times permittivity along `axis` [1/m].
    #[inline]
    pub fn resistance(&self, axis: usize) -> Resistance {
        let [r1, r2] = self.radius_m;
        if self.kind == Kind::Axisymmetric && axis == 0 {
            return radial_resistance(r1, r2, self.width_m[1]);
        }
        let (length, area) = (self.width_m[axis], self.face_area_m2(axis, r1));
        Resistance {
            low: 0.5 * length / area,
            high: 0.5 * length / area,
            cross: length / (6.0 * area),
        }
    }

    /// Area of the faces normal to `axis` [m^2], [m] in the plane; `radius_m` is that of the face
    /// when it is a cylinder.
    #[inline]
    pub fn face_area_m2(&self, axis: usize, radius_m: f64) -> f64 {
        let w = self.width_m;
        match (self.kind, axis) {
            (Kind::Planar, _) => w[1 - axis],
            (Kind::Volume, _) => w[(axis + 1) % 3] * w[(axis + 2) % 3],
            (Kind::Axisymmetric, 0) => 2.0 * PI * radius_m * w[1],
            (Kind::Axisymmetric, _) => {
                let [r1, r2] = self.radius_m;
                PI * (r2 * r2 - r1 * r1)
            }
        }
    }
}

/// Integrals over the radii of an axisymmetric cell of functions linear in ln r.
struct RadialWeights {
    /// Half of 2 pi/ln(r2/r1): radial conductance per height.
    along: f64,
    /// Integrals of 2 pi r times the share of the low and of the high radius [m^2].
    low: f64,
    high: f64,
    /// Integral of 2 pi r times both shares [m^2].
    cross: f64,
}

/// Between the nodes of a column the potential is linear in ln r, which is what it is between
/// coaxial cylinders; next to the axis, where that has no meaning, it is linear in r.
fn radial_weights(r1: f64, r2: f64) -> RadialWeights {
    let width = r2 - r1;
    if r1 <= 0.0 {
        return RadialWeights {
            along: 0.5 * PI * r2 / width,
            low: PI * width * r2 / 3.0,
            high: PI * width * r2 * 2.0 / 3.0,
            cross: PI * width * r2 / 6.0,
        };
    }
    let log = (width / r1).ln_1p();
    let area = 0.5 * (r2 * r2 - r1 * r1);
    let (high, cross);
    if r1 > 0.7 * r2 {
        // The closed forms would cancel.
        let (mut sum_high, mut sum_cross) = (0.0, 0.0);
        for (t, weight) in FIVE_POINTS {
            let part = 0.5 * (1.0 + t) * width;
            let share = (part / r1).ln_1p() / log;
            let measure = 0.5 * weight * width * (r1 + part);
            sum_high += measure * share;
            sum_cross += measure * share * (1.0 - share);
        }
        (high, cross) = (sum_high, sum_cross);
    } else {
        high = 0.5 * r2 * r2 - area / (2.0 * log);
        let square = 0.5 * r2 * r2 - high / log;
        cross = high - square;
    }
    RadialWeights {
        along: PI / log,
        low: 2.0 * PI * (area - high),
        high: 2.0 * PI * high,
        cross: 2.0 * PI * cross,
    }
}

/// Places and weights of five-point Gauss-Legendre integration from -1 to 1.
const FIVE_POINTS: [(f64, f64); 5] = [
    (0.0, 0.568_888_888_888_888_9),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

/// Radial cell of an axisymmetric grid: the flux through radius r is linear in r^2, with shares
/// p = (r2^2 - r^2)/(r2^2 - r1^2) and 1 - p of the fluxes at the two faces; energies are
/// integrals of their products over dr/(2 pi r height).
fn radial_resistance(r1: f64, r2: f64, height: f64) -> Resistance {
    let (s1, s2) = (r1 * r1, r2 * r2);
    let scale = 1.0 / (2.0 * PI * height);
    let (low, high, cross);
    if r1 <= 0.0 {
        // No flux at the axis.
        low = 0.0;
        high = 0.5 * scale;
        cross = 0.25 * scale;
    } else {
        // dr/r = ds/(2s); five-point Gauss-Legendre in s is exact to rounding for thin cells, and
        // the closed form for thick ones would cancel for thin ones.
        if r1 > 0.7 * r2 {
            let mut sums = [0.0; 3];
            for (t, weight) in FIVE_POINTS {
                let p = 0.5 * (1.0 - t);
                let s = s1 + (1.0 - p) * (s2 - s1);
                let measure = 0.5 * weight * (s2 - s1) / (2.0 * s);
                sums[0] += measure * p;
                sums[1] += measure * (1.0 - p);
                sums[2] += measure * p * (1.0 - p);
            }
            (low, high, cross) = (sums[0] * scale, sums[1] * scale, sums[2] * scale);
        } else {
            let log = (r2 / r1).ln();
            let d = s2 - s1;
            low = scale * (s2 * log / d - 0.5);
            high = scale * (0.5 - s1 * log / d);
            cross = scale * (0.5 * (s1 + s2) * d - s1 * s2 * log - 0.25 * (s2 * s2 - s1 * s1))
                / (d * d);
        }
    }
    Resistance { low, high, cross }
}
