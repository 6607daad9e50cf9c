//! Screens in the field engine against exact solutions and in their limits.
//!
//! Sources: separation of variables in a grounded box and a grounded can (textbook; W. R. Smythe,
//! Static and Dynamic Electricity, from memory), capacitors in series. In a box with a screen at 1 V
//! across its whole section each wave k of the section has its own admittance
//! Y = k (eps_above coth(k above) + eps_below coth(k below)), in series with the leak
//! g = (eps_above + eps_below)/(2 depth): C = g A - the sum of (weight of the wave) g^2/(Y + g).

use crate::screened::{MM, answer, conductor, empty, extent, layer, screen};
use padfield_engine::case::{Case, Conductor, Kind, Wall};
use padfield_engine::field::{FieldError, Settings, solve};
use padfield_engine::units::VACUUM_PERMITTIVITY;
use std::f64::consts::PI;

const KINDS: [Kind; 3] = [Kind::Planar, Kind::Axisymmetric, Kind::Volume];

/// Section and layers of the box \[mm\].
const WIDTH: f64 = 7.0;
const LENGTH: f64 = 5.0;
const BELOW: f64 = 1.6;
const ABOVE: f64 = 3.0;
const EPS_BELOW: f64 = 4.4;
const EPS_ABOVE: f64 = 2.8;

fn nothing(name: &str) -> Conductor {
    conductor(name, Vec::new())
}

/// A box or can with a screen between two layers; `sides` of the outer wall.
fn sectioned(kind: Kind, sides: Wall, depth_mm: f64) -> Case {
    let across = |z: [f64; 2]| extent(kind, [0.0, 0.0, z[0]], [WIDTH, LENGTH, z[1]]);
    let mut walls = [[sides; 2]; 3];
    walls[kind.dimensions() - 1] = [Wall::Grounded; 2];
    if kind == Kind::Axisymmetric {
        walls[0][0] = Wall::Insulated;
    }
    let mut case = empty(kind, across([0.0, BELOW + ABOVE]), walls);
    case.dielectrics = vec![
        layer("below", EPS_BELOW, across([0.0, BELOW])),
        layer("above", EPS_ABOVE, across([BELOW, BELOW + ABOVE])),
    ];
    case.conductors = vec![nothing("hatch")];
    case.screens = vec![screen(across([BELOW; 2]), depth_mm * MM)];
    case
}

/// Bessel function J0 by the trapezoidal rule on its integral over a period, exact to rounding.
fn bessel(order: i32, x: f64) -> f64 {
    let samples = 2 * (x as usize) + 60;
    let sum: f64 = (0..samples)
        .map(|s| 2.0 * PI * (s as f64 + 0.5) / samples as f64)
        .map(|t| (f64::from(order) * t - x * t.sin()).cos())
        .sum();
    sum / samples as f64
}

/// Zeros of J0: Newton's iteration from McMahon's first term.
fn zero(n: usize) -> f64 {
    let mut x = (n as f64 - 0.25) * PI;
    for _ in 0..6 {
        x += bessel(0, x) / bessel(1, x);
    }
    x
}

/// Capacitance of the screen in a grounded box over vacuum permittivity, lengths in mm.
fn exact(kind: Kind, depth: f64) -> f64 {
    let leak = 0.5 * (EPS_BELOW + EPS_ABOVE) / depth;
    let term = |k: f64| {
        let coth = |x: f64| 1.0 / x.tanh();
        let admittance = k * (EPS_ABOVE * coth(k * ABOVE) + EPS_BELOW * coth(k * BELOW));
        leak * leak / (admittance + leak)
    };
    let odd = |n: usize| (2 * n + 1) as f64;
    let weight = |n: usize| 8.0 / (odd(n) * PI).powi(2);
    match kind {
        // Terms fall as n^-3: what is left out is below 1e-9.
        Kind::Planar => {
            let sum: f64 = (0..20_000)
                .map(|n| weight(n) * term(odd(n) * PI / WIDTH))
                .sum();
            WIDTH * (leak - sum)
        }
        Kind::Volume => {
            let mut sum = 0.0;
            for m in 0..3000 {
                for n in 0..3000 {
                    let k = PI * (odd(m) / WIDTH).hypot(odd(n) / LENGTH);
                    sum += weight(m) * weight(n) * term(k);
                }
            }
            WIDTH * LENGTH * (leak - sum)
        }
        Kind::Axisymmetric => {
            let sum: f64 = (1..1500)
                .map(zero)
                .map(|j| 4.0 / (j * j) * term(j / WIDTH))
                .sum();
            PI * WIDTH * WIDTH * (leak - sum)
        }
    }
}

