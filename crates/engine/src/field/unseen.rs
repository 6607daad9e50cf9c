//! Conductors that what roams does not see: bounded, not solved.
//!
//! A body at 0 V that comes to a place changes C_ij by the integral over its surface of potential i without it times
//! charge j with it, both of one sign (Green's reciprocity): so by no less than 0 and no more than the largest
//! potential i there times what the body couples to j. Where that potential is small the middle of the two stands
//! for the change and half the way between them for its error; what the body couples to i is the charge on i while
//! the body is driven, which is solved. Dielectrics that come with the body, as a glove does, are left out of the potential:
//! there the bound is an estimate.

use super::derivatives::Slopes;
use super::pairs::total;
use super::part::Part;
use crate::grid::{Grid, unflatten};
use ndarray::Array2;

/// A conductor is seen where its potential at the body is at least this share of the largest of any, at fineness
/// 1 and below; beyond, the share falls with the square of the fineness, as the other errors do. Changes go with its
/// square.
pub(super) const SEEN_SHARE: f64 = 0.05;

/// Which rows are solved, and what is known of the others.
pub(super) struct Unseen {
    /// Largest potential at the body, by row; of rows without the body only.
    reach: Vec<f64>,
    /// Rows that are solved.
    pub seen: Vec<usize>,
    /// Rows that are bounded.
    pub rows: Vec<usize>,
    /// Row of the body among all and among the seen.
    body: [usize; 2],
    /// Row of the state without the body, by row.
    absent: Vec<Option<usize>>,
}

impl Unseen {
    /// Of a body marked so on the grid, whose row is `body` among `count`; `rows` are those of the state without it
    /// and `potentials` theirs, from above. `share` says from where on a row is seen, at fineness 1.
    pub fn of(
        grid: &Grid,
        mark: u16,
        [body, count]: [usize; 2],
        rows: &[usize],
        potentials: &[Vec<f64>],
        (share, fineness): (f64, f64),
    ) -> Self {
        let near = near_nodes(grid, mark);
        let mut reach = vec![f64::INFINITY; count];
        let mut absent = vec![None; count];
        for (number, (&row, potential)) in rows.iter().zip(potentials).enumerate() {
            absent[row] = Some(number);
            let there = near.iter().map(|&node| potential[node].abs());
            reach[row] = there.fold(0.0, f64::max);
        }
        let largest = rows.iter().map(|&row| reach[row]).fold(0.0, f64::max);
        let least = share / fineness.max(1.0).powi(2) * largest;
        let (seen, unseen): (Vec<usize>, Vec<usize>) =
            (0..count).partition(|&row| reach[row] >= least);
        let among_seen = seen.iter().position(|&row| row == body);
        Self {
            reach,
            body: [body, among_seen.unwrap_or(0)],
            seen,
            rows: unseen,
            absent,
        }
    }

    /// Place of the body among the seen rows.
    pub fn body_among_seen(&self) -> usize {
        self.body[1]
    }

    /// What was solved of a system for the seen rows, with what the state without the body and the charges of the
    /// body's own drive tell of the others.
    pub fn complete(&self, part: Part, absent: &Part) -> Part {
        if self.rows.is_empty() {
            return part;
        }
        let coupled = self.coupled(&part);
        let outer = self.filled(&part.outer, &absent.outer, &|i, j| {
            self.change(&coupled, i, j)
        });
        let inner = self.filled(&part.inner, &absent.inner, &|i, j| {
            self.change(&coupled, i, j)
        });
        let both = part.material.iter().zip(&absent.material);
        let mut material: Vec<Array2<f64>> = both
            .map(|(own, absent)| self.filled(own, absent, &|_, _| 0.0))
            .collect();
        // What is not told apart by material is given to the background.
        let sum = total(&material);
        if let Some(background) = material.last_mut() {
            *background += &(&outer - &sum);
        }
        let slopes = part.slopes.as_ref().zip(absent.slopes.as_ref());
        let slopes = slopes.map(|(own, absent)| self.filled_slopes(own, absent));
        let slack = |row: usize| match self.seen.iter().position(|&seen| seen == row) {
            Some(at) => part.slack[at],
            None => self.absent[row].map_or(0.0, |at| absent.slack[at]),
        };
        Part {
            slack: (0..self.reach.len()).map(slack).collect(),
            outer,
            inner,
            material,
            slopes,
            ..part
        }
    }

