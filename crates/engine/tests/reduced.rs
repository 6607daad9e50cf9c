//! Reduced models against exact solutions, direct answers on the same grid and bounds of finer ones; what they do not cover.

use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, RoundBody, Solid, Wall};
use padfield_engine::field::reduced::{Chamber, Outside, ReducedModel, ReducedSettings};
use padfield_engine::field::{FieldAnswer, Settings, solve};
use padfield_engine::stop::Stop;
use padfield_engine::units::VACUUM_PERMITTIVITY;
use std::sync::Arc;

/// Two pads under a cover and over a plane; a finger on the first.
struct Design {
    cover_mm: f64,
    permittivity: f64,
    gap_mm: f64,
    pad_mm: f64,
    is_round: bool,
}

const FINENESS: f64 = 0.4;

impl Design {
    fn case(&self) -> Case {
        let mm = 1e-3;
        let board = |x0: f64, x1: f64, y: f64, z0: f64, z1: f64| Extent {
            low_m: [x0 * mm, -y * mm, z0 * mm],
            high_m: [x1 * mm, y * mm, z1 * mm],
        };
        let layer = |name: &str, eps: f64, z0: f64, z1: f64| Dielectric {
            name: name.into(),
            relative_permittivity: eps,
            extent: board(-30.0, 60.0, 25.0, z0, z1),
            comes_with: None,
        };
        let half = 0.5 * self.pad_mm;
        let start = half + self.gap_mm;
        let pad = |name: &str, x0: f64, x1: f64| Conductor {
            name: name.into(),
            solids: vec![Solid::Block(board(x0, x1, half, 0.0, 0.0))],
        };
        let top = self.cover_mm;
        let finger = match self.is_round {
            false => Solid::Block(board(-4.0, 4.0, 4.0, top, top + 12.0)),
            true => Solid::Round(RoundBody {
                centre_m: [0.0; 2],
                contact_radius_m: 3.0 * mm,
                dome_radius_m: 4.5 * mm,
                bottom_m: top * mm,
                top_m: (top + 12.0) * mm,
            }),
        };
        Case {
            id: "two".into(),
            title: String::new(),
            kind: Kind::Volume,
            domain: Extent {
                low_m: [-60.0 * mm, -55.0 * mm, -32.0 * mm],
                high_m: [90.0 * mm, 55.0 * mm, (top + 42.0) * mm],
            },
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: vec![
                layer("board", 4.3, -1.6, 0.0),
                layer("cover", self.permittivity, 0.0, top),
            ],
            conductors: vec![
                pad("left", -half, half),
                pad("right", start, start + self.pad_mm),
                Conductor {
                    name: "ground".into(),
                    solids: vec![Solid::Block(board(-30.0, 60.0, 25.0, -1.6, -1.6))],
                },
                Conductor {
                    name: "finger".into(),
                    solids: vec![finger],
                },
            ],
            screens: Vec::new(),
        }
    }
}

/// Designs spread over the ranges: an additive recurrence with the plastic number's powers.
fn spread(count: usize, from: usize, is_round: bool) -> Vec<Case> {
    let share = |i: usize, d: i32| {
        (0.5 + (i + 1) as f64 * 1.220_744_084_605_759_5_f64.powi(-d - 1)).fract()
    };
    let range = |low: f64, high: f64, share: f64| low * (high / low).powf(share);
    (from..from + count)
        .map(|i| {
            Design {
                cover_mm: range(1.0, 6.0, share(i, 0)),
                permittivity: range(2.0, 8.0, share(i, 1)),
                gap_mm: range(2.0, 12.0, share(i, 2)),
                pad_mm: range(10.0, 18.0, share(i, 3)),
                is_round,
            }
            .case()
        })
        .collect()
}

/// A model of two pads, made of few designs.
fn model(is_round: bool) -> ReducedModel {
    let reference = Design {
        cover_mm: 2.5,
        permittivity: 4.0,
        gap_mm: 5.0,
        pad_mm: 13.4,
        is_round,
    };
    let chamber = Chamber::of(Stop::NEVER, &reference.case(), FINENESS).expect("a chamber");
    let settings = ReducedSettings {
        without: Some("finger"),
        drive: &drive(),
        apart: &[],
        stop: Stop::NEVER,
    };
    let designs = [
        &spread(31, 0, is_round)[..],
        &spread(160, 100, is_round),
        &spread(12, 1000, is_round),
    ];
    ReducedModel::new(Arc::new(chamber), designs, &settings).expect("a model")
}

fn drive() -> Vec<String> {
    ["left", "right"].map(String::from).to_vec()
}

