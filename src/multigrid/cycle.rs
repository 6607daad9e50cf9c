//! The multigrid cycle: V(2,2) with red-black over-relaxation in f32.

use super::coarsen::{AxisTransfer, coarsen};
use super::dense::Dense;
use super::kernel::{RELAXATION, relax, relax_from_zero, residual_row};
use super::level::{FIXED_DIAGONAL, Level, Network};

/// Coarsening ends at this many free nodes, where a dense factor takes over.
const DENSE_NODES: usize = 260;
/// Sweeps before and after the coarse correction.
const SWEEPS: usize = 2;

/// All levels of a network, finest first: the preconditioner of the iteration.
#[derive(Clone, Debug)]
pub struct Hierarchy {
    pub(crate) levels: Vec<Level>,
    pub(crate) ground: Vec<f32>,
    transfers: Vec<[AxisTransfer; 3]>,
    dense: Dense,
}

/// Vectors of one solve on a hierarchy; reused from solve to solve.
#[derive(Clone, Debug)]
pub struct Workspace {
    pub(crate) x: Vec<Vec<f32>>,
    pub(crate) b: Vec<Vec<f32>>,
    weight: Vec<[Vec<f32>; 2]>,
    row: Vec<f32>,
    coarse_row: Vec<f32>,
    dense: Vec<f32>,
}

impl Hierarchy {
    /// Builds all levels. Costs about two passes over the fine network.
    pub fn new(network: &Network) -> Self {
        let mut levels = vec![Level::new(network)];
        let mut transfers = Vec::new();
        let mut current = None;
        while levels[levels.len() - 1].free_nodes() > DENSE_NODES {
            let Some((coarse, transfer)) = coarsen(current.as_ref().unwrap_or(network)) else {
                break;
            };
            levels.push(Level::new(&coarse));
            transfers.push(transfer);
            current = Some(coarse);
        }
        let dense = Dense::new(&levels[levels.len() - 1]);
        Self {
            levels,
            ground: network.ground.clone(),
            transfers,
            dense,
        }
    }

    /// Nodes of each level, finest first.
    pub fn level_sizes(&self) -> Vec<usize> {
        self.levels.iter().map(Level::len).collect()
    }

    /// Unknowns of the dense factor on the coarsest level.
    pub fn dense_unknowns(&self) -> usize {
        self.dense.unknowns()
    }

    /// Memory held by the levels \[bytes\].
    pub fn bytes(&self) -> usize {
        self.levels
            .iter()
            .map(|l| 4 * (l.diagonal.len() + l.link.iter().map(Vec::len).sum::<usize>()))
            .sum()
    }

    /// Vectors for one solve.
    pub fn workspace(&self) -> Workspace {
        let longest = self.levels[0].dims.iter().copied().max().unwrap_or(1);
        let pattern = |n: usize| {
            [0, 1].map(|p| {
                (0..n)
                    .map(|i| if (i + p) % 2 == 0 { RELAXATION } else { 0.0 })
                    .collect::<Vec<_>>()
            })
        };
        Workspace {
            x: self
                .levels
                .iter()
                .map(|l| vec![0.0; l.padded_len()])
                .collect(),
            b: self
                .levels
                .iter()
                .map(|l| vec![0.0; l.padded_len()])
                .collect(),
            weight: self.levels.iter().map(|l| pattern(l.dims[0])).collect(),
            row: vec![0.0; longest],
            coarse_row: vec![0.0; longest],
            dense: Vec::with_capacity(self.dense.unknowns()),
        }
    }

    /// One cycle from a zero guess: `work.x[0]` becomes an approximation of A^-1 `work.b[0]`.
    /// Symmetric in exact arithmetic, so ordinary conjugate gradients may use it.
    pub(crate) fn cycle(&self, work: &mut Workspace) {
        let last = self.levels.len() - 1;
        for l in 0..last {
            let level = &self.levels[l];
            let (x, b) = (&mut work.x[l], &work.b[l]);
            for sweep in 0..SWEEPS {
                for colour in 0..2 {
                    if sweep == 0 && colour == 0 {
                        relax_from_zero(level, x, b, &work.weight[l], colour);
                    } else {
                        relax(level, x, b, &work.weight[l], colour, &mut work.row);
                    }
                }
            }
            let (above, below) = work.b.split_at_mut(l + 1);
            restrict(
                level,
                &self.levels[l + 1],
                &self.transfers[l],
                &work.x[l],
                &above[l],
                &mut below[0],
                &mut work.row,
                &mut work.coarse_row,
            );
        }
        if self.dense.unknowns() <= 4 * DENSE_NODES {
            self.dense
                .solve(&work.b[last], &mut work.x[last], &mut work.dense);
        }
        for l in (0..last).rev() {
            let level = &self.levels[l];
            let (above, below) = work.x.split_at_mut(l + 1);
            prolong(
                level,
                &self.levels[l + 1],
                &self.transfers[l],
                &below[0],
                &mut above[l],
                &mut work.coarse_row,
            );
            let (x, b) = (&mut work.x[l], &work.b[l]);
            for _ in 0..SWEEPS {
                for colour in [1, 0] {
                    relax(level, x, b, &work.weight[l], colour, &mut work.row);
                }
            }
        }
    }
}

