//! How the energies of a chamber depend on the design: a sum of fixed matrices times a few functions of it.
//!
//! - Blocks between neighbouring lines scale as eps s_e s_f s_g / s_d^2 along axis d, with s the stretches of the block's
//!   segments: their functions are combinations of a few of them, found by a QR decomposition with column pivoting over many designs
//!   (Businger and Golub, Numer. Math. 7, 1965), exact to rounding.
//! - What does not scale so, cut links and open walls, is interpolated at a few of its own entries (empirical interpolation:
//!   Barrault, Maday, Nguyen and Patera, C. R. Math. 339, 2004).

use super::chamber::{Chamber, Design, Outside};
use crate::grid::Grid;
use nalgebra::{DMatrix, RowDVector};
use ndarray::Array2;

/// What is left of the functions of blocks, relative to each, when another would be rounding.
const EXACT: f64 = 1e-12;
/// What may be left of a function of a block on designs that it was not made of.
const ALLOWED: f64 = 1e-9;

/// The blocks between neighbouring lines of a state's grid, each of one material.
pub(super) struct Blocks {
    /// First and last node of every segment.
    pub segments: [Vec<[usize; 2]>; 3],
    material: Vec<u16>,
}

impl Blocks {
    /// Of a grid; its lines must bound all of its materials.
    pub fn of(grid: &Grid) -> Result<Self, Outside> {
        let segments = [0, 1, 2].map(|d| {
            let lines = grid.axes[d].lines.windows(2);
            lines.map(|ends| [ends[0], ends[1]]).collect::<Vec<_>>()
        });
        let mut blocks = Self {
            segments,
            material: Vec::new(),
        };
        let count = blocks.dims().iter().product();
        for block in 0..count {
            let [x, y, z] = blocks.nodes(block);
            let material = grid.material_at([x[0], y[0], z[0]]);
            let cells = (z[0]..z[1])
                .flat_map(|k| (y[0]..y[1]).flat_map(move |j| (x[0]..x[1]).map(move |i| [i, j, k])));
            if cells
                .into_iter()
                .any(|cell| grid.material_at(cell) != material)
            {
                return Err(Outside::NotCarried(
                    "a material whose edge no grid line follows",
                ));
            }
            blocks.material.push(material);
        }
        Ok(blocks)
    }

    fn dims(&self) -> [usize; 3] {
        self.segments.each_ref().map(Vec::len)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.dims().iter().product()
    }

    fn place(&self, block: usize) -> [usize; 3] {
        let [nx, ny, _] = self.dims();
        [block % nx, block / nx % ny, block / (nx * ny)]
    }

    /// First and last node of a block along each axis.
    pub fn nodes(&self, block: usize) -> [[usize; 2]; 3] {
        let place = self.place(block);
        [0, 1, 2].map(|d| self.segments[d][place[d]])
    }

    /// What conductances along `axis` in a block are multiplied by, permittivity included.
    fn factor(
        &self,
        (block, axis): (usize, usize),
        stretches: &[Vec<f64>; 3],
        permittivity: &[f64],
    ) -> f64 {
        let place = self.place(block);
        let s = [0, 1, 2].map(|d| stretches[d][place[d]]);
        let volume = s[0] * s[1] * s[2];
        permittivity[usize::from(self.material[block])] * volume / (s[axis] * s[axis])
    }
}

/// What a function of blocks is: a conductance, or one over it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Power {
    /// Conductances.
    Conductance,
    /// Resistances.
    Resistance,
}

/// All functions of blocks as combinations of a few of them.
pub(super) struct BlockTerms {
    power: Power,
    /// The few: block and axis.
    chosen: Vec<(usize, usize)>,
    /// For every block and axis, block after block, its combination of the chosen ones.
    pub shares: Array2<f64>,
}

impl BlockTerms {
    /// From designs; `others` only check it.
    pub fn of(
        blocks: &Blocks,
        power: Power,
        chamber: &Chamber,
        designs: &[Design],
        others: &[Design],
    ) -> Result<Self, Outside> {
        let functions = 3 * blocks.len();
        let column = |design: &Design| {
            let stretches = chamber.stretches(design);
            (0..functions)
                .map(|at| {
                    powered(
                        power,
                        blocks.factor((at / 3, at % 3), &stretches, &design.permittivity),
                    )
                })
                .collect::<Vec<f64>>()
        };
        let rows: Vec<Vec<f64>> = designs.iter().map(column).collect();
        let mut matrix = DMatrix::from_fn(designs.len(), functions, |row, at| rows[row][at]);
        let norms: Vec<f64> = matrix.column_iter().map(|column| column.norm()).collect();
        for (mut column, norm) in matrix.column_iter_mut().zip(&norms) {
            column /= *norm;
        }
        let (chosen, shares) = pivoted(matrix);
        let mut terms = Self {
            power,
            chosen: chosen.iter().map(|at| (at / 3, at % 3)).collect(),
            shares,
        };
        for (at, mut row) in terms.shares.rows_mut().into_iter().enumerate() {
            for (share, &of) in row.iter_mut().zip(&chosen) {
                *share *= norms[at] / norms[of];
            }
        }
        let mut values = Vec::new();
        for design in others {
            values.clear();
            terms.values(
                blocks,
                &chamber.stretches(design),
                &design.permittivity,
                &mut values,
            );
            for (at, exact) in column(design).into_iter().enumerate() {
                let row = terms.shares.row(at);
                let found: f64 = row.iter().zip(&values).map(|(a, b)| a * b).sum();
                if (found / exact - 1.0).abs() > ALLOWED {
                    return Err(Outside::NotCarried(
                        "more that varies than its designs tell apart",
                    ));
                }
            }
        }
        Ok(terms)
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.chosen.len()
    }

