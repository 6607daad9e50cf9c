//! Lines and areas cut off at a rectangle, so that nothing outside a frame is moved onto it.

use crate::canvas::{Point, Rect};

/// The parts of a line that lie inside, each a run of joined points. A point that is not finite
/// ends a run.
pub fn line(points: &[Point], frame: Rect) -> Vec<Vec<Point>> {
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let mut joined = false;
    for pair in points.windows(2) {
        let Some((from, to)) = segment(pair[0], pair[1], frame) else {
            joined = false;
            continue;
        };
        match runs.last_mut() {
            Some(run) if joined => run.push(to),
            _ => runs.push(vec![from, to]),
        }
        joined = to == pair[1];
    }
    runs
}

/// The part of one segment inside the frame (Liang and Barsky 1984).
fn segment(from: Point, to: Point, frame: Rect) -> Option<(Point, Point)> {
    if !from.iter().chain(&to).all(|c| c.is_finite()) {
        return None;
    }
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for axis in 0..2 {
        let run = to[axis] - from[axis];
        let (low, high) = frame.extent(axis);
        if run == 0.0 {
            if from[axis] < low || from[axis] > high {
                return None;
            }
            continue;
        }
        let (a, b) = ((low - from[axis]) / run, (high - from[axis]) / run);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    if enter > leave {
        return None;
    }
    let at = |t: f64| {
        [
            from[0] + t * (to[0] - from[0]),
            from[1] + t * (to[1] - from[1]),
        ]
    };
    let first = if enter == 0.0 { from } else { at(enter) };
    let last = if leave == 1.0 { to } else { at(leave) };
    Some((first, last))
}

/// The part of an area inside the frame (Sutherland and Hodgman 1974). Corners must be finite; where
/// the area falls apart, the parts stay joined along the frame, which a fill does not show.
pub fn area(corners: &[Point], frame: Rect) -> Vec<Point> {
    let mut kept = corners.to_vec();
    for axis in 0..2 {
        let (low, high) = frame.extent(axis);
        for (bound, sign) in [(low, 1.0), (high, -1.0)] {
            let inside = |p: &Point| sign * (p[axis] - bound) >= 0.0;
            let mut next = Vec::with_capacity(kept.len() + 4);
            for (place, &to) in kept.iter().enumerate() {
                let from = kept[(place + kept.len() - 1) % kept.len()];
                if inside(&from) != inside(&to) {
                    let t = (bound - from[axis]) / (to[axis] - from[axis]);
                    let other = 1 - axis;
                    let mut cut = [0.0; 2];
                    cut[axis] = bound;
                    cut[other] = from[other] + t * (to[other] - from[other]);
                    next.push(cut);
                }
                if inside(&to) {
                    next.push(to);
                }
            }
            kept = next;
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Rect = Rect {
        left: 0.0,
        top: 0.0,
        right: 10.0,
        bottom: 10.0,
    };

    #[test]
    fn a_line_that_leaves_and_returns_is_cut_where_it_meets_the_frame() {
        let runs = line(&[[1.0, 5.0], [5.0, -5.0], [9.0, 5.0]], FRAME);
        assert_eq!(
            runs,
            [vec![[1.0, 5.0], [3.0, 0.0]], vec![[7.0, 0.0], [9.0, 5.0]]]
        );
    }

    #[test]
    fn a_line_outside_vanishes_and_one_inside_stays_whole() {
        assert!(line(&[[-5.0, -1.0], [20.0, -1.0]], FRAME).is_empty());
        let inside = [[1.0, 1.0], [2.0, 3.0], [4.0, 4.0]];
        assert_eq!(line(&inside, FRAME), [inside.to_vec()]);
    }

    #[test]
    fn an_absent_point_makes_a_gap() {
        let runs = line(
            &[
                [1.0, 1.0],
                [2.0, 2.0],
                [f64::NAN, 0.0],
                [3.0, 3.0],
                [4.0, 4.0],
            ],
            FRAME,
        );
        assert_eq!(runs.len(), 2);
    }

    #[test]
    fn an_area_is_cut_at_the_frame() {
        let cut = area(&[[-5.0, 2.0], [5.0, 2.0], [5.0, 4.0], [-5.0, 4.0]], FRAME);
        let surface: f64 = (0..cut.len())
            .map(|i| {
                let (a, b) = (cut[i], cut[(i + 1) % cut.len()]);
                0.5 * (a[0] * b[1] - b[0] * a[1])
            })
            .sum();
        assert!((surface.abs() - 10.0).abs() < 1e-12, "{cut:?}");
        assert!(area(&[[-5.0, 2.0], [-1.0, 2.0], [-1.0, 4.0]], FRAME).is_empty());
    }
}
