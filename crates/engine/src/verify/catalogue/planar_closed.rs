//! A: planar problems in a closed box, exact at finite size.

use super::draw::Draw;
use super::{CLOSED, CORNER_FINENESS, COUPLING, HARD_CORNER, TOUCHING, TOUCHING_FINENESS};
use crate::case::{Kind, Wall};
use crate::verify::{Problem, Readout};

pub(super) fn problems() -> Vec<Problem> {
    let mut problems = Vec::new();
    problems.extend(strips());
    problems.extend(strip_pairs());
    problems.extend(combs());
    problems.extend(cross_capacitors());
    problems.extend(square_coaxes());
    problems.extend(checkerboards());
    problems.extend(layered());
    problems
}

fn planar(id: &str, width: f64, height: f64) -> Draw {
    Draw::new(id, Kind::Planar, &[0.0, width, 0.0, height])
}

/// A1, A2: one sheet at mid-height, without and with a dielectric half.
fn strips() -> Vec<Problem> {
    let alone = [
        ("A1.1", 2.0, 1.0, [0.5, 1.5]),
        ("A1.2", 4.0, 2.0, [1.5, 2.5]),
        ("A1.3", 4.0, 2.0, [0.5, 1.5]),
        ("A1.4", 4.0, 2.0, [0.2, 2.7]),
        ("A1.5", 10.0, 2.0, [1.0, 2.0]),
    ];
    let between = [
        ("A2.1", [1.5, 2.5], [4.4, 1.0]),
        ("A2.2", [1.0, 3.0], [2.8, 7.3]),
    ];
    let alone = alone.map(|(id, width, height, [x0, x1])| {
        let middle = 0.5 * height;
        planar(id, width, height)
            .conductor("strip", &[&[x0, x1, middle, middle]])
            .entry(id, 0, 0, CLOSED)
            .done()
    });
    let between = between.map(|(id, [x0, x1], [below, above])| {
        planar(id, 4.0, 2.0)
            .layers(&[(below, 1.0), (above, 1.0)])
            .conductor("strip", &[&[x0, x1, 1.0, 1.0]])
            .entry(id, 0, 0, CLOSED)
            .done()
    });
    alone.into_iter().chain(between).collect()
}

/// A3: two sheets at mid-height.
fn strip_pairs() -> Vec<Problem> {
    let pair = |id: &str, width: f64, height: f64, strip: f64, gap: f64| {
        let (middle, centre) = (0.5 * height, 0.5 * width);
        let inner = 0.5 * gap;
        let outer = inner + strip;
        planar(id, width, height)
            .conductor("left", &[&[centre - outer, centre - inner, middle, middle]])
            .conductor(
                "right",
                &[&[centre + inner, centre + outer, middle, middle]],
            )
    };
    let mut problems: Vec<Problem> = [
        ("A3.1", "A3.1m", 6.0, 2.0, 1.0, 1.0),
        ("A3.2", "A3.2m", 4.0, 2.0, 1.0, 0.5),
        ("A3.3", "A3.3m", 8.0, 4.0, 2.0, 0.25),
    ]
    .into_iter()
    .map(|(id, mutual, width, height, strip, gap)| {
        pair(id, width, height, strip, gap)
            .entry(id, 0, 0, CLOSED)
            .entry(mutual, 0, 1, COUPLING)
            .done()
    })
    .collect();
    problems.push(
        pair("A3.1e", 6.0, 2.0, 1.0, 1.0)
            .layers(&[(3.0, 1.0), (1.0, 1.0)])
            .entry("A3.1e", 0, 1, COUPLING)
            .done(),
    );
    problems
}

/// A4: half a period of an interdigital comb.
fn combs() -> Vec<Problem> {
    [("A4.25", 0.25), ("A4.50", 0.5), ("A4.75", 0.75)]
        .into_iter()
        .map(|(id, strip)| {
            let (left, right) = (0.5 - 0.5 * strip, 0.5 + 0.5 * strip);
            planar(id, 1.0, 16.0)
                .conductor("strip", &[&[left, right, 8.0, 8.0]])
                .entry(id, 0, 0, CLOSED)
                .done()
        })
        .collect()
}

