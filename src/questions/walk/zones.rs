//! Stretches of a walk: where a pad acts, where two pads answer nearly alike.

use super::{Curve, Walk};

/// Part of a line \[mm\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// First place \[mm\].
    pub low_mm: f64,
    /// Last place \[mm\].
    pub high_mm: f64,
}

impl Walk {
    /// Places \[mm\].
    pub(super) fn places_mm(&self) -> Vec<f64> {
        self.places.iter().map(|place| place.mm()).collect()
    }
}

/// Where a pad's counts are at or above a threshold, by straight lines between places.
pub fn acting(walk: &Walk, curve: &Curve, pad: usize, threshold: f64) -> Vec<Stretch> {
    let values: Vec<f64> = curve.counts[pad]
        .iter()
        .map(|counts| counts.map_or(f64::NAN, |counts| counts.value - threshold))
        .collect();
    above_zero(&walk.places_mm(), &values)
}

/// Where the second strongest pad has at least `ratio` of the strongest one's counts, while that one
/// has at least `floor` counts.
pub fn ambiguous(walk: &Walk, curve: &Curve, ratio: f64, floor: f64) -> Vec<Stretch> {
    let values: Vec<f64> = (0..walk.places.len())
        .map(|place| {
            let mut counts: Vec<f64> = curve
                .counts
                .iter()
                .filter_map(|pad| pad[place].map(|counts| counts.value))
                .collect();
            counts.sort_by(|a, b| b.total_cmp(a));
            match counts[..] {
                [strongest, second, ..] if strongest >= floor => second - ratio * strongest,
                _ => -1.0,
            }
        })
        .collect();
    above_zero(&walk.places_mm(), &values)
}

/// Stretches where a broken line through so many values is at or above a threshold.
pub fn at_least(places_mm: &[f64], values: &[f64], threshold: f64) -> Vec<Stretch> {
    let above: Vec<f64> = values.iter().map(|value| value - threshold).collect();
    above_zero(places_mm, &above)
}

/// Stretches where a broken line is not below zero.
fn above_zero(places: &[f64], values: &[f64]) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let mut start = values.first().filter(|v| **v >= 0.0).map(|_| places[0]);
    for index in 1..values.len() {
        let (before, now) = (values[index - 1], values[index]);
        let crossing =
            || places[index - 1] + (places[index] - places[index - 1]) * before / (before - now);
        match (before >= 0.0, now >= 0.0) {
            (false, true) => start = Some(crossing()),
            (true, false) => {
                if let Some(low_mm) = start.take() {
                    let high_mm = if now.is_nan() {
                        places[index - 1]
                    } else {
                        crossing()
                    };
                    stretches.push(Stretch { low_mm, high_mm });
                }
            }
            _ => {}
        }
    }
    if let (Some(low_mm), Some(&high_mm)) = (start, places.last()) {
        stretches.push(Stretch { low_mm, high_mm });
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_end_where_the_broken_line_crosses() {
        let places = [0.0, 1.0, 2.0, 3.0, 4.0];
        let found = above_zero(&places, &[-1.0, 1.0, 1.0, -3.0, -1.0]);
        let expected = Stretch {
            low_mm: 0.5,
            high_mm: 2.25,
        };
        assert_eq!(found, [expected]);
        // At both ends of the line, and with a gap.
        let found = above_zero(&places, &[1.0, -1.0, f64::NAN, 1.0, 1.0]);
        assert_eq!(found.len(), 2);
        assert_eq!((found[0].low_mm, found[0].high_mm), (0.0, 0.5));
        assert_eq!(found[1].high_mm, 4.0);
        assert!(above_zero(&places, &[-1.0; 5]).is_empty());
    }
}
