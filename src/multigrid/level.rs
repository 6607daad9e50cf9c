//! One conductance network on a tensor grid, in the padded arrays the kernels work on.

/// Diagonal that marks a fixed node: large enough that a sweep moves it by nothing, small enough
/// that its reciprocal is no f32 denormal.
pub(crate) const FIXED_DIAGONAL: f32 = 1e16;

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

/// A network in kernel form: every array has `pad` zeros before and after, so that neighbours of
/// boundary nodes exist and carry zero conductance.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    pub dims: [usize; 3],
    pub pad: usize,
    pub link: [Vec<f32>; 3],
    pub diagonal: Vec<f32>,
}

impl Level {
    pub fn new(network: &Network) -> Self {
        let dims = network.dims();
        let strides = network.strides();
        let pad = if dims[2] > 1 { strides[2] } else { strides[1] };
        let n = network.len();
        let pad_link = |d: usize| {
            if dims[d] == 1 {
                return Vec::new();
            }
            let mut padded = vec![0.0; n + 2 * pad];
            padded[pad..pad + n].copy_from_slice(&network.link[d]);
            padded
        };
        let link = [pad_link(0), pad_link(1), pad_link(2)];
        let mut diagonal = vec![1.0_f32; n + 2 * pad];
        diagonal[pad..pad + n].copy_from_slice(&network.ground);
        for d in 0..3 {
            if dims[d] == 1 {
                continue;
            }
            let (diagonal, link) = (&mut diagonal[pad..pad + n], &link[d]);
            let behind = &link[pad - strides[d]..pad - strides[d] + n];
            let ahead = &link[pad..pad + n];
            for ((sum, a), b) in diagonal.iter_mut().zip(ahead).zip(behind) {
                *sum += a + b;
            }
        }
        for (value, &fixed) in diagonal[pad..pad + n].iter_mut().zip(&network.fixed) {
            if fixed || *value <= 0.0 {
                *value = FIXED_DIAGONAL;
            }
        }
        Self {
            dims,
            pad,
            link,
            diagonal,
        }
    }

    pub fn len(&self) -> usize {
        self.dims[0] * self.dims[1] * self.dims[2]
    }

    pub fn padded_len(&self) -> usize {
        self.len() + 2 * self.pad
    }

    pub fn free_nodes(&self) -> usize {
        self.diagonal[self.pad..self.pad + self.len()]
            .iter()
            .filter(|&&d| d < FIXED_DIAGONAL)
            .count()
    }
}
