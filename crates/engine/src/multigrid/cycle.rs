//! The multigrid cycle: V(3,3) with red-black over-relaxation in f32.

use super::coarsen::coarsen;
use super::dense::Dense;
use super::gradients::Vectors;
use super::level::{Level, Network};
use super::sweep::Sweeps;
use super::transfer::{RowBuffers, Transfer};
use crate::stop::Stop;

/// Coarsening ends at this many free nodes, where a dense factor takes over.
const DENSE_NODES: usize = 260;
/// All levels of a network, finest first: the preconditioner of the iteration.
#[derive(Clone, Debug)]
pub struct Hierarchy {
    pub(crate) levels: Vec<Level>,
    /// Conductance to ground of the finest nodes, arranged as its level.
    pub(crate) ground: Vec<f64>,
    transfers: Vec<Transfer>,
    dense: Dense,
}

/// Vectors of one solve on a hierarchy; reused from solve to solve.
#[derive(Clone, Debug)]
pub struct Workspace {
    pub(crate) x: Vec<Vec<f32>>,
    pub(crate) b: Vec<Vec<f32>>,
    residual: Vec<f32>,
    rows: RowBuffers,
    dense: Vec<f32>,
    pub(super) vectors: Vectors,
    /// Who may ask for an end in the middle of a solve.
    pub(crate) stop: Stop,
    /// Whether threads are idle that could share a solve.
    pub(crate) idle: bool,
}

impl Hierarchy {
    /// Builds all levels. Costs a few passes over the fine network.
    pub fn new(network: &Network) -> Self {
        Self::until(Stop::NEVER, network).expect("nobody stops it")
    }

    /// The same; none once `stop` is asked for.
    pub(crate) fn until(stop: Stop, network: &Network) -> Option<Self> {
        let mut levels = Vec::new();
        let mut transfers = Vec::new();
        let mut ground = None;
        let mut current: Option<Network> = None;
        loop {
            // A network becomes a level while the next one is made of it.
            let own = current.as_ref().unwrap_or(network);
            let is_large = own.free_nodes() > DENSE_NODES;
            let (level, coarse) = rayon::join(
                || Level::until(stop, own),
                || is_large.then(|| coarsen(stop, own)).flatten(),
            );
            let (level, of_level) = level?;
            levels.push(level);
            ground.get_or_insert(of_level);
            let Some((coarse, axes)) = coarse else {
                break;
            };
            transfers.push(Transfer::new(axes));
            current = Some(coarse);
        }
        if stop.asked() {
            return None;
        }
        let dense = Dense::new(&levels[levels.len() - 1]);
        Some(Self {
            levels,
            ground: ground?,
            transfers,
            dense,
        })
    }

    /// Memory held by the levels \[bytes\].
    pub fn bytes(&self) -> usize {
        8 * self.ground.len() + self.levels.iter().map(Level::bytes).sum::<usize>()
    }

    /// Vectors for one solve that nobody stops, with all threads.
    pub fn workspace(&self) -> Workspace {
        self.workspace_until(Stop::NEVER, true)
    }

    /// Vectors for one solve, which ends short once `stop` is asked for and takes to itself threads that are `idle`.
    pub(crate) fn workspace_until(&self, stop: Stop, idle: bool) -> Workspace {
        let zeros = || {
            self.levels
                .iter()
                .map(|l| vec![0.0; l.layout.entries()])
                .collect()
        };
        Workspace {
            x: zeros(),
            b: zeros(),
            residual: vec![0.0; self.levels[0].layout.entries()],
            rows: RowBuffers::default(),
            dense: Vec::with_capacity(self.dense.unknowns()),
            vectors: Vectors::new(self.levels[0].layout.entries()),
            stop,
            idle,
        }
    }

    /// One cycle from a zero guess: `work.x[0]` becomes an approximation of A^-1 `work.b[0]`.
    /// Symmetric in exact arithmetic, so ordinary conjugate gradients may use it. Stopped in the middle it leaves
    /// anything.
    pub(crate) fn cycle(&self, work: &mut Workspace) {
        let last = self.levels.len() - 1;
        let sweeps = Sweeps {
            stop: work.stop,
            idle: work.idle,
        };
        for l in 0..last {
            let level = &self.levels[l];
            let (above, below) = work.b.split_at_mut(l + 1);
            let left = &mut work.residual;
            sweeps.down(level, &mut work.x[l], &above[l], left);
            if work.stop.asked() {
                return;
            }
            let coarse = &self.levels[l + 1].layout;
            self.transfers[l].restrict(&level.layout, coarse, left, &mut below[0], &mut work.rows);
        }
        self.dense
            .solve(&work.b[last], &mut work.x[last], &mut work.dense);
        for l in (0..last).rev() {
            let level = &self.levels[l];
            let (above, below) = work.x.split_at_mut(l + 1);
            let (x, coarse) = (&mut above[l], &self.levels[l + 1].layout);
            self.transfers[l].prolong(level, coarse, &below[0], x, &mut work.rows);
            sweeps.up(level, x, &work.b[l]);
            if work.stop.asked() {
                return;
            }
        }
    }
}
