//! Ground areas with pads cut out: boxes where everything is a box, polygons otherwise.

use super::super::outline::Rectangle;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::style::{LineJoin, OutlineStyle};

/// The area minus all holes as few rectangles; holes may overlap and stick out.
///
/// The rectangles are the runs along x of the tensor grid of all edges, joined along y where equal
/// runs follow each other: a mirrored input gives the mirrored rectangles.
pub(super) fn subtract_rectangles(area: Rectangle, holes: &[Rectangle]) -> Vec<Rectangle> {
    let lines = [0, 1].map(|axis| {
        let (low, high) = (area[0][axis], area[1][axis]);
        let mut lines: Vec<f64> = holes
            .iter()
            .flat_map(|hole| [hole[0][axis], hole[1][axis]])
            .filter(|&at| low < at && at < high)
            .chain([low, high])
            .collect();
        lines.sort_by(f64::total_cmp);
        lines.dedup();
        lines
    });
    let mut done: Vec<Rectangle> = Vec::new();
    let mut open: Vec<Rectangle> = Vec::new();
    for row in lines[1].windows(2) {
        let y = 0.5 * (row[0] + row[1]);
        let mut runs: Vec<Rectangle> = Vec::new();
        for column in lines[0].windows(2) {
            let x = 0.5 * (column[0] + column[1]);
            let covered = holes
                .iter()
                .any(|hole| hole[0][0] < x && x < hole[1][0] && hole[0][1] < y && y < hole[1][1]);
            match runs.last_mut() {
                _ if covered => {}
                Some(run) if run[1][0] == column[0] => run[1][0] = column[1],
                _ => runs.push([[column[0], row[0]], [column[1], row[1]]]),
            }
        }
        let same = |a: &Rectangle, b: &Rectangle| a[0][0] == b[0][0] && a[1][0] == b[1][0];
        if runs.len() == open.len() && runs.iter().zip(&open).all(|(a, b)| same(a, b)) {
            open.iter_mut().for_each(|run| run[1][1] = row[1]);
        } else {
            done.append(&mut open);
            open = runs;
        }
    }
    done.append(&mut open);
    done
}

/// Smallest angle \[radians\] at which a grown outline keeps a sharp corner.
const SHARPEST_CORNER: f64 = 0.5;

/// An outer outline moved outwards by `distance_m`, corners kept sharp.
pub(super) fn grow(outline: &[[f64; 2]], distance_m: f64) -> Vec<Vec<[f64; 2]>> {
    let mut outline = outline.to_vec();
    if signed_area(&outline) < 0.0 {
        outline.reverse();
    }
    if distance_m <= 0.0 {
        return vec![outline];
    }
    let style = OutlineStyle::new(distance_m).line_join(LineJoin::Miter(SHARPEST_CORNER));
    // Only outer contours: a pocket of ground inside a bent pad would be an island.
    outline
        .outline_as::<i64>(&style)
        .into_iter()
        .filter_map(|shape| shape.into_iter().next())
        .collect()
}

/// The area minus all holes as shapes, each an outer outline followed by its holes.
pub(super) fn subtract_polygons(
    area: Rectangle,
    holes: &[Vec<[f64; 2]>],
) -> Vec<Vec<Vec<[f64; 2]>>> {
    let [low, high] = area;
    let outline = vec![low, [high[0], low[1]], high, [low[0], high[1]]];
    outline.overlay_as::<i64>(&holes.to_vec(), OverlayRule::Difference, FillRule::NonZero)
}

/// The union of lines cut to the area, minus what is kept free; shapes as in [`subtract_polygons`].
pub(super) fn intersect_polygons(
    area: Rectangle,
    lines: &[Vec<[f64; 2]>],
    free: &[Vec<[f64; 2]>],
) -> Vec<Vec<Vec<[f64; 2]>>> {
    let [low, high] = area;
    let outline = vec![low, [high[0], low[1]], high, [low[0], high[1]]];
    let inside =
        lines
            .to_vec()
            .overlay_as::<i64>(&outline, OverlayRule::Intersect, FillRule::NonZero);
    inside.overlay_as::<i64>(&free.to_vec(), OverlayRule::Difference, FillRule::NonZero)
}

fn signed_area(polygon: &[[f64; 2]]) -> f64 {
    let next = polygon.iter().cycle().skip(1);
    polygon
        .iter()
        .zip(next)
        .map(|(a, b)| 0.5 * (a[0] * b[1] - b[0] * a[1]))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area_of(rectangles: &[Rectangle]) -> f64 {
        rectangles
            .iter()
            .map(|r| (r[1][0] - r[0][0]) * (r[1][1] - r[0][1]))
            .sum()
    }

    #[test]
    fn rectangles_lose_exactly_the_holes() {
        let area = [[0.0, 0.0], [10.0, 6.0]];
        let apart = [[[1.0, 1.0], [3.0, 5.0]], [[5.0, 1.0], [7.0, 5.0]]];
        let left = subtract_rectangles(area, &apart);
        assert_eq!(area_of(&left), 60.0 - 16.0);
        assert_eq!(left.len(), 5);
        let overlapping = [[[1.0, 1.0], [4.0, 5.0]], [[3.0, 2.0], [12.0, 4.0]]];
        let left = subtract_rectangles(area, &overlapping);
        assert_eq!(area_of(&left), 60.0 - 12.0 - 14.0 + 2.0);
        assert_eq!(subtract_rectangles(area, &[]), vec![area]);
        assert!(subtract_rectangles(area, &[[[-1.0, -1.0], [11.0, 7.0]]]).is_empty());
    }

    #[test]
    fn polygons_lose_overlapping_and_protruding_holes_once() {
        let shape_area = |shapes: &[Vec<Vec<[f64; 2]>>]| -> f64 {
            shapes.iter().flatten().map(|c| signed_area(c)).sum()
        };
        let area = [[0.0, 0.0], [0.010, 0.006]];
        let square = |x: f64, y: f64, side: f64| {
            vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
        };
        let holes = [square(0.001, 0.001, 0.003), square(0.003, 0.002, 0.003)];
        let left = subtract_polygons(area, &holes);
        let expected = 60e-6 - (9e-6 + 9e-6 - 2e-6);
        approx::assert_relative_eq!(shape_area(&left), expected, max_relative = 1e-9);
        let left = subtract_polygons(area, &[square(0.008, 0.002, 0.004)]);
        approx::assert_relative_eq!(shape_area(&left), 60e-6 - 8e-6, max_relative = 1e-9);
    }

    #[test]
    fn growing_keeps_corners_sharp_and_ignores_direction() {
        let mut square = vec![[0.0, 0.0], [0.01, 0.0], [0.01, 0.01], [0.0, 0.01]];
        for _ in 0..2 {
            let grown = grow(&square, 0.001);
            assert_eq!(grown.len(), 1);
            approx::assert_relative_eq!(signed_area(&grown[0]), 0.012 * 0.012, max_relative = 1e-9);
            square.reverse();
        }
    }
}
