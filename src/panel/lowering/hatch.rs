//! Every line of a hatched area, for areas small enough to draw them.

use super::super::Hatch;
use super::super::outline::Rectangle;
use super::copper::{block, corners};
use super::polygon::{intersect_polygons, subtract_rectangles};
use crate::case::{Prism, Solid};

/// The mesh lines of an area, a crossing in its middle, without what pads, traces and vias keep free.
pub(super) fn lines(
    area: Rectangle,
    hatch: &Hatch,
    boxes: &[Rectangle],
    outlines: &[Vec<[f64; 2]>],
    level: [f64; 2],
) -> Vec<Solid> {
    let strips = strips(area, hatch);
    if !hatch.is_diagonal && outlines.is_empty() {
        return strips
            .into_iter()
            .filter_map(|strip| clipped(strip, area))
            .flat_map(|strip| subtract_rectangles(strip, boxes))
            .map(|rest| block(rest, level))
            .collect();
    }
    let angle = match hatch.is_diagonal {
        true => std::f64::consts::FRAC_1_SQRT_2,
        false => 0.0,
    };
    let middle = [0, 1].map(|axis| 0.5 * (area[0][axis] + area[1][axis]));
    let turned = |corner: [f64; 2]| {
        let [x, y] = [0, 1].map(|axis| corner[axis] - middle[axis]);
        match hatch.is_diagonal {
            true => [middle[0] + angle * (x - y), middle[1] + angle * (x + y)],
            false => corner,
        }
    };
    let lines: Vec<Vec<[f64; 2]>> = strips
        .into_iter()
        .map(|strip| corners(strip).into_iter().map(turned).collect())
        .collect();
    let free: Vec<Vec<[f64; 2]>> = boxes
        .iter()
        .map(|b| corners(*b))
        .chain(outlines.iter().cloned())
        .collect();
    intersect_polygons(area, &lines, &free)
        .into_iter()
        .map(|outlines_m| {
            Solid::Prism(Prism {
                outlines_m,
                bottom_m: level[0],
                top_m: level[1],
                feature_m: hatch.line.metres(),
            })
        })
        .collect()
}

/// Lines along x and along y about the middle of the area, long enough for any angle.
fn strips(area: Rectangle, hatch: &Hatch) -> Vec<Rectangle> {
    let [line, pitch] = [hatch.line.metres(), hatch.pitch.metres()];
    let size = [0, 1].map(|axis| area[1][axis] - area[0][axis]);
    let reach = match hatch.is_diagonal {
        true => [size[0].hypot(size[1]) / 2.0; 2],
        false => size.map(|side| side / 2.0),
    };
    let middle = [0, 1].map(|axis| 0.5 * (area[0][axis] + area[1][axis]));
    let mut strips = Vec::new();
    for axis in 0..2 {
        // A line half outside counts as well: what sticks out is cut off.
        let count = ((reach[axis] + line / 2.0) / pitch).floor() as i64;
        for number in -count..=count {
            let at = middle[axis] + number as f64 * pitch;
            let mut strip = [
                [0, 1].map(|a| middle[a] - reach[a]),
                [0, 1].map(|a| middle[a] + reach[a]),
            ];
            strip[0][axis] = at - line / 2.0;
            strip[1][axis] = at + line / 2.0;
            strips.push(strip);
        }
    }
    strips
}

fn clipped([low, high]: Rectangle, area: Rectangle) -> Option<Rectangle> {
    let low = [0, 1].map(|axis| low[axis].max(area[0][axis]));
    let high = [0, 1].map(|axis| high[axis].min(area[1][axis]));
    (0..2)
        .all(|axis| low[axis] < high[axis])
        .then_some([low, high])
}