    /// Error of every entry that was bounded, of the mean of two completed systems.
    pub fn error(&self, [above, below]: [&Part; 2]) -> Array2<f64> {
        let [body, _] = self.body;
        let coupled: Vec<f64> = (0..self.reach.len())
            .map(|row| above.outer[[body, row]].abs())
            .collect();
        Array2::from_shape_fn(above.outer.dim(), |(i, j)| {
            let is_bounded = self.rows.contains(&i) || self.rows.contains(&j);
            match is_bounded {
                false => 0.0,
                true if i == body || j == body => {
                    0.5 * (above.outer[[i, j]] - below.outer[[i, j]]).abs()
                }
                true => self.change(&coupled, i, j),
            }
        })
    }

    /// What the body couples to every row.
    fn coupled(&self, part: &Part) -> Vec<f64> {
        let mut coupled = vec![0.0; self.reach.len()];
        for (at, &row) in self.seen.iter().enumerate() {
            coupled[row] = part.outer[[self.body[1], at]].abs();
        }
        for (&row, charge) in self.rows.iter().zip(&part.charges) {
            coupled[row] = charge.abs();
        }
        coupled
    }

    /// Half of the largest change of an entry; minus what the body couples, for its own row.
    fn change(&self, coupled: &[f64], i: usize, j: usize) -> f64 {
        match self.body[0] {
            body if i == body => -coupled[j],
            body if j == body => -coupled[i],
            _ => 0.5 * (self.reach[i] * coupled[j]).min(self.reach[j] * coupled[i]),
        }
    }

    /// A matrix of all rows: solved, or that without the body and a change.
    fn filled(
        &self,
        own: &Array2<f64>,
        absent: &Array2<f64>,
        change: &dyn Fn(usize, usize) -> f64,
    ) -> Array2<f64> {
        let count = self.reach.len();
        let place = |row: usize| self.seen.iter().position(|&seen| seen == row);
        let places: Vec<Option<usize>> = (0..count).map(place).collect();
        Array2::from_shape_fn((count, count), |(i, j)| match (places[i], places[j]) {
            (Some(i), Some(j)) => own[[i, j]],
            _ => match (self.absent[i], self.absent[j]) {
                (Some(a), Some(b)) => absent[[a, b]] + change(i, j),
                _ => change(i, j),
            },
        })
    }

    fn filled_slopes(&self, own: &Slopes, absent: &Slopes) -> Slopes {
        let all = |own: &[Array2<f64>], absent: &[Array2<f64>]| {
            let both = own.iter().zip(absent);
            both.map(|(own, absent)| self.filled(own, absent, &|_, _| 0.0))
                .collect::<Vec<_>>()
        };
        Slopes {
            segments: [0, 1, 2].map(|axis| all(&own.segments[axis], &absent.segments[axis])),
            permittivity: all(&own.permittivity, &absent.permittivity),
        }
    }
}

/// Nodes of a conductor and those beside them: its surface lies between the two.
fn near_nodes(grid: &Grid, mark: u16) -> Vec<usize> {
    let dims = grid.node_dims();
    let strides = [1, dims[0], dims[0] * dims[1]];
    let mut near = Vec::new();
    for node in 0..grid.node_conductor.len() {
        if grid.node_conductor[node] != mark {
            continue;
        }
        near.push(node);
        let index = unflatten(node, dims);
        for axis in 0..3 {
            if index[axis] > 0 {
                near.push(node - strides[axis]);
            }
            if index[axis] + 1 < dims[axis] {
                near.push(node + strides[axis]);
            }
        }
    }
    near
}
