//! Algebra on Maxwell capacitance matrices: from the matrix of all conductors to what one pin sees.
//!
//! Takes matrices in Maxwell's form, charges `q = C v` with positive diagonals and off-diagonals
//! that are negative or zero, \[F\] or, for planar cases, \[F/m\]; gives matrices and numbers of the same
//! unit. Fails only when a conductor that shall float holds no positive capacitance.
//!
//! | state of a conductor | what is done | equation |
//! |---|---|---|
//! | held at 0 V | its row and column are dropped | |
//! | floating | Schur complement | `C'_ij = C_ij - C_ik C_kj / C_kk` |
//! | floating, with `C_x` to 0 V | the same with `C_kk + C_x` | `C'_ij = C_ij - C_ik C_kj / (C_kk + C_x)` |
//! | driven in phase, gain g | its column is added g times | `C'_ii = C_ii + g sum_k C_ik` |
//!
//! Sources: J. C. Maxwell, A Treatise on Electricity and Magnetism, 1873, articles 86 and 87
//! (coefficients of capacity and induction; article numbers from memory); the elimination is the
//! Schur complement of linear algebra (F. Zhang, ed., The Schur Complement and Its Applications,
//! Springer 2005; from memory). For symmetric matrices with `A <= B` (B - A positive semi-definite)
//! the Schur complements keep the order, because `x' S x` is the minimum of `(x, y)' C (x, y)` over
//! the floating potentials y: that carries the guaranteed bounds through the algebra.

mod matrix;
mod measured;

pub use matrix::{
    AlgebraError, charges, drive_in_phase, eliminate_floating, eliminate_with_capacitance, energy,
    hold_at_zero,
};
pub use measured::{
    Bounds, Estimate, Measurement, Role, coupling, load, measure, measure_change, measure_shift,
    weigh,
};
