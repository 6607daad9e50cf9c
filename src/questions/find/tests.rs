//! The search on functions whose answer is known.

use super::*;
use crate::study::Relation;

const UP_TO_20: Span = Span {
    from: 1.0,
    to: 20.0,
    logarithmic: true,
};
const UP_TO_10: Span = Span {
    from: 0.0,
    to: 10.0,
    logarithmic: false,
};

/// A function with an error bar, possible between two places and without a value between two others.
struct Curve<F> {
    value: F,
    error: f64,
    possible: [f64; 2],
    failing: [f64; 2],
    solves: usize,
    stop_after: usize,
}

fn curve<F: Fn(f64) -> f64>(value: F, error: f64) -> Curve<F> {
    Curve {
        value,
        error,
        possible: [f64::NEG_INFINITY, f64::INFINITY],
        failing: [f64::NAN; 2],
        solves: 0,
        stop_after: usize::MAX,
    }
}

impl<F: Fn(f64) -> f64> Ask for Curve<F> {
    fn possible(&mut self, place: f64) -> Result<(), String> {
        if (self.possible[0]..=self.possible[1]).contains(&place) {
            Ok(())
        } else {
            Err("does not fit".to_owned())
        }
    }

    fn solve(&mut self, place: f64) -> Result<Sample, String> {
        self.solves += 1;
        if (self.failing[0]..=self.failing[1]).contains(&place) {
            return Err("not converged".to_owned());
        }
        Ok(Sample {
            value: (self.value)(place),
            error: self.error,
        })
    }

    fn stopped(&self) -> bool {
        self.solves >= self.stop_after
    }
}

fn at_most(span: &Span, limit: f64, ask: &mut dyn Ask) -> Found {
    search(span, limit, Relation::AtMost, ask, &mut |_| {})
}

fn is_near(found: f64, exact: f64, within: f64) {
    assert!((found - exact).abs() <= within, "{found}, not {exact}");
}

/// The interval ends where value plus or minus error meets the limit, to a tenth of its half-width.
fn has_interval(crossing: &Crossing, exact: [f64; 2]) {
    let within = 0.1 * 0.5 * (exact[1] - exact[0]);
    is_near(crossing.interval[0], exact[0], within);
    is_near(crossing.interval[1], exact[1], within);
    assert!(crossing.interval[0] <= crossing.at && crossing.at <= crossing.interval[1]);
}

#[test]
fn a_falling_curve_has_one_crossing_with_the_interval_of_its_error_bars() {
    let mut ask = curve(|x| 100.0 / x, 0.5);
    let found = at_most(&UP_TO_20, 20.0, &mut ask);
    assert_eq!(found.ending, Ending::Complete);
    let [crossing] = found.crossings[..] else {
        panic!("{found:?}")
    };
    // The value is refined to a twentieth of the error bar.
    is_near(crossing.at, 5.0, 0.05 * 0.128);
    has_interval(&crossing, [100.0 / 20.5, 100.0 / 19.5]);
    assert_eq!(
        (crossing.is_decided, crossing.is_rising),
        ([true; 2], false)
    );
    let [Stretch { from, to }] = found.holds[..] else {
        panic!("{found:?}")
    };
    assert_eq!((from, to), (Bound::Crossing(0), Bound::End(20.0)));
    assert!(ask.solves <= 7 + 9, "{} solves", ask.solves);
}

#[test]
fn a_steep_curve_and_one_with_a_kink_in_its_error_are_found_as_well() {
    let mut ask = curve(|x| (-2.0 * x).exp(), 1e-7);
    let found = at_most(&UP_TO_20, 1e-6, &mut ask);
    let exact = |value: f64| -0.5 * f64::ln(value);
    is_near(found.crossings[0].at, exact(1e-6), 0.01);
    has_interval(&found.crossings[0], [exact(1.1e-6), exact(0.9e-6)]);
    assert!(ask.solves < 40, "{} solves", ask.solves);

    // The engine refines its grid beyond 4.9: the error falls there by a factor of five.
    struct Kink;
    impl Ask for Kink {
        fn possible(&mut self, _: f64) -> Result<(), String> {
            Ok(())
        }
        fn solve(&mut self, x: f64) -> Result<Sample, String> {
            let error = if x < 4.9 { 1.0 } else { 0.2 };
            Ok(Sample {
                value: 100.0 / x,
                error,
            })
        }
    }
    let found = at_most(&UP_TO_20, 20.0, &mut Kink);
    has_interval(&found.crossings[0], [100.0 / 21.0, 100.0 / 19.8]);
}

