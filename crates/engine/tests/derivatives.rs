//! Derivatives against differences of re-solved cases.
//!
//! Source of the identity: dC/dp = u^T (dA/dp) u at a stationary point (envelope theorem). The
//! differences are of complete answers on re-graded grids, so the tolerance is that of the grids.

use ndarray::Array2;
use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};

const MM: f64 = 1e-3;

fn extent(low: [f64; 3], high: [f64; 3]) -> Extent {
    Extent {
        low_m: low.map(|v| v * MM),
        high_m: high.map(|v| v * MM),
    }
}

fn conductor(name: &str, solids: Vec<Extent>) -> Conductor {
    Conductor {
        name: name.into(),
        solids: solids.into_iter().map(Solid::Block).collect(),
    }
}

/// Two pads under an overlay over a ground plane; `overlay` and `gap` in mm, `eps` of the overlay.
/// Everything beyond a stretched length moves along, as the derivative has it.
fn planar(overlay: f64, gap: f64, eps: f64) -> Case {
    let right = 25.0 + gap;
    let top = 1.6 + overlay;
    Case {
        id: "two pads".into(),
        title: String::new(),
        kind: Kind::Planar,
        domain: extent([0.0; 3], [right + 20.0, top + 20.0, 0.0]),
        walls: [[Wall::Grounded; 2]; 3],
        background_relative_permittivity: 1.0,
        dielectrics: vec![
            Dielectric {
                name: "board".into(),
                relative_permittivity: 4.4,
                extent: extent([5.0, 0.0, 0.0], [right + 5.0, 1.6, 0.0]),
                comes_with: None,
            },
            Dielectric {
                name: "overlay".into(),
                relative_permittivity: eps,
                extent: extent([5.0, 1.6, 0.0], [right + 5.0, top, 0.0]),
                comes_with: None,
            },
        ],
        screens: Vec::new(),
        conductors: vec![
            conductor("left", vec![extent([15.0, 1.6, 0.0], [25.0, 1.6, 0.0])]),
            conductor(
                "right",
                vec![extent([right, 1.6, 0.0], [right + 10.0, 1.6, 0.0])],
            ),
            conductor(
                "finger",
                vec![extent([16.0, top, 0.0], [24.0, top + 10.0, 0.0])],
            ),
        ],
    }
}

fn round(radius: f64) -> Case {
    Case {
        id: "disc".into(),
        title: String::new(),
        kind: Kind::Axisymmetric,
        domain: extent([0.0; 3], [radius + 20.0, 25.0, 0.0]),
        walls: [
            [Wall::Insulated, Wall::Grounded],
            [Wall::Grounded; 2],
            [Wall::Grounded; 2],
        ],
        background_relative_permittivity: 1.0,
        dielectrics: vec![Dielectric {
            name: "board".into(),
            relative_permittivity: 4.4,
            extent: extent([0.0; 3], [radius + 20.0, 1.6, 0.0]),
            comes_with: None,
        }],
        screens: Vec::new(),
        conductors: vec![conductor(
            "pad",
            vec![extent([0.0, 1.6, 0.0], [radius, 1.6, 0.0])],
        )],
    }
}

fn answer(case: &Case, fineness: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy: 1.0,
        start_fineness: Some(fineness),
        use_symmetry: false,
        derivatives: true,
        ..Settings::default()
    };
    solve(case, None, &settings, &|_| {}).expect("solved")
}

fn segment(answer: &FieldAnswer, axis: usize, low_mm: f64) -> &Array2<f64> {
    let found = answer
        .derivatives
        .as_ref()
        .expect("asked for")
        .segments
        .iter()
        .find(|s| s.axis == axis && (s.low_m - low_mm * MM).abs() < 1e-9);
    &found.expect("a segment starts there").derivative
}

/// Largest difference of two matrices relative to `share` of the largest entry, entry by entry.
fn assert_close(computed: &Array2<f64>, difference: &Array2<f64>, tolerance: f64) {
    let largest = difference.iter().fold(0.0_f64, |a, v| a.max(v.abs()));
    for (c, d) in computed.iter().zip(difference) {
        assert!(
            (c - d).abs() <= tolerance * d.abs() + 0.1 * tolerance * largest,
            "derivative {c:e}, difference {d:e}\n{computed:e}\n{difference:e}"
        );
    }
}

#[test]
fn permittivity() {
    let step = 0.01;
    let difference = (answer(&planar(3.0, 6.0, 3.0 + step), 4.0).with.value
        - answer(&planar(3.0, 6.0, 3.0 - step), 4.0).with.value)
        / (2.0 * step);
    let derivatives = answer(&planar(3.0, 6.0, 3.0), 4.0)
        .derivatives
        .expect("asked for");
    assert_close(&derivatives.permittivity[1], &difference, 0.01);
}

#[test]
fn overlay_thickness_and_gap() {
    let middle = answer(&planar(3.0, 6.0, 3.0), 5.0);
    // Steps far above the jump when the number of cells of a segment changes.
    let step = 0.2;
    let thickness = (answer(&planar(3.0 + step, 6.0, 3.0), 5.0).with.value
        - answer(&planar(3.0 - step, 6.0, 3.0), 5.0).with.value)
        / (2.0 * step * MM);
    assert_close(segment(&middle, 1, 1.6), &thickness, 0.02);
    let gap = (answer(&planar(3.0, 6.0 + step, 3.0), 5.0).with.value
        - answer(&planar(3.0, 6.0 - step, 3.0), 5.0).with.value)
        / (2.0 * step * MM);
    assert_close(segment(&middle, 0, 25.0), &gap, 0.03);
}

#[test]
fn radius_of_a_disc() {
    let step = 0.1;
    let difference = (answer(&round(6.0 + step), 5.0).with.value
        - answer(&round(6.0 - step), 5.0).with.value)
        / (2.0 * step * MM);
    assert_close(
        segment(&answer(&round(6.0), 5.0), 0, 0.0),
        &difference,
        0.01,
    );
}

#[test]
fn shares_are_logarithmic_derivatives() {
    let middle = answer(&planar(3.0, 6.0, 3.0), 3.0);
    let derivatives = middle.derivatives.as_ref().expect("asked for");
    for (m, eps) in [4.4, 3.0, 1.0].into_iter().enumerate() {
        for i in 0..3 {
            let share = derivatives.permittivity[m][[i, i]] * eps / middle.with.value[[i, i]];
            assert!((share - middle.with.energy_share[[i, m]]).abs() < 2e-3);
        }
    }
}
