//! A conductor that is asked about at many places of one case: the case without it is solved once for all.
//!
//! All places share the lines of the grid, because these are drawn for a region and not for a place; so they share
//! the state in which the conductor is absent, its energies and its potentials, which are also where the iteration
//! of the state with it starts: what is far from it is as good as solved.

use super::answer::FieldError;
use super::part::Part;
use super::rounds::problem;
use super::unseen::SEEN_SHARE;
use crate::case::{Case, Solid, Wall};
use crate::grid::{Grid, Region};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// The two systems of a state, from above and from below, with their potentials.
pub(super) type Pair = [Part; 2];

/// Who roams where, and what was solved without it. Clones share what was solved.
#[derive(Clone, Debug)]
pub struct Roaming {
    /// Name of the conductor; its round solids draw no lines of their own across the region.
    pub conductor: String,
    /// Where it may stand; none where it does not roam and a place has a grid of its own.
    pub region: Option<Region>,
    /// Conductors whose potential where it stands is below this share of the largest of any are bounded, not solved.
    pub seen_share: f64,
    absent: Arc<Absent>,
}

impl Roaming {
    /// A conductor that roams nowhere yet, for whose absence so many bytes of potentials may be kept.
    pub fn new(conductor: &str, bytes: u64) -> Self {
        Self {
            conductor: conductor.to_owned(),
            region: None,
            seen_share: SEEN_SHARE,
            absent: Arc::new(Absent {
                bytes: usize::try_from(bytes).unwrap_or(usize::MAX),
                states: Mutex::default(),
            }),
        }
    }

    /// The same over a region, sharing what was solved.
    #[must_use]
    pub fn over(&self, region: Region) -> Self {
        Self {
            region: Some(region),
            ..self.clone()
        }
    }

    /// The span of the conductors on a grid as if this one stood everywhere in its region: the same for all places.
    pub(super) fn widen_span(&self, case: &Case, span_m: &mut [[f64; 2]; 3]) {
        let Some(region) = self.region else { return };
        let own = case.conductors.iter().filter(|c| c.name == self.conductor);
        for solid in own.flat_map(|c| &c.solids) {
            let Solid::Round(body) = solid else { continue };
            // The region goes as far as the contact does.
            let beyond = (body.dome_radius_m - body.contact_radius_m).max(0.0);
            for axis in (0..2).filter(|&axis| case.walls[axis] == [Wall::Open; 2]) {
                let [low, high] = &mut span_m[axis];
                *low = low.min(region.low_m[axis] - beyond);
                *high = high.max(region.high_m[axis] + beyond);
            }
        }
    }

    /// The case without the conductor on the lines of a grid that has it: as it was solved before, or as `solve`
    /// does once it is painted. `asked` are the driven conductors, whether derivatives are wanted, and which
    /// conductors are apart.
    ///
    /// Two threads may solve the same at once: waiting for each other inside of shared work could be forever.
    pub(super) fn absent(
        &self,
        case: &Case,
        with: &Grid,
        asked: (&[String], (bool, &[bool])),
        solve: impl FnOnce(&Grid) -> Result<Pair, FieldError>,
    ) -> Result<Arc<Pair>, FieldError> {
        let nodes = with.axes.each_ref().map(|axis| &axis.nodes_m);
        let span = with.open_span_m;
        let text = format!(
            "{} {nodes:?} {span:?} {asked:?}",
            problem(&without_places(case))
        );
        if let Some(known) = self.absent.known(&text) {
            return Ok(known);
        }
        let mut grid = Grid::paint_until(with.stop, case, with.axes.clone());
        grid.open_span_m = span;
        let solved = Arc::new(solve(&grid)?);
        self.absent.keep(text, &solved);
        Ok(solved)
    }
}

/// The case in which dielectrics without extent, which came with the conductor, have no place either.
fn without_places(case: &Case) -> Case {
    let mut case = case.clone();
    for dielectric in &mut case.dielectrics {
        let extent = &mut dielectric.extent;
        if dielectric.comes_with.is_some() && extent.low_m == extent.high_m {
            (extent.low_m, extent.high_m) = ([0.0; 3], [0.0; 3]);
        }
    }
    case
}

impl PartialEq for Roaming {
    fn eq(&self, other: &Self) -> bool {
        self.conductor == other.conductor
            && self.region == other.region
            && self.seen_share == other.seen_share
    }
}

/// States without the conductor, the last used last.
#[derive(Default)]
struct Absent {
    /// Largest size of their potentials.
    bytes: usize,
    states: Mutex<VecDeque<(String, Arc<Pair>)>>,
}

impl std::fmt::Debug for Absent {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Absent")
    }
}

impl Absent {
    fn known(&self, text: &str) -> Option<Arc<Pair>> {
        let mut states = self.states.lock().unwrap_or_else(PoisonError::into_inner);
        let at = states.iter().position(|(known, _)| known == text)?;
        let used = states.remove(at)?;
        let pair = Arc::clone(&used.1);
        states.push_back(used);
        Some(pair)
    }

    /// Keeps one more, and lets those go for it that were not used for longest.
    fn keep(&self, text: String, pair: &Arc<Pair>) {
        let size = |pair: &Pair| {
            let potentials = pair.iter().flat_map(|part| &part.potentials);
            8 * potentials.map(Vec::len).sum::<usize>()
        };
        let mut states = self.states.lock().unwrap_or_else(PoisonError::into_inner);
        if states.iter().any(|(known, _)| *known == text) {
            return;
        }
        states.push_back((text, Arc::clone(pair)));
        let mut held: usize = states.iter().map(|(_, pair)| size(pair)).sum();
        while held > self.bytes
            && let Some((_, oldest)) = states.pop_front()
        {
            held -= size(&oldest);
        }
    }
}
