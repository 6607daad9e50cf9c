//! Members of a family of cases: one grid stretched over all of them makes answers smooth, and the
//! potentials of one are a first guess for the next.
//!
//! The panel is built here; what is checked are properties, and that neither device moves an answer
//! by more than its own error bar or the tolerance of the iteration.

use crate::millimetres::extent;
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Solid, Wall};
use padfield_engine::field::{self, FieldAnswer, Settings};
use std::sync::Arc;

/// Two 10 mm pads `gap` apart under an overlay, ground behind them, a block finger on the first.
fn panel(gap_mm: f64, overlay_mm: f64) -> Case {
    let half = 0.5 * gap_mm;
    let body = |name: &str, low, high| Conductor {
        name: name.into(),
        solids: vec![Solid::Block(extent(low, high))],
    };
    Case {
        id: "family".into(),
        title: "two pads under an overlay".into(),
        kind: Kind::Volume,
        domain: extent([-50.0, -40.0, -20.0], [50.0, 40.0, 40.0]),
        walls: [[Wall::Open; 2]; 3],
        background_relative_permittivity: 1.0,
        dielectrics: vec![
            Dielectric {
                name: "overlay".into(),
                relative_permittivity: 3.0,
                extent: extent([-30.0, -15.0, 0.0], [30.0, 15.0, overlay_mm]),
                comes_with: None,
            },
            Dielectric {
                name: "board".into(),
                relative_permittivity: 4.4,
                extent: extent([-30.0, -15.0, -1.6], [30.0, 15.0, 0.0]),
                comes_with: None,
            },
        ],
        screens: Vec::new(),
        conductors: vec![
            body("first", [-half - 10.0, -5.0, 0.0], [-half, 5.0, 0.0]),
            body("second", [half, -5.0, 0.0], [half + 10.0, 5.0, 0.0]),
            body("ground", [-30.0, -15.0, -1.6], [30.0, 15.0, -1.6]),
            body(
                "finger",
                [-half - 9.0, -4.0, overlay_mm],
                [-half - 1.0, 4.0, overlay_mm + 12.0],
            ),
        ],
    }
}

fn settings() -> Settings {
    Settings {
        accuracy: 1.0, // the first grid is the one compared
        drive: Some(vec!["first".into(), "second".into()]),
        ..Settings::default()
    }
}

fn solve(case: &Case, settings: &Settings) -> FieldAnswer {
    field::solve(case, Some("finger"), settings, &|_| {}).expect("an answer")
}

/// Touch shift of the first pad and its estimated error [pF].
fn touch_shift(answer: &FieldAnswer) -> (f64, f64) {
    let shift = answer.shift.as_ref().expect("a shift");
    (
        shift.shift[[0, 0]] * 1e12,
        shift.estimated_error[[0, 0]] * 1e12,
    )
}

#[test]
fn a_stretched_grid_answers_within_the_error_bars_of_an_own_one() {
    let family = Settings {
        family: Some(Arc::new(panel(6.0, 3.0))),
        ..settings()
    };
    for (gap, overlay) in [(4.0, 3.0), (6.0, 2.0), (9.0, 4.5), (6.0, 3.0)] {
        let case = panel(gap, overlay);
        let (own, member) = (solve(&case, &settings()), solve(&case, &family));
        let ((a, bar_a), (b, bar_b)) = (touch_shift(&own), touch_shift(&member));
        println!(
            "gap {gap}, overlay {overlay}: {a:.5} +- {bar_a:.5}, stretched {b:.5} +- {bar_b:.5} pF"
        );
        assert!((a - b).abs() <= bar_a + bar_b);
        for i in 0..2 {
            let off = (own.with.value[[i, i]] - member.with.value[[i, i]]).abs();
            let bars = own.with.estimated_error[[i, i]] + member.with.estimated_error[[i, i]];
            assert!(off <= bars, "base of pad {i}: {off:e} beyond {bars:e}");
        }
        // The reference of the family is its own member.
        if (gap, overlay) == (6.0, 3.0) {
            assert_eq!(own.with.value, member.with.value);
        }
    }
}

#[test]
fn answers_along_a_family_vary_smoothly() {
    let family = Settings {
        family: Some(Arc::new(panel(6.0, 3.0))),
        ..settings()
    };
    let along = |step: f64| -> Vec<FieldAnswer> {
        (0..10)
            .map(|i| solve(&panel(6.0, 2.0 + step * f64::from(i)), &family))
            .collect()
    };
    let wide = along(0.3);
    assert!(wide.iter().all(|a| a.grid.shape == wide[0].grid.shape));
    // Third differences of a smooth dependence are tiny; a change of the cells would make them jump.
    let fine: Vec<(f64, f64)> = along(0.02).iter().map(touch_shift).collect();
    let jump = fine
        .windows(4)
        .map(|w| (w[3].0 - 3.0 * w[2].0 + 3.0 * w[1].0 - w[0].0).abs())
        .fold(0.0, f64::max);
    let bar = fine[4].1;
    println!("third difference {jump:.2e}, bar {bar:.2e} pF");
    assert!(jump < 2e-3 * bar, "{jump:e} against {bar:e}");
    assert!(
        fine.windows(2).all(|w| w[1].0 < w[0].0),
        "shift falls with thickness"
    );
}

#[test]
fn a_first_guess_saves_iterations_and_leaves_the_answer() {
    let family = Settings {
        family: Some(Arc::new(panel(6.0, 3.0))),
        keep_potentials: true,
        ..settings()
    };
    let neighbour = solve(&panel(6.0, 3.0), &family);
    let case = panel(6.05, 3.0);
    let cold = solve(&case, &family);
    let warm = solve(
        &case,
        &Settings {
            first_guess: neighbour.potentials.clone(),
            ..family.clone()
        },
    );
    let count = |answer: &FieldAnswer| answer.solver.iterations.iter().sum::<usize>();
    println!(
        "iterations of all systems: cold {}, warm {}",
        count(&cold),
        count(&warm)
    );
    assert!(count(&warm) < count(&cold));
    let ((a, bar), (b, _)) = (touch_shift(&cold), touch_shift(&warm));
    println!("shift differs by {:.1e} of the bar", (a - b).abs() / bar);
    // Energies are stopped at 1e-8 of themselves; a shift is a tenth of the energies it comes from.
    assert!((a - b).abs() <= 1e-6 * a, "{a} {b}");
}

#[test]
fn a_guess_or_a_family_that_does_not_fit_is_left_aside() {
    let other = solve(
        &panel(6.0, 3.0),
        &Settings {
            keep_potentials: true,
            start_fineness: Some(0.7),
            ..settings()
        },
    );
    let plane = Case {
        kind: Kind::Planar,
        ..panel(6.0, 3.0)
    };
    let case = panel(5.0, 2.0);
    let plain = solve(&case, &settings());
    let unfit = Settings {
        family: Some(Arc::new(plane)),
        first_guess: other.potentials,
        ..settings()
    };
    assert_eq!(solve(&case, &unfit).with.value, plain.with.value);
}
