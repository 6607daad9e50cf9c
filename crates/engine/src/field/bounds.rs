//! Four energies to one value with its error bars.
//!
//! As symmetric matrices K <= L <= C <= Q <= N. The reported value is a weighted mean of (Q + L)/2 and (N + K)/2: at
//! sheet edges N acts as an electrode too wide by a quarter of the cell diagonal and K as one
//! exactly as much too narrow, so the leading errors cancel. What is left is estimated from two differences,
//! |(N + K)/2 - (Q + L)/2| and |N - K|/2, on the very quantity that is printed: the narrower the bracket Q - L of
//! the state, the smaller the share of them that the value is off by. What a pin sees has other weights than what changes
//! between states; in what is made of several entries errors cancel, so that these are all weighed alike.

use super::answer::{Bounded, Consistent};
use crate::case::{Case, Solid};
use ndarray::Array2;

/// How a value is weighed and how much of two differences of energies it may be off by: a share and so much of half the
/// bracket of a diagonal over its value, at most all of it.
///
/// These numbers and the two below are fitted to 72 random volumes (two pads with and without a plane, a guard and
/// round outlines under a block or a dome) and twelve toothed sliders under a dome at fineness 0.25 to 2 against fineness 3
/// and 5: of their bases, couplings, shifts and neighbour shifts the bars hold at least 97 %, and are three to four times
/// the true error in the median (`crates/engine/tests/estimates.rs` repeats a part of it).
struct Weights {
    /// Share of (Q + L)/2 in the value; the rest is of (N + K)/2.
    inner: f64,
    /// Share of |(N + K)/2 - (Q + L)/2| in the estimated error.
    apart: [f64; 2],
    /// The same for |N - K|/2.
    spread: [f64; 2],
}

/// Of what a pin sees in a state, in a volume. In the plane and around an axis [`OTHER`] is right to the next order, and
/// corners of slanted outlines, which a cell rounds off, are farther off with these.
const AT_PIN: Weights = Weights {
    inner: 0.9,
    apart: [0.4, 3.4],
    spread: [0.012, 0.4],
};
/// Of couplings and of differences between states.
const OTHER: Weights = Weights {
    inner: 2.0 / 3.0,
    apart: [0.35, 3.0],
    spread: [0.025, 1.3],
};
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

/// The rows of a state.
#[derive(Clone, Debug)]
pub(crate) struct Looks {
    /// Whether the case is a volume in which nothing is slanted.
    pub is_apart: bool,
    /// Which conductors are round.
    pub are_round: Vec<bool>,
    /// Which of them are told among each other by charges only, so that K stands for L and N for Q.
    pub apart: Vec<bool>,
}

