//! One conductance network on a tensor grid, and the arrays the kernels work on.

use super::kernel::dispatched;
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

    /// Number of nodes whose potential is not given.
    pub(crate) fn free_nodes(&self) -> usize {
        self.fixed.iter().filter(|&&fixed| !fixed).count()
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
        let (dims, strides) = (network.dims(), network.strides());
        let layout = Layout::new(dims);
        let entries = layout.entries();
        let (n, fixed) = (network.len(), &network.fixed);
        let mut link: [Vec<f32>; 3] = Default::default();
        for d in (0..3).filter(|&d| dims[d] > 1) {
            link[d] = vec![0.0; entries];
        }
        let (mut inverse, mut ground) = (vec![0.0; entries], vec![0.0; entries]);
        // Of a row of nodes: links to free nodes on either side, their sums, conductance to ground.
        let mut free = [0, 1].map(|_| vec![0.0_f32; dims[0]]);
        let (mut sum, mut to_ground) = (vec![0.0_f32; dims[0]], vec![0.0_f64; dims[0]]);
        for (r, start) in (0..n).step_by(dims[0]).enumerate() {
            if r % dims[1] == 0 && stop.asked() {
                return None;
            }
            let end = start + dims[0];
            sum.fill(0.0);
            for (sum, &g) in to_ground.iter_mut().zip(&network.ground[start..end]) {
                *sum = f64::from(g);
            }
            for d in (0..3).filter(|&d| dims[d] > 1) {
                let (stride, links) = (strides[d], &network.link[d]);
                let [ahead, behind] = &mut free;
                ahead.fill(0.0);
                let last = end.min(n - stride);
                if let Some(links) = links.get(start..last) {
                    let fixed = [&fixed[start..last], &fixed[start + stride..last + stride]];
                    add(links, fixed, ahead, &mut sum, &mut to_ground);
                }
                let first = start.max(stride);
                if first < end {
                    let before = first - stride..end - stride;
                    let (links, fixed) =
                        (&links[before.clone()], [&fixed[first..end], &fixed[before]]);
                    let after = first - start..;
                    add(
                        links,
                        fixed,
                        behind,
                        &mut sum[after.clone()],
                        &mut to_ground[after],
                    );
                }
                layout.arrange_row(r, ahead, &mut link[d]);
            }
            for ((sum, ground), &fixed) in
                sum.iter_mut().zip(&mut to_ground).zip(&fixed[start..end])
            {
                if fixed {
                    *ground = 0.0;
                }
                let total = *sum + *ground as f32;
                *sum = if total > 0.0 { 1.0 / total } else { 0.0 };
            }
            layout.arrange_row(r, &sum, &mut inverse);
            layout.arrange_row(r, &to_ground, &mut ground);
        }
        let level = Self {
            layout,
            link,
            inverse,
        };
        Some((level, ground))
    }

    /// Memory held \[bytes\].
    pub fn bytes(&self) -> usize {
        4 * (self.inverse.len() + self.link.iter().map(Vec::len).sum::<usize>())
    }
}

/// Adds the links between nodes and others, which are `fixed` or not: to the sums of links between free nodes, left
/// in `free`, or, if only the other is fixed, to the conductances to ground. One between fixed nodes carries nothing.
#[inline(always)]
fn add_body(
    links: &[f32],
    fixed: [&[bool]; 2],
    free: &mut [f32],
    sum: &mut [f32],
    ground: &mut [f64],
) {
    let n = links.len();
    let [own, other] = fixed.map(|fixed| &fixed[..n]);
    let (free, sum, ground) = (&mut free[..n], &mut sum[..n], &mut ground[..n]);
    for v in 0..n {
        free[v] = links[v] * f32::from(u8::from(!(own[v] | other[v])));
        sum[v] += free[v];
        ground[v] += f64::from(links[v] * f32::from(u8::from(other[v])));
    }
}
dispatched!(fn add, add_body, add_wide(links: &[f32], fixed: [&[bool]; 2], free: &mut [f32], sum: &mut [f32], ground: &mut [f64]));
