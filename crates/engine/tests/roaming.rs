//! A body that is asked about at many places: the state without it is solved once, and what it does not see is bounded.
//!
//! The panel is built here; what is checked are properties: places on one grid agree with places on grids of their
//! own within both bars, what is shared leaves every bit as it is, and a bounded change holds the solved one.

use crate::millimetres::{MM, extent};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, RoundBody, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Roaming, Settings, solve};
use padfield_engine::grid::Region;

const PADS: usize = 6;

/// Six pads of 8 mm in a row, 12 mm apart, ground behind them, a finger over the place `at_mm` along the row.
fn panel(at_mm: f64) -> Case {
    let pad = |number: usize| {
        let at = 12.0 * number as f64;
        Conductor {
            name: format!("pad {number}"),
            solids: vec![Solid::Block(extent(
                [at - 4.0, -4.0, 0.0],
                [at + 4.0, 4.0, 0.0],
            ))],
        }
    };
    let layer = |name: &str, permittivity, low_mm, high_mm| Dielectric {
        name: name.into(),
        relative_permittivity: permittivity,
        extent: extent([-10.0, -10.0, low_mm], [70.0, 12.0, high_mm]),
        comes_with: None,
    };
    let ground = Conductor {
        name: "ground".into(),
        solids: vec![Solid::Block(extent(
            [-10.0, -10.0, -1.6],
            [70.0, 12.0, -1.6],
        ))],
    };
    let finger = Conductor {
        name: "finger".into(),
        solids: vec![Solid::Round(RoundBody {
            centre_m: [at_mm * MM, 0.5 * MM],
            contact_radius_m: 4.0 * MM,
            dome_radius_m: 7.0 * MM,
            bottom_m: 2.0 * MM,
            top_m: 14.0 * MM,
        })],
    };
    Case {
        id: "roaming".into(),
        title: "six pads under an overlay".into(),
        kind: Kind::Volume,
        domain: extent([-40.0, -40.0, -20.0], [100.0, 42.0, 34.0]),
        walls: [[Wall::Open; 2]; 3],
        background_relative_permittivity: 1.0,
        dielectrics: vec![
            layer("overlay", 3.0, 0.0, 2.0),
            layer("board", 4.4, -1.6, 0.0),
        ],
        screens: Vec::new(),
        conductors: (0..PADS).map(pad).chain([ground, finger]).collect(),
    }
}

/// The same finger in a glove of 0.8 mm, which is a sheet that comes with it.
fn gloved(at_mm: f64) -> Case {
    let mut case = panel(at_mm);
    case.dielectrics.push(Dielectric {
        name: "glove".into(),
        relative_permittivity: 1.8,
        extent: extent([at_mm - 6.2, -5.7, 2.0], [at_mm + 6.2, 6.7, 2.8]),
        comes_with: Some("finger".into()),
    });
    let finger = case.conductors.last_mut().expect("the finger is the last");
    for solid in &mut finger.solids {
        if let Solid::Round(body) = solid {
            body.bottom_m += 0.8 * MM;
        }
    }
    case
}

fn settings(roaming: Option<Roaming>) -> Settings {
    let pads = (0..PADS).map(|number| format!("pad {number}"));
    Settings {
        accuracy: f64::MAX,
        start_fineness: Some(0.6),
        drive: Some(pads.chain(["finger".to_owned()]).collect()),
        roaming,
        ..Settings::default()
    }
}

/// Anywhere over the row.
fn anywhere() -> Roaming {
    Roaming::new("finger", 1 << 30).over(Region {
        low_m: [-5.0 * MM, -5.0 * MM],
        high_m: [65.0 * MM, 6.0 * MM],
    })
}

fn solved(at_mm: f64, settings: &Settings) -> FieldAnswer {
    answer(&panel(at_mm), settings)
}

fn answer(case: &Case, settings: &Settings) -> FieldAnswer {
    solve(case, Some("finger"), settings, &|_| {}).expect("the panel is solved")
}

/// Bases and shifts with their errors, pad by pad.
fn of_pads(answer: &FieldAnswer) -> Vec<[[f64; 2]; 2]> {
    let shift = answer.shift.as_ref().expect("two states");
    let base = &shift.without;
    (0..PADS)
        .map(|pad| {
            let at = [pad, pad];
            [
                [base.value[at], base.estimated_error[at]],
                [shift.shift[at], shift.estimated_error[at]],
            ]
        })
        .collect()
}

/// An answer without the time it took and how it was found.
fn plain(mut answer: FieldAnswer) -> FieldAnswer {
    answer.solver.seconds = 0.0;
    answer
}

