//! What the field engine is asked and what it answers.

use super::judge::{Judge, Printed};
use super::roaming::Roaming;
use super::rounds::Keeper;
use crate::case::Case;
use crate::stop::Stop;
use crate::units::{memory_beside, memory_words};
use ndarray::Array2;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// How to solve.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Wanted estimated error of every diagonal and every diagonal shift, relative (0.0025 = 0.25 %); round and
    /// slanted outlines left out.
    pub accuracy: f64,
    /// Who says how well an answer does with what is printed of it; none: the entries decide.
    pub judge: Option<Judge>,
    /// What printed quantities are judged by where that is not `accuracy`, as where a difference needs finer
    /// grids than each of its sides.
    pub printed_accuracy: Option<f64>,
    /// Largest memory the solver may ask for \[bytes\].
    pub memory_cap_bytes: u64,
    /// Grid fineness M to start with; none: chosen from the kind of case.
    pub start_fineness: Option<f64>,
    /// Whether mirror planes are looked for and used.
    pub use_symmetry: bool,
    /// Names of the conductors that get a matrix row; none: all. The others are held at 0 V.
    pub drive: Option<Vec<String>>,
    /// Names of driven conductors that are never asked about together: while one is measured the others stand at 0 V, so
    /// that their couplings among each other do not matter. These are taken from charges and known less well, have no
    /// derivatives, and [`Bounded::guaranteed_below`] and [`Bounded::guaranteed_above`] hold for what is left when all of
    /// them but one are held at 0 V.
    pub apart: Vec<String>,
    /// Also give the derivatives to permittivities and segment lengths.
    pub derivatives: bool,
    /// A case whose grid is stretched to this one wherever both have the same lines, so that answers
    /// vary smoothly from one member of a family to the next; none: the case gets its own grid.
    pub family: Option<Arc<Case>>,
    /// What comes and goes at one of many places, so that the state without it is solved once for all; none: it has
    /// a grid of its own, as with a first guess or kept potentials. Its outlines then lie between the lines of the
    /// grid, so that no derivative to a segment holds a movement of theirs along the first two axes.
    pub roaming: Option<Roaming>,
    /// Potentials to start the iteration from; used where grid and drives are the same in number.
    pub first_guess: Option<Arc<Potentials>>,
    /// Whether the answer keeps its potentials, as a first guess for the next case.
    pub keep_potentials: bool,
    /// Who keeps the answers of rounds, so that none is solved twice.
    pub keeper: Option<Keeper>,
    /// Whether only kept rounds count: what is not kept ends as if somebody had asked for it.
    pub only_kept: bool,
    /// Most rounds, each on a finer grid, before it is left to the one who asks how to go on
    /// ([`FieldError::Unfinished`]); none: as many as it takes.
    pub rounds: Option<usize>,
    /// Who may ask for an end in the middle of a solve.
    pub stop: Stop,
}

/// Potentials of every system of an answer, in whatever order the engine keeps them.
#[derive(Clone, Debug, PartialEq)]
pub struct Potentials {
    /// Cells along each axis.
    pub(super) shape: Vec<usize>,
    /// System by system and drive by drive, one value per unknown of the network.
    pub(super) systems: Vec<Vec<Vec<f64>>>,
}

impl Potentials {
    /// Potentials of the network from above at the nodes of the grid, axis 0 fastest, for the drive of that
    /// number at 1; with the conductor that comes and goes, or without it. None when that was not solved.
    ///
    /// The nodes are those of the whole case only when no mirror planes were used.
    pub fn at_nodes(&self, is_present: bool, drive: usize) -> Option<&[f64]> {
        // From above and from below, first with, then without the conductor.
        let system = if is_present { 0 } else { 2 };
        self.systems.get(system)?.get(drive).map(Vec::as_slice)
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            accuracy: 0.0025,
            judge: None,
            printed_accuracy: None,
            memory_cap_bytes: 8 << 30,
            start_fineness: None,
            use_symmetry: true,
            drive: None,
            apart: Vec::new(),
            derivatives: false,
            family: None,
            roaming: None,
            first_guess: None,
            keep_potentials: false,
            keeper: None,
            only_kept: false,
            rounds: None,
            stop: Stop::NEVER,
        }
    }
}

