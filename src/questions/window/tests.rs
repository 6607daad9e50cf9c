use super::decide::exceedance;
use super::*;
use crate::cautions::cautions;
use crate::event::PadField;
use crate::panel::sample::four_keys;
use approx::assert_relative_eq;
use padfield_engine::units::Capacitance;
use proptest::prelude::*;

/// Events of a made-up panel: one true and one false touch on the first pad.
fn table(weakest: [f64; 2], strongest: [f64; 2]) -> EventTable {
    let event = |group, [mean, noise]: [f64; 2]| {
        let gesture = Gesture {
            user: "adult".to_owned(),
            supply: "earthed".to_owned(),
            aimed_at: "vent".to_owned(),
            offset: Default::default(),
            towards: None,
        };
        let cause = match group {
            Group::True => Cause::Touch(gesture),
            Group::False | Group::Either => Cause::NeighbourTouch(gesture),
        };
        Event {
            group,
            cause,
            pad: 0,
            supply: None,
            field: PadField::Quiet {
                base: 0.0,
                by_layer: Vec::new(),
            },
            field_ends: Vec::new(),
            mean,
            input_range: [0.9 * mean, 1.1 * mean],
            worst: Worst {
                mean: match group {
                    Group::True => 0.9 * mean,
                    Group::False | Group::Either => 1.1 * mean,
                },
                noise,
            },
            numerical_error: 0.01 * mean,
            noise,
            bound: 0.0,
        }
        .with_bound(3.0)
    };
    EventTable {
        events: vec![event(Group::True, weakest), event(Group::False, strongest)],
        pads: vec!["vent".to_owned()],
        references: vec![Reference {
            pad: 0,
            counts: 100.0,
            base_at_pin: Capacitance::from_pf(15.0),
            base_count: 4800.0,
            noise: 1.5,
        }],
        channels: vec![Capacitance::from_pf(15.0)],
        reference_user: "adult".to_owned(),
        field_varies: false,
        not_described: Vec::new(),
        simplifications: Vec::new(),
        field_problems: 1,
        accuracy_reached: true,
        missed: Vec::new(),
        fineness: None,
    }
}

#[test]
fn exceedance_is_the_tail_of_the_normal_distribution() {
    // M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.2 (from memory; the
    // values also from scipy).
    for (deviations, expected) in [
        (1.0, 0.158_655_254),
        (3.0, 1.349_898_03e-3),
        (5.0, 2.866_515_72e-7),
        (7.0, 1.279_812_54e-12),
    ] {
        assert_relative_eq!(exceedance(deviations), expected, max_relative = 1e-8);
    }
}

#[test]
fn bounds_threshold_and_probabilities_of_one_pair() {
    let panel = four_keys();
    let window = decide(&panel, &table([100.0, 2.0], [20.0, 1.5]), Some(0));
    // By hand: 90 - 1 - 6 = 83 and 22 + 0.2 + 4.5 = 26.7; W = 3.109; sqrt(83 26.7) = 47.08.
    assert_relative_eq!(window.ratio, 83.0 / 26.7, max_relative = 1e-12);
    let choice = window.choice.expect("there is a window");
    assert_eq!(choice.threshold, 47.0);
    assert_relative_eq!(choice.release, 0.75 * 47.0);
    assert!(choice.release_is_above_false);
    assert_relative_eq!(choice.share_of_adult.expect("an adult"), 0.47);
    // Two scans: Q((89 - 47)/2) is nothing; Q((47 - 22.2)/1.5) = Q(16.5) neither.
    assert!(choice.miss_probability < 1e-12);
    assert!(choice.false_per_year_from_noise < 1e-12);
    assert_eq!(choice.needed_debounce, Some(1));
}

#[test]
fn no_window_is_a_result_and_has_no_threshold() {
    let panel = four_keys();
    let window = decide(&panel, &table([20.0, 2.0], [30.0, 1.5]), Some(0));
    assert!(window.ratio < 1.0 && window.choice.is_none());
    // A weakest touch that may show nothing at all.
    let window = decide(&panel, &table([5.0, 2.0], [30.0, 1.5]), Some(0));
    assert_eq!(window.ratio, 0.0);
    // A pad without any event.
    let window = decide(&panel, &table([20.0, 2.0], [1.0, 1.0]), Some(3));
    assert_eq!((window.ratio, window.weakest_true), (0.0, None));
}

