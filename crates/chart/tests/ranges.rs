//! Window charts: bars, arrows, marks and bands lie where the printed axis puts them.

use crate::drawing::{self, Drawing, Shape};
use padfield_chart::*;
use proptest::prelude::*;

/// Drawing units by which rounding to whole units may move a point: a fifth of a chart pixel.
const ROUNDING: f64 = 2.0;

fn row(name: &str, low: f64, mean: f64, high: f64) -> RangeRow {
    RangeRow {
        name: name.to_owned(),
        mean: Some(mean),
        low,
        high,
        ..RangeRow::default()
    }
}

fn mark(x: f64, label: &str) -> PlaceMark {
    PlaceMark {
        x,
        label: label.to_owned(),
    }
}

fn window() -> RangeChart {
    let child = RangeRow {
        binding: true,
        note: "battery box".to_owned(),
        ..row("small child, 4 mm off centre", 71.0, 84.0, 97.0)
    };
    let thumb = RangeRow {
        binding: true,
        ..row("thumb on the next pad", 17.0, 24.0, 31.0)
    };
    RangeChart {
        title: "Does a threshold fit?".to_owned(),
        groups: vec![
            RangeGroup {
                title: "must act".to_owned(),
                rows: vec![child, row("adult", 118.0, 131.0, 144.0)],
            },
            RangeGroup {
                title: "must not act".to_owned(),
                rows: vec![
                    thumb,
                    row("noise", -9.0, 0.0, 9.0),
                    row("trace", 3.0, 5.0, 7.0),
                ],
            },
        ],
        marks: vec![
            mark(47.0, "threshold 47 counts, equal ratio"),
            mark(38.0, "release 38 counts, rule of a house"),
            mark(9.0, "6 sigma noise"),
        ],
        band: Some(RangeBand {
            low: 31.0,
            high: 71.0,
            label: "window, ratio 2.3".to_owned(),
        }),
        assumption: "Earthed finger.".to_owned(),
        ..RangeChart::default()
    }
}

fn near(found: f64, expected: f64, what: &str) {
    let distance = (found - expected).abs();
    assert!(
        distance <= ROUNDING,
        "{what}: {found} drawn, {expected} expected"
    );
}

/// Level extent of the bar of a row: the first shape of its group is the filled rectangle.
fn bar(drawing: &Drawing, name: &str) -> (f64, f64) {
    let bar: &Shape = &drawing.shapes("range", Some(name))[0];
    (bar[0][0], bar[1][0])
}

#[test]
fn bars_reach_from_the_lowest_to_the_highest_value_on_both_scales() {
    for scale in [Scale::Logarithmic, Scale::Linear] {
        let mut chart = window();
        chart.value.scale = scale;
        let svg = chart.svg().expect("a chart");
        let drawing = Drawing::of(&svg);
        let x = drawing.x_axis(scale == Scale::Logarithmic);
        for row in chart.groups.iter().flat_map(|group| &group.rows) {
            let (left, right) = bar(&drawing, &row.name);
            near(right, x.place(row.high), &row.name);
            if scale == Scale::Linear || row.low > 0.0 {
                near(left, x.place(row.low), &row.name);
                // The last shape is the marker of the mean.
                let shapes = drawing.shapes("range", Some(&row.name));
                let marker = drawing::centre(shapes.last().expect("a marker"));
                near(marker[0], x.place(row.mean.expect("a mean")), &row.name);
            }
        }
        for mark in &chart.marks {
            let line = drawing.shapes("mark", Some(&mark.label));
            near(line[0][0][0], x.place(mark.x), &mark.label);
        }
        let band = &drawing.shapes("window", None)[0];
        near(band[0][0], x.place(31.0), "window");
        near(band[1][0], x.place(71.0), "window");
    }
}

#[test]
fn texts_name_groups_rows_notes_numbers_and_origins() {
    let svg = window().svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("title"), ["Does a threshold fit?"]);
    assert_eq!(drawing.words("caption"), ["count shift (counts)"]);
    assert_eq!(drawing.words("group"), ["must act", "must not act"]);
    assert_eq!(
        drawing.words("row"),
        [
            "small child, 4 mm off centre",
            "adult",
            "thumb on the next pad",
            "noise",
            "trace"
        ]
    );
    assert_eq!(drawing.words("note"), ["battery box"]);
    assert_eq!(
        drawing.words("row-value"),
        [
            "mean (low to high)",
            "84 (71 to 97)",
            "131 (118 to 144)",
            "24.0 (17.0 to 31.0)",
            "0.0 (−9.0 to 9.0)",
            "5.0 (3.0 to 7.0)"
        ]
    );
    let mut marks = drawing.words("mark");
    marks.sort();
    assert_eq!(
        marks,
        [
            "6 sigma noise",
            "release 38 counts, rule of a house",
            "threshold 47 counts, equal ratio"
        ]
    );
    assert_eq!(drawing.words("band"), ["window, ratio 2.3"]);
    assert_eq!(
        drawing.words("legend"),
        [
            "lowest to highest value, with mean",
            "binding: decides the window",
            "goes on beyond the axis"
        ]
    );
    assert_eq!(drawing.words("assumption"), ["Earthed finger."]);
    let description = drawing.element("desc");
    for part in [
        "must act: small child, 4 mm off centre: 84 (71 to 97), binding;",
        "threshold 47 counts, equal ratio.",
        "window, ratio 2.3.",
        "Earthed finger.",
    ] {
        assert!(description.contains(part), "{part} in {description}");
    }
    let marked = drawing.attribute("binding", "data-name");
    assert_eq!(
        marked,
        [
            Some("small child, 4 mm off centre".to_owned()),
            Some("thumb on the next pad".to_owned())
        ]
    );
}

