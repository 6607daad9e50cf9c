//! One conductance network on a tensor grid, and the arrays the kernels work on.

use super::layout::Layout;
use crate::stop::Stop;

/// A conductance network on a tensor grid. Node `(i, j, k)` has index `i + n0 (j + n1 k)`.
///
/// Conductances are in any one unit; the potentials that come out do not depend on it.
#[derive(Clone, Debug)]
pub struct Network {
    /// Node coordinates along each axis, strictly increasing; axis 2 has one node in the plane.
    pub coordinates: [Vec<f64>; 3],
    /// Importance of each grid line per axis: 2 conductor, 1 dielectric, 0 plain. Coarsening keeps
    /// important lines longer.
    pub rank: [Vec<u8>; 3],
    /// `link[d][n]`: conductance between node `n` and the next node along axis `d`; 0 at the far end.
    pub link: [Vec<f32>; 3],
    /// Conductance from each node to ground.
    pub ground: Vec<f32>,
    /// Nodes whose potential is given.
    pub fixed: Vec<bool>,
}

impl Network {
    /// Nodes along each axis.
    pub fn dims(&self) -> [usize; 3] {
        [0, 1, 2].map(|d| self.coordinates[d].len())
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.ground.len()
    }

    /// Whether there is no node at all.
    pub fn is_empty(&self) -> bool {
        self.ground.is_empty()
    }

    /// Index distance of neighbours along each axis.
    pub fn strides(&self) -> [usize; 3] {
        let n = self.dims();
        [1, n[0], n[0] * n[1]]
    }
}

/// A network in kernel form: red and black nodes apart, links to fixed nodes turned into
/// conductance to ground, so that fixed nodes need no test anywhere.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    pub layout: Layout,
    /// Links between free nodes, arranged by their lower node; empty along an axis of one node.
    pub link: [Vec<f32>; 3],
    /// One over the sum of all conductances of a node; 0 at fixed nodes and in gaps.
    pub inverse: Vec<f32>,
}

impl Level {
    /// The level and the conductance to ground of its nodes, those to fixed nodes included, in the
    /// same arrangement; nothing once `stop` is asked for.
    pub fn until(stop: Stop, network: &Network) -> Option<(Self, Vec<f64>)> {
        let dims = network.dims();
        let strides = network.strides();
        let layout = Layout::new(dims);
        let n = network.len();
        let fixed = &network.fixed;
        let mut ground: Vec<f64> = network.ground.iter().map(|&g| f64::from(g)).collect();
        let mut sum = vec![0.0_f32; n];
        let mut link: [Vec<f32>; 3] = Default::default();
        let mut free_link = vec![0.0_f32; n];
        for d in (0..3).filter(|&d| dims[d] > 1) {
            if stop.asked() {
                return None;
            }
            let (stride, links) = (strides[d], &network.link[d]);
            free_link[n - stride..].fill(0.0);
            // A link to a fixed node leads to ground; one between fixed nodes carries nothing.
            for low in 0..n - stride {
                let c = links[low];
                let (to_low, to_high) = (fixed[low], fixed[low + stride]);
                let free = if to_low | to_high { 0.0 } else { c };
                free_link[low] = free;
                sum[low] += free;
                ground[low] += if to_high { f64::from(c) } else { 0.0 };
            }
            for low in 0..n - stride {
                sum[low + stride] += free_link[low];
                ground[low + stride] += if fixed[low] {
                    f64::from(links[low])
                } else {
                    0.0
                };
            }
            link[d] = layout.arranged(&free_link, |v| v);
        }
        for node in 0..n {
            if fixed[node] {
                ground[node] = 0.0;
            }
            let total = sum[node] + ground[node] as f32;
            sum[node] = if total > 0.0 { 1.0 / total } else { 0.0 };
        }
        if stop.asked() {
            return None;
        }
        let inverse = layout.arranged(&sum, |v| v);
        let ground = layout.arranged(&ground, |v| v);
        let level = Self {
            layout,
            link,
            inverse,
        };
        Some((level, ground))
    }

    pub fn free_nodes(&self) -> usize {
        self.inverse.iter().filter(|&&v| v > 0.0).count()
    }

    /// Memory held \[bytes\].
    pub fn bytes(&self) -> usize {
        4 * (self.inverse.len() + self.link.iter().map(Vec::len).sum::<usize>())
    }
}
