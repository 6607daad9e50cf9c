//! What one pin sees while the other conductors are in given states, with bounds and error.

use ndarray::{Array1, Array2};

use super::matrix::{AlgebraError, check_length, eliminate_with_capacitance};
use crate::field::{Bounded, Consistent, Shift};

/// State of one conductor during a measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Role {
    /// The conductor at the pin.
    Measured,
    /// Held at 0 V.
    Grounded,
    /// Left open, with this lumped capacitance to 0 V \[F\] or \[F/m\]; zero when there is none.
    Floating {
        /// Lumped capacitance to 0 V \[F\] or \[F/m\].
        to_zero: f64,
    },
    /// Driven with `gain` times the potential of the measured conductor.
    Driven {
        /// Gain, 1 for a perfect follower.
        gain: f64,
    },
}

/// Lower and upper bound, \[F\] or \[F/m\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Smaller end.
    pub lower: f64,
    /// Larger end.
    pub upper: f64,
}

/// A value with its estimated error, \[F\] or \[F/m\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Estimated error, never negative.
    pub error: f64,
}

/// Self-capacitance at one pin, \[F\] or \[F/m\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// Value with its estimated error.
    pub estimate: Estimate,
    /// Bounds from the two matrices that enclose the true one, shape term included.
    pub bounds: Bounds,
    /// Part of the bounds that stands for round outlines; the bounds are guaranteed when zero.
    pub shape_term: f64,
}

/// Self-capacitance of the measured conductor with value, bounds and estimated error.
///
/// The value is the algebra of the module documentation on the reported matrix. The bounds apply
/// the same elimination to the two enclosing matrices, whose order it keeps; with driven conductors the
/// wanted entry is `e' C g`, no square, and its bounds are the midpoint +- 1/2 sqrt(e'Ge g'Gg), G the
/// difference of the reduced enclosing matrices (Cauchy and Schwarz). The estimated error is that of
/// the printed quantity itself, to first order: each of the engine's two differences of energies E
/// ([`Consistent::error_parts`]) is weighed as the matrix is, `sum a_i E_ij v_j`, v the potentials while the
/// pin is at 1 V and a those of the adjoint problem (driven conductors at 0 V), and their sizes add. What
/// is left of the entries' errors has no sign (rounding, outlines) and adds as
/// `sum |a_i| |v_j| error_ij`.
///
/// # Errors
/// See [`AlgebraError`].
pub fn measure(matrix: &Bounded, roles: &[Role]) -> Result<Measurement, AlgebraError> {
    let weights = Weights::new(&matrix.at_pin.value, roles)?;
    let below = Reduced::new(&matrix.guaranteed_below, roles)?;
    let above = Reduced::new(&matrix.guaranteed_above, roles)?;
    let shape_term = weights.bound(&matrix.shape_term);
    let middle = 0.5 * (below.at_pin() + above.at_pin());
    let half_width = 0.5 * (above.gap_at_pin(&below) * above.gap_driven(&below)).sqrt();
    Ok(Measurement {
        estimate: Estimate {
            value: Reduced::new(&matrix.at_pin.value, roles)?.at_pin(),
            error: weights.error(&matrix.at_pin),
        },
        bounds: Bounds {
            lower: middle - half_width - shape_term,
            upper: middle + half_width + shape_term,
        },
        shape_term,
    })
}