/// One round on the grid of the model.
fn settings(model: &ReducedModel) -> Settings {
    Settings {
        accuracy: f64::MAX,
        drive: Some(drive()),
        start_fineness: Some(model.fineness()),
        family: Some(Arc::new(model.chamber().reference().clone())),
        ..Settings::default()
    }
}

/// Answers of a model and of the engine to designs that the model is not made of.
fn both(model: &ReducedModel, cases: &[Case]) -> Vec<[FieldAnswer; 2]> {
    let settings = settings(model);
    let cases_of: Vec<&Case> = cases.iter().collect();
    let reduced = model.answers(&cases_of, Some("finger"), &settings, &mut model.scratch());
    let direct = |case: &Case| solve(case, Some("finger"), &settings, &|_| {}).expect("an answer");
    let reduced = reduced
        .into_iter()
        .map(|answer| answer.expect("one of the chamber"));
    reduced
        .zip(cases)
        .map(|(reduced, case)| [reduced, direct(case)])
        .collect()
}

/// What an answer says of the base, the touch shift and the shift of the neighbour: value and bar.
fn printed(answer: &FieldAnswer) -> [[f64; 2]; 3] {
    let shift = answer.shift.as_ref().expect("two states");
    [
        [
            shift.without.value[[0, 0]],
            shift.without.estimated_error[[0, 0]],
        ],
        [shift.shift[[0, 0]], shift.estimated_error[[0, 0]]],
        [shift.shift[[1, 1]], shift.estimated_error[[1, 1]]],
    ]
}

/// Against direct answers on the same grid, which solve every design anew. Thirty-two designs of four parameters leave about this
/// much, measured here on a hundred of each; the bars hold it many times.
fn are_within_their_bars(is_round: bool) {
    let model = model(is_round);
    for [reduced, direct] in both(&model, &spread(12, 2000, is_round)) {
        let each = printed(&reduced).into_iter().zip(printed(&direct));
        for (([reduced, bar], [direct, of_direct]), most) in each.zip([4e-4, 1.1e-3, 2.6e-2]) {
            assert!(
                (reduced - direct).abs() <= 0.5 * bar,
                "{reduced} {direct} +- {bar}"
            );
            assert!((reduced / direct - 1.0).abs() < most, "{reduced} {direct}");
            // What reduction adds to a bar stays in proportion.
            assert!(
                bar >= 0.97 * of_direct && bar < 1.6 * of_direct,
                "{bar} {of_direct}"
            );
        }
        let base = |answer: &FieldAnswer| {
            let without = &answer.shift.as_ref().expect("two states").without;
            [without.lower[[0, 0]], without.upper[[0, 0]]]
        };
        let ([low, high], [direct_low, direct_high]) = (base(&reduced), base(&direct));
        let value = printed(&direct)[0][0];
        assert!(low < value && value < high);
        // Both hold the true value.
        assert!(low < direct_high && direct_low < high);
        assert!(high - low < 1.02 * (direct_high - direct_low));
    }
}

#[test]
fn boxes_are_within_their_bars() {
    are_within_their_bars(false);
}

#[test]
fn domes_that_keep_their_lines_are_within_their_bars() {
    are_within_their_bars(true);
}

/// The true base lies between the bounds whatever the grid: those of a much finer one must meet them.
#[test]
fn bounds_hold_what_a_finer_grid_finds() {
    let model = model(false);
    let cases = spread(4, 5000, false);
    let cases_of: Vec<&Case> = cases.iter().collect();
    let answers = model.answers(
        &cases_of,
        Some("finger"),
        &settings(&model),
        &mut model.scratch(),
    );
    for (case, answer) in cases.iter().zip(answers) {
        let reduced = answer.expect("one of the chamber");
        let fine = Settings {
            start_fineness: Some(1.0),
            drive: Some(drive()),
            accuracy: f64::MAX,
            ..Settings::default()
        };
        let fine = solve(case, Some("finger"), &fine, &|_| {}).expect("an answer");
        let [reduced, fine] =
            [reduced, fine].map(|answer| answer.shift.expect("two states").without);
        for i in 0..2 {
            let at = [i, i];
            assert!(reduced.lower[at] < fine.lower[at] && fine.upper[at] < reduced.upper[at]);
        }
    }
}

