//! Outlines off the grid against twins the grid follows: a square pad turned by 45 and 30 degrees
//! against the same pad as a block, and a disc under a round finger against its axisymmetric twin.
//!
//! All sit 1.6 mm above a plane under a 3 mm overlay, in open space. The twins are solved so finely
//! that they count as exact here; an absolute reference for round shapes is in `reference.rs`.
//! Run with `--nocapture` for the differences.

use crate::millimetres::{MM, extent};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Prism, RoundBody, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};

/// Distance of the open wall [mm].
const FAR: f64 = 60.0;

/// The stackup over a plane at the bottom; `height_axis` is 2 in volumes, 1 about an axis.
fn stackup(kind: Kind, height_axis: usize, conductors: Vec<Conductor>) -> Case {
    let across = |at: f64| if kind == Kind::Axisymmetric { 0.0 } else { at };
    let layer = |name: &str, permittivity: f64, bottom: f64, top: f64| {
        let mut low = [across(-FAR), across(-FAR), 0.0];
        let mut high = [FAR, if height_axis == 2 { FAR } else { 0.0 }, 0.0];
        (low[height_axis], high[height_axis]) = (bottom, top);
        Dielectric {
            name: name.into(),
            relative_permittivity: permittivity,
            extent: extent(low, high),
            comes_with: None,
        }
    };
    let mut walls = [[Wall::Open; 2]; 3];
    walls[height_axis][0] = Wall::Grounded;
    if kind == Kind::Axisymmetric {
        walls[0][0] = Wall::Insulated;
    }
    Case {
        id: "pad over a plane".into(),
        title: String::new(),
        kind,
        domain: layer("all", 1.0, -1.6, FAR).extent,
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: vec![
            layer("board", 4.4, -1.6, 0.0),
            layer("overlay", 2.8, 0.0, 3.0),
        ],
        screens: Vec::new(),
        conductors,
    }
}

fn conductor(name: &str, solid: Solid) -> Conductor {
    Conductor {
        name: name.into(),
        solids: vec![solid],
    }
}

/// Square pad of 12 mm, turned, or as a block.
fn square(degrees: Option<f64>) -> Case {
    let solid = match degrees {
        None => Solid::Block(extent([-6.0, -6.0, 0.0], [6.0, 6.0, 0.0])),
        Some(degrees) => {
            let (sine, cosine) = degrees.to_radians().sin_cos();
            let corners = [[-6.0, -6.0], [6.0, -6.0], [6.0, 6.0], [-6.0, 6.0]];
            Solid::Prism(Prism {
                outlines_m: vec![
                    corners
                        .map(|[x, y]: [f64; 2]| {
                            [MM * (x * cosine - y * sine), MM * (x * sine + y * cosine)]
                        })
                        .to_vec(),
                ],
                bottom_m: 0.0,
                top_m: 0.0,
                feature_m: f64::INFINITY,
            })
        }
    };
    stackup(Kind::Volume, 2, vec![conductor("pad", solid)])
}

/// Disc pad of 12 mm under a finger of contact diameter 10 mm and dome diameter 16 mm.
fn disc(kind: Kind) -> Case {
    let round = |radius: f64, dome: f64, bottom: f64, top: f64| {
        Solid::Round(RoundBody {
            centre_m: [0.0; 2],
            contact_radius_m: radius * MM,
            dome_radius_m: dome * MM,
            bottom_m: bottom * MM,
            top_m: top * MM,
        })
    };
    let (pad, height_axis) = match kind {
        Kind::Volume => (round(6.0, 6.0, 0.0, 0.0), 2),
        _ => (Solid::Block(extent([0.0; 3], [6.0, 0.0, 0.0])), 1),
    };
    let finger = round(5.0, 8.0, 3.0, 23.0);
    let conductors = vec![conductor("pad", pad), conductor("finger", finger)];
    stackup(kind, height_axis, conductors)
}

fn answer(case: &Case, without: Option<&str>, fineness: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy: 1.0,
        start_fineness: Some(fineness),
        ..Settings::default()
    };
    solve(case, without, &settings, &|_| {}).expect("solved")
}

/// Fails when `value` differs from `twin` by more than a share, or than its own bar.
fn assert_twin(name: &str, value: f64, bar: f64, twin: f64, share: f64) {
    let error = value / twin - 1.0;
    println!(
        "{name}: {:+.3} %, bar {:.3} %",
        100.0 * error,
        100.0 * bar / twin
    );
    assert!(error.abs() <= share, "{name}: {value:e}, twin {twin:e}");
    assert!((value - twin).abs() <= bar, "{name}: outside its bar");
}

#[test]
fn turned_squares() {
    let block = answer(&square(None), None, 4.0).with.value[[0, 0]];
    for degrees in [45.0, 30.0] {
        for fineness in [1.0, 2.0] {
            let turned = answer(&square(Some(degrees)), None, fineness).with;
            // Measured up to -0.5 %: the corners, each rounded off by a cell.
            assert_twin(
                &format!("square at {degrees} degrees, fineness {fineness}"),
                turned.value[[0, 0]],
                turned.estimated_error[[0, 0]],
                block,
                0.006,
            );
        }
    }
}

#[test]
fn an_outline_along_the_grid_is_the_block() {
    let block = answer(&square(None), None, 4.0).with.value[[0, 0]];
    let outline = answer(&square(Some(0.0)), None, 2.0).with;
    // Its grid is even instead of graded; that is all.
    assert_twin(
        "square at 0 degrees",
        outline.value[[0, 0]],
        outline.estimated_error[[0, 0]],
        block,
        0.002,
    );
}

#[test]
fn disc_under_a_round_finger() {
    let twin = answer(&disc(Kind::Axisymmetric), Some("finger"), 6.0)
        .shift
        .expect("a shift");
    for (fineness, base_limit, shift_limit) in [(1.0, 0.0015, 0.002), (2.0, 0.0008, 0.0015)] {
        let volume = answer(&disc(Kind::Volume), Some("finger"), fineness)
            .shift
            .expect("a shift");
        assert_twin(
            &format!("base of a disc, fineness {fineness}"),
            volume.without.value[[0, 0]],
            volume.without.estimated_error[[0, 0]],
            twin.without.value[[0, 0]],
            base_limit,
        );
        assert_twin(
            &format!("shift of a disc, fineness {fineness}"),
            volume.shift[[0, 0]],
            volume.estimated_error[[0, 0]],
            twin.shift[[0, 0]],
            shift_limit,
        );
    }
}