/// Change of the self-capacitance when the conductor of `shift` is added.
///
/// `with_roles` follow `with.conductors`, `without_roles` follow `shift.without.conductors`. The value
/// is the difference of the algebra on both matrices. Its error is that of [`measure`] with w and u, the
/// weights with and without: differences of energies are weighed and subtracted before their size is taken,
/// so that what both states share cancels; what has no sign adds as
/// `sum |w_ij - u_ij| error_ij(without) + sum |w_ij| error_ij(shift)`, entries of the added conductor itself
/// with their own.
///
/// # Errors
/// See [`AlgebraError`].
pub fn measure_shift(
    with: &Bounded,
    shift: &Shift,
    with_roles: &[Role],
    without_roles: &[Role],
) -> Result<Estimate, AlgebraError> {
    let without = &shift.without;
    check_length(&without.in_shifts.value, without_roles.len())?;
    let with_weights = Weights::new(&with.in_shifts.value, with_roles)?;
    let without_weights = Weights::new(&without.in_shifts.value, without_roles)?;
    let shared: Vec<Option<usize>> = with
        .conductors
        .iter()
        .map(|name| without.conductors.iter().position(|other| other == name))
        .collect();
    let mut error: f64 = [0, 1]
        .map(|part| {
            let after = with_weights.weigh(&with.in_shifts.error_parts[part]);
            (after - without_weights.weigh(&without.in_shifts.error_parts[part])).abs()
        })
        .iter()
        .sum();
    let (with_rest, without_rest) = (
        unsigned_error(&with.in_shifts),
        unsigned_error(&without.in_shifts),
    );
    for (i, &row) in shared.iter().enumerate() {
        for (j, &column) in shared.iter().enumerate() {
            let weight = with_weights.product(i, j);
            error += match (row, column) {
                (Some(row), Some(column)) => {
                    let change = weight - without_weights.product(row, column);
                    let signed = |part: usize| {
                        let own = with.in_shifts.error_parts[part][[i, j]];
                        (own - without.in_shifts.error_parts[part][[row, column]]).abs()
                    };
                    let rest = shift.estimated_error[[row, column]] - signed(0) - signed(1);
                    change.abs() * without_rest[[row, column]] + weight.abs() * rest.max(0.0)
                }
                _ => weight.abs() * with_rest[[i, j]],
            };
        }
    }
    // With nothing floating or driven this is one entry of the engine's own shift, which is free of
    // the rounding of a difference.
    let exact_entry = plain_entry(with_roles)
        .and_then(|row| shared[row])
        .filter(|_| plain_entry(without_roles).is_some());
    let value = match exact_entry {
        Some(row) => shift.shift[[row, row]],
        None => {
            Reduced::new(&with.in_shifts.value, with_roles)?.at_pin()
                - Reduced::new(&without.in_shifts.value, without_roles)?.at_pin()
        }
    };
    Ok(Estimate { value, error })
}

/// Change of the self-capacitance when conductors of one matrix change their roles, as a floating frame that
/// a hand takes hold of; the error as of [`measure_shift`], all of it shared by both states.
///
/// # Errors
/// See [`AlgebraError`].
pub fn measure_change(
    matrix: &Bounded,
    before: &[Role],
    after: &[Role],
) -> Result<Estimate, AlgebraError> {
    let (old, new) = (
        Weights::new(&matrix.at_pin.value, before)?,
        Weights::new(&matrix.at_pin.value, after)?,
    );
    let parts = matrix.at_pin.error_parts.iter();
    let signed: f64 = parts
        .map(|part| (new.weigh(part) - old.weigh(part)).abs())
        .sum();
    let rest: f64 = unsigned_error(&matrix.at_pin)
        .indexed_iter()
        .map(|((i, j), error)| (new.product(i, j) - old.product(i, j)).abs() * error)
        .sum();
    let at = |roles: &[Role]| Reduced::new(&matrix.at_pin.value, roles).map(|left| left.at_pin());
    Ok(Estimate {
        value: at(after)? - at(before)?,
        error: signed + rest,
    })
}

/// What is left of the estimated error of every entry without its signed parts.
fn unsigned_error(entries: &Consistent) -> Array2<f64> {
    let [apart, spread] = &entries.error_parts;
    let signed = apart.mapv(f64::abs) + spread.mapv(f64::abs);
    (&entries.estimated_error - &signed).mapv(|rest| rest.max(0.0))
}

/// Capacitance through which the far side of conductor `other` acts on the pin: charge at the pin per
/// volt there, as a positive number.
///
/// A grounded conductor is its own far side; that of a floating one is the far end of its lumped
/// capacitance. From the potentials while the pin is at 1 V, by reciprocity.
///
/// # Errors
/// See [`AlgebraError`]; a conductor that is measured or driven has no far side and couples nothing.
pub fn coupling(matrix: &Bounded, roles: &[Role], other: usize) -> Result<f64, AlgebraError> {
    let potential = Weights::new(&matrix.in_shifts.value, roles)?.adjoint;
    Ok(match roles.get(other) {
        Some(Role::Grounded) => {
            let row = matrix.in_shifts.value.row(other);
            let charge: f64 = row.iter().zip(&potential).map(|(c, v)| c * v).sum();
            charge.abs()
        }
        Some(Role::Floating { to_zero }) => to_zero * potential[other].abs(),
        _ => 0.0,
    })
}

