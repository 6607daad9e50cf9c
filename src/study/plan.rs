//! The points of a study by number.

use super::variable::Coordinate;
use super::{Combine, MOST_SOBOL_SAMPLES, Sequence, Study};
use rand::rngs::ChaCha8Rng;
use rand::{Rng, SeedableRng};

/// Most points that share a first guess.
const LONGEST_RUN: u64 = 12;

/// Scrambling of the points that a model is made of: any, as long as it stays.
const SPREAD_SEED: u32 = 20;

/// Most variables whose ends are combined.
const MOST_CORNERED: usize = 7;
/// As near to the end of a range as a sample comes.
const LAST_SHARE: f64 = 1.0 - 1e-12;

/// One point: a value for every variable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// Number in the plan, from 0.
    pub index: u64,
    /// One coordinate per variable, in their order.
    pub coordinates: Vec<Coordinate>,
}

/// All points of a study, computed one at a time.
#[derive(Clone, Copy, Debug)]
pub struct Plan<'s> {
    study: &'s Study,
    len: u64,
}

impl<'s> Plan<'s> {
    pub(super) fn new(study: &'s Study) -> Self {
        let lengths = || study.variables.iter().map(|v| v.len().unwrap_or(0));
        let len = match study.combine {
            Combine::All => lengths()
                .try_fold(1_u64, |product, len| product.checked_mul(len))
                .unwrap_or(u64::MAX),
            Combine::SideBySide => lengths().min().unwrap_or(0),
            Combine::Sample { samples, .. } => samples,
        };
        Self { study, len }
    }

    /// Number of points; saturates instead of overflowing.
    pub fn len(&self) -> u64 {
        self.len
    }

    /// Whether there are no points: never for a checked study.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The point number `index`, from 0.
    ///
    /// # Panics
    /// Beyond [`Plan::len`].
    pub fn point(&self, index: u64) -> Point {
        assert!(index < self.len, "point {index} of {}", self.len);
        let variables = &self.study.variables;
        let coordinates = match self.study.combine {
            Combine::All => {
                let mut coordinates = Vec::with_capacity(variables.len());
                let mut below = self.len;
                for variable in variables {
                    let len = variable.len().unwrap_or(1);
                    below /= len;
                    let turns = index / below;
                    let place = turns % len;
                    // Every second pass through this variable runs backwards.
                    let backwards = (turns / len) % 2 == 1;
                    let place = if backwards { len - 1 - place } else { place };
                    coordinates.push(variable.value(place));
                }
                coordinates
            }
            Combine::SideBySide => variables.iter().map(|v| v.value(index)).collect(),
            Combine::Sample { sequence, seed, .. } => {
                let shares = shares(sequence, seed, index, variables.len());
                let pairs = variables.iter().zip(shares);
                pairs.map(|(v, share)| v.sampled(share)).collect()
            }
        };
        Point { index, coordinates }
    }

    /// The middle of every variable: what the points of the study have around them. Not always a
    /// point of the plan.
    pub fn middle(&self) -> Point {
        let coordinates = self.study.variables.iter().map(|variable| {
            match (self.study.combine, variable.len()) {
                (Combine::All | Combine::SideBySide, Some(len)) => variable.value(len / 2),
                _ => variable.sampled(0.5),
            }
        });
        Point {
            index: 0,
            coordinates: coordinates.collect(),
        }
    }

    /// One of a sequence of points spread evenly over the ranges of all variables, whether or not it is one of the plan:
    /// where a model of the study is made. Values that go side by side stay so.
    pub fn spread(&self, number: u32) -> Point {
        let number = number.min(MOST_SOBOL_SAMPLES as u32 - 1);
        let share = |dimension: usize| {
            f64::from(sobol_burley::sample(number, dimension as u32, SPREAD_SEED))
        };
        let variables = self.study.variables.iter().enumerate();
        match self.study.combine {
            Combine::SideBySide => {
                let index = (share(0) * self.len as f64) as u64;
                self.point(index.min(self.len - 1))
            }
            Combine::All | Combine::Sample { .. } => Point {
                index: 0,
                coordinates: variables
                    .map(|(dimension, variable)| variable.sampled(share(dimension)))
                    .collect(),
            },
        }
    }

    /// Corners of the box that the ranges of all variables make, or of the first [`MOST_CORNERED`] of them; of values that go
    /// side by side the two ends.
    pub fn corners(&self) -> Vec<Point> {
        let variables = &self.study.variables;
        if self.study.combine == Combine::SideBySide {
            return [0, self.len - 1].map(|index| self.point(index)).to_vec();
        }
        let count = variables.len().min(MOST_CORNERED);
        let corner = |number: usize| Point {
            index: 0,
            coordinates: variables
                .iter()
                .enumerate()
                .map(|(at, variable)| {
                    let is_high = at < count && number >> at & 1 == 1;
                    variable.sampled(if is_high { LAST_SHARE } else { 0.0 })
                })
                .collect(),
        };
        (0..1 << count).map(corner).collect()
    }

    /// Points that follow one another and start from the potentials of the one in their middle: how
    /// many. A short plan has short runs, so that several can be in hand.
    pub fn run_length(&self) -> u64 {
        (self.len / 16).clamp(1, LONGEST_RUN)
    }

    /// The point whose potentials are the first guess of the others in the run that `index` is in: the
    /// middle one.
    pub fn anchor(&self, index: u64) -> u64 {
        let start = index - index % self.run_length();
        let end = (start + self.run_length()).min(self.len);
        start + (end - start) / 2
    }

    /// Place of a point in the order one thread solves them in: run after run, the anchor of each
    /// before its others.
    pub fn turn(&self, index: u64) -> u64 {
        let (anchor, start) = (self.anchor(index), index - index % self.run_length());
        match index {
            _ if index == anchor => start,
            _ if index < anchor => index + 1,
            _ => index,
        }
    }

    /// All points in order.
    pub fn points(self) -> impl Iterator<Item = Point> + 's {
        (0..self.len).map(move |index| self.point(index))
    }
}

/// One number in 0..1 per dimension.
fn shares(sequence: Sequence, seed: u32, index: u64, dimensions: usize) -> Vec<f64> {
    match sequence {
        Sequence::Sobol => {
            let index = index.min(MOST_SOBOL_SAMPLES - 1) as u32;
            (0..dimensions)
                .map(|dimension| f64::from(sobol_burley::sample(index, dimension as u32, seed)))
                .collect()
        }
        Sequence::Random => {
            // A stream per point makes every point addressable on its own.
            let mut generator = ChaCha8Rng::seed_from_u64(u64::from(seed));
            generator.set_stream(index);
            (0..dimensions)
                .map(|_| (generator.next_u64() >> 11) as f64 / (1_u64 << 53) as f64)
                .collect()
        }
    }
}
