//! Closed polygons in the plane, in metres: area, box, containment and distance. The second polygon of an outline, if
//! any, is a hole.

/// Smallest and largest x, y \[m\] over the corners of polygons: `[low, high]`.
pub fn polygon_box(polygons: &[Vec<[f64; 2]>]) -> Rectangle {
    let mut bounds = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    for corner in polygons.iter().flatten() {
        for axis in 0..2 {
            bounds[0][axis] = bounds[0][axis].min(corner[axis]);
            bounds[1][axis] = bounds[1][axis].max(corner[axis]);
        }
    }
    bounds
}

/// Enclosed area \[m2\], holes taken off.
pub fn area(polygons: &[Vec<[f64; 2]>]) -> f64 {
    let one = |polygon: &Vec<[f64; 2]>| {
        let twice: f64 = edges(polygon)
            .map(|([ax, ay], [bx, by])| ax * by - bx * ay)
            .sum();
        twice.abs() / 2.0
    };
    match polygons {
        [] => 0.0,
        [outer, holes @ ..] => one(outer) - holes.iter().map(one).sum::<f64>(),
    }
}

/// Whether a point lies inside: a ray from it crosses the polygons an odd number of times.
pub fn contains(polygons: &[Vec<[f64; 2]>], point: [f64; 2]) -> bool {
    let [x, y] = point;
    let crossings = polygons.iter().flat_map(|p| edges(p)).filter(|(a, b)| {
        (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossings.count() % 2 == 1
}

/// Smallest distance \[m\] between two placed outlines; 0 when they touch, cross or one lies in the
/// other. A piece inside another's hole keeps its distance to the hole's edge.
pub fn distance(first: &[Vec<[f64; 2]>], second: &[Vec<[f64; 2]>]) -> f64 {
    let inside = |outer: &[Vec<[f64; 2]>], inner: &[Vec<[f64; 2]>]| {
        inner
            .first()
            .and_then(|polygon| polygon.first())
            .is_some_and(|corner| contains(outer, *corner))
    };
    if inside(first, second) || inside(second, first) {
        return 0.0;
    }
    let mut least = f64::INFINITY;
    for one in first.iter().flat_map(|p| edges(p)) {
        for other in second.iter().flat_map(|p| edges(p)) {
            least = least.min(segment_distance(one, other));
        }
    }
    least
}

/// Whether two placed outlines are closer to each other than this \[m\]. Most are told apart by their boxes.
pub fn are_closer(first: &[Vec<[f64; 2]>], second: &[Vec<[f64; 2]>], than_m: f64) -> bool {
    let [one, other] = [first, second].map(polygon_box);
    boxes_apart(one, other) < than_m && distance(first, second) < than_m
}

/// Distance \[m\] of two boxes along the axis where they are farther apart; negative where they overlap.
pub fn boxes_apart(one: Rectangle, other: Rectangle) -> f64 {
    let along =
        |axis: usize| f64::max(other[0][axis] - one[1][axis], one[0][axis] - other[1][axis]);
    along(0).max(along(1))
}

/// Corners of a rectangle, counter-clockwise.
pub fn corners([low, high]: Rectangle) -> Vec<[f64; 2]> {
    vec![low, [high[0], low[1]], high, [low[0], high[1]]]
}

/// Whether a closed polygon crosses or touches itself anywhere but at neighbouring corners.
pub fn crosses_itself(polygon: &[[f64; 2]]) -> bool {
    let sides: Vec<_> = edges(polygon).collect();
    let count = sides.len();
    (0..count).any(|i| {
        (i + 2..count)
            .filter(|&k| !(i == 0 && k == count - 1))
            .any(|k| segment_distance(sides[i], sides[k]) == 0.0)
    })
}

/// Corner pair low, high; x and y \[m\].
pub type Rectangle = [[f64; 2]; 2];

/// Two ends, x and y \[m\].
pub type Segment = ([f64; 2], [f64; 2]);

/// Sides of a closed polygon.
pub fn edges(polygon: &[[f64; 2]]) -> impl Iterator<Item = Segment> + '_ {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).map(|(a, b)| (*a, *b))
}

fn segment_distance(one: Segment, other: Segment) -> f64 {
    if segments_cross(one, other) {
        return 0.0;
    }
    point_to_segment(one.0, other)
        .min(point_to_segment(one.1, other))
        .min(point_to_segment(other.0, one))
        .min(point_to_segment(other.1, one))
}

fn segments_cross((a, b): Segment, (c, d): Segment) -> bool {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Distance \[m\] of a point from a segment.
pub fn point_to_segment(point: [f64; 2], (a, b): Segment) -> f64 {
    let along = [b[0] - a[0], b[1] - a[1]];
    let from = [point[0] - a[0], point[1] - a[1]];
    let length_squared = along[0] * along[0] + along[1] * along[1];
    let share = if length_squared > 0.0 {
        ((from[0] * along[0] + from[1] * along[1]) / length_squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (from[0] - share * along[0]).hypot(from[1] - share * along[1])
}
