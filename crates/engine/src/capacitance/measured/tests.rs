//! Eliminated conductors against closed forms.

use super::super::matrix::tests::{smallest_pivot, touched_planar_panel};
use super::*;
use crate::field::Consistent;
use approx::assert_relative_eq;

const FLOATING: Role = Role::Floating { to_zero: 0.0 };

/// The matrix with 1 % between the enclosing matrices and 0.1 % estimated error.
fn bounded(value: Array2<f64>) -> Bounded {
    let names = ["left", "right", "guard", "finger"];
    let entries = Consistent {
        value: value.clone(),
        estimated_error: value.mapv(|entry| 1e-3 * entry.abs()),
        error_parts: [
            Array2::zeros(value.raw_dim()),
            Array2::zeros(value.raw_dim()),
        ],
    };
    Bounded {
        conductors: names[..value.nrows()]
            .iter()
            .map(|n| n.to_string())
            .collect(),
        lower: &value * 0.995,
        upper: &value * 1.005,
        estimated_error: value.mapv(|entry| 1e-3 * entry.abs()),
        at_pin: entries.clone(),
        in_shifts: entries,
        shape_term: Array2::zeros(value.raw_dim()),
        guaranteed_below: &value * 0.995,
        guaranteed_above: &value * 1.005,
        energy_share: Array2::ones((value.nrows(), 1)),
        value,
    }
}

#[test]
fn a_return_capacitance_in_series_weakens_the_coupling() {
    // Pin and finger alone, -0.5 between them: the finger has 2 in all.
    let matrix = bounded(ndarray::array![[8.0, -0.5], [-0.5, 2.0]]);
    let grounded = [Role::Measured, Role::Grounded];
    assert_relative_eq!(coupling(&matrix, &grounded, 1).unwrap(), 0.5);
    let series = |to_zero| {
        let roles = [Role::Measured, Role::Floating { to_zero }];
        coupling(&matrix, &roles, 1).unwrap()
    };
    // The finger is at 0.5/(2 + 6) of the pin; 6 times that flows on.
    assert_relative_eq!(series(6.0), 6.0 * 0.5 / 8.0);
    assert_relative_eq!(series(1e12), 0.5, max_relative = 1e-9);
    assert_eq!(series(0.0), 0.0);
}

#[test]
fn roles_reproduce_the_catalogue() {
    let matrix = bounded(touched_planar_panel());
    let grounded = [Role::Measured, Role::Grounded, Role::Grounded, FLOATING];
    let float = measure(&matrix, &grounded).expect("algebra");
    assert_relative_eq!(float.estimate.value, 44.007658451, epsilon = 2e-9);
    // All entries scale together: so does the Schur complement, and so do its ends.
    assert_relative_eq!(
        float.bounds.lower,
        0.995 * float.estimate.value,
        max_relative = 1e-12
    );
    assert_relative_eq!(
        float.bounds.upper,
        1.005 * float.estimate.value,
        max_relative = 1e-12
    );
    let returning = [
        Role::Measured,
        Role::Grounded,
        Role::Grounded,
        Role::Floating { to_zero: 10.0 },
    ];
    let value = measure(&matrix, &returning)
        .expect("algebra")
        .estimate
        .value;
    assert_relative_eq!(value, 47.870344901, epsilon = 2e-9);
}

#[test]
fn order_of_elimination_does_not_matter() {
    let matrix = touched_planar_panel();
    let roles = [
        Role::Measured,
        FLOATING,
        FLOATING,
        Role::Floating { to_zero: 3.0 },
    ];
    let by_roles = Reduced::new(&matrix, &roles).expect("algebra").at_pin();
    let mut step = super::super::eliminate_floating(&matrix, 1).expect("pad");
    step = super::super::eliminate_floating(&step, 1).expect("guard");
    step = eliminate_with_capacitance(&step, 1, 3.0).expect("finger");
    assert_relative_eq!(by_roles, step[[0, 0]], max_relative = 1e-13);
}

