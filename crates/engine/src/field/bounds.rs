//! Four energies to one value with its error bars.
//!
//! As symmetric matrices K <= L <= C <= Q <= N. The reported value is (Q + L)/3 + (N + K)/6: at
//! sheet edges N acts as an electrode too wide by a quarter of the cell diagonal and K as one
//! exactly as much too narrow, so the leading errors cancel. What is left is estimated from two differences,
//! |(N + K)/2 - (Q + L)/2| and |N - K|/2, on the very quantity that is printed: the narrower the bracket Q - L of
//! the state, the smaller the share of them that the value is off by.

use super::answer::Bounded;
use crate::case::{Case, Solid};
use ndarray::Array2;

/// Share of |(N + K)/2 - (Q + L)/2| in the estimated error: this and so much of half the bracket of a diagonal over its
/// value, at most all of it.
///
/// These numbers and the three below are fitted to 72 random volumes (two pads with and without a plane, a guard and
/// round outlines under a block or a dome) at fineness 0.35 to 2 against fineness 5. Of 2 502 bases, couplings, shifts
/// and neighbour shifts the bars hold 99 %, at every fineness at least 97 %, and are 3.7 times the true error in the
/// median (`crates/engine/tests/estimates.rs` repeats a part of it).
const APART_SHARE: [f64; 2] = [0.35, 2.4];
/// The same for |N - K|/2; no more than its own size.
const SPREAD_SHARE: [f64; 2] = [0.02, 1.05];
/// In differences of states what is small beside the spread of its own energies is known less well than its state: half
/// that spread over the value counts as the bracket, up to this.
const WIDEST_DIFFERENCE: f64 = 0.2;
/// What diagonals of round conductors have of both: their N and K stay apart in first order long after the mean is
/// right. Neighbour shifts have all of it.
const ROUND_DIAGONAL: f64 = 0.5;
/// Relative uncertainty that round outlines add at fineness 1, and slanted ones, whose corners a cell rounds off
/// (`crates/engine/tests/turned.rs`).
const ROUND_SHARE: f64 = 0.001;
const SLANTED_SHARE: f64 = 0.005;
/// Conductances are held in f32: the bounds are widened by a little more than that rounding.
const ROUNDING: f64 = 2e-7;

/// How well the grid resolves a conductor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Resolution {
    /// Half the bracket Q - L of the diagonal over its value.
    bracket: f64,
    /// Share of an error's estimate that counts on the diagonal.
    diagonal: f64,
}

/// The four energy matrices of one state, [F] or [F/m].
#[derive(Clone, Debug)]
pub(crate) struct Energies {
    /// N.
    pub node: Array2<f64>,
    /// Q.
    pub trilinear: Array2<f64>,
    /// L.
    pub flux: Array2<f64>,
    /// K.
    pub cell: Array2<f64>,
    /// What an unfinished iteration takes off the diagonal of L.
    pub flux_slack: Vec<f64>,
    /// Energy share of each material, `[drive][material]`.
    pub share: Array2<f64>,
}

impl Energies {
    /// Reported value.
    pub fn value(&self) -> Array2<f64> {
        (&self.trilinear + &self.flux) / 3.0 + (&self.node + &self.cell) / 6.0
    }

    /// How well each row is resolved; `are_round` says which conductors are.
    pub fn resolutions(&self, are_round: &[bool]) -> Vec<Resolution> {
        let both = self.trilinear.diag().into_iter().zip(self.flux.diag());
        both.zip(are_round)
            .map(|((above, below), &is_round)| Resolution {
                bracket: ((above - below) / (above + below)).max(0.0),
                diagonal: if is_round { ROUND_DIAGONAL } else { 1.0 },
            })
            .collect()
    }

    /// Estimated error of [`Self::value`] of a state that is so well resolved.
    pub fn state_error(&self, resolutions: &[Resolution]) -> Array2<f64> {
        let [apart, spread] = self.error_parts(resolutions);
        apart.mapv(f64::abs) + spread.mapv(f64::abs) + self.rounding()
    }

    /// The same of these energies as a difference from a state that is so well resolved.
    pub fn difference_error(&self, resolutions: &[Resolution]) -> Array2<f64> {
        let (value, [apart, spread]) = (self.value(), self.differences());
        let largest = value.diag().iter().fold(0.0_f64, |a, v| a.max(v.abs()));
        let mut error = self.rounding();
        for ((row, column), error) in error.indexed_iter_mut() {
            let at = (row, column);
            let bracket = joint(resolutions, at);
            let own = (0.5 * spread[at] / value[at]).abs().min(WIDEST_DIFFERENCE);
            let parts = share(APART_SHARE, bracket) * apart[at].abs()
                + share(SPREAD_SHARE, bracket.max(own)) * spread[at].abs();
            let less = match row == column && largest > 0.0 {
                true => (1.0 - resolutions[row].diagonal) * value[at].abs() / largest,
                false => 0.0,
            };
            *error += (1.0 - less) * parts;
        }
        error
    }