/// A5: left wall to right wall of an empty rectangle, floor and ceiling at 0 V.
fn cross_capacitors() -> Vec<Problem> {
    let rectangle = |id: &str, width: f64| {
        planar(id, width, 1.0)
            .conductor("left", &[&[0.0, 0.0, 0.0, 1.0]])
            .conductor("right", &[&[width, width, 0.0, 1.0]])
            .touching(TOUCHING_FINENESS)
            .scaled_entry(id, 0, 1, -1.0, TOUCHING)
    };
    vec![
        rectangle("A5.1", 1.0)
            .scaled_entry("A5.pF", 0, 1, -1.0, TOUCHING)
            .done(),
        rectangle("A5.2", 2.0).done(),
        rectangle("A5.0.5", 0.5).done(),
    ]
}

/// A6: square inner conductor of side 2 in a square box.
fn square_coaxes() -> Vec<Problem> {
    [("A6.1.5", 1.5), ("A6.2", 2.0), ("A6.3", 3.0), ("A6.4", 4.0)]
        .into_iter()
        .map(|(id, ratio)| {
            Draw::new(id, Kind::Planar, &[-ratio, ratio, -ratio, ratio])
                .conductor("inner", &[&[-1.0, 1.0, -1.0, 1.0]])
                .entry(id, 0, 0, CLOSED)
                .done()
        })
        .collect()
}

/// A7: 2 x 2 checkerboard between a left electrode and the grounded right wall.
fn checkerboards() -> Vec<Problem> {
    [("A7.1", 4.0), ("A7.2", 9.0)]
        .into_iter()
        .map(|(id, contrast)| {
            planar(id, 1.0, 1.0)
                .wall(1, 0, Wall::Insulated)
                .wall(1, 1, Wall::Insulated)
                .dielectric(contrast, &[0.0, 0.5, 0.0, 0.5])
                .dielectric(contrast, &[0.5, 1.0, 0.5, 1.0])
                .conductor("left", &[&[0.0, 0.0, 0.0, 1.0]])
                .fixed(CORNER_FINENESS)
                .entry(id, 0, 0, HARD_CORNER)
                .done()
        })
        .collect()
}

/// A8 to A11: strips and pads on a board, with overlay, guard and finger.
fn layered() -> Vec<Problem> {
    let microstrip = planar("A8", 20.0, 10.0)
        .dielectric(4.4, &[0.0, 20.0, 0.0, 1.6])
        .conductor("strip", &[&[8.5, 11.5, 1.6, 1.6]])
        .entry("A8.c11", 0, 0, CLOSED)
        .done();
    let pads = |id: &str| {
        planar(id, 60.0, 30.0)
            .dielectric(4.4, &[0.0, 60.0, 0.0, 1.6])
            .dielectric(3.0, &[0.0, 60.0, 1.6, 4.6])
            .conductor("pad 1", &[&[14.125, 26.825, 1.6, 1.6]])
            .conductor("pad 2", &[&[33.175, 45.875, 1.6, 1.6]])
    };
    let untouched = pads("A9")
        .entry("A9.c11", 0, 0, CLOSED)
        .entry("A9.c12", 0, 1, COUPLING)
        .entry("A9.c22", 1, 1, CLOSED)
        .done();
    let mut touched = pads("A10")
        .conductor("guard", &[&[29.0, 31.0, 1.6, 1.6]])
        .conductor("finger", &[&[15.475, 25.475, 4.6, 4.6]]);
    for row in 0..4 {
        for column in row..4 {
            let id = format!("A10.c{}{}", row + 1, column + 1);
            let tolerance = if row == column { CLOSED } else { COUPLING };
            touched = touched.entry(&id, row, column, tolerance);
        }
    }
    for (id, to_ground) in [("A10.float", 0.0), ("A10.ret", 10.0)] {
        let readout = Readout::Floating {
            row: 0,
            floating: 3,
            to_ground,
        };
        touched = touched.check(id, readout, CLOSED);
    }
    let coupled = planar("A11", 20.0, 10.0)
        .dielectric(9.8, &[0.0, 20.0, 0.0, 1.0])
        .conductor("left", &[&[8.5, 9.5, 1.0, 1.0]])
        .conductor("right", &[&[10.5, 11.5, 1.0, 1.0]])
        .entry("A11.c11", 0, 0, CLOSED)
        .entry("A11.c12", 0, 1, COUPLING)
        .entry("A11.c22", 1, 1, CLOSED)
        .done();
    vec![microstrip, untouched, touched.done(), coupled]
}