#[test]
fn a_screen_across_a_grounded_box_has_its_exact_capacitance() {
    for kind in KINDS {
        for depth in [0.05, 0.5, 5.0] {
            let exact = exact(kind, depth);
            let unit = if kind == Kind::Planar { 1.0 } else { MM };
            let mut last_width = f64::INFINITY;
            for fineness in [1.0, 2.0, 4.0] {
                if kind == Kind::Volume && fineness > 2.0 {
                    continue;
                }
                let with = answer(&sectioned(kind, Wall::Grounded, depth), fineness).with;
                let over = |matrix: &ndarray::Array2<f64>| {
                    matrix[[0, 0]] / (VACUUM_PERMITTIVITY * unit * exact) - 1.0
                };
                let (below, above) = (over(&with.guaranteed_below), over(&with.guaranteed_above));
                let error = over(&with.value);
                let estimated = over(&with.estimated_error) + 1.0;
                println!(
                    "{kind:?} depth {depth} mm M {fineness}: below {:+.4} %, value {:+.4} %, above \
                     {:+.4} %, estimated {:.4} %",
                    100.0 * below,
                    100.0 * error,
                    100.0 * above,
                    100.0 * estimated
                );
                assert!(below <= 1e-7 && above >= -1e-7);
                assert!(error.abs() <= estimated, "{error} {estimated}");
                // Grids that nest; the corners at the wall cost part of second order.
                let width = above - below;
                assert!(width < last_width / 2_f64.powf(1.2), "{width} {last_width}");
                last_width = width;
            }
        }
    }
}

#[test]
fn plates_and_a_screen_are_capacitors_in_series() {
    for kind in KINDS {
        let mut case = sectioned(kind, Wall::Insulated, 0.4);
        let last = kind.dimensions() - 1;
        case.walls[last] = [Wall::Insulated; 2];
        let sheet = |z: f64| extent(kind, [0.0, 0.0, z], [WIDTH, LENGTH, z]);
        case.conductors.push(conductor("floor", vec![sheet(0.0)]));
        case.conductors
            .push(conductor("lid", vec![sheet(BELOW + ABOVE)]));
        let area = match kind {
            Kind::Planar => WIDTH,
            Kind::Axisymmetric => PI * WIDTH * WIDTH * MM,
            Kind::Volume => WIDTH * LENGTH * MM,
        };
        // Screen, floor, lid: a star.
        let leg = [
            0.5 * (EPS_BELOW + EPS_ABOVE) / 0.4,
            EPS_BELOW / BELOW,
            EPS_ABOVE / ABOVE,
        ];
        let sum: f64 = leg.iter().sum();
        let with = answer(&case, 1.0).with;
        for i in 0..3 {
            for j in 0..3 {
                let own = if i == j { leg[i] } else { 0.0 };
                let exact = VACUUM_PERMITTIVITY * area * (own - leg[i] * leg[j] / sum);
                for value in [&with.value, &with.guaranteed_below, &with.guaranteed_above] {
                    let error = value[[i, j]] / exact - 1.0;
                    // Conductances in f32.
                    assert!(error.abs() < 2e-6, "{kind:?} {i} {j}: {error}");
                }
            }
        }
        // Half of the screen's energy per permittivity belongs to either side, of the rest each has
        // its own.
        let screen_share = leg[0] * (1.0 - leg[0] / sum).powi(2);
        let below_share =
            leg[1] * (leg[0] / sum).powi(2) + screen_share * EPS_BELOW / (EPS_BELOW + EPS_ABOVE);
        let total = leg[0] - leg[0] * leg[0] / sum;
        let share = &with.energy_share;
        assert!((share[[0, 0]] - below_share / total).abs() < 1e-6);
        assert!((share.row(0).sum() - 1.0).abs() < 1e-6);
    }
}

/// A pad over a screen, a plate behind it.
fn pad_over(kind: Kind, depth_mm: Option<f64>) -> Case {
    let box_ = |low: [f64; 3], high: [f64; 3]| extent(kind, low, high);
    let mut walls = [[Wall::Grounded; 2]; 3];
    let first = if kind == Kind::Axisymmetric { 0.0 } else { 5.0 };
    if kind == Kind::Axisymmetric {
        walls[0][0] = Wall::Insulated;
    }
    let mut case = empty(kind, box_([0.0; 3], [20.0, 18.0, 12.0]), walls);
    case.dielectrics = vec![layer(
        "board",
        4.4,
        box_([0.0, 0.0, 4.0], [20.0, 18.0, 5.6]),
    )];
    let sheet = box_([0.5 * first, 2.5, 4.0], [15.0, 14.0, 4.0]);
    case.conductors = vec![
        conductor("pad", vec![box_([first, 5.0, 5.6], [12.0, 11.0, 5.6])]),
        conductor("plate", vec![box_([first, 4.0, 2.0], [13.0, 12.0, 2.0])]),
    ];
    match depth_mm {
        None => case.conductors.push(conductor("hatch", vec![sheet])),
        Some(depth) => {
            case.conductors.push(nothing("hatch"));
            case.screens.push(screen(sheet, depth * MM));
        }
    }
    case
}