/// Coarse rows and weights that a fine row (j, k) takes part in.
fn rows(
    transfer: &[AxisTransfer; 3],
    j: usize,
    k: usize,
) -> impl Iterator<Item = (usize, usize, f32)> + '_ {
    let along = move |axis: usize, i: usize| {
        let t = &transfer[axis];
        let left = t.left[i] as usize;
        [(left, t.low[i]), (left + 1, t.high[i])]
    };
    let first = along(1, j);
    let second = along(2, k);
    second
        .into_iter()
        .flat_map(move |(kc, wk)| first.into_iter().map(move |(jc, wj)| (jc, kc, wj * wk)))
        .filter(|&(_, _, w)| w != 0.0)
}

#[allow(clippy::too_many_arguments)]
fn restrict(
    fine: &Level,
    coarse: &Level,
    transfer: &[AxisTransfer; 3],
    x: &[f32],
    b: &[f32],
    out: &mut [f32],
    row: &mut [f32],
    coarse_row: &mut [f32],
) {
    let [n0, n1, n2] = fine.dims;
    let [m0, m1, _] = coarse.dims;
    out.fill(0.0);
    let t = &transfer[0];
    for k in 0..n2 {
        for j in 0..n1 {
            let at = fine.pad + n0 * (j + n1 * k);
            residual_row(fine, x, b, at, row);
            let coarse_row = &mut coarse_row[..m0];
            if t.coarse == n0 {
                coarse_row.copy_from_slice(&row[..n0]);
            } else {
                coarse_row.fill(0.0);
                for i in 0..n0 {
                    let left = t.left[i] as usize;
                    coarse_row[left] += t.low[i] * row[i];
                    if t.high[i] != 0.0 {
                        coarse_row[left + 1] += t.high[i] * row[i];
                    }
                }
            }
            for (jc, kc, w) in rows(transfer, j, k) {
                let at = coarse.pad + m0 * (jc + m1 * kc);
                for (sum, value) in out[at..at + m0].iter_mut().zip(coarse_row.iter()) {
                    *sum += w * value;
                }
            }
        }
    }
    let (pad, n) = (coarse.pad, coarse.len());
    for (value, &d) in out[pad..pad + n]
        .iter_mut()
        .zip(&coarse.diagonal[pad..pad + n])
    {
        *value *= f32::from(u8::from(d < FIXED_DIAGONAL));
    }
}

fn prolong(
    fine: &Level,
    coarse: &Level,
    transfer: &[AxisTransfer; 3],
    from: &[f32],
    x: &mut [f32],
    coarse_row: &mut [f32],
) {
    let [n0, n1, n2] = fine.dims;
    let [m0, m1, _] = coarse.dims;
    let t = &transfer[0];
    for k in 0..n2 {
        for j in 0..n1 {
            let coarse_row = &mut coarse_row[..m0];
            coarse_row.fill(0.0);
            for (jc, kc, w) in rows(transfer, j, k) {
                let at = coarse.pad + m0 * (jc + m1 * kc);
                for (sum, value) in coarse_row.iter_mut().zip(&from[at..at + m0]) {
                    *sum += w * value;
                }
            }
            let at = fine.pad + n0 * (j + n1 * k);
            let x = &mut x[at..at + n0];
            let diagonal = &fine.diagonal[at..at + n0];
            for i in 0..n0 {
                let left = t.left[i] as usize;
                let right = (left + 1).min(m0 - 1);
                let free = f32::from(u8::from(diagonal[i] < FIXED_DIAGONAL));
                x[i] += free * (t.low[i] * coarse_row[left] + t.high[i] * coarse_row[right]);
            }
        }
    }
}
