use std::collections::HashSet;

use super::*;
use crate::field::FieldError;
use ndarray::array;

#[test]
fn every_number_is_used_once_and_every_geometry_is_sound() {
    let problems = catalogue();
    let mut used = HashSet::new();
    for problem in &problems {
        let rows = problem.case.conductors.len();
        assert!(!problem.checks.is_empty(), "{}", problem.case.id);
        for check in &problem.checks {
            assert!(
                used.insert(check.reference.id.clone()),
                "{} twice",
                check.reference.id
            );
            assert!(check.tolerance.relative > 0.0 && check.tolerance.relative <= 0.01);
            assert!(!check.tolerance.reason.is_empty());
            assert!(check.reference.value != 0.0 && !check.reference.source.is_empty());
            match check.readout {
                Readout::Entry { row, column, .. } => assert!(row < rows && column < rows),
                Readout::Pair => assert_eq!(rows, 2),
                Readout::Floating { row, floating, .. } => assert!(row < rows && floating < rows),
            }
        }
        for conductor in &problem.case.conductors {
            for solid in &conductor.solids {
                let crate::case::Solid::Block(block) = solid else {
                    panic!("{}: only blocks are drawn", problem.case.id);
                };
                for axis in 0..3 {
                    assert!(problem.case.domain.low_m[axis] <= block.low_m[axis]);
                    assert!(block.low_m[axis] <= block.high_m[axis]);
                    assert!(block.high_m[axis] <= problem.case.domain.high_m[axis]);
                }
            }
        }
    }
    assert_eq!(
        used.len(),
        reference::table().len(),
        "rows without a geometry"
    );
}

#[test]
fn sheets_on_layers_share_their_level_to_the_last_bit() {
    for problem in catalogue() {
        let vertical = problem.case.kind.dimensions() - 1;
        let levels: Vec<f64> = problem
            .case
            .dielectrics
            .iter()
            .flat_map(|d| [d.extent.low_m[vertical], d.extent.high_m[vertical]])
            .collect();
        for conductor in &problem.case.conductors {
            for solid in &conductor.solids {
                let crate::case::Solid::Block(block) = solid else {
                    continue;
                };
                let level = block.low_m[vertical];
                for &other in &levels {
                    let apart = (level - other).abs();
                    let near = 1e-9 * problem.unit_m;
                    assert!(apart == 0.0 || apart > near, "{}", problem.case.id);
                }
            }
        }
    }
}

#[test]
fn readouts_follow_their_formula() {
    let matrix = array![[4.0, -1.0], [-1.0, 3.0]];
    let entry = Readout::Entry {
        row: 0,
        column: 1,
        factor: -0.5,
    };
    assert_eq!(entry.value(&matrix), 0.5);
    assert!((Readout::Pair.value(&matrix) - 11.0 / 5.0).abs() < 1e-15);
    let floating = |to_ground: f64| Readout::Floating {
        row: 0,
        floating: 1,
        to_ground,
    };
    assert!((floating(0.0).value(&matrix) - (4.0 - 1.0 / 3.0)).abs() < 1e-15);
    let lumped = floating(1.0 / VACUUM_PERMITTIVITY).value(&matrix);
    assert!((lumped - (4.0 - 1.0 / 4.0)).abs() < 1e-12);
}

#[test]
fn a_wrong_value_fails_and_a_right_one_passes() {
    let problem = &catalogue()[0];
    let check = problem.checks[0].clone();
    let exact = check.reference.value;
    let outcome = |value: f64, half_width: f64| Outcome {
        check: check.clone(),
        computed: Ok(Computed {
            value,
            margin: Some(Margin {
                lower: value - half_width,
                upper: value + half_width,
                estimated_error: Some(half_width),
            }),
        }),
    };
    assert!(outcome(exact * 1.0005, 0.01).passed());
    assert!(!outcome(exact * 1.002, 0.1).within_tolerance());
    assert!(!outcome(exact * 1.0005, 0.0001).within_bracket());
    assert!(!outcome(f64::NAN, 0.1).passed());
    let unsolved = Outcome {
        check: check.clone(),
        computed: Err(FieldError::Invalid("no".to_owned())),
    };
    assert!(!unsolved.passed() && unsolved.relative_error().is_none());
}
