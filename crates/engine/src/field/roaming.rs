//! A conductor that is asked about at many places of one case: the case without it is solved once for all.
//!
//! All places share the lines of the grid, because these are drawn for a region and not for a place; so they share
//! the state in which the conductor is absent, its energies and its potentials, which are also where the iteration
//! of the state with it starts: what is far from it is as good as solved.

use super::answer::FieldError;
use super::part::Part;
use super::rounds::problem;
use crate::case::Case;
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
    absent: Arc<Absent>,
}

impl Roaming {
    /// A conductor that roams nowhere yet, for whose absence so many bytes of potentials may be kept.
    pub fn new(conductor: &str, bytes: u64) -> Self {
        Self {
            conductor: conductor.to_owned(),
            region: None,
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
        let text = format!("{} {nodes:?} {span:?} {asked:?}", problem(case));
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

impl PartialEq for Roaming {
    fn eq(&self, other: &Self) -> bool {
        self.conductor == other.conductor && self.region == other.region
    }
}

/// States without the conductor, the newest last.
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
        let states = self.states.lock().unwrap_or_else(PoisonError::into_inner);
        let mut same = states.iter().filter(|(known, _)| known == text);
        same.next().map(|(_, pair)| Arc::clone(pair))
    }

    /// Keeps one more, and lets the oldest go for it.
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