#[test]
fn what_a_logarithmic_axis_cannot_show_ends_in_an_arrow_at_its_low_end() {
    let svg = window().svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [left, ..] = drawing.frame();
    near(bar(&drawing, "noise").0, left, "noise");
    // Fill, two long sides, one cap, shaft and head of the arrow, no mean; a whole bar has fill, two
    // sides, two caps and a marker with its rim.
    let shapes = drawing.shapes("range", Some("noise"));
    assert_eq!(shapes.len(), 6);
    let head = shapes.last().expect("a head");
    let tip = head.iter().map(|p| p[0]).fold(f64::MAX, f64::min);
    assert!((tip - left).abs() < 40.0, "tip at {tip}, frame at {left}");
    assert_eq!(drawing.shapes("range", Some("trace")).len(), 7);

    let mut chart = window();
    chart.groups[1].rows[1] = row("noise", -9.0, -3.0, -1.0);
    chart.groups[1].rows[2] = row("trace", f64::NAN, -2.0, f64::NAN);
    let svg = chart.svg().expect("rows without anything above zero");
    let drawing = Drawing::of(&svg);
    for name in ["noise", "trace"] {
        let shapes = drawing.shapes("range", Some(name));
        assert_eq!(shapes.len(), 2, "{name}: shaft and head of an arrow");
    }
}

#[test]
fn a_chart_chooses_at_most_four_decades_and_a_given_range_cuts_both_ends() {
    let mut chart = window();
    chart.groups[1].rows[2] = row("trace", 1e-9, 5.0, 7.0);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [left, _, right, _] = drawing.frame();
    let x = drawing.x_axis(true);
    assert!(x.value(right) / x.value(left) < 1e5);
    near(bar(&drawing, "trace").0, left, "trace");

    let mut chart = window();
    chart.value.range = Some([20.0, 120.0]);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [left, _, right, _] = drawing.frame();
    near(bar(&drawing, "adult").1, right, "adult");
    near(bar(&drawing, "thumb on the next pad").0, left, "thumb");
    assert!(
        drawing
            .words("mark")
            .contains(&"← 6 sigma noise (left of this chart)".to_owned())
    );
    assert_eq!(drawing.groups("mark", None).len(), 2);
}

#[test]
fn without_a_window_the_overlap_is_hatched() {
    let mut chart = window();
    chart.band = Some(RangeBand {
        low: 97.0,
        high: 71.0,
        label: "no window".to_owned(),
    });
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert!(drawing.groups("window", None).is_empty());
    let overlap = drawing.shapes("overlap", None);
    let x = drawing.x_axis(true);
    near(overlap[0][0][0], x.place(71.0), "overlap");
    near(overlap[0][1][0], x.place(97.0), "overlap");
    assert!(overlap.len() > 10, "{} strokes", overlap.len());
    for stroke in &overlap[1..] {
        for point in stroke {
            let inside = overlap[0][0][0] - 1.0..=overlap[0][1][0] + 1.0;
            assert!(inside.contains(&point[0]), "{point:?}");
        }
    }
    assert_eq!(drawing.words("band"), ["no window"]);
}

