//! The memory a grid takes, told before it is taken.
//!
//! Takes the nodes of the axes and what is solved on them; gives bytes; fails when they are above the cap or
//! the system has no such room. `tests/memory.rs` holds it against what solving takes.

use super::answer::{FieldError, Settings};
use crate::case::Case;
use crate::grid::Axis;
use std::alloc::{GlobalAlloc, Layout, System};
use std::hint::black_box;

/// Nodes of all levels of a hierarchy over those of the finest: what the coarsening keeps, largest
/// measured (`cargo bench --bench field` prints the bytes of the levels).
const LEVELS_VOLUME: f64 = 5.0;
const LEVELS_PLANE: f64 = 14.0;

/// What is solved on a grid.
pub(super) struct Load<'s> {
    /// Conductors that get a row.
    drives: f64,
    /// With and without what comes and goes.
    states: usize,
    /// Whether the second state is solved once for many.
    roams: bool,
    materials: f64,
    settings: &'s Settings,
}

impl<'s> Load<'s> {
    pub fn new(case: &Case, drives: usize, without: Option<&str>, settings: &'s Settings) -> Self {
        Self {
            drives: drives as f64,
            states: if without.is_some() { 2 } else { 1 },
            roams: settings.roaming(without).is_some(),
            materials: case.dielectrics.len() as f64 + 1.0,
            settings,
        }
    }

    /// Refuses a grid whose systems would not fit, or for which the system has no room.
    pub fn check(&self, axes: &[Axis; 3]) -> Result<(), FieldError> {
        let nodes = [0, 1, 2].map(|d| axes[d].nodes_m.len() as f64);
        self.is_within_cap(nodes)?;
        let needed_bytes = self.bytes(nodes) as u64;
        // Asked for once as a whole and given back: an array that is refused later would end the process.
        match usize::try_from(needed_bytes).is_ok_and(has_room) {
            true => Ok(()),
            false => Err(FieldError::NoMemory {
                cells: cells(nodes),
                needed_bytes,
            }),
        }
    }

    /// Refuses a grid of so many nodes per axis that would need more than the cap.
    pub fn is_within_cap(&self, nodes: [f64; 3]) -> Result<(), FieldError> {
        let needed = self.bytes(nodes);
        let cap_bytes = self.settings.memory_cap_bytes;
        if needed > cap_bytes as f64 {
            return Err(FieldError::TooLarge {
                cells: cells(nodes),
                needed_bytes: needed as u64,
                cap_bytes,
            });
        }
        Ok(())
    }

    /// Peak memory \[bytes\].
    fn bytes(&self, nodes: [f64; 3]) -> f64 {
        // Rows and planes of the kernels are padded to odd lengths, and by a plane at either end.
        let padded = nodes.map(|n| if n > 1.0 { n + 2.0 } else { n });
        padded.iter().product::<f64>() * self.per_node(nodes[2] > 1.0) + self.answers(nodes)
    }

    /// Of a node, on as many threads as are there.
    fn per_node(&self, is_volume: bool) -> f64 {
        let threads = rayon::current_num_threads();
        let (systems, drives) = (2 * self.states, self.drives);
        let levels = match is_volume {
            true => LEVELS_VOLUME,
            false => LEVELS_PLANE,
        };
        // Three links and a diagonal in f32 per level and the ground of the finest; the network they
        // came from; the potentials of every drive.
        let system = 16.0 * levels + 8.0 + 19.0 + 8.0 * drives;
        // Two vectors of the cycle per level and a residual in f32; four vectors of the iteration, load
        // and potential in f64.
        let solve = 8.0 * levels + 4.0 + 48.0;
        let painted = 24.0 * self.states as f64;
        let kept = match self.settings.keep_potentials {
            true => 8.0 * drives * systems as f64,
            // Those of the state without what roams, where the other starts.
            false if self.roams => 8.0 * drives * 2.0,
            false => 0.0,
        };
        threads.min(systems) as f64 * (system + solve) + painted + kept
    }

    /// Of what is summed over pairs of drives: outer and inner energies and those of every material, of
    /// every system and once more where they are combined; with derivatives sums by cell of axis 0 and by
    /// segment of the others, one part per axis, for half the pairs.
    fn answers(&self, nodes: [f64; 3]) -> f64 {
        let (systems, pairs) = (2.0 * self.states as f64, self.drives * self.drives);
        let matrices = 8.0 * pairs * (self.materials + 2.0) * 1.5 * systems;
        let slopes = match self.settings.derivatives {
            true => 4.0 * pairs * systems * (3.0 * nodes.iter().sum::<f64>() + self.materials),
            false => 0.0,
        };
        matrices + slopes
    }
}

/// Whether the system gives so much. The system's own allocator is asked, because that of a program may end it
/// when it is refused.
fn has_room(bytes: usize) -> bool {
    let Ok(layout) = Layout::from_size_align(bytes.max(1), align_of::<f64>()) else {
        return false;
    };
    // SAFETY: the layout has a size; what is given is not touched and given back at once.
    let place = black_box(unsafe { System.alloc(layout) });
    if place.is_null() {
        return false;
    }
    unsafe { System.dealloc(place, layout) };
    true
}

/// Cells between so many nodes per axis.
fn cells(nodes: [f64; 3]) -> u64 {
    nodes.map(|n| (n - 1.0).max(1.0)).iter().product::<f64>() as u64
}
