//! Four energies to one value with its error bars.
//!
//! As symmetric matrices K <= L <= C <= Q <= N. The reported value is (Q + L)/3 + (N + K)/6: at
//! sheet edges N acts as an electrode too wide by a quarter of the cell diagonal and K as one
//! exactly as much too narrow, so the leading errors cancel. The estimated error is
//! |(N + K)/2 - (Q + L)/2| + 0.05 |N - K|/2, evaluated on the very quantity that is printed.

use super::answer::Bounded;
use ndarray::Array2;

/// Share of half the distance N - K in the estimated error.
const SPREAD_SHARE: f64 = 0.05;
/// Round outlines keep N and K first-order apart long after their mean is right: share of the
/// above that still covers the true error of the round reference records.
const SHAPED_SHARE: f64 = 1.0 / 3.0;
/// Conductances are held in f32: the bounds are widened by a little more than that rounding.
const ROUNDING: f64 = 2e-7;

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

    /// Estimated error of [`Self::value`]; `shaped`: there are outlines off the grid.
    pub fn estimated_error(&self, shaped: bool) -> Array2<f64> {
        let [apart, spread] = self.error_parts();
        let factor = error_factor(shaped);
        // Where both schemes are exact, between coaxial cylinders say, rounding is what is left.
        let rounding = self.value().mapv(|v| ROUNDING * v.abs());
        (apart.mapv(f64::abs) + spread.mapv(f64::abs)) * factor + rounding
    }

    /// What the estimated error is made of, signed: (N + K)/2 - (Q + L)/2 and the share of (N - K)/2.
    fn error_parts(&self) -> [Array2<f64>; 2] {
        let outer = (&self.node + &self.cell) * 0.5;
        let inner = (&self.trilinear + &self.flux) * 0.5;
        let spread = (&self.node - &self.cell) * (0.5 * SPREAD_SHARE);
        [outer - inner, spread]
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
    /// round or slanted outlines add; 0 without them.
    pub fn bounded(&self, conductors: Vec<String>, shape: f64) -> Bounded {
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
            estimated_error: self.estimated_error(shape > 0.0) + &shape_term,
            error_parts: self.error_parts(),
            error_factor: error_factor(shape > 0.0),
            shape_term,
            value,
            guaranteed_below: below,
            guaranteed_above: above,
            energy_share: self.share.clone(),
        }
    }
}

fn error_factor(shaped: bool) -> f64 {
    if shaped { SHAPED_SHARE } else { 1.0 }
}

/// What outlines off the grid add to the error of each entry: a share of the entry itself and a
/// tenth of that of the diagonals it belongs to.
pub(crate) fn shape_term(value: &Array2<f64>, shape: f64) -> Array2<f64> {
    Array2::from_shape_fn(value.dim(), |(i, j)| {
        let diagonals = (value[[i, i]] * value[[j, j]]).abs().sqrt();
        shape * value[[i, j]].abs().max(0.1 * diagonals)
    })
}