#[test]
fn sixty_rows_with_long_names_stand_below_one_another() {
    let name = |k: usize| {
        format!(
            "user {k}, slanted fingertip with a long nail, cold and dry, on pad {k} of many pads of this panel"
        )
    };
    let chart = RangeChart {
        groups: vec![
            RangeGroup {
                title: "must act".to_owned(),
                rows: (0..30).map(|k| row(&name(k), 80.0, 90.0, 100.0)).collect(),
            },
            RangeGroup {
                title: "must not act".to_owned(),
                rows: (30..60).map(|k| row(&name(k), 8.0, 9.0, 10.0)).collect(),
            },
        ],
        ..window()
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let lines = drawing.texts("row");
    assert!(lines.len() >= 120, "{} lines", lines.len());
    for pair in lines.windows(2) {
        // At least the size of the text apart.
        assert!(pair[1].y - pair[0].y >= 120.0, "{pair:?}");
    }
    let words: Vec<String> = lines.into_iter().map(|line| line.text).collect();
    let names: Vec<String> = (0..60).map(name).collect();
    assert_eq!(words.join(" "), names.join(" "));
    let mut middles: Vec<f64> = names
        .iter()
        .map(|name| drawing::centre(&drawing.shapes("range", Some(name))[0])[1])
        .collect();
    middles.dedup();
    assert_eq!(middles.len(), 60);
    assert!(middles.windows(2).all(|pair| pair[1] - pair[0] >= 200.0));
    chart.png(1.0).expect("a picture");
}

#[test]
fn labels_of_marks_stand_above_the_plot_each_in_its_own_row() {
    let mut chart = window();
    chart.marks = [3.0, 3.1, 30.0, 46.0, 47.0, 140.0]
        .iter()
        .map(|&x| {
            mark(
                x,
                &format!("a mark at {x} counts with words about its origin"),
            )
        })
        .collect();
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [_, top, ..] = drawing.frame();
    let mut baselines: Vec<f64> = drawing
        .texts("mark")
        .into_iter()
        .chain(drawing.texts("band"))
        .map(|label| label.y)
        .collect();
    assert_eq!(baselines.len(), 7);
    baselines.sort_by(f64::total_cmp);
    assert!(baselines.windows(2).all(|pair| pair[1] - pair[0] >= 140.0));
    assert!(baselines.iter().all(|y| *y < top), "{baselines:?} {top}");
}

#[test]
fn one_row_and_empty_groups_are_drawn() {
    let mut chart = window();
    chart.groups[0].rows.truncate(1);
    chart.groups[1].rows.clear();
    chart.marks.clear();
    chart.band = None;
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("note"), ["battery box", "none"]);
    assert_eq!(drawing.groups("range", None).len(), 1);
    chart.png(1.0).expect("a picture");
}

#[test]
fn without_a_mean_neither_legend_nor_numbers_speak_of_one() {
    let mut chart = window();
    for row in chart.groups.iter_mut().flat_map(|group| &mut group.rows) {
        row.mean = None;
    }
    let svg = chart.svg().expect("a chart");
    assert!(!svg.contains("mean"), "{svg}");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("row-value")[..2], ["low to high", "71 to 97"]);
    // Fill, two sides, two caps, no marker.
    assert_eq!(drawing.shapes("range", Some("adult")).len(), 5);
    assert_eq!(drawing.words("legend")[0], "lowest to highest value");
}

#[test]
fn impossible_input_is_refused_with_a_reason() {
    let no_data = RangeChart {
        title: "nothing".to_owned(),
        ..RangeChart::default()
    };
    assert_eq!(
        no_data.svg().expect_err("no data").to_string(),
        "chart \"nothing\" has no finite value to draw"
    );
    let mut chart = window();
    chart.marks.clear();
    chart.band = None;
    chart.groups[0].rows.clear();
    chart.groups[1].rows = vec![row("noise", -9.0, -1.0, 0.0)];
    assert!(matches!(chart.svg(), Err(ChartError::NotPositive { .. })));
    let mut chart = window();
    chart.marks[0].x = f64::NAN;
    assert!(matches!(chart.svg(), Err(ChartError::NotFinite { .. })));
    let mut chart = window();
    chart.band = Some(RangeBand {
        low: f64::NEG_INFINITY,
        ..RangeBand::default()
    });
    assert!(matches!(chart.svg(), Err(ChartError::NotFinite { .. })));
    let mut chart = window();
    chart.value.range = Some([0.0, 100.0]);
    assert!(matches!(chart.svg(), Err(ChartError::BadRange { .. })));
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -100.0..1000.0,
        1 => prop::sample::select(vec![
            0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN,
            f64::MIN_POSITIVE, 5e-324, 1e-200, 1e200,
        ]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, rng_seed: proptest::test_runner::RngSeed::Fixed(1), ..ProptestConfig::default() })]

    /// Whatever the numbers, there is a well-formed picture inside its frame or an error.
    #[test]
    fn no_numbers_make_it_panic(
        numbers in prop::collection::vec((any_number(), any_number(), any_number()), 0..7),
        marks in prop::collection::vec(any_number(), 0..5),
        logarithmic in any::<bool>(),
    ) {
        let mut chart = window();
        if !logarithmic {
            chart.value.scale = Scale::Linear;
        }
        chart.groups[0].rows = numbers.iter().map(|&(low, mean, high)| RangeRow {
            binding: mean > 50.0, ..row("r", low, mean, high)
        }).collect();
        chart.marks = marks.iter().map(|&x| mark(x, "here")).collect();
        chart.band = numbers.first().map(|&(low, high, _)| RangeBand { low, high, label: "w".to_owned() });
        if let Ok(svg) = chart.svg() {
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf\""));
            let drawing = Drawing::of(&svg);
            let [left, _, right, _] = drawing.frame();
            // A marker at the end of the axis and a cap may reach over the frame by their own size.
            for point in drawing.shapes("range", None).concat() {
                prop_assert!((left - 80.0..=right + 80.0).contains(&point[0]), "{:?}", point);
            }
        }
    }
}
