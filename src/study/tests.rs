//! Exact steps, the way through the combinations, samples by number.

use super::*;
use rust_decimal::Decimal;

fn decimal(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

fn range(path: &str, from: &str, to: &str, spread: Spread) -> Variable {
    Variable {
        path: path.to_owned(),
        unit: "mm".to_owned(),
        values: Values::Range {
            from: decimal(from),
            to: decimal(to),
            spread,
        },
    }
}

fn words(path: &str, words: &[&str]) -> Variable {
    Variable {
        path: path.to_owned(),
        unit: String::new(),
        values: Values::Words(words.iter().map(|w| (*w).to_owned()).collect()),
    }
}

fn study(variables: Vec<Variable>, combine: Combine) -> Study {
    Study {
        name: "test".to_owned(),
        variables,
        combine,
        report: vec![Quantity::of_panel(QuantityKind::TouchShift)],
        limits: Vec::new(),
        accuracy: DEFAULT_ACCURACY,
        finger: None,
    }
}

fn texts(variable: &Variable) -> Vec<String> {
    let len = variable.len().expect("numbered values");
    (0..len).map(|i| variable.value(i).to_string()).collect()
}

#[test]
fn steps_are_exact_in_decimal() {
    let tenths = range("gap", "0.1", "1", Spread::Step(decimal("0.1")));
    let expected = [
        "0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7", "0.8", "0.9", "1",
    ];
    assert_eq!(texts(&tenths), expected);
    // 0.1 added a million times is not 100000 in binary.
    let many = range("gap", "0", "100000", Spread::Step(decimal("0.1")));
    assert_eq!(many.len(), Some(1_000_001));
    assert_eq!(many.value(1_000_000).to_string(), "100000");
    // A step that does not divide ends at the last value inside.
    let uneven = range("gap", "2", "7", Spread::Step(decimal("1.5")));
    assert_eq!(texts(&uneven), ["2", "3.5", "5", "6.5"]);
    let alone = range("gap", "2", "2.4", Spread::Step(decimal("0.5")));
    assert_eq!(texts(&alone), ["2"]);
}

#[test]
fn counted_ranges_hold_both_ends() {
    let thirds = range("gap", "1", "2", Spread::Linear(4));
    assert_eq!(texts(&thirds), ["1", "1.33333333", "1.66666667", "2"]);
    let exact = range("gap", "2", "16", Spread::Linear(9));
    assert_eq!(exact.value(1).to_string(), "3.75");
    let octaves = range("gap", "0.125", "8", Spread::Logarithmic(7));
    assert_eq!(
        texts(&octaves),
        ["0.125", "0.25", "0.5", "1", "2", "4", "8"]
    );
    let tiny = range("gap", "0.000001", "0.000002", Spread::Linear(3));
    assert_eq!(tiny.value(1).to_string(), "0.0000015");
}

#[test]
fn combinations_come_once_each_and_neighbours_differ_by_one_step() {
    let variables = vec![
        words("material", &["a", "b", "c"]),
        range("thickness", "1", "4", Spread::Step(decimal("1"))),
        range("gap", "2", "10", Spread::Step(decimal("2"))),
    ];
    let study = study(variables, Combine::All);
    let plan = study.plan();
    assert_eq!(plan.len(), 60);
    let points: Vec<Point> = plan.points().collect();
    let place = |point: &Point| -> Vec<i64> {
        let find = |(v, c): (&Variable, &Coordinate)| {
            (0..v.len().unwrap())
                .position(|i| v.value(i) == *c)
                .unwrap() as i64
        };
        study
            .variables
            .iter()
            .zip(&point.coordinates)
            .map(find)
            .collect()
    };
    let mut seen: Vec<Vec<i64>> = points.iter().map(place).collect();
    for pair in seen.windows(2) {
        let distance: i64 = pair[0]
            .iter()
            .zip(&pair[1])
            .map(|(a, b)| (a - b).abs())
            .sum();
        assert_eq!(distance, 1, "{pair:?}");
    }
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), 60);
}

