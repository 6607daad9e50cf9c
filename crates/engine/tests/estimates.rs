//! The estimated error against the true one, on random volumes: two pads side by side with or without a plane, a guard
//! and round outlines, under a block or a dome off centre; and two segments of a toothed slider under a dome. The numbers
//! in `field/bounds.rs` were fitted to more of them.
//!
//! What counts as true here is the same volume at three times the fineness and more. Run with `--nocapture` for the
//! shares; with `PADFIELD_ALL_VOLUMES=1` for all that the numbers were fitted to, a quarter of an hour on two cores.

use crate::millimetres::{MM, extent};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Prism, RoundBody, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};
use rayon::prelude::*;

/// Distance of the open wall, and depth of an open bottom [mm].
const FAR: f64 = 40.0;
/// What is solved.
struct Scope {
    /// Fineness of what is judged.
    judged: &'static [f64],
    /// Fineness of what counts as true.
    truth: f64,
    /// Volumes of each of the three kinds.
    of_each: u64,
}

const PART: Scope = Scope {
    judged: &[0.25, 0.35, 0.6, 1.0],
    truth: 3.0,
    of_each: 4,
};
const ALL: Scope = Scope {
    judged: &[0.25, 0.35, 0.5, 0.7, 1.0, 1.5, 2.0],
    truth: 5.0,
    of_each: 24,
};
/// The same of toothed sliders, whose gaps of half a millimetre and less take cells.
const PART_TOOTHED: Scope = Scope {
    judged: &[0.25, 0.35, 0.5],
    truth: 1.5,
    of_each: 6,
};
const ALL_TOOTHED: Scope = Scope {
    judged: &[0.25, 0.35, 0.5, 0.7, 1.0],
    truth: 3.0,
    of_each: 12,
};
/// Neighbour shifts below this share of the shift are not judged.
const SMALLEST: f64 = 0.01;