    /// Where both schemes are exact, between coaxial cylinders say, rounding is what is left.
    fn rounding(&self) -> Array2<f64> {
        self.value().mapv(|value| ROUNDING * value.abs())
    }

    /// What the estimated error of a state is made of, signed: shares of (N + K)/2 - (Q + L)/2 and of (N - K)/2.
    fn error_parts(&self, resolutions: &[Resolution]) -> [Array2<f64>; 2] {
        let mut parts = self.differences();
        for (part, shares) in parts.iter_mut().zip([APART_SHARE, SPREAD_SHARE]) {
            for (at, part) in part.indexed_iter_mut() {
                *part *= share(shares, joint(resolutions, at));
            }
            for (part, row) in part.diag_mut().into_iter().zip(resolutions) {
                *part *= row.diagonal;
            }
        }
        parts
    }

    /// (N + K)/2 - (Q + L)/2 and (N - K)/2.
    fn differences(&self) -> [Array2<f64>; 2] {
        let outer = (&self.node + &self.cell) * 0.5;
        let inner = (&self.trilinear + &self.flux) * 0.5;
        [outer - inner, (&self.node - &self.cell) * 0.5]
    }

    /// Rows and columns `keep` of every matrix.
    pub fn select(&self, keep: &[usize]) -> Self {
        let pick = |m: &Array2<f64>| {
            m.select(ndarray::Axis(0), keep)
                .select(ndarray::Axis(1), keep)
        };
        Self {
            node: pick(&self.node),
            trilinear: pick(&self.trilinear),
            flux: pick(&self.flux),
            cell: pick(&self.cell),
            flux_slack: keep.iter().map(|&k| self.flux_slack[k]).collect(),
            share: self.share.select(ndarray::Axis(0), keep),
        }
    }

    /// This state minus another, matrix by matrix; shares and slack are those of this state.
    pub fn minus(&self, other: &Self) -> Self {
        Self {
            node: &self.node - &other.node,
            trilinear: &self.trilinear - &other.trilinear,
            flux: &self.flux - &other.flux,
            cell: &self.cell - &other.cell,
            flux_slack: self.flux_slack.clone(),
            share: self.share.clone(),
        }
    }

    /// Value, bounds and estimated error by entry. `shape` is the relative uncertainty that
    /// round or slanted outlines add, 0 without them.
    pub fn bounded(
        &self,
        conductors: Vec<String>,
        shape: f64,
        resolutions: &[Resolution],
    ) -> Bounded {
        let n = conductors.len();
        let value = self.value();
        let mut below = self.flux.clone();
        let mut above = self.trilinear.clone();
        for i in 0..n {
            below[[i, i]] -= self.flux_slack[i] + ROUNDING * value[[i, i]];
            above[[i, i]] += ROUNDING * value[[i, i]];
        }
        let shape_term = shape_term(&value, shape);
        let mut lower = value.clone();
        let mut upper = value.clone();
        for i in 0..n {
            for j in 0..n {
                let middle = 0.5 * (below[[i, j]] + above[[i, j]]);
                let gap = |k: usize| (above[[k, k]] - below[[k, k]]).max(0.0);
                let half = 0.5 * (gap(i) * gap(j)).sqrt() + shape_term[[i, j]];
                lower[[i, j]] = middle - half;
                upper[[i, j]] = middle + half;
            }
        }
        Bounded {
            conductors,
            lower,
            upper,
            estimated_error: self.state_error(resolutions) + &shape_term,
            error_parts: self.error_parts(resolutions),
            shape_term,
            value,
            guaranteed_below: below,
            guaranteed_above: above,
            energy_share: self.share.clone(),
        }
    }
}

/// The bracket that counts for an entry of two rows.
fn joint(resolutions: &[Resolution], (row, column): (usize, usize)) -> f64 {
    (resolutions[row].bracket * resolutions[column].bracket).sqrt()
}

/// A share that grows with a bracket.
fn share([least, growth]: [f64; 2], bracket: f64) -> f64 {
    (least + growth * bracket).min(1.0)
}

/// Relative uncertainty that the outlines of a case add at fineness 1; 0 where all follow the grid.
pub(super) fn outline_share(case: &Case) -> f64 {
    let solids = case.conductors.iter().flat_map(|c| &c.solids);
    let shares = solids.map(|solid| match solid {
        Solid::Block(_) => 0.0,
        Solid::Round(_) => ROUND_SHARE,
        Solid::Prism(_) => SLANTED_SHARE,
    });
    shares.fold(0.0, f64::max)
}

/// What outlines off the grid add to the error of each entry: a share of the entry itself and a
/// tenth of that of the diagonals it belongs to.
pub(crate) fn shape_term(value: &Array2<f64>, shape: f64) -> Array2<f64> {
    Array2::from_shape_fn(value.dim(), |(i, j)| {
        let diagonals = (value[[i, i]] * value[[j, j]]).abs().sqrt();
        shape * value[[i, j]].abs().max(0.1 * diagonals)
    })
}
