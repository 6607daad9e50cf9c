//! Preconditioned conjugate gradients in f64.

use super::cycle::{Hierarchy, Workspace};
use super::kernel::{advance, apply, direction, mixed_dot};

/// When to stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stopping {
    /// The last energy step is at most this share of the energy reached: the safe test for
    /// quantities that are energies, whose error is second order.
    Energy {
        /// Share of the energy.
        share: f64,
        /// Energy (twice) with every free node at 0 V, conductance x potential squared.
        start: f64,
    },
    /// The residual in the preconditioner's norm, sqrt(r.z), has fallen by this factor.
    Residual(f64),
}

/// A converged solution.
#[derive(Clone, Debug, PartialEq)]
pub struct Solved {
    /// Iterations taken.
    pub iterations: usize,
    /// Relative residual |b - A x| / |b|, as the iteration has followed it in f64.
    pub residual: f64,
}

/// The iteration stopped short.
#[derive(Clone, Debug, PartialEq)]
pub struct NotConverged {
    /// sqrt(r.z) relative to its first value, one entry per iteration.
    pub history: Vec<f64>,
}

const MAX_ITERATIONS: usize = 200;

/// Solves A x = b on the free nodes of the finest level.
///
/// `b` and `x` have one entry per node; `b` must be 0 on fixed nodes, where `x` stays 0. `x` holds
/// the first guess on entry.
///
/// # Errors
/// [`NotConverged`] after 200 iterations, when the residual is no longer a number, or when the workspace was made
/// with a [`crate::stop::Stop`] that is asked for.
///
/// Source: M. R. Hestenes and E. Stiefel, J. Res. Nat. Bur. Standards 49 (1952) 409.
pub fn solve(
    hierarchy: &Hierarchy,
    work: &mut Workspace,
    b: &[f64],
    x: &mut [f64],
    stopping: Stopping,
) -> Result<Solved, NotConverged> {
    let level = &hierarchy.levels[0];
    let layout = &level.layout;
    let size = sparse_dot(b, b).sqrt();
    if size == 0.0 {
        x.fill(0.0);
        return Ok(Solved {
            iterations: 0,
            residual: 0.0,
        });
    }
    if work.stop.asked() {
        return Err(NotConverged {
            history: Vec::new(),
        });
    }
    let mut vectors = std::mem::take(&mut work.vectors);
    layout.arrange(b, &mut vectors.residual);
    let mut gained = 0.0;
    if x.iter().any(|&v| v != 0.0) {
        layout.arrange(x, &mut vectors.solution);
        let load = sparse_dot(&vectors.residual, &vectors.solution);
        let own = vectors.take_off(hierarchy, work.idle);
        gained = 2.0 * load - own;
    } else {
        vectors.solution.fill(0.0);
    }
    let iterations = iterate(hierarchy, work, &mut vectors, gained, stopping);
    layout.natural(&vectors.solution, x);
    let residual = sparse_dot(&vectors.residual, &vectors.residual).sqrt() / size;
    work.vectors = vectors;
    Ok(Solved {
        iterations: iterations?,
        residual,
    })
}

/// a.b, term by term; passes over the zeros of `a`, which is nearly all there is of a right-hand side.
fn sparse_dot(a: &[f64], b: &[f64]) -> f64 {
    a.chunks(8)
        .zip(b.chunks(8))
        .filter(|(a, _)| a.iter().fold(false, |any, &a| any | (a != 0.0)))
        .flat_map(|(a, b)| a.iter().zip(b))
        .map(|(a, b)| a * b)
        .sum()
}

/// Where the iteration stands, arranged as the finest level is; zero in the gaps.
#[derive(Clone, Debug, Default)]
pub(super) struct Vectors {
    residual: Vec<f64>,
    solution: Vec<f64>,
    direction: Vec<f64>,
    /// A times what it was applied to last.
    applied: Vec<f64>,
    dots: Vec<f64>,
}

impl Vectors {
    /// Zeros of so many entries.
    pub fn new(entries: usize) -> Self {
        let zeros = || vec![0.0; entries];
        Self {
            residual: zeros(),
            solution: zeros(),
            direction: zeros(),
            applied: zeros(),
            dots: Vec::new(),
        }
    }

    /// Takes A x off the residual; gives x A x. `idle` says whether threads are.
    fn take_off(&mut self, hierarchy: &Hierarchy, idle: bool) -> f64 {
        let level = &hierarchy.levels[0];
        let (ground, applied) = (&hierarchy.ground, &mut self.applied);
        let dots = (&mut self.dots, idle);
        let own = apply(level, ground, &self.solution, applied, dots);
        for (r, a) in self.residual.iter_mut().zip(applied) {
            *r -= *a;
        }
        own
    }
}

/// Iterates until `stopping` says that it is enough; gives the number of iterations. `gained` is how far the energy
/// is below that of zero potentials at the start.
fn iterate(
    hierarchy: &Hierarchy,
    work: &mut Workspace,
    vectors: &mut Vectors,
    mut gained: f64,
    stopping: Stopping,
) -> Result<usize, NotConverged> {
    let Vectors {
        residual: r,
        solution,
        direction: p,
        applied: ap,
        dots,
    } = vectors;
    for (single, r) in work.b[0].iter_mut().zip(r.iter()) {
        *single = *r as f32;
    }
    let mut history = Vec::new();
    let mut previous = 0.0;
    let mut first = 0.0;
    let mut iterations = 0;
    loop {
        hierarchy.cycle(work);
        if work.stop.asked() {
            return Err(NotConverged { history });
        }
        let rz = mixed_dot(r, &work.x[0]);
        if iterations == 0 {
            first = rz;
        }
        history.push((rz / first).max(0.0).sqrt());
        if !rz.is_finite() || iterations >= MAX_ITERATIONS {
            return Err(NotConverged { history });
        }
        if let Stopping::Residual(factor) = stopping
            && rz <= first * factor * factor
        {
            return Ok(iterations);
        }
        let beta = if iterations == 0 { 0.0 } else { rz / previous };
        previous = rz;
        direction(beta, &work.x[0], p);
        let (level, ground) = (&hierarchy.levels[0], &hierarchy.ground);
        let curvature = apply(level, ground, p, ap, (&mut *dots, work.idle));
        if curvature <= 0.0 {
            if rz.abs() <= f64::MIN_POSITIVE.max(first * 1e-28) {
                return Ok(iterations);
            }
            return Err(NotConverged { history });
        }
        let step = rz / curvature;
        advance(step, p, ap, solution, r, &mut work.b[0]);
        iterations += 1;
        gained += step * rz;
        if let Stopping::Energy { share, start } = stopping
            && step * rz <= share * (start - gained).max(0.0)
        {
            return Ok(iterations);
        }
    }
}
