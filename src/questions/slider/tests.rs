//! Decisions on made-up totals.

use super::places::Standing;
use super::total::{Total, TotalCause, TotalEvent};
use super::worst::{One, Totals, decided};
use crate::event::Worst;
use crate::panel::Panel;
use crate::panel::sample::four_keys;
use padfield_engine::units::{Capacitance, Length};

fn total(mean: f64, noise: f64) -> Total {
    Total {
        mean,
        input_range: [0.8 * mean, 1.25 * mean],
        worst: [0.8, 1.25].map(|share| Worst {
            mean: share * mean,
            noise,
        }),
        numerical_error: 1.0,
        noise,
    }
}

fn event(must_report: bool, mean: f64) -> TotalEvent {
    let cause = match must_report {
        true => TotalCause::Stroke {
            user: "adult".to_owned(),
            supply: "earthed".to_owned(),
            along: Length::default(),
            across: Length::default(),
        },
        false => TotalCause::Noise,
    };
    let total = total(mean, 2.0);
    let bound = total.bound(must_report, 3.0);
    TotalEvent {
        cause,
        must_report,
        total,
        bound,
    }
}

/// By hand: 0.8 x 100 - 1 - 3 x 2 = 73 over 1.25 x 16 + 1 + 3 x 2 = 27 gives 2.70; as drawn 93 over 23 gives
/// 4.04; the threshold is sqrt(27 x 73) = 44.4, a whole number.
#[test]
fn the_threshold_stands_between_weakest_and_strongest() {
    let mut panel = four_keys();
    panel.usage.noise_margin.value = 3.0;
    let events = vec![
        event(true, 120.0),
        event(true, 100.0),
        event(false, 16.0),
        event(false, 4.0),
    ];
    let (threshold, decision) = decided(&panel, events);
    assert_eq!(
        (decision.weakest_true, decision.strongest_false),
        (Some(1), Some(2))
    );
    assert!((decision.ratio - 73.0 / 27.0).abs() < 1e-12);
    assert!((decision.nominal_ratio - 93.0 / 23.0).abs() < 1e-12);
    assert_eq!(threshold, Some(44.0));
}

#[test]
fn what_is_felt_beside_as_on_it_leaves_no_threshold() {
    let panel = four_keys();
    let (threshold, decision) = decided(&panel, vec![event(true, 30.0), event(false, 20.0)]);
    assert_eq!(threshold, None);
    assert!(decision.ratio < 1.0);
    let (threshold, decision) = decided(&panel, vec![event(false, 20.0)]);
    assert_eq!((threshold, decision.ratio), (None, 0.0));
}

/// Where a finger shows most there is most noise, too: a margin turns the order of the bounds around, not that of the
/// places that others are looked at.
#[test]
fn where_others_are_looked_at_hangs_on_the_field_alone() {
    let standing = |panel: &Panel, place: usize| Standing::Stroke {
        walker: 0,
        finger: panel.fingers[0].clone(),
        place,
        across: Length::default(),
    };
    let weakest = |margin: f64| {
        let mut panel = four_keys();
        panel.usage.noise_margin.value = margin;
        let one = |place: usize, shift_pf: f64, noise: f64| One {
            standing: standing(&panel, place),
            supply: 0,
            total: total(100.0 * shift_pf, noise),
            shift: Capacitance::from_pf(shift_pf),
        };
        let all = vec![one(0, 0.9, 2.0), one(1, 1.0, 9.0)];
        let totals = Totals::new(&panel, &[], all);
        let (lowest, _) = totals.lowest(|_| true).expect("two");
        let least = totals.least_shift(|_| true).expect("two").clone();
        assert_eq!(totals.most_shift(|_| true), Some(&standing(&panel, 1)));
        [lowest, least].map(|found| (0..2).find(|&place| standing(&panel, place) == found))
    };
    assert_eq!(weakest(0.5), [Some(0), Some(0)]);
    assert_eq!(weakest(5.0), [Some(1), Some(0)]);
}