/// Numbers from 0 to 1, the same ones for the same seed.
///
/// Source: D. E. Knuth, The Art of Computer Programming, vol. 2, 3rd ed. (1997), table 3.3.4-1, line 26 (MMIX).
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / (1_u64 << 31) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// Even in the logarithm.
    fn of_size(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Outlines {
    Blocks,
    Dome,
    DiscsAndDome,
}

fn round(x: f64, radii: [f64; 2], heights: [f64; 2]) -> Solid {
    Solid::Round(RoundBody {
        centre_m: [x * MM, 0.0],
        contact_radius_m: radii[0] * MM,
        dome_radius_m: radii[1] * MM,
        bottom_m: heights[0] * MM,
        top_m: heights[1] * MM,
    })
}

/// Half of a volume that is its own mirror image in y: pads "left" and "right", "finger" above the left one.
fn volume(outlines: Outlines, seed: u64) -> Case {
    let mut random = Random(99_991 * (seed + 1));
    for _ in 0..5 {
        random.next();
    }
    let width = random.between(5.0, 14.0);
    let length = width * random.between(0.7, 1.5);
    let gap = random.of_size(0.5, 8.0);
    let thickness = random.of_size(0.6, 4.8);
    let permittivity = random.of_size(2.2, 8.8);
    let depth = random.of_size(0.4, 2.4);
    let (has_plane, has_guard) = (random.next() < 0.7, random.next() < 0.5);
    let clearance = random.between(0.4, 2.0);
    let contact = random.between(3.0, 6.0);
    let dome = contact * random.between(1.1, 2.3);
    let middle = 0.5 * (width + gap);
    let finger_at = -middle + 0.5 * width * random.between(-0.5, 0.5);
    let top = thickness + 15.0;
    let pad = |x: f64| match outlines {
        Outlines::DiscsAndDome => round(x, [0.5 * width; 2], [0.0; 2]),
        _ => Solid::Block(extent(
            [x - 0.5 * width, 0.0, 0.0],
            [x + 0.5 * width, 0.5 * length, 0.0],
        )),
    };
    let finger = match outlines {
        Outlines::Blocks => Solid::Block(extent(
            [finger_at - contact, 0.0, thickness],
            [finger_at + contact, contact, top],
        )),
        _ => round(finger_at, [contact, dome], [thickness, top]),
    };
    let mut conductors = vec![
        conductor("left", vec![pad(-middle)]),
        conductor("right", vec![pad(middle)]),
        conductor("finger", vec![finger]),
    ];
    if has_guard {
        let half = match outlines {
            Outlines::DiscsAndDome => 0.5 * width,
            _ => 0.5 * length,
        };
        let (x, y) = (middle + 0.5 * width + clearance, half + clearance);
        let bar = |low: [f64; 2], high: [f64; 2]| {
            Solid::Block(extent([low[0], low[1], 0.0], [high[0], high[1], 0.0]))
        };
        conductors.push(conductor(
            "guard",
            vec![
                bar([-x - 4.0, y], [x + 4.0, y + 4.0]),
                bar([-x - 4.0, 0.0], [-x, y]),
                bar([x, 0.0], [x + 4.0, y]),
            ],
        ));
    }
    stacked(
        "two pads",
        conductors,
        [thickness, permittivity],
        depth,
        has_plane,
    )
}

/// Half of a slider that is its own mirror image in y, its segments parted by gaps that slant: "left" and "right" between
/// an outer pair, "finger" above them.
fn toothed(seed: u64) -> Case {
    let mut random = Random(77_773 * (seed + 1));
    for _ in 0..5 {
        random.next();
    }
    let pitch = random.between(5.0, 10.0);
    let half = 0.5 * random.between(8.0, 16.0);
    let gap = random.of_size(0.2, 0.8);
    let overlap = random.between(0.2, 0.8) * pitch;
    let thickness = random.of_size(0.8, 6.0);
    let permittivity = random.of_size(2.2, 8.8);
    let depth = random.of_size(0.4, 2.4);
    let (has_plane, has_guard) = (random.next() < 0.4, random.next() < 0.7);
    let clearance = random.between(0.5, 2.0);
    let contact = random.between(3.0, 6.0);
    let dome = contact * random.between(1.1, 2.3);
    let finger_at = pitch * random.between(-1.0, 0.3);
    let across = 0.5 * gap * (overlap / half).hypot(1.0);
    // Between segments k - 1 and k.
    let side = |k: i32, across: f64, y: f64| {
        let x = f64::from(k) * pitch + overlap * (0.5 - y / half) + across;
        [x * MM, y * MM]
    };
    let segment = |k: i32| {
        Solid::Prism(Prism {
            outlines_m: vec![vec![
                side(k, across, 0.0),
                side(k + 1, -across, 0.0),
                side(k + 1, -across, half),
                side(k, across, half),
            ]],
            bottom_m: 0.0,
            top_m: 0.0,
            feature_m: gap * MM,
        })
    };
    let finger = round(finger_at, [contact, dome], [thickness, thickness + 15.0]);
    let mut conductors = vec![
        conductor("left", vec![segment(-1)]),
        conductor("right", vec![segment(0)]),
        conductor("outer", vec![segment(-2), segment(1)]),
        conductor("finger", vec![finger]),
    ];
    if has_guard {
        let (x, y) = (2.0 * pitch + 4.0, half + clearance);
        let bar = Solid::Block(extent([-x, y, 0.0], [x, y + 4.0, 0.0]));
        conductors.push(conductor("guard", vec![bar]));
    }
    stacked(
        "slider",
        conductors,
        [thickness, permittivity],
        depth,
        has_plane,
    )
}

fn conductor(name: &str, solids: Vec<Solid>) -> Conductor {
    Conductor {
        name: name.into(),
        solids,
    }
}

/// Conductors on a board so deep, with or without a plane behind it, under an overlay of a thickness and permittivity.
fn stacked(
    id: &str,
    conductors: Vec<Conductor>,
    [thickness, permittivity]: [f64; 2],
    depth: f64,
    has_plane: bool,
) -> Case {
    let layer = |name: &str, permittivity: f64, low: f64, high: f64| Dielectric {
        name: name.into(),
        relative_permittivity: permittivity,
        extent: extent([-FAR, 0.0, low], [FAR, FAR, high]),
        comes_with: None,
    };
    let mut walls = [[Wall::Open; 2]; 3];
    walls[1][0] = Wall::Insulated;
    let mut bottom = -FAR;
    if has_plane {
        (walls[2][0], bottom) = (Wall::Grounded, -depth);
    }
    Case {
        id: id.into(),
        title: String::new(),
        kind: Kind::Volume,
        domain: extent([-FAR, 0.0, bottom], [FAR, FAR, FAR]),
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: vec![
            layer("board", 4.4, -depth, 0.0),
            layer("overlay", permittivity, 0.0, thickness),
        ],
        screens: Vec::new(),
        conductors,
    }
}

fn answer(case: &Case, fineness: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy: 1.0,
        start_fineness: Some(fineness),
        drive: Some(vec!["left".into(), "right".into()]),
        ..Settings::default()
    };
    solve(case, Some("finger"), &settings, &|_| {}).expect("solved")
}