#[test]
fn weights_are_the_derivative() {
    let matrix = touched_planar_panel();
    let roles = [
        Role::Measured,
        Role::Driven { gain: 0.97 },
        FLOATING,
        Role::Floating { to_zero: 10.0 },
    ];
    let weights = Weights::new(&matrix, &roles).expect("algebra");
    let at = |m: &Array2<f64>| Reduced::new(m, &roles).expect("algebra").at_pin();
    for i in 0..4 {
        for j in 0..4 {
            let step = 1e-4;
            let (mut more, mut less) = (matrix.clone(), matrix.clone());
            more[[i, j]] += step;
            less[[i, j]] -= step;
            let difference = (at(&more) - at(&less)) / (2.0 * step);
            assert_relative_eq!(difference, weights.product(i, j), epsilon = 1e-8);
        }
    }
}

#[test]
fn bounds_hold_for_every_matrix_between_the_two() {
    let middle = touched_planar_panel();
    let spread = &middle * 0.01;
    let mut matrix = bounded(middle.clone());
    matrix.guaranteed_below = &middle - &spread;
    matrix.guaranteed_above = &middle + &spread;
    let states = [
        [Role::Measured, FLOATING, Role::Grounded, Role::Grounded],
        [
            Role::Measured,
            FLOATING,
            FLOATING,
            Role::Floating { to_zero: 5.0 },
        ],
        [
            Role::Measured,
            Role::Driven { gain: 1.0 },
            Role::Driven { gain: 0.9 },
            FLOATING,
        ],
    ];
    for roles in states {
        let seen = measure(&matrix, &roles).expect("algebra");
        // Matrices between the two: middle + t * spread-shaped rank-one pieces.
        for k in 0..4 {
            for sign in [-1.0, 1.0] {
                let column = spread.column(k).to_owned();
                let piece =
                    Array2::from_shape_fn((4, 4), |(i, j)| column[i] * column[j] / spread[[k, k]]);
                // spread - piece is a Schur complement of spread, so semi-definite: in between.
                assert!(smallest_pivot(&(&spread - &piece * 0.999)) > 0.0);
                let inside = &middle + &(piece * sign);
                let value = Reduced::new(&inside, &roles).expect("algebra").at_pin();
                assert!(seen.bounds.lower <= value && value <= seen.bounds.upper);
            }
        }
    }
}

#[test]
fn shift_error_is_the_engine_error_when_nothing_floats() {
    let full = touched_planar_panel();
    let with = bounded(full.clone());
    let mut without = bounded(super::super::hold_at_zero(&full, &[3]));
    without.value[[0, 0]] = 43.6;
    for entries in [&mut without.at_pin, &mut without.in_shifts] {
        entries.value[[0, 0]] = 43.6;
    }
    let shift = Shift {
        conductor: "finger".into(),
        shift: &super::super::hold_at_zero(&full, &[3]) - &without.value,
        estimated_error: Array2::from_elem((3, 3), 0.02),
        shape_term: Array2::zeros((3, 3)),
        without,
    };
    let grounded = [
        Role::Measured,
        Role::Grounded,
        Role::Grounded,
        Role::Grounded,
    ];
    let seen = measure_shift(&with, &shift, &grounded, &grounded[..3]).expect("algebra");
    assert_relative_eq!(seen.value, full[[0, 0]] - 43.6, max_relative = 1e-12);
    assert_relative_eq!(seen.error, 0.02, max_relative = 1e-12);

    // A finger returning through a large capacitance tends to the earthed one.
    let mut returning = grounded;
    returning[3] = Role::Floating { to_zero: 1e7 };
    let near = measure_shift(&with, &shift, &returning, &grounded[..3]).expect("algebra");
    assert_relative_eq!(near.value, seen.value, max_relative = 1e-5);
    assert_relative_eq!(near.error, seen.error, max_relative = 1e-4);
}

#[test]
fn one_conductor_is_measured() {
    let matrix = bounded(touched_planar_panel());
    let none = [Role::Grounded; 4];
    assert_eq!(measure(&matrix, &none), Err(AlgebraError::MeasuredCount(0)));
    let two = [
        Role::Measured,
        Role::Measured,
        Role::Grounded,
        Role::Grounded,
    ];
    assert_eq!(measure(&matrix, &two), Err(AlgebraError::MeasuredCount(2)));
    assert!(matches!(
        measure(&matrix, &none[..3]),
        Err(AlgebraError::Length { rows: 4, given: 3 })
    ));
}