#[test]
fn without_an_error_the_interval_is_as_narrow_as_the_search() {
    let found = at_most(&UP_TO_10, 2.0, &mut curve(f64::sqrt, 0.0));
    let [crossing] = found.crossings[..] else {
        panic!("{found:?}")
    };
    is_near(crossing.at, 4.0, 1e-5);
    assert!(crossing.interval[1] - crossing.interval[0] <= 2e-5);
    assert!(crossing.interval[0] <= 4.0 && 4.0 <= crossing.interval[1]);
    assert_eq!(found.holds[0].from, Bound::End(0.0));
    assert_eq!(found.holds[0].to, Bound::Crossing(0));
}

#[test]
fn a_hill_is_crossed_twice() {
    let hill = |x: f64| 5.0 - 0.5 * (x - 6.0).powi(2);
    for (relation, holds) in [
        (
            Relation::AtLeast,
            vec![(Bound::Crossing(0), Bound::Crossing(1))],
        ),
        (
            Relation::AtMost,
            vec![
                (Bound::End(0.0), Bound::Crossing(0)),
                (Bound::Crossing(1), Bound::End(10.0)),
            ],
        ),
        (Relation::Equal, vec![]),
    ] {
        let found = search(
            &UP_TO_10,
            3.0,
            relation,
            &mut curve(hill, 0.05),
            &mut |_| {},
        );
        let crossings: Vec<_> = found
            .crossings
            .iter()
            .map(|c| (c.at, c.is_rising))
            .collect();
        assert_eq!(crossings.len(), 2, "{found:?}");
        is_near(crossings[0].0, 4.0, 0.002);
        is_near(crossings[1].0, 8.0, 0.002);
        assert_eq!((crossings[0].1, crossings[1].1), (true, false));
        let stretches: Vec<_> = found.holds.iter().map(|s| (s.from, s.to)).collect();
        assert_eq!(stretches, holds);
    }
}

#[test]
fn a_pair_of_crossings_between_two_places_of_the_scan_is_found() {
    // Below the limit only from 5.63 to 6.03; the scan solves 5 and 6.67.
    let valley = |x: f64| (x - 5.83).powi(2);
    let found = at_most(&UP_TO_10, 0.04, &mut curve(valley, 1e-4));
    assert_eq!(found.crossings.len(), 2, "{found:?}");
    is_near(found.crossings[0].at, 5.63, 1e-3);
    is_near(found.crossings[1].at, 6.03, 1e-3);
}

#[test]
fn no_crossing_is_an_answer() {
    let found = at_most(&UP_TO_20, 2.0, &mut curve(|x| 100.0 / x, 0.5));
    assert!(found.crossings.is_empty() && found.holds.is_empty() && found.undecided.is_empty());
    let found = at_most(&UP_TO_20, 200.0, &mut curve(|x| 100.0 / x, 0.5));
    assert_eq!(
        found.holds,
        [Stretch {
            from: Bound::End(1.0),
            to: Bound::End(20.0)
        }]
    );
    assert_eq!(found.places.len(), 7, "a scan is enough");
}

#[test]
fn a_touch_is_no_crossing_but_a_stretch_that_is_undecided() {
    let found = at_most(
        &UP_TO_10,
        1.0,
        &mut curve(|x| 1.02 + (x - 6.2).powi(2), 0.05),
    );
    assert!(
        found.crossings.is_empty() && found.holds.is_empty(),
        "{found:?}"
    );
    let [[from, to]] = found.undecided[..] else {
        panic!("{found:?}")
    };
    let half = f64::sqrt(0.05 - 0.02);
    is_near(from, 6.2 - half, 0.2 * half);
    is_near(to, 6.2 + half, 0.2 * half);
}

