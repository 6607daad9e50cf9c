//! Four energies to one value with its error bars.
//!
//! As symmetric matrices K <= L <= C <= Q <= N. The reported value is (Q + L)/3 + (N + K)/6: at
//! sheet edges N acts as an electrode too wide by a quarter of the cell diagonal and K as one
//! exactly as much too narrow, so the leading errors cancel. The estimated error is
//! |(N + K)/2 - (Q + L)/2| + 0.05 |N - K|/2, evaluated on the very quantity that is printed. Where the bracket Q - L
//! is wide the grid does not yet resolve what counts and differences of energies say less: there it grows with it.

use super::answer::Bounded;
use ndarray::Array2;

/// Share of half the distance N - K in the estimated error.
const SPREAD_SHARE: f64 = 0.05;
/// Round outlines keep N and K first-order apart long after their mean is right: share of the
/// above that still covers the true error of the round reference records.
const SHAPED_SHARE: f64 = 1.0 / 3.0;
/// Half the bracket of a diagonal over its value from which on its energies are trusted less, and how fast errors of a
/// state and of a difference from it grow with it beyond. Measured on the shipped scenarios at 4 and 10 % against 1 %,
/// where brackets are at most 0.06: without this toothed sliders are off by 21 and 35 % at fineness 0.7 and 0.35, three
/// times their bars, and shifts by up to 1.2 times theirs (`tests/accuracy.rs` holds three finenesses against finer ones).
const WIDE_BRACKET: f64 = 0.06;
const WIDE_GROWTH: f64 = 6.5;
const WIDE_DIFFERENCE_GROWTH: f64 = 10.0;
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

    /// Estimated error of [`Self::value`] of a difference of states; `shaped`: there are outlines off the grid.
    pub fn estimated_error(&self, shaped: bool) -> Array2<f64> {
        let [apart, spread] = self.error_parts();
        let factor = error_factor(shaped);
        // Where both schemes are exact, between coaxial cylinders say, rounding is what is left.
        let rounding = self.value().mapv(|v| ROUNDING * v.abs());
        (apart.mapv(f64::abs) + spread.mapv(f64::abs)) * factor + rounding
    }

    /// The same of the energies of a state, whose brackets are known.
    pub fn state_error(&self, shaped: bool) -> Array2<f64> {
        grown(self.estimated_error(shaped), &self.growth(WIDE_GROWTH))
    }

    /// The same of a difference from this state.
    pub fn difference_error(&self, difference: &Self, shaped: bool) -> Array2<f64> {
        let growth = self.growth(WIDE_DIFFERENCE_GROWTH);
        grown(difference.estimated_error(shaped), &growth)
    }

    /// By how much errors are larger than the energies tell, by row.
    fn growth(&self, speed: f64) -> Vec<f64> {
        let both = self.trilinear.diag().into_iter().zip(self.flux.diag());
        let shares = both.map(|(above, below)| ((above - below) / (above + below)).max(0.0));
        shares
            .map(|share| 1.0 + speed * (share - WIDE_BRACKET).max(0.0))
            .collect()
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
            estimated_error: self.state_error(shape > 0.0) + &shape_term,
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

/// Errors of entries, larger by the mean of what their rows and columns grow by.
fn grown(mut error: Array2<f64>, growth: &[f64]) -> Array2<f64> {
    for ((i, j), error) in error.indexed_iter_mut() {
        *error *= (growth[i] * growth[j]).sqrt();
    }
    error
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
