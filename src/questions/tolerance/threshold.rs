//! One threshold for all units.

use super::watch::Outcome;
use crate::questions::window::threshold_between;

/// Where the threshold for all units comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ThresholdOrigin {
    /// It was asked for.
    Asked,
    /// Of all thresholds the one that suits most of the units drawn.
    BestYield,
    /// Geometric mean of the pair that binds on a unit built as drawn; no units were drawn.
    NominalMiddle,
}

impl ThresholdOrigin {
    pub fn words(self) -> &'static str {
        match self {
            Self::Asked => "as asked",
            Self::BestYield => "of best yield",
            Self::NominalMiddle => "in the middle of the nominal window",
        }
    }
}

/// The threshold and where it comes from.
pub(super) fn threshold(
    asked: Option<f64>,
    outcomes: Option<&[Outcome]>,
    nominal: &Outcome,
) -> (f64, ThresholdOrigin) {
    let middle = || threshold_between(nominal.strongest_false, nominal.weakest_true);
    match (asked, outcomes) {
        (Some(asked), _) => (asked, ThresholdOrigin::Asked),
        (None, Some(outcomes)) => match best(outcomes) {
            Some(best) => (best, ThresholdOrigin::BestYield),
            None => (middle(), ThresholdOrigin::NominalMiddle),
        },
        (None, None) => (middle(), ThresholdOrigin::NominalMiddle),
    }
}

/// The threshold that lies between the two bounds of most units: a whole number in the middle of the best
/// stretch where one lies there, as firmware compares whole counts. None when it suits no unit.
fn best(outcomes: &[Outcome]) -> Option<f64> {
    // Every unit is suited by an open interval; the best threshold lies where most of them overlap.
    let mut edges: Vec<(f64, i64)> = outcomes
        .iter()
        .filter(|o| o.weakest_true > o.strongest_false.max(0.0))
        .flat_map(|o| [(o.strongest_false.max(0.0), 1), (o.weakest_true, -1)])
        .collect();
    // Where one interval ends and another begins none holds both.
    edges.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let (mut count, mut most) = (0, 0);
    let mut stretches: Vec<[f64; 2]> = Vec::new();
    for (number, (at, change)) in edges.iter().enumerate() {
        count += change;
        let Some((next, _)) = edges.get(number + 1) else {
            break;
        };
        if count > most {
            most = count;
            stretches.clear();
        }
        if count == most && most > 0 && next > at {
            stretches.push([*at, *next]);
        }
    }
    let ratio = |[low, high]: [f64; 2]| if low > 0.0 { high / low } else { f64::INFINITY };
    let mut widest = stretches.into_iter();
    let first = widest.next()?;
    let [low, high] = widest.fold(first, |best, next| {
        if ratio(next) > ratio(best) {
            next
        } else {
            best
        }
    });
    Some(match low > 0.0 {
        true => threshold_between(low, high),
        false => threshold_between(0.25 * high, high),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(strongest_false: f64, weakest_true: f64) -> Outcome {
        Outcome {
            base: 0.0,
            touch_shift: 0.0,
            neighbour_shift: 0.0,
            true_counts: 0.0,
            false_counts: 0.0,
            weakest_true,
            strongest_false,
        }
    }

    /// By hand: 10 to 20, 12 to 30, 25 to 40 and 14 to 18 overlap most from 14 to 18.
    #[test]
    fn the_best_threshold_suits_most_units() {
        let units = [
            unit(10.0, 20.0),
            unit(12.0, 30.0),
            unit(25.0, 40.0),
            unit(14.0, 18.0),
        ];
        let (threshold, origin) = threshold(None, Some(&units), &units[0]);
        // sqrt(14 x 18) = 15.9.
        assert_eq!((threshold, origin), (16.0, ThresholdOrigin::BestYield));
        let suits = |t: f64| {
            let suited = |u: &&Outcome| u.strongest_false < t && t < u.weakest_true;
            units.iter().filter(suited).count()
        };
        let best = (1..50).map(|t| suits(f64::from(t))).max();
        assert_eq!(Some(suits(threshold)), best);
    }

    #[test]
    fn no_unit_with_a_window_leaves_the_nominal_middle() {
        let units = [unit(20.0, 10.0)];
        let (threshold, origin) = threshold(None, Some(&units), &unit(10.0, 40.0));
        assert_eq!((threshold, origin), (20.0, ThresholdOrigin::NominalMiddle));
    }
}
