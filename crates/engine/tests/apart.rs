//! Conductors that are never asked about together: what is asked of them has the same bits as if all couplings were
//! told, and the couplings that are taken from charges are as good as their bars say.

use crate::millimetres::{MM, extent};
use approx::assert_relative_eq;
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, RoundBody, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};

const PADS: [&str; 3] = ["left", "middle", "right"];

/// Three pads in a row, the middle one round, and a finger with a dome off centre.
fn three_pads() -> Case {
    let conductor = |name: &str, solid: Solid| Conductor {
        name: name.into(),
        solids: vec![solid],
    };
    let block = |x: f64| Solid::Block(extent([x - 3.0, -4.0, 0.0], [x + 3.0, 4.0, 0.0]));
    let round = |x: f64, radii: [f64; 2], heights: [f64; 2]| {
        Solid::Round(RoundBody {
            centre_m: [x * MM, 0.0],
            contact_radius_m: radii[0] * MM,
            dome_radius_m: radii[1] * MM,
            bottom_m: heights[0] * MM,
            top_m: heights[1] * MM,
        })
    };
    let mut walls = [[Wall::Open; 2]; 3];
    walls[2][0] = Wall::Grounded;
    Case {
        id: "three pads".into(),
        title: String::new(),
        kind: Kind::Volume,
        domain: extent([-30.0, -30.0, -1.5], [30.0, 30.0, 30.0]),
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: vec![Dielectric {
            name: "overlay".into(),
            relative_permittivity: 3.0,
            extent: extent([-30.0, -30.0, -1.5], [30.0, 30.0, 2.0]),
            comes_with: None,
        }],
        screens: Vec::new(),
        conductors: vec![
            conductor(PADS[0], block(-7.0)),
            conductor(PADS[1], round(0.0, [3.0; 2], [0.0; 2])),
            conductor(PADS[2], block(7.0)),
            conductor("finger", round(1.0, [4.0, 7.0], [2.0, 15.0])),
        ],
    }
}

fn answer(apart: &[&str], fineness: f64, derivatives: bool) -> FieldAnswer {
    let settings = Settings {
        accuracy: 1.0,
        start_fineness: Some(fineness),
        apart: apart.iter().map(|name| (*name).to_owned()).collect(),
        derivatives,
        ..Settings::default()
    };
    solve(&three_pads(), Some("finger"), &settings, &|_| {}).expect("solved")
}

fn is_left_out((i, j): (usize, usize)) -> bool {
    i != j && i < PADS.len() && j < PADS.len()
}

#[test]
fn what_is_asked_has_the_same_bits() {
    let [whole, apart] = [&[][..], &PADS].map(|apart| answer(apart, 0.7, true));
    let of_shift = |answer: &FieldAnswer| answer.shift.clone().expect("a shift");
    let (whole_shift, apart_shift) = (of_shift(&whole), of_shift(&apart));
    let matrices = [
        (&whole.with.value, &apart.with.value),
        (&whole.with.estimated_error, &apart.with.estimated_error),
        (&whole.with.lower, &apart.with.lower),
        (&whole.with.guaranteed_above, &apart.with.guaranteed_above),
        (&whole_shift.shift, &apart_shift.shift),
        (&whole_shift.estimated_error, &apart_shift.estimated_error),
        (&whole_shift.without.value, &apart_shift.without.value),
    ];
    for (number, (whole, apart)) in matrices.into_iter().enumerate() {
        for (at, value) in whole.indexed_iter().filter(|(at, _)| !is_left_out(*at)) {
            assert_eq!(value.to_bits(), apart[at].to_bits(), "{number}, {at:?}");
        }
    }
    let segments = |answer: &FieldAnswer| answer.derivatives.clone().expect("derivatives").segments;
    for (whole, apart) in segments(&whole).iter().zip(&segments(&apart)) {
        for (at, value) in whole.derivative.indexed_iter() {
            let told = if is_left_out(at) { 0.0 } else { *value };
            assert_eq!(told.to_bits(), apart.derivative[at].to_bits(), "{at:?}");
        }
    }
}

#[test]
fn couplings_from_charges_are_within_their_bars() {
    let fine = answer(&[], 2.0, false);
    for fineness in [0.5, 0.7, 1.0] {
        let apart = answer(&PADS, fineness, false);
        let shift = |answer: &FieldAnswer| answer.shift.clone().expect("a shift");
        let (fine_shift, apart_shift) = (shift(&fine), shift(&apart));
        for (i, j) in [(0, 1), (0, 2), (1, 2)] {
            let at = [i, j];
            assert_eq!(apart.with.value[at], apart.with.value[[j, i]]);
            for (coarse, truth, bar) in [
                (
                    apart.with.value[at],
                    fine.with.value[at],
                    apart.with.estimated_error[at],
                ),
                (
                    apart_shift.shift[at],
                    fine_shift.shift[at],
                    apart_shift.estimated_error[at],
                ),
            ] {
                assert_relative_eq!(coarse, truth, epsilon = bar);
                assert_ne!(coarse, 0.0);
            }
            let truth = fine.with.value[at];
            assert!(apart.with.lower[at] <= truth && truth <= apart.with.upper[at]);
        }
    }
}