/// Capacitance that the driver of conductor `driven` has to charge: its charge per volt of its own, while the
/// pin is measured. Nothing for conductors that are not driven or stand still.
///
/// # Errors
/// See [`AlgebraError`].
pub fn load(
    matrix: &Bounded,
    roles: &[Role],
    driven: usize,
) -> Result<Option<Estimate>, AlgebraError> {
    let gain = match roles.get(driven) {
        Some(Role::Driven { gain }) if *gain != 0.0 => *gain,
        _ => return Ok(None),
    };
    let potential = Weights::new(&matrix.at_pin.value, roles)?.potential;
    let sum = |matrix: &Array2<f64>, size: &dyn Fn(f64) -> f64| -> f64 {
        let row = matrix.row(driven);
        row.iter().zip(&potential).map(|(c, v)| c * size(*v)).sum()
    };
    let value = sum(&matrix.at_pin.value, &|v| v) / gain;
    let parts = matrix.at_pin.error_parts.iter();
    let signed: f64 = parts.map(|part| sum(part, &|v| v).abs()).sum();
    let error = signed + sum(&unsigned_error(&matrix.at_pin), &f64::abs);
    Ok(Some(Estimate {
        value,
        error: error / gain.abs(),
    }))
}

/// What a small change of the matrix, entry by entry, does to what the pin sees: the sum of
/// `a_i change_ij v_j` with the weights of [`measure`]; exact to first order.
///
/// # Errors
/// See [`AlgebraError`].
pub fn weigh(matrix: &Bounded, change: &Array2<f64>, roles: &[Role]) -> Result<f64, AlgebraError> {
    let weights = Weights::new(&matrix.at_pin.value, roles)?;
    check_length(change, roles.len())?;
    Ok(weights.weigh(change))
}

/// The measured row when all the others are at 0 V.
fn plain_entry(roles: &[Role]) -> Option<usize> {
    let others_grounded = roles
        .iter()
        .all(|role| matches!(role, Role::Measured | Role::Grounded));
    others_grounded
        .then(|| roles.iter().position(|role| *role == Role::Measured))
        .flatten()
}

fn measured_row(roles: &[Role]) -> Result<usize, AlgebraError> {
    let mut rows = (0..roles.len()).filter(|&row| roles[row] == Role::Measured);
    match (rows.next(), rows.count()) {
        (Some(row), 0) => Ok(row),
        (first, more) => Err(AlgebraError::MeasuredCount(
            more + usize::from(first.is_some()),
        )),
    }
}

/// The matrix left after floating conductors are eliminated and grounded ones dropped.
struct Reduced {
    matrix: Array2<f64>,
    potentials: Vec<f64>,
    pin: usize,
}

impl Reduced {
    fn new(matrix: &Array2<f64>, roles: &[Role]) -> Result<Self, AlgebraError> {
        check_length(matrix, roles.len())?;
        measured_row(roles)?;
        let mut left = matrix.clone();
        let mut left_roles = roles.to_vec();
        for row in (0..roles.len()).rev() {
            match roles[row] {
                Role::Floating { to_zero } => {
                    left = eliminate_with_capacitance(&left, row, to_zero)?;
                }
                Role::Grounded => left = super::hold_at_zero(&left, &[row]),
                Role::Measured | Role::Driven { .. } => continue,
            }
            left_roles.remove(row);
        }
        let potentials = left_roles
            .iter()
            .map(|role| match role {
                Role::Driven { gain } => *gain,
                _ => 1.0,
            })
            .collect();
        Ok(Self {
            matrix: left,
            potentials,
            pin: measured_row(&left_roles)?,
        })
    }