impl Settings {
    /// What roams, where that can be made use of while `without` is left out.
    pub(super) fn roaming(&self, without: Option<&str>) -> Option<&Roaming> {
        let is_plain = !self.keep_potentials && self.first_guess.is_none();
        let roaming = self.roaming.as_ref().filter(|_| is_plain)?;
        let is_asked = roaming.region.is_some() && Some(&*roaming.conductor) == without;
        is_asked.then_some(roaming)
    }

    /// Wanted estimated error of what is printed, relative.
    pub fn printed_accuracy(&self) -> f64 {
        self.printed_accuracy.unwrap_or(self.accuracy)
    }
}

/// A symmetric matrix of capacitances with bounds, \[F\] or, for planar cases, \[F/m\].
///
/// Row and column order is that of `conductors`; signs are Maxwell's: diagonals positive,
/// off-diagonals negative or zero.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bounded {
    /// Conductor names, in case order.
    pub conductors: Vec<String>,
    /// Reported value, \[F\] or \[F/m\]: every entry by itself.
    pub value: Array2<f64>,
    /// Lower bound of every entry, \[F\] or \[F/m\]; guaranteed when there are no round shapes.
    pub lower: Array2<f64>,
    /// Upper bound of every entry, \[F\] or \[F/m\]; guaranteed when there are no round shapes.
    pub upper: Array2<f64>,
    /// Estimated error of every entry of the reported value, \[F\] or \[F/m\].
    pub estimated_error: Array2<f64>,
    /// Entries for what one pin sees, whatever the others do; their diagonal is that of `value`.
    pub at_pin: Consistent,
    /// Entries for what changes between two states; what is beside the diagonal is that of `value`.
    pub in_shifts: Consistent,
    /// Part of the bounds that stands for round or slanted outlines, \[F\] or \[F/m\]; zero without them.
    pub shape_term: Array2<f64>,
    /// Matrix that lies below the true one: true minus this is positive semi-definite, \[F\] or \[F/m\].
    ///
    /// The flux bound L of the ordering K <= L <= C <= Q <= N, shape term not subtracted. Eliminating
    /// floating conductors keeps the ordering, so bounds on derived quantities start here.
    pub guaranteed_below: Array2<f64>,
    /// Matrix that lies above the true one: this minus true is positive semi-definite, \[F\] or \[F/m\].
    ///
    /// The trilinear energy Q of the same ordering, shape term not added.
    pub guaranteed_above: Array2<f64>,
    /// Share of the field energy of each diagonal in each dielectric: `[conductor][dielectric]`,
    /// equal to d ln C / d ln permittivity; the last column is the background. Rows sum to 1.
    pub energy_share: Array2<f64>,
}

/// Entries that are all made of the energies in the same way, so that what they err by cancels where they are subtracted
/// from each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Consistent {
    /// The entries, \[F\] or \[F/m\].
    pub value: Array2<f64>,
    /// Estimated error of each, \[F\] or \[F/m\].
    pub estimated_error: Array2<f64>,
    /// The shares of two differences of energies that it is made of, with their signs, \[F\] or \[F/m\]. What is
    /// derived from several entries has the error that they make of it together: entries of one energy err together,
    /// and much of it cancels.
    pub error_parts: [Array2<f64>; 2],
}

impl Bounded {
    /// Takes up errors of entries that were bounded in another way.
    pub(super) fn widen(&mut self, error: &Array2<f64>) {
        self.estimated_error += error;
        self.at_pin.estimated_error += error;
        self.in_shifts.estimated_error += error;
        self.lower -= error;
        self.upper += error;
    }

    /// Moves the matrices that bound it, and with them the bounds, apart by so much of its diagonals.
    pub(super) fn loosen(&mut self, share: f64) {
        let by = self.value.diag().mapv(|value| share * value.abs());
        for (i, by) in by.iter().enumerate() {
            let at = [i, i];
            self.guaranteed_below[at] -= by;
            self.guaranteed_above[at] += by;
            self.lower[at] -= by;
            self.upper[at] += by;
        }
    }

    /// Moves its values by so much of a rate; bounds and errors stay.
    pub fn move_by(&mut self, by: f64, rate: &Array2<f64>) {
        for value in [
            &mut self.value,
            &mut self.at_pin.value,
            &mut self.in_shifts.value,
        ] {
            value.scaled_add(by, rate);
        }
    }

