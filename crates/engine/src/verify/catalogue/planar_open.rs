//! B, P1, P2, P4: planar problems that need far walls.

use super::draw::Draw;
use super::{CLOSED, OPEN, OPEN_DISTANCE, PUBLISHED_COUPLED, PUBLISHED_MICROSTRIP};
use crate::case::{Kind, Wall};
use crate::verify::{Problem, Readout};

pub(super) fn problems() -> Vec<Problem> {
    let mut problems = striplines();
    problems.extend(strips_over_ground());
    problems.extend(coplanar());
    problems.extend(microstrips());
    problems
}

/// B1, B2: between two ground planes the field falls by e^(pi x/b): walls at 10 b are far.
fn striplines() -> Vec<Problem> {
    let coupled = |id: &str, mirror: Wall| {
        // Right half of the pair; the mirror plane decides between even and odd.
        Draw::new(id, Kind::Planar, &[0.0, 22.5, 0.0, 2.0])
            .wall(0, 0, mirror)
            .conductor("strip", &[&[0.5, 2.5, 1.0, 1.0]])
            .entry(id, 0, 0, CLOSED)
            .done()
    };
    vec![
        Draw::new("B1", Kind::Planar, &[-20.0, 20.0, 0.0, 2.0])
            .conductor("strip", &[&[-1.0, 1.0, 1.0, 1.0]])
            .entry("B1", 0, 0, CLOSED)
            .done(),
        coupled("B2e", Wall::Insulated),
        coupled("B2o", Wall::Grounded),
    ]
}

/// A half-space over a grounded floor, sized for a strip of some width at height 1.
fn half_space(id: &str, width: f64) -> Draw {
    let far = OPEN_DISTANCE * (1.0 + 0.5 * width);
    Draw::new(id, Kind::Planar, &[-far, far, 0.0, far])
        .open()
        .wall(1, 0, Wall::Grounded)
}

/// B3: sheet at height 1.
fn strips_over_ground() -> Vec<Problem> {
    [("B3.0.5", 0.5), ("B3.1", 1.0), ("B3.2", 2.0), ("B3.5", 5.0)]
        .into_iter()
        .map(|(id, width)| {
            half_space(id, width)
                .conductor("strip", &[&[-0.5 * width, 0.5 * width, 1.0, 1.0]])
                .entry(id, 0, 0, OPEN)
                .done()
        })
        .collect()
}

/// B4 to B7, P4: everything in one plane.
fn coplanar() -> Vec<Problem> {
    let far = OPEN_DISTANCE;
    // Opposite charges: the mirror plane between equal strips is at 0 V and doubles C.
    let mirrored = |id: &str, size: f64| {
        let far = far * size;
        Draw::new(id, Kind::Planar, &[0.0, far, -far, far])
            .open()
            .wall(0, 0, Wall::Grounded)
    };
    let whole = |id: &str, size: f64| {
        let far = far * size;
        Draw::new(id, Kind::Planar, &[-far, far, -far, far]).open()
    };
    let slab_far = 1.5 * far;
    vec![
        mirrored("B4", 3.0)
            .conductor("strip", &[&[1.0, 3.0, 0.0, 0.0]])
            .scaled_entry("B4", 0, 0, 0.5, OPEN)
            .done(),
        whole("B5", 2.25)
            // Centred: strips 0..1 and 1.5..4.5 moved by half their span.
            .conductor("narrow", &[&[-2.25, -1.25, 0.0, 0.0]])
            .conductor("wide", &[&[-0.75, 2.25, 0.0, 0.0]])
            .check("B5", Readout::Pair, OPEN)
            .done(),
        whole("B6", 6.0)
            .conductor("centre", &[&[-1.0, 1.0, 0.0, 0.0]])
            .conductor("grounds", &[&[-6.0, -2.0, 0.0, 0.0], &[2.0, 6.0, 0.0, 0.0]])
            .check("B6", Readout::Pair, OPEN)
            .done(),
        whole("B7", 1.0)
            .dielectric(4.4, &[-far, far, -far, 0.0])
            .conductor("centre", &[&[-0.5, 0.5, 0.0, 0.0]])
            .conductor("grounds", &[&[-far, -1.0, 0.0, 0.0], &[1.0, far, 0.0, 0.0]])
            .entry("B7", 0, 0, OPEN)
            .done(),
        mirrored("P4", 1.5)
            .dielectric(4.4, &[0.0, slab_far, -1.0, 0.0])
            .conductor("strip", &[&[0.5, 1.5, 0.0, 0.0]])
            .scaled_entry("P4", 0, 0, 0.5, OPEN)
            .done(),
    ]
}

/// P1, P2: strips on a grounded slab of thickness 1.
fn microstrips() -> Vec<Problem> {
    let single = [
        ("P1.0.5.4.4", 0.5, 4.4),
        ("P1.1.4.4", 1.0, 4.4),
        ("P1.2.4.4", 2.0, 4.4),
        ("P1.1.9.8", 1.0, 9.8),
        ("P1.4.4.4", 4.0, 4.4),
    ];
    let mut problems: Vec<Problem> = single
        .into_iter()
        .map(|(id, width, relative_permittivity)| {
            half_space(id, width)
                .layers(&[(relative_permittivity, 1.0)])
                .conductor("strip", &[&[-0.5 * width, 0.5 * width, 1.0, 1.0]])
                .entry(id, 0, 0, PUBLISHED_MICROSTRIP)
                .done()
        })
        .collect();
    for (id, mirror) in [("P2.even", Wall::Insulated), ("P2.odd", Wall::Grounded)] {
        let far = OPEN_DISTANCE * 2.0;
        problems.push(
            Draw::new(id, Kind::Planar, &[0.0, far, 0.0, far])
                .open()
                .wall(0, 0, mirror)
                .wall(1, 0, Wall::Grounded)
                .layers(&[(4.4, 1.0)])
                .conductor("strip", &[&[0.25, 1.25, 1.0, 1.0]])
                .entry(id, 0, 0, PUBLISHED_COUPLED)
                .done(),
        );
    }
    problems
}
