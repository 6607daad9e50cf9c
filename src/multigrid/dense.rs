//! Dense Cholesky factor of the coarsest network.

use super::level::{FIXED_DIAGONAL, Level};

/// Lower Cholesky factor over the free nodes of a level, packed row by row.
#[derive(Clone, Debug)]
pub(crate) struct Dense {
    /// Padded index of each free node.
    nodes: Vec<usize>,
    /// Row r holds r + 1 entries.
    factor: Vec<f32>,
}

impl Dense {
    pub fn new(level: &Level) -> Self {
        let mut position = vec![usize::MAX; level.padded_len()];
        let mut nodes = Vec::new();
        for at in level.pad..level.pad + level.len() {
            if level.diagonal[at] < FIXED_DIAGONAL {
                position[at] = nodes.len();
                nodes.push(at);
            }
        }
        let strides = [1, level.dims[0], level.dims[0] * level.dims[1]];
        let n = nodes.len();
        let start = |r: usize| r * (r + 1) / 2;
        let mut factor = vec![0.0_f64; start(n)];
        for (r, &at) in nodes.iter().enumerate() {
            // A hair above the rounding of f32 sums keeps floating blocks definite.
            factor[start(r) + r] = f64::from(level.diagonal[at]) * (1.0 + 1e-6);
            for d in 0..3 {
                if level.dims[d] == 1 {
                    continue;
                }
                let before = at - strides[d];
                let c = level.link[d][before];
                if c != 0.0 && position[before] != usize::MAX {
                    factor[start(r) + position[before]] -= f64::from(c);
                }
            }
        }
        // Entries left of the first non-zero of a row stay zero: a profile factorisation.
        let first: Vec<usize> = (0..n)
            .map(|r| (0..=r).find(|&c| factor[start(r) + c] != 0.0).unwrap_or(r))
            .collect();
        for r in 0..n {
            for c in first[r]..=r {
                let from = first[r].max(first[c]);
                let (sr, sc) = (start(r), start(c));
                let mut sum = factor[sr + c];
                for m in from..c {
                    sum -= factor[sr + m] * factor[sc + m];
                }
                factor[sr + c] = if c == r {
                    sum.max(f64::MIN_POSITIVE).sqrt()
                } else {
                    sum / factor[sc + c]
                };
            }
        }
        Self {
            nodes,
            factor: factor.iter().map(|&v| v as f32).collect(),
        }
    }

    /// x = A^-1 b on free nodes, 0 on fixed ones; `scratch` holds one value per free node.
    pub fn solve(&self, b: &[f32], x: &mut [f32], scratch: &mut Vec<f32>) {
        let n = self.nodes.len();
        let start = |r: usize| r * (r + 1) / 2;
        scratch.clear();
        for (r, &at) in self.nodes.iter().enumerate() {
            let row = &self.factor[start(r)..start(r) + r + 1];
            let sum: f32 = row[..r]
                .iter()
                .zip(scratch.iter())
                .map(|(a, y)| a * y)
                .sum();
            scratch.push((b[at] - sum) / row[r]);
        }
        for r in (0..n).rev() {
            let row = &self.factor[start(r)..start(r) + r + 1];
            let value = scratch[r] / row[r];
            scratch[r] = value;
            for (y, a) in scratch[..r].iter_mut().zip(row) {
                *y -= a * value;
            }
        }
        x.fill(0.0);
        for (&at, &value) in self.nodes.iter().zip(scratch.iter()) {
            x[at] = value;
        }
    }

    pub fn unknowns(&self) -> usize {
        self.nodes.len()
    }
}