    /// The same with the error bars of round and slanted outlines left out.
    #[must_use]
    pub fn without_outlines(&self) -> Self {
        let bare = |entries: &Consistent| Consistent {
            estimated_error: &entries.estimated_error - &self.shape_term,
            ..entries.clone()
        };
        Self {
            estimated_error: &self.estimated_error - &self.shape_term,
            at_pin: bare(&self.at_pin),
            in_shifts: bare(&self.in_shifts),
            shape_term: Array2::zeros(self.shape_term.dim()),
            ..self.clone()
        }
    }
}

/// The matrix without what comes and goes, and what its presence adds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shift {
    /// What is present in one state and absent in the other ([`Case::without`]).
    pub conductor: String,
    /// Matrix of what is left while it is absent.
    pub without: Bounded,
    /// With minus without, entry by entry, rows of `without.conductors`, \[F\] or \[F/m\].
    pub shift: Array2<f64>,
    /// Estimated error of the shift itself, \[F\] or \[F/m\].
    pub estimated_error: Array2<f64>,
    /// Part of it that stands for round or slanted outlines, \[F\] or \[F/m\]; zero without them.
    pub shape_term: Array2<f64>,
}

impl Shift {
    /// The same with the error bars of round and slanted outlines left out.
    #[must_use]
    pub fn without_outlines(&self) -> Self {
        Self {
            without: self.without.without_outlines(),
            estimated_error: &self.estimated_error - &self.shape_term,
            shape_term: Array2::zeros(self.shape_term.dim()),
            ..self.clone()
        }
    }
}

/// Derivatives of a matrix, without further solves; entry by entry, rows as in the matrix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Derivatives {
    /// To each relative permittivity, in the order of the case's dielectrics, the background last,
    /// `F` or `F/m` per 1.
    pub permittivity: Vec<Array2<f64>>,
    /// To the length of each grid segment, axis by axis from the low end.
    pub segments: Vec<SegmentDerivative>,
}

/// Derivative to the length of the stretch between two neighbouring grid lines, everything beyond
/// it moving along.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SegmentDerivative {
    /// Axis: 0, 1 or 2.
    pub axis: usize,
    /// Start of the segment \[m\].
    pub low_m: f64,
    /// End of the segment \[m\]. On an axis with a mirror plane the segment on the high side stands
    /// for both, which stretch together.
    pub high_m: f64,
    /// Derivative of each entry, `F/m` (planar: `F/m` per metre).
    pub derivative: Array2<f64>,
}

/// The grid that was used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GridSummary {
    /// Cells solved for (after symmetry).
    pub cells: usize,
    /// Cells along each axis.
    pub shape: Vec<usize>,
    /// Fineness M.
    pub fineness: f64,
    /// Mirror planes used, by axis name.
    pub mirrors: Vec<String>,
}

/// What the linear solver did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SolverSummary {
    /// Iterations of every system on the last grid.
    pub iterations: Vec<usize>,
    /// Largest relative residual, recomputed at the end.
    pub residual: f64,
    /// Wall-clock time of the whole answer \[s\].
    pub seconds: f64,
    /// Where the time of the last grid went.
    #[serde(skip)]
    pub phases: Phases,
}

/// Time of the systems of a grid by what it was spent on, added up over systems that were worked on side by side. Any two
/// are equal: how long it took makes no other answer.
#[derive(Clone, Copy, Debug, Default)]
pub struct Phases {
    /// Networks and their levels \[s\].
    pub set_up_s: f64,
    /// Iterations of all drives \[s\].
    pub iterations_s: f64,
    /// Energies, with derivatives where these are asked for \[s\].
    pub energies_s: f64,
}

impl PartialEq for Phases {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl std::ops::Add for Phases {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            set_up_s: self.set_up_s + other.set_up_s,
            iterations_s: self.iterations_s + other.iterations_s,
            energies_s: self.energies_s + other.energies_s,
        }
    }
}