    /// Charge at the pin per volt of the pin.
    fn at_pin(&self) -> f64 {
        (0..self.potentials.len())
            .map(|k| self.matrix[[self.pin, k]] * self.potentials[k])
            .sum()
    }

    fn gap_at_pin(&self, below: &Self) -> f64 {
        (self.matrix[[self.pin, self.pin]] - below.matrix[[self.pin, self.pin]]).max(0.0)
    }

    fn gap_driven(&self, below: &Self) -> f64 {
        let v = Array1::from(self.potentials.clone());
        let gap = &self.matrix - &below.matrix;
        v.dot(&gap.dot(&v)).max(0.0)
    }
}

/// Derivative of the wanted number to each entry of the matrix: `adjoint_i potential_j`.
struct Weights {
    adjoint: Vec<f64>,
    potential: Vec<f64>,
}

impl Weights {
    fn new(matrix: &Array2<f64>, roles: &[Role]) -> Result<Self, AlgebraError> {
        check_length(matrix, roles.len())?;
        measured_row(roles)?;
        let given = |driven: bool| -> Vec<f64> {
            roles
                .iter()
                .map(|role| match role {
                    Role::Measured => 1.0,
                    Role::Driven { gain } if driven => *gain,
                    _ => 0.0,
                })
                .collect()
        };
        Ok(Self {
            adjoint: with_floating_potentials(matrix, roles, given(false))?,
            potential: with_floating_potentials(matrix, roles, given(true))?,
        })
    }

    fn product(&self, row: usize, column: usize) -> f64 {
        self.adjoint[row] * self.potential[column]
    }

    /// `sum a_i matrix_ij v_j`.
    fn weigh(&self, matrix: &Array2<f64>) -> f64 {
        matrix
            .indexed_iter()
            .map(|((i, j), entry)| self.product(i, j) * entry)
            .sum()
    }

    /// Estimated error of what the weights belong to.
    fn error(&self, entries: &Consistent) -> f64 {
        let parts = entries.error_parts.iter();
        let signed: f64 = parts.map(|part| self.weigh(part).abs()).sum();
        signed + self.bound(&unsigned_error(entries))
    }

    /// `sum |a_i| |v_j| matrix_ij`.
    fn bound(&self, matrix: &Array2<f64>) -> f64 {
        matrix
            .indexed_iter()
            .map(|((i, j), entry)| self.product(i, j).abs() * entry.abs())
            .sum()
    }
}

/// Fills in the potentials of the floating conductors: zero total charge, lumped part included.
fn with_floating_potentials(
    matrix: &Array2<f64>,
    roles: &[Role],
    mut potential: Vec<f64>,
) -> Result<Vec<f64>, AlgebraError> {
    let floating: Vec<(usize, f64)> = roles
        .iter()
        .enumerate()
        .filter_map(|(row, role)| match role {
            Role::Floating { to_zero } => Some((row, *to_zero)),
            _ => None,
        })
        .collect();
    let n = floating.len();
    // Symmetric positive definite and small: plain elimination without pivoting is stable.
    let mut system = Array2::from_shape_fn((n, n + 1), |(i, j)| {
        let row = floating[i].0;
        if j == n {
            -(0..potential.len())
                .map(|k| matrix[[row, k]] * potential[k])
                .sum::<f64>()
        } else {
            matrix[[row, floating[j].0]] + if i == j { floating[i].1 } else { 0.0 }
        }
    });
    for pivot in 0..n {
        let diagonal = system[[pivot, pivot]];
        if diagonal.is_nan() || diagonal <= 0.0 {
            return Err(AlgebraError::NoCapacitance {
                index: floating[pivot].0,
                capacitance_farads: diagonal,
            });
        }
        for row in pivot + 1..n {
            let factor = system[[row, pivot]] / diagonal;
            for column in pivot..=n {
                let change = factor * system[[pivot, column]];
                system[[row, column]] -= change;
            }
        }
    }
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n)
            .map(|k| system[[row, k]] * potential[floating[k].0])
            .sum();
        potential[floating[row].0] = (system[[row, n]] - known) / system[[row, row]];
    }
    Ok(potential)
}

#[cfg(test)]
mod tests;