#[test]
fn ten_million_points_are_never_held_at_once() {
    let long = || range("gap", "0", "9999", Spread::Step(decimal("1")));
    let large = study(
        vec![
            long(),
            range("width", "1", "1000", Spread::Step(decimal("1"))),
        ],
        Combine::All,
    );
    assert_eq!(large.plan().len(), 10_000_000);
    let last = large.plan().point(9_999_999);
    assert_eq!(last.coordinates[0].to_string(), "9999");
    let beyond = study(vec![long(); 6], Combine::All);
    assert_eq!(beyond.plan().len(), u64::MAX, "saturates");
}

#[test]
fn side_by_side_takes_values_in_pairs() {
    let study = study(
        vec![
            words("shape", &["disc", "ring"]),
            range("gap", "2", "3", Spread::Step(decimal("1"))),
        ],
        Combine::SideBySide,
    );
    let pairs: Vec<String> = study
        .plan()
        .points()
        .map(|p| format!("{} {}", p.coordinates[0], p.coordinates[1]))
        .collect();
    assert_eq!(pairs, ["disc 2", "ring 3"]);
}

fn sampled(sequence: Sequence, seed: u32, samples: u64) -> Study {
    let combine = Combine::Sample {
        samples,
        sequence,
        seed,
    };
    let anywhere = |logarithmic| Spread::Anywhere { logarithmic };
    study(
        vec![
            range("gap", "2", "16", anywhere(false)),
            range("thickness", "0.1", "10", anywhere(true)),
            words("material", &["a", "b"]),
        ],
        combine,
    )
}