/// Accuracy asked for and reached, relative.
///
/// With a [`Judge`] it is about what is printed, without about the entries of the matrices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Accuracy {
    /// Asked.
    pub asked: f64,
    /// Largest relative estimated error.
    pub estimated: f64,
    /// Whether `estimated <= asked`.
    pub reached: bool,
    /// Largest relative estimated error of a diagonal or a diagonal shift, outlines left out: what the grid is
    /// chosen by in any case.
    pub of_entries: f64,
    /// Printed quantities that missed; nothing without a judge.
    #[serde(skip)]
    pub missed: Vec<Printed>,
    /// Whether a finer grid was wanted that the memory cap did not allow.
    #[serde(skip)]
    pub is_short_of_memory: bool,
}

impl Accuracy {
    /// By the entries alone, as of a round that nobody has judged.
    pub(super) fn of_entries(estimated: f64, asked: f64) -> Self {
        Self {
            asked,
            estimated,
            reached: estimated <= asked,
            of_entries: estimated,
            missed: Vec::new(),
            is_short_of_memory: false,
        }
    }
}

/// Complete answer for one case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FieldAnswer {
    /// Matrix of all driven conductors.
    pub with: Bounded,
    /// The same without one conductor, when asked.
    pub shift: Option<Shift>,
    /// Derivatives of `with` to the logarithm of each permittivity, entry by entry, in the order of the
    /// case's dielectrics, the background last, \[F\] or \[F/m\]; they cost nothing. Mean of both networks,
    /// so that they add up to the mean of N and K. Divided by that, a diagonal is its
    /// [`Bounded::energy_share`].
    pub by_permittivity: Vec<Array2<f64>>,
    /// The same of the matrix without that conductor; empty without a shift.
    pub by_permittivity_without: Vec<Array2<f64>>,
    /// Derivatives of `with`, when asked.
    pub derivatives: Option<Derivatives>,
    /// Derivatives of the matrix without that conductor, when both are asked.
    pub derivatives_without: Option<Derivatives>,
    /// The grid.
    pub grid: GridSummary,
    /// The solver.
    pub solver: SolverSummary,
    /// Accuracy asked and reached.
    pub accuracy: Accuracy,
    /// Potentials, when they were to be kept.
    #[serde(skip)]
    pub potentials: Option<Arc<Potentials>>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FieldError {
    /// The case is not a field problem that can be solved.
    #[error("{0}")]
    Invalid(String),
    /// The grid would not fit.
    #[error("the grid of at least {} needs at least {}, the memory cap is {}", cells_words(*.cells), memory_beside(*.needed_bytes, *.cap_bytes), memory_words(*.cap_bytes))]
    TooLarge {
        /// Cells it has at least.
        cells: u64,
        /// Needed \[bytes\].
        needed_bytes: u64,
        /// Cap \[bytes\].
        cap_bytes: u64,
    },
    /// It would fit below the cap, but the system has no such room.
    #[error("the grid of {} needs {}, and the system does not give that much; ask for a coarser accuracy", cells_words(*.cells), memory_words(*.needed_bytes))]
    NoMemory {
        /// Its cells.
        cells: u64,
        /// Needed \[bytes\].
        needed_bytes: u64,
    },
    /// The linear solver stopped short; the history holds the relative residual of each iteration.
    #[error("not converged: relative residual {} after {} iterations", .history.last().copied().unwrap_or(1.0), .history.len())]
    NotConverged {
        /// Relative residual of each iteration.
        history: Vec<f64>,
    },
    /// As many rounds as [`Settings::rounds`] allows were too few.
    #[error("unfinished: a finer grid is needed, of fineness {fineness:.3}")]
    Unfinished {
        /// Fineness of the next round.
        fineness: f64,
    },
    /// Left in the middle, because [`Settings::stop`] asked for it.
    #[error("interrupted")]
    Interrupted,
}

impl FieldError {
    /// Whether the grid was too large for the memory.
    pub fn has_no_room(&self) -> bool {
        matches!(self, Self::TooLarge { .. } | Self::NoMemory { .. })
    }
}

/// A number of cells in as many digits as tell how many there are.
fn cells_words(cells: u64) -> String {
    match cells {
        0..10_000 => format!("{cells} cells"),
        10_000..1_000_000 => format!("{} thousand cells", cells / 1000),
        _ => format!("{:.1} million cells", cells as f64 / 1e6),
    }
}