#[test]
fn ends_that_are_impossible_bound_the_range() {
    let mut ask = curve(|x| 100.0 / x, 0.5);
    ask.possible = [2.0, 12.0];
    let found = at_most(&UP_TO_20, 20.0, &mut ask);
    assert_eq!(found.crossings.len(), 1);
    let Bound::Failure(last) = found.holds[0].to else {
        panic!("{found:?}")
    };
    assert!(last <= 12.0 && last > 11.9, "{last}");
    let first = found.solved().next().expect("solved").0;
    assert!((2.0..2.01).contains(&first), "{first}");
    assert!(found.places[0].sample.is_err());

    ask.possible = [30.0, 40.0];
    let found = at_most(&UP_TO_20, 20.0, &mut ask);
    assert_eq!(found.solved().count(), 0);
    assert!(found.places.iter().all(|place| place.sample.is_err()));
}

#[test]
fn a_failure_in_the_middle_hides_no_crossing_elsewhere() {
    let mut ask = curve(|x| x, 0.01);
    ask.failing = [6.0, 7.0];
    let found = at_most(&UP_TO_10, 3.0, &mut ask);
    is_near(found.crossings[0].at, 3.0, 0.01);
    assert_eq!(found.places.iter().filter(|p| p.sample.is_err()).count(), 1);
    // The crossing itself cannot be solved: the stretch below it ends where solving does.
    let found = at_most(&UP_TO_10, 6.5, &mut ask);
    assert!(
        matches!(found.holds[0].to, Bound::Failure(at) if at < 6.0),
        "{found:?}"
    );
}

#[test]
fn an_interval_that_reaches_the_end_of_the_range_says_so() {
    let found = at_most(&UP_TO_10, 9.9, &mut curve(|x| x, 0.5));
    let [crossing] = found.crossings[..] else {
        panic!("{found:?}")
    };
    is_near(crossing.at, 9.9, 0.03);
    assert_eq!(crossing.is_decided, [true, false]);
    assert_eq!(crossing.interval[1], 10.0);
    // Never beyond its error bar from the limit: nothing can be told.
    let found = at_most(&UP_TO_10, 1.0, &mut curve(|_| 1.1, 0.5));
    assert_eq!(found.undecided, [[0.0, 10.0]]);
}

#[test]
fn noise_within_the_error_bars_makes_no_further_crossings() {
    for phase in 0..20 {
        let noise = |x: f64| 0.4 * (1e4 * x + f64::from(phase)).sin();
        let mut ask = curve(|x| 100.0 / x + noise(x), 0.5);
        let found = at_most(&UP_TO_20, 20.0, &mut ask);
        assert_eq!(found.crossings.len(), 1, "{found:?}");
        let crossing = found.crossings[0];
        assert!(
            crossing.interval[0] <= 5.0 && 5.0 <= crossing.interval[1],
            "{crossing:?}"
        );
        assert!(
            crossing.interval[1] - crossing.interval[0] < 0.6,
            "{crossing:?}"
        );
        assert_eq!(found.ending, Ending::Complete);
        // Noise of most of the error bar costs solves, but not the answer.
        assert!(ask.solves < 60, "{} solves", ask.solves);
    }
}

#[test]
fn a_search_that_is_stopped_keeps_what_it_has() {
    let mut ask = curve(|x| 100.0 / x, 0.5);
    ask.stop_after = 4;
    let found = at_most(&UP_TO_20, 20.0, &mut ask);
    assert_eq!(found.ending, Ending::Stopped);
    assert_eq!(found.solved().count(), 4);
}

#[test]
fn a_value_that_is_no_number_is_a_failure() {
    let found = at_most(
        &UP_TO_10,
        1.0,
        &mut curve(|x| if x > 5.0 { f64::NAN } else { x }, 0.1),
    );
    assert_eq!(found.crossings.len(), 1);
    assert!(found.places.iter().any(|place| place.sample.is_err()));
}