#[test]
fn samples_are_spread_evenly_and_known_by_number() {
    for sequence in [Sequence::Sobol, Sequence::Random] {
        let study = sampled(sequence, 1, 1024);
        let points: Vec<Point> = study.plan().points().collect();
        assert_eq!(points[700], study.plan().point(700));
        let number = |p: &Point, axis: usize| p.coordinates[axis].number().unwrap();
        let below = |axis: usize, limit: f64| {
            points.iter().filter(|p| number(p, axis) < limit).count() as f64 / 1024.0
        };
        // Half of the range, in distance and in ratio; 1/32 is one standard deviation of a coin.
        let allowed = if sequence == Sequence::Sobol {
            1.5 / 1024.0
        } else {
            3.0 / 64.0
        };
        assert!((below(0, 9.0) - 0.5).abs() <= allowed, "{}", below(0, 9.0));
        assert!((below(1, 1.0) - 0.5).abs() <= allowed, "{}", below(1, 1.0));
        assert!(points.iter().all(|p| (2.0..=16.0).contains(&number(p, 0))));
        assert!(points.iter().all(|p| (0.1..=10.0).contains(&number(p, 1))));
        let other = sampled(sequence, 2, 1024);
        assert_ne!(other.plan().point(0), points[0], "the seed matters");
    }
    // Pinned: a stored study must find its points again in every version.
    let show = |sequence| {
        let study = sampled(sequence, 1, 4);
        let point = study.plan().point(3);
        point
            .coordinates
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(show(Sequence::Sobol), "12.1271 5.679896 a");
    assert_eq!(show(Sequence::Random), "9.95514 2.229563 a");
}

#[test]
fn a_study_survives_its_record() {
    let mut study = sampled(Sequence::Sobol, 7, 20);
    study.limits.push(Limit {
        quantity: "touch shift of vent".parse().unwrap(),
        side: Side::AtLeast,
        value: 0.3,
        because: Some("house rule".to_owned()),
    });
    let text = serde_json::to_string(&study).unwrap();
    assert_eq!(serde_json::from_str::<Study>(&text).unwrap(), study);
    let point = study.plan().point(5);
    for (variable, coordinate) in study.variables.iter().zip(&point.coordinates) {
        let back = variable.coordinate(&coordinate.to_string());
        assert_eq!(back.as_ref(), Some(coordinate));
    }
}

fn pad(name: &str, touch: Option<f64>, ratio: Option<f64>) -> PadValues {
    let reported = |value: Option<f64>| {
        value.map(|value| Reported {
            value,
            error: 0.01,
            lower: None,
            upper: None,
            guaranteed: false,
        })
    };
    PadValues {
        pad: name.to_owned(),
        base_capacitance: reported(Some(5.0)),
        touch_shift: reported(touch),
        relative_touch_shift: None,
        neighbour_shift: None,
        neighbour_ratio: reported(ratio),
        count_shift: None,
        neighbour_count_shift: None,
        signal_to_noise: None,
        worst_neighbour: None,
        hand_estimates: Vec::new(),
    }
}

#[test]
fn the_worst_pad_stands_for_the_panel() {
    let values = PointValues {
        pads: vec![
            pad("vent", Some(0.7), Some(3.0)),
            pad("mist", Some(0.5), Some(2.0)),
            pad("set", None, None),
        ],
        is_reduced: false,
    };
    let of = |text: &str| values.of(&text.parse().unwrap()).map(|r| r.value);
    assert_eq!(of("touch shift"), Some(0.5));
    assert_eq!(of("neighbour ratio"), Some(3.0));
    assert_eq!(of("touch shift of vent"), Some(0.7));
    assert_eq!(of("touch shift of set"), None);
    assert_eq!(of("touch shift of nobody"), None);
    assert_eq!(of("neighbour shift"), None, "absent, not zero");
    let largest = values.pad_of(&"base capacitance".parse().unwrap());
    assert_eq!(
        largest.map(|p| p.pad.as_str()),
        Some("vent"),
        "of equal ones the first"
    );
    assert_eq!(
        "relative touch shift of a b"
            .parse::<Quantity>()
            .unwrap()
            .to_string(),
        "relative touch shift of a b"
    );
    assert!("touch".parse::<Quantity>().is_err());
}

#[test]
fn a_study_that_cannot_be_walked_has_a_fault() {
    let good = || {
        let variables = vec![
            range("a", "1", "2", Spread::Step(decimal("0.5"))),
            words("b", &["x", "y"]),
        ];
        study(variables, Combine::All)
    };
    assert_eq!(good().fault(), None);
    assert_eq!(sampled(Sequence::Sobol, 1, 100).fault(), None);
    let with = |variable: Variable| Study {
        variables: vec![variable],
        ..good()
    };
    let most = Decimal::MAX.to_string();
    let least = Decimal::MIN.to_string();
    // Each of these would divide by zero, overflow, run for ever or ask beyond the end.
    for broken in [
        with(range("a", "1", "2", Spread::Step(decimal("0")))),
        with(range("a", "1", "2", Spread::Step(decimal("-1")))),
        with(range("a", "2", "1", Spread::Step(decimal("1")))),
        with(range("a", &least, &most, Spread::Step(decimal("1")))),
        with(range(
            "a",
            "0",
            &most,
            Spread::Step(decimal("0.0000000000000000000000000001")),
        )),
        with(range("a", "0", &most, Spread::Linear(10))),
        with(range("a", "1", "2", Spread::Linear(1))),
        with(range("a", "1", "2", Spread::Linear(u32::MAX))),
        with(range("a", "0", "2", Spread::Logarithmic(3))),
        with(range(
            "a",
            "1",
            "2",
            Spread::Anywhere { logarithmic: false },
        )),
        with(words("a", &[])),
        Study {
            variables: Vec::new(),
            ..good()
        },
        Study {
            accuracy: f64::NAN,
            ..good()
        },
        sampled(Sequence::Random, 1, 0),
        sampled(Sequence::Random, 1, u64::MAX),
        sampled(Sequence::Sobol, 1, MOST_SOBOL_SAMPLES + 1),
    ] {
        assert!(broken.fault().is_some(), "{broken:?}");
    }
    // Each for itself can be walked, together there are too many.
    let many = |path: &str| range(path, "1", "2", Spread::Linear(10_000));
    let study = study(vec![many("a"), many("b")], Combine::All);
    assert!(study.fault().is_some());
}