/// Bases, coupling, shifts and their coupling, each with its estimated error.
fn quantities(answer: &FieldAnswer) -> Vec<[f64; 2]> {
    let shift = answer.shift.as_ref().expect("a shift");
    let entries = [[0, 0], [1, 1], [0, 1]];
    let states = entries.map(|at| [shift.without.value[at], shift.without.estimated_error[at]]);
    let shifts = entries.map(|at| [shift.shift[at], shift.estimated_error[at]]);
    states.into_iter().chain(shifts).collect()
}

/// Share of bars over true errors that are at least 1, and their median.
fn held_and_median(ratios: impl Iterator<Item = f64>) -> [f64; 2] {
    let mut ratios: Vec<f64> = ratios.collect();
    ratios.sort_by(f64::total_cmp);
    let held = ratios.iter().filter(|&&ratio| ratio >= 1.0).count();
    [held as f64 / ratios.len() as f64, ratios[ratios.len() / 2]]
}

fn asked(part: Scope, all: Scope) -> Scope {
    match std::env::var_os("PADFIELD_ALL_VOLUMES") {
        Some(_) => all,
        None => part,
    }
}

/// Solves volumes and holds their bars against true errors.
fn hold(volumes: &[Case], scope: &Scope) {
    let each = volumes.par_iter().map(|case| {
        let truth = quantities(&answer(case, scope.truth));
        let smallest = SMALLEST * truth[3][0].abs();
        let mut ratios = Vec::new();
        for &fineness in scope.judged {
            let judged = quantities(&answer(case, fineness));
            for (index, ([value, bar], [truth, _])) in judged.into_iter().zip(&truth).enumerate() {
                if index < 3 || truth.abs() >= smallest {
                    ratios.push((fineness, bar / (value - truth).abs()));
                }
            }
        }
        ratios
    });
    let ratios: Vec<(f64, f64)> = each.collect::<Vec<_>>().concat();
    for &fineness in scope.judged {
        let own = ratios.iter().filter(|(at, _)| *at == fineness);
        let [held, median] = held_and_median(own.map(|(_, ratio)| *ratio));
        println!(
            "fineness {fineness}: {:.1} % held, median {median:.1}",
            100.0 * held
        );
    }
    let [held, median] = held_and_median(ratios.iter().map(|(_, ratio)| *ratio));
    println!(
        "{} quantities: {:.1} % held, bar over true error {median:.1} in the median",
        ratios.len(),
        100.0 * held
    );
    assert!(held >= 0.97, "{held}");
    assert!(median <= 4.0, "{median}");
}

#[test]
fn bars_hold_the_true_error_and_are_not_much_wider() {
    let scope = asked(PART, ALL);
    let kinds = [Outlines::Blocks, Outlines::Dome, Outlines::DiscsAndDome];
    let volumes: Vec<Case> = (0..3 * scope.of_each)
        .map(|seed| volume(kinds[(seed % 3) as usize], seed))
        .collect();
    hold(&volumes, &scope);
}

#[test]
fn bars_of_toothed_sliders_hold_the_true_error_and_are_not_much_wider() {
    let scope = asked(PART_TOOTHED, ALL_TOOTHED);
    let volumes: Vec<Case> = (0..scope.of_each).map(toothed).collect();
    hold(&volumes, &scope);
}