    /// Adds their values to a list.
    pub fn values(
        &self,
        blocks: &Blocks,
        stretches: &[Vec<f64>; 3],
        permittivity: &[f64],
        out: &mut Vec<f64>,
    ) {
        let value = |&place| powered(self.power, blocks.factor(place, stretches, permittivity));
        out.extend(self.chosen.iter().map(value));
    }
}

fn powered(power: Power, conductance: f64) -> f64 {
    match power {
        Power::Conductance => conductance,
        Power::Resistance => 1.0 / conductance,
    }
}

/// Columns that all others are combinations of, and these combinations, row by row.
fn pivoted(columns: DMatrix<f64>) -> (Vec<usize>, Array2<f64>) {
    let (rows, count) = columns.shape();
    let decomposed = columns.col_piv_qr();
    let mut order = RowDVector::from_fn(count, |_, at| at);
    decomposed.p().permute_columns(&mut order);
    let upper = decomposed.r();
    let is_needed = |i: &usize| upper[(*i, *i)].abs() > EXACT * upper[(0, 0)].abs();
    let rank = (0..rows.min(count)).take_while(is_needed).count();
    let mut shares = Array2::zeros((count, rank));
    for (place, &at) in order.iter().enumerate() {
        for i in (0..rank).rev() {
            let known: f64 = (i + 1..rank).map(|j| upper[(i, j)] * shares[[at, j]]).sum();
            shares[[at, i]] = (upper[(i, place)] - known) / upper[(i, i)];
        }
    }
    (order.iter().take(rank).copied().collect(), shares)
}

/// Functions that are interpolated at some of their entries.
pub(super) struct Interpolated {
    /// The entries.
    pub picks: Vec<usize>,
    /// Values of each basis function at the picks, unit lower triangular: row by pick.
    at_picks: Array2<f64>,
    /// Basis functions, one row each, one column per entry.
    pub basis: Array2<f64>,
    /// Largest error on designs that it was not made of, relative to the largest value of its entry.
    pub error: f64,
}

/// Most basis functions of what is interpolated.
const MOST: usize = 48;
/// Error of an interpolation that is enough, relative to the largest value of an entry.
const ENOUGH: f64 = 3e-6;

impl Interpolated {
    /// From values of all entries on designs; `others` only measure it.
    pub fn of(designs: &[Vec<f64>], others: &[Vec<f64>]) -> Self {
        let entries = designs.first().map_or(0, Vec::len);
        let mut scale = vec![f64::MIN_POSITIVE; entries];
        for design in designs {
            for (scale, value) in scale.iter_mut().zip(design) {
                *scale = scale.max(value.abs());
            }
        }
        let relative = |design: &Vec<f64>| -> Vec<f64> {
            design
                .iter()
                .zip(&scale)
                .map(|(value, scale)| value / scale)
                .collect()
        };
        let mut left: Vec<Vec<f64>> = designs.iter().map(relative).collect();
        let mut picks = Vec::new();
        let mut basis: Vec<Vec<f64>> = Vec::new();
        while basis.len() < MOST.min(designs.len()) && entries > 0 {
            let mut worst = (0.0, 0, 0);
            for (design, left) in left.iter().enumerate() {
                for (entry, value) in left.iter().enumerate() {
                    if value.abs() > worst.0 {
                        worst = (value.abs(), design, entry);
                    }
                }
            }
            let (size, design, entry) = worst;
            if size <= ENOUGH {
                break;
            }
            let at = left[design][entry];
            let function: Vec<f64> = left[design].iter().map(|value| value / at).collect();
            for left in &mut left {
                let share = left[entry];
                for (left, value) in left.iter_mut().zip(&function) {
                    *left -= share * value;
                }
                left[entry] = 0.0;
            }
            picks.push(entry);
            basis.push(function);
        }
        let rank = picks.len();
        let at_picks = Array2::from_shape_fn((rank, rank), |(pick, function)| {
            basis[function][picks[pick]] * scale[picks[pick]]
        });
        let mut found = Self {
            at_picks,
            basis: Array2::from_shape_fn((rank, entries), |(function, entry)| {
                basis[function][entry] * scale[entry]
            }),
            picks,
            error: 0.0,
        };
        let mut shares = Vec::new();
        for other in others {
            let at_picks: Vec<f64> = found.picks.iter().map(|&pick| other[pick]).collect();
            shares.clear();
            found.shares(&at_picks, &mut shares);
            for (entry, exact) in other.iter().enumerate() {
                let column = found.basis.column(entry);
                let value: f64 = column.iter().zip(&shares).map(|(a, b)| a * b).sum();
                found.error = found.error.max((value - exact).abs() / scale[entry]);
            }
        }
        found
    }

    /// Adds the shares of the basis functions in a function with such values at the picks to a list.
    pub fn shares(&self, at_picks: &[f64], out: &mut Vec<f64>) {
        let start = out.len();
        for (pick, value) in at_picks.iter().enumerate() {
            let row = self.at_picks.row(pick);
            let known: f64 = row.iter().zip(&out[start..]).map(|(a, b)| a * b).sum();
            out.push((value - known) / row[pick]);
        }
    }
}
