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
        /// Energy (twice) of the first guess, conductance x potential squared.
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
    /// Relative residual |b - A x| / |b|, recomputed from the solution.
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
/// [`NotConverged`] after 200 iterations or when the residual is no longer a number.
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
    let (pad, n) = (level.pad, level.len());
    let padded = |v: &[f64]| {
        let mut out = vec![0.0; n + 2 * pad];
        out[pad..pad + n].copy_from_slice(v);
        out
    };
    let mut solution = padded(x);
    let mut r = padded(b);
    let mut ap = vec![0.0; n + 2 * pad];
    let mut p = vec![0.0; n + 2 * pad];
    let mut dots = Vec::with_capacity(level.dims[1] * level.dims[2]);
    let norm = |v: &[f64]| v.iter().map(|a| a * a).sum::<f64>().sqrt();
    let size = norm(b);
    if size == 0.0 {
        x.fill(0.0);
        return Ok(Solved {
            iterations: 0,
            residual: 0.0,
        });
    }
    if x.iter().any(|&v| v != 0.0) {
        apply(level, &hierarchy.ground, &solution, &mut ap, &mut dots);
        for i in pad..pad + n {
            r[i] -= ap[i];
        }
    }
    for i in 0..n + 2 * pad {
        work.b[0][i] = r[i] as f32;
    }
    let mut history = Vec::new();
    let mut previous = 0.0;
    let mut first = 0.0;
    let mut iterations = 0;
    let mut gained = 0.0;
    loop {
        hierarchy.cycle(work);
        let mut rz = 0.0;
        mixed_dot(&r, &work.x[0], &mut rz);
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
            break;
        }
        let beta = if iterations == 0 { 0.0 } else { rz / previous };
        previous = rz;
        direction(beta, &work.x[0], &mut p);
        apply(level, &hierarchy.ground, &p, &mut ap, &mut dots);
        let curvature: f64 = dots.iter().sum();
        if curvature <= 0.0 {
            if rz.abs() <= f64::MIN_POSITIVE.max(first * 1e-28) {
                break;
            }
            return Err(NotConverged { history });
        }
        let step = rz / curvature;
        advance(step, &p, &ap, &mut solution, &mut r, &mut work.b[0]);
        iterations += 1;
        gained += step * rz;
        if let Stopping::Energy { share, start } = stopping
            && step * rz <= share * (start - gained).max(0.0)
        {
            break;
        }
    }
    x.copy_from_slice(&solution[pad..pad + n]);
    apply(level, &hierarchy.ground, &solution, &mut ap, &mut dots);
    let mut residual = 0.0;
    for i in 0..n {
        let value = b[i] - ap[pad + i];
        residual += value * value;
    }
    Ok(Solved {
        iterations,
        residual: residual.sqrt() / size,
    })
}