/// Two layers between plates that fill a box: the series of two capacitors is exact, and every energy meets it.
#[test]
fn layers_between_plates_are_exact() {
    let case = |first_mm: f64, second_mm: f64, permittivity: f64| {
        let level = |z_mm: f64| z_mm * 1e-3;
        let sheet = |z0: f64, z1: f64| Extent {
            low_m: [0.0, 0.0, level(z0)],
            high_m: [4e-3, 3e-3, level(z1)],
        };
        let top = first_mm + second_mm;
        let plate = |name: &str, z: f64| Conductor {
            name: name.into(),
            solids: vec![Solid::Block(sheet(z, z))],
        };
        let layer = |name: &str, eps: f64, z0: f64, z1: f64| Dielectric {
            name: name.into(),
            relative_permittivity: eps,
            extent: sheet(z0, z1),
            comes_with: None,
        };
        Case {
            id: "plates".into(),
            title: String::new(),
            kind: Kind::Volume,
            domain: sheet(0.0, top),
            walls: [[Wall::Insulated; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: vec![
                layer("first", 3.0, 0.0, first_mm),
                layer("second", permittivity, first_mm, top),
            ],
            conductors: vec![plate("lower", 0.0), plate("upper", top)],
            screens: Vec::new(),
        }
    };
    let spread = |count: usize, from: usize| -> Vec<Case> {
        let share = |i: usize, d: i32| {
            (0.5 + (i + 1) as f64 * 1.324_717_957_244_746_f64.powi(-d - 1)).fract()
        };
        (from..from + count)
            .map(|i| {
                case(
                    0.5 + share(i, 0),
                    0.3 + share(i, 1),
                    2.0 + 6.0 * share(i, 2),
                )
            })
            .collect()
    };
    let chamber = Chamber::of(Stop::NEVER, &case(1.0, 0.8, 5.0), 0.5).expect("a chamber");
    let drive = vec!["upper".to_owned()];
    let made = ReducedSettings {
        without: None,
        drive: &drive,
        apart: &[],
        stop: Stop::NEVER,
    };
    let designs = [&spread(7, 0)[..], &spread(40, 100), &spread(5, 200)];
    let model = ReducedModel::new(Arc::new(chamber), designs, &made).expect("a model");
    let asked = Settings {
        drive: Some(drive),
        ..Settings::default()
    };
    let [first_mm, second_mm, permittivity] = [1.31, 0.57, 3.7];
    let wanted = case(first_mm, second_mm, permittivity);
    let answer = model
        .answers(&[&wanted], None, &asked, &mut model.scratch())
        .remove(0);
    let matrix = answer.expect("one of the chamber").with;
    let exact = VACUUM_PERMITTIVITY * 12e-6 / (1e-3 * (first_mm / 3.0 + second_mm / permittivity));
    for value in [
        matrix.value[[0, 0]],
        matrix.lower[[0, 0]],
        matrix.upper[[0, 0]],
    ] {
        assert!((value / exact - 1.0).abs() < 2e-6, "{value} {exact}");
    }
}

#[test]
fn what_a_model_does_not_cover_is_said() {
    let design = |gap_mm: f64, pad_mm: f64| Design {
        cover_mm: 2.0,
        permittivity: 4.0,
        gap_mm,
        pad_mm,
        is_round: true,
    };
    let reference = design(5.0, 14.0).case();
    let chamber = Chamber::of(Stop::NEVER, &reference, 0.3).expect("a chamber");
    assert_eq!(chamber.covers(&design(7.0, 12.0).case()), Ok(()));
    // Under the dome, which is 9 mm wide, and to its very edge.
    assert_eq!(
        chamber.covers(&design(5.0, 8.0).case()),
        Err(Outside::OtherOrder)
    );
    assert_eq!(
        chamber.covers(&design(5.0, 9.0).case()),
        Err(Outside::OtherOrder)
    );
    let narrow = Chamber::of(Stop::NEVER, &design(5.0, 8.0).case(), 0.3).expect("a chamber");
    assert_eq!(
        narrow.covers(&design(5.0, 7.0).case()),
        Err(Outside::UnderShape)
    );
    let mut other = reference.clone();
    other.conductors.remove(1);
    assert_eq!(chamber.covers(&other), Err(Outside::OtherPieces));
    other.kind = Kind::Planar;
    assert_eq!(
        Chamber::of(Stop::NEVER, &other, 0.3).err(),
        Some(Outside::NoVolume)
    );
}

#[test]
fn many_at_once_have_the_bits_of_each_alone() {
    let model = model(true);
    let cases = spread(37, 7000, true);
    let settings = settings(&model);
    let all: Vec<&Case> = cases.iter().collect();
    let mut scratch = model.scratch();
    let together = model.answers(&all, Some("finger"), &settings, &mut scratch);
    for (case, together) in cases.iter().zip(together).step_by(9) {
        let alone = model
            .answers(&[case], Some("finger"), &settings, &mut scratch)
            .remove(0);
        assert_eq!(alone.expect("an answer"), together.expect("an answer"));
    }
}
