//! What lies between the places of a map: the counts of every pad, smoothly, and of these the strongest.

use super::TouchMap;

/// A finer raster over that of a map.
pub(super) struct Finer {
    /// Columns \[mm\].
    pub x_mm: Vec<f64>,
    /// Rows \[mm\].
    pub y_mm: Vec<f64>,
    /// Counts of the strongest pad, row by row.
    pub values: Vec<f64>,
}

/// Steps from one place of a map to the next.
pub(super) const STEPS: usize = 4;

/// The strongest pad between places and at them. Counts of one pad change smoothly over the face, those of the
/// strongest have ridges: so pads are interpolated and the strongest is taken last. Where a pad has no counts at a
/// corner, because it is ground to whoever touches there, the strongest of the corners are joined by straight lines.
pub(super) fn finer(map: &TouchMap) -> Finer {
    let (columns, rows) = (map.x.len(), map.y.len());
    let along = |values: Vec<f64>| -> Vec<f64> {
        let steps = |pair: &[f64]| {
            let [low, high] = [pair[0], pair[1]];
            (0..STEPS).map(move |step| low + (high - low) * step as f64 / STEPS as f64)
        };
        let each = values
            .windows(2)
            .flat_map(|pair| steps(pair).collect::<Vec<_>>());
        each.chain(values.last().copied()).collect()
    };
    let raster = Raster {
        columns,
        rows,
        pads: map
            .counts
            .iter()
            .map(|pad| pad.iter().map(|counts| counts.map(|c| c.value)).collect())
            .collect(),
    };
    let x_mm = along(map.x.iter().map(|x| x.mm()).collect());
    let y_mm = along(map.y.iter().map(|y| y.mm()).collect());
    let places = (0..y_mm.len()).flat_map(|row| (0..x_mm.len()).map(move |column| [column, row]));
    let values = places.map(|place| raster.strongest(place)).collect();
    Finer { x_mm, y_mm, values }
}

/// Counts of pads at the places of a map.
struct Raster {
    columns: usize,
    rows: usize,
    /// By pad, row by row.
    pads: Vec<Vec<Option<f64>>>,
}

impl Raster {
    /// At a place of the finer raster.
    fn strongest(&self, place: [usize; 2]) -> f64 {
        let last = [self.columns - 1, self.rows - 1];
        let cell = [0, 1].map(|axis| (place[axis] / STEPS).min(last[axis].saturating_sub(1)));
        let share = [0, 1].map(|axis| (place[axis] - STEPS * cell[axis]) as f64 / STEPS as f64);
        let corners = [[0, 0], [1, 0], [0, 1], [1, 1]].map(|corner: [usize; 2]| {
            [0, 1].map(|axis| (cell[axis] + corner[axis]).min(last[axis]))
        });
        let known = |pad: &Vec<Option<f64>>| {
            let known = corners
                .iter()
                .filter(|&&corner| pad[self.index(corner)].is_some());
            known.count()
        };
        let known: Vec<usize> = self.pads.iter().map(known).collect();
        if known.iter().any(|known| (1..4).contains(known)) {
            let strongest = corners.map(|corner| {
                let counts = self.pads.iter().filter_map(|pad| pad[self.index(corner)]);
                counts.fold(f64::NAN, f64::max)
            });
            let [low, high] = [[0, 1], [2, 3]]
                .map(|[a, b]| strongest[a] + (strongest[b] - strongest[a]) * share[0]);
            return low + (high - low) * share[1];
        }
        let whole = self.pads.iter().zip(known).filter(|(_, known)| *known == 4);
        whole
            .map(|(pad, _)| self.smooth(pad, cell, share))
            .fold(f64::NAN, f64::max)
    }

    fn index(&self, [column, row]: [usize; 2]) -> usize {
        column + self.columns * row
    }

    /// Cubic convolution along both axes; beyond the ends pads go on straight, and what is not known is nothing.
    ///
    /// Source: R. G. Keys, IEEE Trans. Acoustics, Speech, Signal Processing 29 (1981) 1153, with a = -1/2 (from
    /// memory): exact for polynomials of second order.
    fn smooth(&self, pad: &[Option<f64>], cell: [usize; 2], share: [f64; 2]) -> f64 {
        let [across, up] =
            [0, 1].map(|axis| weights(cell[axis], share[axis], [self.columns, self.rows][axis]));
        let mut sum = 0.0;
        for &(row, of_row) in &up {
            for &(column, of_column) in &across {
                let counts = pad[self.index([column, row])].unwrap_or(0.0);
                sum += of_row * of_column * counts;
            }
        }
        sum
    }
}