impl Looks {
    /// Weights of what a pin sees in a state.
    fn of_state(&self) -> &'static Weights {
        if self.is_apart { &AT_PIN } else { &OTHER }
    }

    pub(super) fn is_by_charges(&self, (row, column): (usize, usize)) -> bool {
        row != column && self.apart[row] && self.apart[column]
    }
}

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
    /// Its rows.
    pub(crate) looks: Looks,
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
    /// Reported value of a state, entry by entry.
    pub fn value(&self) -> Array2<f64> {
        let mut value = self.difference();
        value
            .diag_mut()
            .assign(&self.weighed(self.looks.of_state()).diag());
        value
    }

    /// Reported value of these energies as a difference of states.
    pub fn difference(&self) -> Array2<f64> {
        self.weighed(&OTHER)
    }

    fn weighed(&self, weights: &Weights) -> Array2<f64> {
        let [inner, outer] = [weights.inner, 1.0 - weights.inner].map(|share| 0.5 * share);
        (&self.trilinear + &self.flux) * inner + (&self.node + &self.cell) * outer
    }

    /// How well each row is resolved.
    pub fn resolutions(&self) -> Vec<Resolution> {
        let both = self.trilinear.diag().into_iter().zip(self.flux.diag());
        both.zip(&self.looks.are_round)
            .map(|((above, below), &is_round)| Resolution {
                bracket: ((above - below) / (above + below)).max(0.0),
                diagonal: if is_round { ROUND_DIAGONAL } else { 1.0 },
            })
            .collect()
    }

    /// Estimated error of [`Self::value`] of a state that is so well resolved.
    pub fn state_error(&self, resolutions: &[Resolution]) -> Array2<f64> {
        self.error(&self.parts_by([self.looks.of_state(), &OTHER], resolutions))
    }

    /// Values and errors of the diagonals of this state on those of a state whose rows are the same and so well
    /// resolved.
    pub fn diagonals_on(&self, absent: &Self, resolutions: &[Resolution]) -> Vec<[f64; 2]> {
        let change = self.minus(absent);
        let value = absent.value() + change.difference();
        let of_absent = absent.parts_by([absent.looks.of_state(), &OTHER], resolutions);
        let of_change = change.parts_by([&OTHER; 2], resolutions);
        let parts = [0, 1].map(|part| &of_absent[part] + &of_change[part]);
        let error = self.error(&parts);
        let both = value.diag().into_iter().zip(error.diag());
        both.map(|(value, error)| [*value, *error]).collect()
    }

    fn error(&self, [apart, spread]: &[Array2<f64>; 2]) -> Array2<f64> {
        apart.mapv(f64::abs) + spread.mapv(f64::abs) + self.rounding()
    }

    /// Estimated error of [`Self::difference`] from a state that is so well resolved.
    pub fn difference_error(&self, resolutions: &[Resolution]) -> Array2<f64> {
        let (value, [apart, spread]) = (self.difference(), self.differences());
        let largest = value.diag().iter().fold(0.0_f64, |a, v| a.max(v.abs()));
        let mut error = self.rounding();
        for ((row, column), error) in error.indexed_iter_mut() {
            let at = (row, column);
            let bracket = joint(resolutions, at);
            let own = (0.5 * spread[at] / value[at]).abs().min(WIDEST_DIFFERENCE);
            if self.looks.is_by_charges(at) {
                *error += spread[at].abs();
                continue;
            }
            let parts = share(OTHER.apart, bracket) * apart[at].abs()
                + share(OTHER.spread, bracket.max(own)) * spread[at].abs();
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

    /// What the estimated error is made of, signed: shares of (N + K)/2 - (Q + L)/2 and of (N - K)/2, of diagonals and of
    /// other entries.
    fn parts_by(
        &self,
        [of_diagonal, of_others]: [&Weights; 2],
        resolutions: &[Resolution],
    ) -> [Array2<f64>; 2] {
        let [mut apart, mut spread] = self.differences();
        for at in ndarray::indices(apart.dim()) {
            let (weights, own) = match at {
                (row, column) if row == column => (of_diagonal, resolutions[row].diagonal),
                _ if self.looks.is_by_charges(at) => continue,
                _ => (of_others, 1.0),
            };
            let bracket = joint(resolutions, at);
            apart[at] *= own * share(weights.apart, bracket);
            spread[at] *= own * share(weights.spread, bracket);
        }
        [apart, spread]
    }

    /// (N + K)/2 - (Q + L)/2 and (N - K)/2.
    fn differences(&self) -> [Array2<f64>; 2] {
        let outer = (&self.node + &self.cell) * 0.5;
        let inner = (&self.trilinear + &self.flux) * 0.5;
        [outer - inner, (&self.node - &self.cell) * 0.5]
    }

    /// Estimated error that these energies, lost by half a reduction, say of the whole: half of each in its weight.
    pub fn reduction_error(&self) -> Array2<f64> {
        let [inner, outer] = [OTHER.inner, 1.0 - OTHER.inner].map(|share| 0.5 * share);
        let size = |lost: &Array2<f64>| lost.mapv(f64::abs);
        let of_inner = size(&self.trilinear) + size(&self.flux);
        let of_outer = size(&self.node) + size(&self.cell);
        (of_inner * inner + of_outer * outer) * 0.5
    }

    /// Rows and columns `keep` of every matrix.
    pub fn select(&self, keep: &[usize]) -> Self {
        let pick = |m: &Array2<f64>| {
            m.select(ndarray::Axis(0), keep)
                .select(ndarray::Axis(1), keep)
        };
        Self {
            looks: Looks {
                is_apart: self.looks.is_apart,
                are_round: keep.iter().map(|&k| self.looks.are_round[k]).collect(),
                apart: keep.iter().map(|&k| self.looks.apart[k]).collect(),
            },
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
            looks: self.looks.clone(),
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
        let consistent = |weights: &'static Weights| {
            let error_parts = self.parts_by([weights; 2], resolutions);
            Consistent {
                value: self.weighed(weights),
                estimated_error: self.error(&error_parts) + &shape_term,
                error_parts,
            }
        };
        let mut lower = value.clone();
        let mut upper = value.clone();
        for i in 0..n {
            for j in 0..n {
                let middle = 0.5 * (below[[i, j]] + above[[i, j]]);
                let [high, low] = match self.looks.is_by_charges((i, j)) {
                    true => [&self.node, &self.cell],
                    false => [&above, &below],
                };
                let gap = |k: usize| (high[[k, k]] - low[[k, k]]).max(0.0);
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
            at_pin: consistent(self.looks.of_state()),
            in_shifts: consistent(&OTHER),
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
