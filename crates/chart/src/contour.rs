//! Lines of equal value through a grid of values: marching squares with linear interpolation.

use std::collections::BTreeMap;

use crate::canvas::Point;

/// Side of a grid cell: the one that starts at column, row and runs along x or along y.
type Side = (bool, usize, usize);

/// Values on the crossings of columns and rows.
pub struct ValueGrid<'a> {
    /// Where the columns are, from left to right, on paper.
    pub x: &'a [f64],
    /// Where the rows are, from the first upwards, on paper (so they fall).
    pub y: &'a [f64],
    /// Value of column i in row j at `values[j * x.len() + i]`; not finite means absent.
    pub values: &'a [f64],
}

/// The lines along which the values equal `level`. Cells with an absent corner have none. Walking a
/// line, values above the level lie on the right as seen on paper.
pub fn contour(grid: &ValueGrid, level: f64) -> Vec<Vec<Point>> {
    let mut next: BTreeMap<Side, Side> = BTreeMap::new();
    for row in 0..grid.y.len().saturating_sub(1) {
        for column in 0..grid.x.len().saturating_sub(1) {
            cell_segments(grid, level, column, row, &mut next);
        }
    }
    joined(next)
        .into_iter()
        .map(|sides| {
            sides
                .into_iter()
                .map(|side| crossing(grid, level, side))
                .collect()
        })
        .collect()
}

/// Adds the segments of one cell, as steps from side to side.
fn cell_segments(
    grid: &ValueGrid,
    level: f64,
    column: usize,
    row: usize,
    next: &mut BTreeMap<Side, Side>,
) {
    let columns = grid.x.len();
    let at = |i: usize, j: usize| grid.values[j * columns + i];
    // Counter-clockwise on paper, starting bottom left.
    let corners = [
        at(column, row),
        at(column + 1, row),
        at(column + 1, row + 1),
        at(column, row + 1),
    ];
    if !corners.iter().all(|value| value.is_finite()) {
        return;
    }
    let sides: [Side; 4] = [
        (true, column, row),
        (false, column + 1, row),
        (true, column, row + 1),
        (false, column, row),
    ];
    let above = corners.map(|value| value >= level);
    // Sides where the walk around the cell goes up through the level, and where it comes down.
    let up: Vec<usize> = (0..4)
        .filter(|&k| !above[k] && above[(k + 1) % 4])
        .collect();
    let down: Vec<usize> = (0..4)
        .filter(|&k| above[k] && !above[(k + 1) % 4])
        .collect();
    if up.len() == 2 {
        // A saddle: the value where the bilinear function is level decides what is connected.
        let [a, b, c, d] = corners;
        let saddle = (a * c - b * d) / (a + c - b - d);
        let connected_above = saddle >= level;
        for &from in &up {
            // Above joined through the middle: cut off the low corner before; else the high one behind.
            let to = if connected_above {
                (from + 3) % 4
            } else {
                (from + 1) % 4
            };
            next.insert(sides[from], sides[to]);
        }
    } else if let ([from], [to]) = (up.as_slice(), down.as_slice()) {
        next.insert(sides[*from], sides[*to]);
    }
}

/// Steps joined into lines; a closed line repeats its first side at the end.
fn joined(mut next: BTreeMap<Side, Side>) -> Vec<Vec<Side>> {
    let entered: std::collections::BTreeSet<Side> = next.values().copied().collect();
    let open: Vec<Side> = next
        .keys()
        .copied()
        .filter(|side| !entered.contains(side))
        .collect();
    let mut lines = Vec::new();
    let mut follow = |start: Side, next: &mut BTreeMap<Side, Side>| {
        let mut line = vec![start];
        let mut here = start;
        while let Some(there) = next.remove(&here) {
            line.push(there);
            here = there;
        }
        lines.push(line);
    };
    for start in open {
        follow(start, &mut next);
    }
    while let Some(&start) = next.keys().next() {
        follow(start, &mut next);
    }
    lines
}

