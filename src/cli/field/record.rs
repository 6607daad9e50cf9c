//! A capacitance matrix for machines: pF/m (planar) or pF.

use super::{guaranteed, pico, unit_word};
use crate::accuracy::MissedRecord;
use crate::record::{all, record};
use ndarray::Array2;
use padfield_engine::case::Case;
use padfield_engine::case_record::kind_word;
use padfield_engine::field::{Bounded, FieldAnswer, Shift};

/// Row by row.
type Matrix = Vec<Vec<f64>>;

record! {
    /// The capacitance matrix of a case, Maxwell signs.
    pub struct FieldRecord(case: &Case, answer: &FieldAnswer) {
        /// Name of the case.
        case: String = case.id.clone(),
        /// Its kind: the dimensions and symmetry of the field.
        kind: &'static str = kind_word(case.kind),
        /// Unit of every capacitance: `pF/m` or `pF`.
        unit: &'static str = unit_word(case.kind),
        /// The matrix between its bounds.
        #[serde(flatten)]
        bounded: BoundedRecord = BoundedRecord::of(&answer.with),
        /// Estimated numerical error of the matrix.
        estimated_error: Matrix = rows(&answer.with.estimated_error),
        /// By how much the bounds are widened for round or slanted outlines.
        shape_term: Matrix = rows(&answer.with.shape_term),
        /// Whether the bounds hold mathematically; with round or slanted outlines they hold by measurement only.
        guaranteed: bool = guaranteed(case),
        /// The grid.
        grid: GridRecord = GridRecord::of(answer),
        /// The solver.
        solver: SolverRecord = SolverRecord::of(answer),
        /// How exact it is.
        accuracy: ReachedRecord = ReachedRecord::of(answer),
        /// The same without a conductor, with `--without`.
        #[serde(skip_serializing_if = "Option::is_none")]
        without: Option<WithoutRecord> = answer.shift.as_ref().map(WithoutRecord::of),
    }

    /// A matrix between its bounds.
    pub struct BoundedRecord(bounded: &Bounded) {
        /// Conductors in the order of rows and columns.
        conductors: Vec<String> = bounded.conductors.clone(),
        /// The matrix.
        matrix: Matrix = rows(&bounded.value),
        /// Its lower bound.
        lower: Matrix = rows(&bounded.lower),
        /// Its upper bound.
        upper: Matrix = rows(&bounded.upper),
    }

    /// The grid.
    pub struct GridRecord(answer: &FieldAnswer) {
        /// Its cells.
        cells: usize = answer.grid.cells,
        /// Its cells along every axis.
        shape: Vec<usize> = answer.grid.shape.clone(),
        /// Its fineness.
        fineness: f64 = answer.grid.fineness,
        /// Axes across which a mirror plane was used.
        mirrors: Vec<String> = answer.grid.mirrors.iter().map(ToString::to_string).collect(),
    }

    /// The solver.
    pub struct SolverRecord(answer: &FieldAnswer) {
        /// Iterations of every system.
        iterations: Vec<usize> = answer.solver.iterations.clone(),
        /// Largest relative residual.
        residual: f64 = answer.solver.residual,
        /// Wall-clock time, s.
        seconds: f64 = answer.solver.seconds,
    }

    /// How exact a matrix is.
    pub struct ReachedRecord(answer: &FieldAnswer) {
        /// Relative accuracy asked for.
        asked: f64 = answer.accuracy.asked,
        /// Largest estimated relative error of what it is asked of.
        estimated: f64 = answer.accuracy.estimated,
        /// Whether every one of them has it.
        reached: bool = answer.accuracy.reached,
        /// Those that have not.
        missed: Vec<MissedRecord> = all(&answer.accuracy.missed, MissedRecord::of),
    }

    /// The case without a conductor, on the same grid.
    pub struct WithoutRecord(shift: &Shift) {
        /// The conductor that is left out.
        conductor: String = shift.conductor.clone(),
        /// The matrix between its bounds.
        #[serde(flatten)]
        bounded: BoundedRecord = BoundedRecord::of(&shift.without),
        /// The matrix with it minus the one without.
        shift: Matrix = rows(&shift.shift),
        /// Estimated numerical error of the shift.
        estimated_error: Matrix = rows(&shift.estimated_error),
    }
}

fn rows(matrix: &Array2<f64>) -> Matrix {
    let rows = matrix.rows().into_iter();
    rows.map(|row| row.iter().map(|&value| pico(value)).collect())
        .collect()
}
