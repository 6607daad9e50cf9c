//! T: problems in three dimensions, closed boxes and open space.

use super::draw::Draw;
use super::{
    CLOSED_VOLUME, OPEN, OPEN_DISTANCE, OPEN_ISOLATED, TOUCHING_FINENESS_VOLUME, TOUCHING_VOLUME,
};
use crate::case::{Kind, Wall};
use crate::verify::Problem;

pub(super) fn problems() -> Vec<Problem> {
    let mut problems = box_walls();
    problems.extend(sheets_in_boxes());
    problems.extend(isolated());
    problems.extend(sheet_pairs());
    problems
}

/// T1, T2: floor (or a patch of it) to the ceiling of a box.
fn box_walls() -> Vec<Problem> {
    let walls = |id: &str, side: f64, height: f64, patch: [f64; 2], layers: &[(f64, f64)]| {
        let [low, high] = patch;
        Draw::new(id, Kind::Volume, &[0.0, side, 0.0, side, 0.0, height])
            .layers(layers)
            .conductor("floor", &[&[low, high, low, high, 0.0, 0.0]])
            .conductor("ceiling", &[&[0.0, side, 0.0, side, height, height]])
            .touching(TOUCHING_FINENESS_VOLUME)
            .scaled_entry(id, 0, 1, -1.0, TOUCHING_VOLUME)
            .done()
    };
    vec![
        walls("T1.1", 1.0, 1.0, [0.0, 1.0], &[]),
        walls("T1.2", 1.0, 1.0, [0.0, 1.0], &[(4.4, 0.5), (1.0, 0.5)]),
        walls("T1.3", 2.0, 1.0, [0.0, 2.0], &[]),
        walls("T2.1", 4.0, 1.0, [1.0, 3.0], &[]),
        walls("T2.2", 40.0, 4.6, [15.0, 25.0], &[(4.4, 1.6), (3.0, 3.0)]),
    ]
}

/// T3, T4: one square sheet.
fn sheets_in_boxes() -> Vec<Problem> {
    vec![
        Draw::new("T3", Kind::Volume, &[0.0, 2.0, 0.0, 2.0, 0.0, 2.0])
            .conductor("sheet", &[&[0.5, 1.5, 0.5, 1.5, 1.0, 1.0]])
            .entry("T3", 0, 0, CLOSED_VOLUME)
            .done(),
        Draw::new("T4", Kind::Volume, &[0.0, 20.0, 0.0, 20.0, 0.0, 10.0])
            .dielectric(4.4, &[0.0, 20.0, 0.0, 20.0, 0.0, 1.6])
            .dielectric(3.0, &[0.0, 20.0, 0.0, 20.0, 1.6, 4.6])
            .conductor("pad", &[&[5.0, 15.0, 5.0, 15.0, 1.6, 1.6]])
            .entry("T4", 0, 0, CLOSED_VOLUME)
            .done(),
    ]
}

/// T6 to T8: isolated bodies of side 1.
fn isolated() -> Vec<Problem> {
    let far = 0.5 * OPEN_DISTANCE;
    let space = |id: &str| Draw::new(id, Kind::Volume, &[-far, far, -far, far, -far, far]).open();
    let h = 0.5;
    vec![
        space("T6")
            .conductor("sheet", &[&[-h, h, -h, h, 0.0, 0.0]])
            .entry("T6", 0, 0, OPEN_ISOLATED)
            .done(),
        space("T7")
            .conductor("cube", &[&[-h, h, -h, h, -h, h]])
            .entry("T7", 0, 0, OPEN_ISOLATED)
            .done(),
        space("T8")
            .conductor(
                "cube less one corner",
                &[
                    &[-h, h, -h, h, -h, 0.0],
                    &[-h, h, -h, 0.0, 0.0, h],
                    &[-h, 0.0, 0.0, h, 0.0, h],
                ],
            )
            .entry("T8", 0, 0, OPEN_ISOLATED)
            .done(),
    ]
}

/// T9: two unit squares face to face, seen from the 0 V plane between them.
fn sheet_pairs() -> Vec<Problem> {
    let far = 0.5 * OPEN_DISTANCE;
    [
        ("T9.2", 2.0),
        ("T9.1", 1.0),
        ("T9.0.5", 0.5),
        ("T9.0.2", 0.2),
    ]
    .into_iter()
    .map(|(id, distance)| {
        let (h, height) = (0.5, 0.5 * distance);
        // 10 mm stand for 1: the smallest gap is a tenth of it.
        Draw::in_unit(id, Kind::Volume, &[-far, far, -far, far, 0.0, far], 1e-2)
            .open()
            .wall(2, 0, Wall::Grounded)
            .conductor("sheet", &[&[-h, h, -h, h, height, height]])
            .scaled_entry(id, 0, 0, 0.5, OPEN)
            .done()
    })
    .collect()
}
