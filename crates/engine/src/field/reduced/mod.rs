//! Certified reduced models: one field problem for every design of a study, in a tenth of a millisecond each.
//!
//! Takes a reference case, designs of its chamber to solve and designs that tell how energies depend on them; gives a
//! [`ReducedModel`], which answers for any case of the chamber with the bounds of a direct answer and an error bar that
//! holds what reduction adds. Fails where a case is none of the chamber ([`Outside`]) or a solve does.
//!
//! On one grid, stretched, any combination of the designs' node potentials is admissible for every design, and so is any
//! combination of their fluxes: energies of either bound the true one from above and from below, whatever the coefficients are
//! (Dirichlet's and Thomson's principles), and those that Galerkin's method gives are best. What reduction leaves is estimated
//! by what half of the designs would have given.

mod chamber;
mod factors;
mod flux_space;
mod gram;
mod model;
mod node_space;
mod state;

pub use chamber::{Chamber, Outside};
pub use model::{Extent, ReducedModel, ReducedSettings, Scratch};

/// Why there is no reduced model, or no answer of it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReducedError {
    /// A case that no model of this chamber answers for.
    #[error(transparent)]
    Outside(Outside),
    /// A linear solver stopped short.
    #[error("a design of the reduced model did not converge")]
    NotConverged,
    /// The energies of a design make no matrix that can be solved.
    #[error("the reduced energies are not definite")]
    NotDefinite,
    /// Somebody asked for the end.
    #[error("interrupted")]
    Interrupted,
}