#[test]
fn a_debounce_is_asked_for_when_single_scans_are_too_often_false() {
    let panel = four_keys();
    // A noisy neighbour touch close below the threshold.
    let window = decide(&panel, &table([60.0, 4.0], [25.0, 4.0]), Some(0));
    let choice = window.choice.expect("there is a window");
    let per_scan = exceedance((choice.threshold - 27.75) / 4.0);
    let scans_per_touch = 0.5 / 0.02;
    let per_year = |n: i32| 100.0 * 365.25 * (scans_per_touch * per_scan.powi(n)).min(1.0);
    let needed = (1..=20)
        .find(|&n| per_year(n) <= 1.0)
        .expect("few scans do");
    assert!(needed > 1);
    assert_eq!(choice.needed_debounce, Some(needed as u32));
}

#[test]
fn words_name_user_place_and_supply() {
    use padfield_engine::units::Length;
    let mut gesture = Gesture {
        user: "small child".to_owned(),
        supply: "battery".to_owned(),
        aimed_at: "mist".to_owned(),
        offset: [Length::from_mm(-3.0), Length::from_mm(0.0)],
        towards: None,
    };
    let words = |cause: Cause| {
        let event = Event {
            cause,
            ..table([1.0, 1.0], [1.0, 1.0]).events[0].clone()
        };
        event.words()
    };
    assert_eq!(
        words(Cause::Touch(gesture.clone())),
        "small child, 3 mm off to the left, battery supply"
    );
    gesture.towards = Some("vent".to_owned());
    assert_eq!(
        words(Cause::NeighbourTouch(gesture.clone())),
        "small child on \"mist\", 3 mm off towards \"vent\", battery supply"
    );
    gesture.offset = [Length::from_mm(0.0); 2];
    assert_eq!(
        words(Cause::Touch(gesture)),
        "small child, centred, battery supply"
    );
    assert_eq!(words(Cause::Noise), "noise while nobody touches");
}

#[test]
fn cautions_print_where_they_apply() {
    use crate::panel::Application;
    let mut panel = four_keys();
    let general = cautions(&panel);
    assert_eq!(general.len(), 1);
    assert!(general[0].contains("override"));
    panel.usage.applications = vec![Application::Appliance, Application::Mains];
    let lines = cautions(&panel);
    assert!(lines[0].starts_with("Mains") && lines[0].contains("IEC 60335-1"));
    assert!(lines[1].starts_with("Appliance") && lines[1].contains("only means"));
    assert_eq!(lines.last(), general.last());
}

proptest! {
    #[test]
    fn the_threshold_lies_between_the_pair(
        weakest in 1.0..500.0_f64,
        share in 0.0..1.2_f64,
        noise in 0.01..10.0_f64,
    ) {
        let panel = four_keys();
        let table = table([weakest, noise], [share * weakest, noise]);
        let window = decide(&panel, &table, Some(0));
        let (low, high) = (table.events[1].bound, table.events[0].bound);
        match window.choice {
            Some(choice) => {
                prop_assert!(window.ratio > 1.0);
                prop_assert!(low < choice.threshold && choice.threshold < high);
                prop_assert!(choice.release < choice.threshold);
                prop_assert!((0.0..=1.0).contains(&choice.miss_probability));
            }
            None => prop_assert!(low >= high || high <= 0.0),
        }
    }

    #[test]
    fn the_window_narrows_when_noise_grows(
        weakest in 50.0..500.0_f64,
        share in 0.0..0.5_f64,
        noise in 0.01..5.0_f64,
        more in 1.01..3.0_f64,
    ) {
        let panel = four_keys();
        let ratio = |noise: f64| {
            decide(&panel, &table([weakest, noise], [share * weakest, noise]), Some(0)).ratio
        };
        prop_assert!(ratio(noise * more) < ratio(noise));
    }
}