#[test]
fn a_screen_of_no_depth_is_a_solid_sheet_and_one_of_great_depth_is_nothing() {
    for kind in KINDS {
        let fineness = if kind == Kind::Volume { 0.7 } else { 2.0 };
        let solid = answer(&pad_over(kind, None), fineness).with;
        let tight = answer(&pad_over(kind, Some(1e-7)), fineness).with;
        let scale = solid.value[[2, 2]];
        // On the same grid: what is left is 1e-7 mm of depth and the f32 conductances; the coupling
        // through a solid sheet is a hundredth of the pad's capacitance and less.
        for (a, b) in [
            (&tight.value, &solid.value),
            (&tight.guaranteed_below, &solid.guaranteed_below),
            (&tight.guaranteed_above, &solid.guaranteed_above),
        ] {
            for (a, b) in a.iter().zip(b) {
                assert!((a - b).abs() < 1e-5 * scale, "{kind:?}: {a:e} {b:e}");
            }
        }
        let mut bare = pad_over(kind, Some(1.0));
        bare.screens.clear();
        bare.conductors.pop();
        let far = answer(&pad_over(kind, Some(1e7)), fineness).with;
        let bare = answer(&bare, 2.0 * fineness).with;
        for i in 0..2 {
            for j in 0..2 {
                let bar = far.estimated_error[[i, j]] + bare.estimated_error[[i, j]];
                let difference = (far.value[[i, j]] - bare.value[[i, j]]).abs();
                assert!(
                    difference <= bar,
                    "{kind:?} {i} {j}: {difference:e} {bar:e}"
                );
            }
        }
        assert!(far.value[[2, 2]] < 1e-5 * scale);
        // In between everything lies in between.
        let mut coupling = -solid.value[[0, 1]];
        for depth in [0.1, 1.0, 10.0] {
            let between = -answer(&pad_over(kind, Some(depth)), fineness).with.value[[0, 1]];
            assert!(between > coupling, "{kind:?} depth {depth} mm");
            coupling = between;
        }
        assert!(coupling < -far.value[[0, 1]]);
    }
}

#[test]
fn a_screen_goes_with_its_conductor() {
    let case = pad_over(Kind::Planar, Some(0.3));
    let settings = Settings {
        accuracy: 1e9,
        start_fineness: Some(2.0),
        ..Settings::default()
    };
    let shift = solve(&case, Some("hatch"), &settings, &|_| {})
        .expect("an answer")
        .shift
        .expect("a shift");
    let far = answer(&pad_over(Kind::Planar, Some(1e7)), 2.0).with;
    for i in 0..2 {
        for j in 0..2 {
            let (without, far) = (shift.without.value[[i, j]], far.value[[i, j]]);
            assert!((without / far - 1.0).abs() < 1e-5, "{without:e} {far:e}");
        }
    }
}

#[test]
fn the_bits_are_the_same_for_any_number_of_threads() {
    let case = pad_over(Kind::Volume, Some(0.3));
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads").install(|| answer(&case, 0.7).with)
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
}

#[test]
fn what_is_no_screen_is_refused() {
    let kind = Kind::Volume;
    let refused = |change: &dyn Fn(&mut Case), text: &str| {
        let mut case = pad_over(kind, Some(0.3));
        change(&mut case);
        match solve(&case, None, &Settings::default(), &|_| {}) {
            Err(FieldError::Invalid(found)) => assert_eq!(found, text),
            other => panic!("{text}: {other:?}"),
        }
    };
    refused(
        &|case| case.screens[0].conductor = "mesh".into(),
        "conductor \"hatch\" has no pieces",
    );
    refused(
        &|case| {
            case.screens[0].conductor = "mesh".into();
            case.conductors.pop();
        },
        "a screen belongs to \"mesh\", which is no conductor",
    );
    for depth in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        refused(
            &|case| case.screens[0].depth_m = depth,
            "the depth of a screen of \"hatch\" must be positive; a solid sheet is a piece of the \
             conductor",
        );
    }
    let flat = "a screen of \"hatch\" is not a rectangle normal to the last axis";
    refused(&|case| case.screens[0].extent.high_m[2] += MM, flat);
    refused(&|case| case.screens[0].extent.high_m[0] = 0.0, flat);
    refused(&|case| case.screens[0].extent.low_m[1] = f64::NAN, flat);
    refused(
        &|case| case.screens[0].extent.high_m[0] = 21.0 * MM,
        "a screen of \"hatch\" reaches outside the outer wall",
    );
    refused(
        &|case| {
            case.screens[0].extent.low_m[2] = 0.0;
            case.screens[0].extent.high_m[2] = 0.0;
        },
        "a screen of \"hatch\" lies in the outer wall, which is not insulated",
    );
}