/// Where the level crosses a side.
fn crossing(grid: &ValueGrid, level: f64, (along_x, column, row): Side) -> Point {
    let columns = grid.x.len();
    let (to_column, to_row) = if along_x {
        (column + 1, row)
    } else {
        (column, row + 1)
    };
    let (from, to) = (
        grid.values[row * columns + column],
        grid.values[to_row * columns + to_column],
    );
    let t = ((level - from) / (to - from)).clamp(0.0, 1.0);
    [
        grid.x[column] + t * (grid.x[to_column] - grid.x[column]),
        grid.y[row] + t * (grid.y[to_row] - grid.y[row]),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Paper coordinates over [-1, 1] squared: y falls from row to row.
    fn places(count: usize) -> (Vec<f64>, Vec<f64>) {
        let x: Vec<f64> = (0..count)
            .map(|i| -1.0 + 2.0 * i as f64 / (count - 1) as f64)
            .collect();
        let y = x.iter().map(|v| -v).collect();
        (x, y)
    }

    fn sampled(count: usize, f: impl Fn(f64, f64) -> f64) -> Vec<f64> {
        let (x, y) = places(count);
        y.iter()
            .flat_map(|&paper| x.iter().map(move |&x| (x, -paper)))
            .map(|(x, y)| f(x, y))
            .collect()
    }

    fn lines(count: usize, level: f64, f: impl Fn(f64, f64) -> f64) -> Vec<Vec<Point>> {
        let (x, y) = places(count);
        let values = sampled(count, f);
        let grid = ValueGrid {
            x: &x,
            y: &y,
            values: &values,
        };
        contour(&grid, level)
    }

    #[test]
    fn a_circle_is_one_closed_line_of_the_right_radius_and_length() {
        let found = lines(81, 0.36, |x, y| x * x + y * y);
        assert_eq!(found.len(), 1);
        let circle = &found[0];
        assert_eq!(circle.first(), circle.last());
        for point in circle {
            assert!((point[0].hypot(point[1]) - 0.6).abs() < 5e-4, "{point:?}");
        }
        let length: f64 = circle
            .windows(2)
            .map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]))
            .sum();
        assert!(
            (length - std::f64::consts::TAU * 0.6).abs() < 5e-3,
            "{length}"
        );
    }

    #[test]
    fn higher_values_lie_on_the_right_of_the_walk() {
        for line in lines(21, 0.1, |x, y| x + 0.3 * y) {
            for step in line.windows(2) {
                let (dx, dy) = (step[1][0] - step[0][0], step[1][1] - step[0][1]);
                let right = [
                    step[0][0] + 0.5 * dx - 0.1 * dy,
                    step[0][1] + 0.5 * dy + 0.1 * dx,
                ];
                // Rounding may leave a step of no length, which has no sides.
                if dx.hypot(dy) > 1e-9 {
                    assert!(right[0] - 0.3 * right[1] > 0.1, "{step:?}");
                }
            }
        }
    }

    #[test]
    fn a_linear_field_is_met_exactly() {
        let found = lines(7, 0.25, |x, y| 2.0 * x - y);
        assert_eq!(found.len(), 1);
        for point in &found[0] {
            assert!((2.0 * point[0] + point[1] - 0.25).abs() < 1e-12);
        }
    }

    #[test]
    fn a_saddle_gives_two_branches_that_never_cross() {
        for level in [0.01, -0.01] {
            let found = lines(10, level, |x, y| x * y);
            assert_eq!(found.len(), 2, "level {level}");
            for point in found.iter().flatten() {
                // On a bilinear field the crossings are exact (paper y is minus y).
                assert!((-point[0] * point[1] - level).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn absent_values_open_the_line_and_a_flat_field_has_none() {
        let whole = lines(41, 0.36, |x, y| x * x + y * y);
        let holed = lines(41, 0.36, |x, y| {
            if x > 0.55 && y.abs() < 0.1 {
                f64::NAN
            } else {
                x * x + y * y
            }
        });
        assert_eq!((whole.len(), holed.len()), (1, 1));
        assert_ne!(holed[0].first(), holed[0].last());
        assert!(lines(5, 1.0, |_, _| 0.5).is_empty());
        assert!(lines(5, 0.5, |_, _| 0.5).is_empty());
    }
}