/// Places along an axis of so many and what each of them counts.
fn weights(cell: usize, t: f64, places: usize) -> Vec<(usize, f64)> {
    let (t2, t3) = (t * t, t * t * t);
    let inner = [
        -0.5 * t + t2 - 0.5 * t3,
        1.0 - 2.5 * t2 + 1.5 * t3,
        0.5 * t + 2.0 * t2 - 1.5 * t3,
        -0.5 * t2 + 0.5 * t3,
    ];
    let last = places - 1;
    let mut weights = Vec::with_capacity(6);
    for (offset, weight) in inner.into_iter().enumerate() {
        match (cell + offset).checked_sub(1) {
            None => weights.extend([(0, 2.0 * weight), (1.min(last), -weight)]),
            Some(place) if place > last => {
                weights.extend([(last, 2.0 * weight), (last.saturating_sub(1), -weight)]);
            }
            Some(place) => weights.push((place, weight)),
        }
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::questions::walk::{PlaceCounts, Work};
    use approx::assert_relative_eq;
    use padfield_engine::units::Length;

    fn map(pads: &[&dyn Fn(f64, f64) -> Option<f64>]) -> TouchMap {
        let along = |count: usize| {
            (0..count)
                .map(|i| Length::from_mm(3.0 * i as f64))
                .collect()
        };
        let (x, y): (Vec<Length>, Vec<Length>) = (along(7), along(5));
        let counts = pads.iter().map(|pad| {
            let places = y
                .iter()
                .flat_map(|y| x.iter().map(move |x| (x.mm(), y.mm())));
            let counts =
                places.map(|(x, y)| pad(x, y).map(|value| PlaceCounts { value, error: 0.0 }));
            counts.collect()
        });
        TouchMap {
            finger: "adult".to_owned(),
            counts: counts.collect(),
            x,
            y,
            work: Work {
                places: 35,
                field_problems: 35,
                accuracy_reached: true,
                missed: Vec::new(),
            },
        }
    }

    #[test]
    fn a_pad_of_second_order_is_found_between_places() {
        let pad =
            |x: f64, y: f64| 90.0 - 0.3 * (x - 8.0).powi(2) - 0.2 * (y - 5.0).powi(2) + 0.1 * x * y;
        let finer = finer(&map(&[&|x, y| Some(pad(x, y))]));
        assert_eq!(finer.values.len(), finer.x_mm.len() * finer.y_mm.len());
        let mut values = finer.values.iter();
        for &y in &finer.y_mm {
            for &x in &finer.x_mm {
                let value = values.next().expect("a value for every place");
                // Cells at the rim go on straight.
                if (3.0..=15.0).contains(&x) && (3.0..=9.0).contains(&y) {
                    assert_relative_eq!(*value, pad(x, y), max_relative = 1e-12);
                }
            }
        }
    }

    #[test]
    fn the_ridge_between_two_pads_is_where_they_are_equal() {
        let [one, other] = [|x: f64| 50.0 - 3.0 * x, |x: f64| 3.0 * x - 4.0];
        let finer = finer(&map(&[&|x, _| Some(one(x)), &|x, _| Some(other(x))]));
        for (x, value) in finer.x_mm.iter().zip(&finer.values) {
            assert_relative_eq!(*value, one(*x).max(other(*x)), max_relative = 1e-12);
        }
    }

    #[test]
    fn a_pad_that_is_ground_on_one_side_leaves_straight_lines() {
        let finer = finer(&map(&[&|_, _| Some(10.0), &|x, _| {
            (x > 7.0).then_some(40.0)
        }]));
        let at = |mm: f64| {
            let place = finer.x_mm.iter().position(|x| (x - mm).abs() < 1e-9);
            finer.values[place.expect("a place")]
        };
        assert_relative_eq!(at(6.0), 10.0);
        assert_relative_eq!(at(7.5), 25.0);
        assert_relative_eq!(at(9.0), 40.0);
    }
}