#[test]
fn a_shared_grid_and_one_of_its_own_agree_within_their_bars() {
    let roaming = settings(Some(anywhere()));
    for (case, at_mm) in [0.0, 13.5, 42.0]
        .into_iter()
        .flat_map(|at_mm| [(panel(at_mm), at_mm), (gloved(at_mm), at_mm)])
    {
        let [shared, own] = [&roaming, &settings(None)].map(|s| of_pads(&answer(&case, s)));
        for (pad, (shared, own)) in shared.iter().zip(&own).enumerate() {
            for (what, (a, b)) in ["base", "shift"].iter().zip(shared.iter().zip(own)) {
                let apart = (a[0] - b[0]).abs();
                assert!(
                    apart <= a[1] + b[1],
                    "finger at {at_mm} mm, {what} of pad {pad}: {a:?} {b:?}"
                );
            }
        }
    }
}

#[test]
fn what_is_shared_leaves_every_bit() {
    let together = settings(Some(anywhere()));
    let places = [0.0, 25.0, 42.0];
    let shared: Vec<FieldAnswer> = places.map(|at| plain(solved(at, &together))).to_vec();
    for (at, shared) in places.iter().zip(&shared) {
        let alone = plain(solved(*at, &settings(Some(anywhere()))));
        assert_eq!(&alone, shared, "finger at {at} mm");
    }
    // Where nothing may be kept, the same is solved again.
    let nothing = Roaming::new("finger", 0);
    let region = anywhere().region.expect("a region");
    let nothing = settings(Some(nothing.over(region)));
    for (at, shared) in places.iter().zip(&shared) {
        assert_eq!(&plain(solved(*at, &nothing)), shared, "finger at {at} mm");
    }
    // On any number of threads.
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let pool = pool.expect("some threads");
        let answer = pool.install(|| plain(solved(25.0, &settings(Some(anywhere())))));
        assert_eq!(answer, shared[1], "{threads} threads");
    }
}

#[test]
fn a_finger_in_a_glove_shares_as_a_bare_one_does() {
    let together = settings(Some(anywhere()));
    let [first, second] = [0.0, 25.3].map(|at| plain(answer(&gloved(at), &together)));
    assert_eq!(first.grid.shape, second.grid.shape);
    // The state without finger and glove is the same, bit for bit.
    let absent = |answer: &FieldAnswer| {
        answer
            .shift
            .as_ref()
            .map(|shift| shift.without.value.clone())
    };
    assert_eq!(absent(&first), absent(&second));
    let alone = settings(Some(anywhere()));
    assert_eq!(second, plain(answer(&gloved(25.3), &alone)));
}

#[test]
fn derivatives_leave_the_values_of_a_shared_grid() {
    let without = settings(Some(anywhere()));
    let with = Settings {
        derivatives: true,
        ..without.clone()
    };
    let mut answer = plain(solved(13.5, &with));
    assert!(answer.derivatives.is_some() && answer.derivatives_without.is_some());
    answer.derivatives = None;
    answer.derivatives_without = None;
    assert_eq!(answer, plain(solved(13.5, &without)));
}

#[test]
fn a_bounded_change_holds_the_solved_one() {
    // Over the first pad the last ones are not seen; on a grid of its own they are solved.
    let roaming = of_pads(&solved(0.0, &settings(Some(anywhere()))));
    let own = of_pads(&solved(0.0, &settings(None)));
    let [_, largest] = own[0];
    let mut bounded = 0;
    for (pad, (shared, own)) in roaming.iter().zip(&own).enumerate() {
        let ([_, [value, error]], [_, [solved, _]]) = (shared, own);
        // Half of the bound is value, half error.
        if (error / value - 1.0).abs() < 0.2 {
            bounded += 1;
            assert!(
                value - error <= *solved && *solved <= value + error,
                "pad {pad}: {value:e} +- {error:e}, solved {solved:e}"
            );
            assert!(
                value + error < 5e-3 * largest[0],
                "pad {pad}: {value:e} of {:e}",
                largest[0]
            );
        }
    }
    assert!(bounded >= 2, "{bounded} of {PADS} pads are bounded");
    // What the finger couples to them is solved all the same.
    let answers = [settings(Some(anywhere())), settings(None)].map(|s| solved(0.0, &s).with);
    let finger = PADS;
    for pad in 0..PADS {
        let at = [pad, finger];
        let [a, b] = answers.each_ref().map(|matrix| matrix.value[at]);
        assert!((a / b - 1.0).abs() < 0.05, "pad {pad}: {a:e} {b:e}");
    }
}
