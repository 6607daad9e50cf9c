//! Cholesky factor of the coarsest network.

use super::level::Level;

/// Lower Cholesky factor over the free nodes of a level: each row from its first entry on.
#[derive(Clone, Debug)]
pub(crate) struct Dense {
    /// Index of each free node in the level's arrays.
    nodes: Vec<usize>,
    /// Column of the first entry of each row.
    first: Vec<usize>,
    /// Where each row begins in `entries`, and the end of the last one.
    start: Vec<usize>,
    /// Rows without their diagonal.
    entries: Vec<f32>,
    /// One over the diagonal.
    inverse: Vec<f32>,
}

impl Dense {
    pub fn new(level: &Level) -> Self {
        let layout = &level.layout;
        let mut position = vec![usize::MAX; layout.entries()];
        let mut nodes = Vec::new();
        // Natural order along the longest axis last keeps the rows short.
        let mut order = [0, 1, 2];
        order.sort_by_key(|&d| layout.dims[d]);
        let count = order.map(|d| layout.dims[d]);
        let mut index = [0; 3];
        let mut before = Vec::new();
        for c in 0..count[2] {
            for b in 0..count[1] {
                for a in 0..count[0] {
                    (index[order[0]], index[order[1]], index[order[2]]) = (a, b, c);
                    let at = layout.at(index[0], index[1], index[2]);
                    if level.inverse[at] > 0.0 {
                        position[at] = nodes.len();
                        nodes.push(at);
                        before.push(neighbours_before(level, index));
                    }
                }
            }
        }
        let n = nodes.len();
        let mut first = vec![0; n];
        let mut start = vec![0; n + 1];
        let mut factor: Vec<f64> = Vec::new();
        let mut inverse = vec![0.0_f64; n];
        for r in 0..n {
            let links: Vec<(usize, f64)> = before[r]
                .iter()
                .filter(|(at, _)| position[*at] != usize::MAX)
                .map(|&(at, c)| (position[at], c))
                .collect();
            first[r] = links.iter().map(|l| l.0).min().unwrap_or(r);
            start[r] = factor.len();
            factor.resize(start[r] + r - first[r], 0.0);
            for (c, conductance) in links {
                factor[start[r] + c - first[r]] -= conductance;
            }
            let (done, row) = factor.split_at_mut(start[r]);
            for c in first[r]..r {
                let from = first[r].max(first[c]);
                let above = &done[start[c] + from - first[c]..start[c] + c - first[c]];
                let left = &row[from - first[r]..c - first[r]];
                let sum: f64 = above.iter().zip(left).map(|(a, b)| a * b).sum();
                row[c - first[r]] = (row[c - first[r]] - sum) * inverse[c];
            }
            // A hair above the rounding of f32 sums keeps floating blocks definite.
            let diagonal = (1.0 + 1e-6) / f64::from(level.inverse[nodes[r]]);
            let rest = diagonal - row.iter().map(|v| v * v).sum::<f64>();
            inverse[r] = 1.0 / rest.max(1e-12 * diagonal).sqrt();
        }
        start[n] = factor.len();
        Self {
            nodes,
            first,
            start,
            entries: factor.iter().map(|&v| v as f32).collect(),
            inverse: inverse.iter().map(|&v| v as f32).collect(),
        }
    }

    /// x = A^-1 b on free nodes, 0 on fixed ones; `scratch` holds one value per free node.
    pub fn solve(&self, b: &[f32], x: &mut [f32], scratch: &mut Vec<f32>) {
        let n = self.nodes.len();
        scratch.clear();
        for (r, &at) in self.nodes.iter().enumerate() {
            let row = &self.entries[self.start[r]..self.start[r + 1]];
            let sum = dot(row, &scratch[self.first[r]..r]);
            scratch.push((b[at] - sum) * self.inverse[r]);
        }
        for r in (0..n).rev() {
            let row = &self.entries[self.start[r]..self.start[r + 1]];
            let value = scratch[r] * self.inverse[r];
            scratch[r] = value;
            for (y, a) in scratch[self.first[r]..r].iter_mut().zip(row) {
                *y -= a * value;
            }
        }
        for (&at, &value) in self.nodes.iter().zip(scratch.iter()) {
            x[at] = value;
        }
    }

    pub fn unknowns(&self) -> usize {
        self.nodes.len()
    }
}

/// Free neighbours of a node on its low sides, with the links to them. Those on its high sides
/// come later in any order of the axes.
fn neighbours_before(level: &Level, index: [usize; 3]) -> Vec<(usize, f64)> {
    (0..3)
        .filter(|&d| index[d] > 0)
        .filter_map(|d| {
            let mut low = index;
            low[d] -= 1;
            let at = level.layout.at(low[0], low[1], low[2]);
            let c = level.link[d][at];
            (c != 0.0).then_some((at, f64::from(c)))
        })
        .collect()
}

/// Dot product in eight fixed lanes.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0_f32; 8];
    let (ca, ra) = a.as_chunks::<8>();
    let (cb, rb) = b.as_chunks::<8>();
    for (x, y) in ca.iter().zip(cb) {
        for l in 0..8 {
            lanes[l] += x[l] * y[l];
        }
    }
    let rest: f32 = ra.iter().zip(rb).map(|(x, y)| x * y).sum();
    lanes.iter().sum::<f32>() + rest
}
