//! Line charts, scatter, trade-off, bars and histogram: what is drawn is what was given.

use crate::drawing::{Drawing, FINE, centre};
use padfield_chart::*;
use proptest::prelude::*;

/// Drawing units by which rounding to whole units may move a point whose axis is itself recovered
/// from rounded grid lines: a fifth of a chart pixel.
const ROUNDING: f64 = 2.0;

fn limit(value: f64, sense: Sense) -> LimitLine {
    LimitLine {
        value,
        sense,
        because: "house rule".to_owned(),
    }
}

fn reading(x: f64, value: f64, error: f64) -> Reading {
    Reading { x, value, error }
}

fn series(name: &str, points: &[(f64, f64, f64)]) -> Series {
    Series::computed(name, points.iter().map(|&(x, v, e)| reading(x, v, e)))
}

fn spacing(scale: Scale) -> LineChart {
    let axis = |label: &str, unit: &str| Axis {
        scale,
        ..Axis::linear(label, unit)
    };
    LineChart {
        title: "Neighbour ratio & gap".to_owned(),
        x: axis("pad gap", "mm"),
        y: axis("neighbour ratio", "%"),
        panels: vec![LinePanel {
            series: vec![
                series(
                    "acrylic",
                    &[
                        (2.0, 61.0, 3.0),
                        (5.0, 27.5, 1.5),
                        (9.0, 9.25, 0.5),
                        (16.0, 1.75, 0.25),
                    ],
                ),
                series(
                    "glass",
                    &[
                        (2.0, 88.0, 4.0),
                        (5.0, 45.0, 2.0),
                        (9.0, 17.5, 1.0),
                        (16.0, 4.5, 0.5),
                    ],
                ),
                Series {
                    dashed: true,
                    ..series(
                        "acrylic, strip estimate",
                        &[(2.0, 70.0, 0.0), (9.0, 12.0, 0.0)],
                    )
                },
            ],
            crossings: vec![CrossingMark {
                x: 6.3,
                low: 6.05,
                high: 6.55,
                value: 20.0,
                label: "acrylic".to_owned(),
            }],
            ..LinePanel::default()
        }],
        limits: vec![limit(20.0, Sense::AtMost)],
        places: vec![PlaceMark {
            x: 6.35,
            label: "quarter inch, rule of a house".to_owned(),
        }],
        assumption: "Finger of 10 mm contact at the edge of the touched pad.".to_owned(),
        ..LineChart::default()
    }
}

fn near(found: f64, expected: f64, what: &str) {
    let distance = (found - expected).abs();
    assert!(
        distance <= ROUNDING,
        "{what}: {found} drawn, {expected} expected"
    );
}

#[test]
fn every_reading_is_drawn_where_the_printed_axes_put_it() {
    for scale in [Scale::Linear, Scale::Logarithmic] {
        let chart = spacing(scale);
        let svg = chart.svg().expect("a chart");
        let drawing = Drawing::of(&svg);
        let logarithmic = scale == Scale::Logarithmic;
        let (x, y) = (drawing.x_axis(logarithmic), drawing.y_axis(logarithmic));
        for series in &chart.panels[0].series {
            let mut markers: Vec<[f64; 2]> = drawing
                .shapes("markers", Some(&series.name))
                .iter()
                .map(centre)
                .collect();
            // An open marker is a filled shape and its outline, which repeats one corner.
            if series.dashed {
                markers = markers.into_iter().step_by(2).collect();
            }
            let line = drawing.shapes("series", Some(&series.name)).concat();
            assert_eq!(markers.len(), series.points.len(), "{}", series.name);
            assert_eq!(line.len(), series.points.len(), "{}", series.name);
            for ((reading, marker), joint) in series.points.iter().zip(&markers).zip(&line) {
                for drawn in [marker, joint] {
                    near(drawn[0], x.place(reading.x), &series.name);
                    near(drawn[1], y.place(reading.value), &series.name);
                }
            }
        }
    }
}

#[test]
fn the_band_reaches_from_value_minus_error_to_value_plus_error() {
    let chart = spacing(Scale::Linear);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let bands = drawing.shapes("band", Some("acrylic"));
    assert_eq!(bands.len(), 1);
    for reading in &chart.panels[0].series[0].points {
        for end in [reading.value - reading.error, reading.value + reading.error] {
            let (across, up) = (x.place(reading.x), y.place(end));
            let met = bands[0]
                .iter()
                .any(|p| (p[0] - across).abs() <= ROUNDING && (p[1] - up).abs() <= ROUNDING);
            assert!(met, "no corner of the band at {} and {end}", reading.x);
        }
    }
    assert!(
        drawing
            .shapes("band", Some("acrylic, strip estimate"))
            .is_empty()
    );
}

#[test]
fn labels_say_what_is_shown_in_which_unit_and_why() {
    let svg = spacing(Scale::Linear).svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("title"), ["Neighbour ratio & gap"]);
    assert_eq!(
        drawing.words("caption"),
        ["pad gap (mm)", "neighbour ratio (%)"]
    );
    assert_eq!(drawing.words("limit"), ["limit ≤ 20 %, house rule"]);
    assert_eq!(drawing.words("place"), ["quarter inch, rule of a house"]);
    assert_eq!(
        drawing.words("crossing"),
        ["acrylic: 6.30 mm (6.05 to 6.55)"]
    );
    assert_eq!(
        drawing.words("legend"),
        [
            "acrylic",
            "glass",
            "acrylic, strip estimate",
            "estimated error"
        ]
    );
    assert_eq!(
        drawing.words("assumption"),
        ["Finger of 10 mm contact at the edge of the touched pad."]
    );
    assert_eq!(drawing.element("title"), "Neighbour ratio & gap");
    let description = drawing.element("desc");
    assert!(description.contains("neighbour ratio (%) against pad gap (mm)"));
    assert!(description.contains("limit ≤ 20 %, house rule"));
    let dashes = drawing.attribute("series", "stroke-dasharray");
    assert_eq!(
        dashes.iter().map(Option::is_some).collect::<Vec<_>>(),
        [false, false, true]
    );
}

#[test]
fn a_limit_lies_at_its_value_with_strokes_on_the_side_ruled_out() {
    for (sense, side) in [(Sense::AtMost, -1.0), (Sense::AtLeast, 1.0)] {
        let chart = LineChart {
            limits: vec![limit(20.0, sense)],
            ..spacing(Scale::Linear)
        };
        let svg = chart.svg().expect("a chart");
        let drawing = Drawing::of(&svg);
        let shapes = drawing.shapes("limit", None);
        let at = drawing.y_axis(false).place(20.0);
        near(shapes[0][0][1], at, "limit");
        near(shapes[0][1][1], at, "limit");
        let strokes = &shapes[1..];
        assert!(strokes.len() > 20);
        for stroke in strokes {
            assert!(side * (stroke[1][1] - at) > 10.0, "{sense:?}: {stroke:?}");
        }
    }
}

#[test]
fn a_limit_far_outside_is_named_instead_of_squeezing_the_data() {
    let chart = LineChart {
        limits: vec![limit(4000.0, Sense::AtMost)],
        ..spacing(Scale::Linear)
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert!(drawing.shapes("limit", None).is_empty());
    assert_eq!(
        drawing.words("limit"),
        ["↑ limit ≤ 4000 %, house rule (above this chart)"]
    );
}

#[test]
fn a_crossing_is_ringed_and_its_interval_drawn() {
    let svg = spacing(Scale::Linear).svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let shapes = drawing.shapes("crossing", None);
    let ring = shapes.last().expect("a ring")[0];
    near(ring[0], x.place(6.3), "crossing");
    near(ring[1], y.place(20.0), "crossing");
    near(shapes[0][0][0], x.place(6.05), "low end");
    near(shapes[0][1][0], x.place(6.55), "high end");
    let interval = &drawing.shapes("crossing-interval", None)[0];
    let ends = interval.iter().map(|p| p[0]);
    near(
        ends.clone().fold(f64::MAX, f64::min),
        x.place(6.05),
        "interval",
    );
    near(ends.fold(f64::MIN, f64::max), x.place(6.55), "interval");
}

#[test]
fn lines_that_leave_the_range_are_cut_where_they_cross_the_frame() {
    let mut chart = spacing(Scale::Linear);
    chart.limits.clear();
    chart.panels[0].crossings.clear();
    chart.places.clear();
    chart.panels[0].series = vec![series(
        "steep",
        &[(0.0, -50.0, 5.0), (10.0, 150.0, 5.0), (20.0, -50.0, 5.0)],
    )];
    chart.y.range = Some([0.0, 100.0]);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [left, top, right, bottom] = drawing.frame();
    let x = drawing.x_axis(false);
    let runs = drawing.shapes("series", Some("steep"));
    assert_eq!(runs.len(), 2, "one run up and one down");
    for (run, ends) in runs.iter().zip([[2.5, 7.5], [12.5, 17.5]]) {
        near(run[0][0], x.place(ends[0]), "start");
        near(run[1][0], x.place(ends[1]), "end");
        for point in run {
            let on_edge = (point[1] - top).abs() <= 1.0 || (point[1] - bottom).abs() <= 1.0;
            assert!(on_edge, "{point:?}");
        }
    }
    assert!(drawing.shapes("markers", Some("steep")).is_empty());
    for corner in drawing.shapes("band", Some("steep")).concat() {
        assert!(
            (left - 1.0..=right + 1.0).contains(&corner[0]),
            "{corner:?}"
        );
        assert!(
            (top - 1.0..=bottom + 1.0).contains(&corner[1]),
            "{corner:?}"
        );
    }
}

#[test]
fn an_absent_value_leaves_a_gap() {
    let mut chart = spacing(Scale::Linear);
    let nan = f64::NAN;
    chart.panels[0].series = vec![series(
        "a",
        &[
            (1.0, 1.0, 0.0),
            (2.0, 2.0, 0.0),
            (3.0, nan, 0.0),
            (4.0, 2.0, nan),
            (5.0, 1.0, 0.0),
        ],
    )];
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.shapes("series", Some("a")).len(), 2);
    assert_eq!(drawing.shapes("markers", Some("a")).len(), 4);
}

#[test]
fn panels_share_axes_and_looks() {
    let panel = |title: &str, names: &[&str], top: f64| LinePanel {
        title: title.to_owned(),
        series: names
            .iter()
            .map(|name| series(name, &[(1.0, top, 0.0), (2.0, 0.5 * top, 0.0)]))
            .collect(),
        ..LinePanel::default()
    };
    let chart = LineChart {
        title: "three".to_owned(),
        x: Axis::linear("gap", "mm"),
        y: Axis::linear("ratio", "%"),
        panels: vec![
            panel("one", &["a", "b"], 10.0),
            panel("two", &["b"], 80.0),
            panel("three", &["a"], 40.0),
        ],
        limits: vec![limit(20.0, Sense::AtMost)],
        ..LineChart::default()
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("panel"), ["one", "two", "three"]);
    assert_eq!(
        drawing.words("legend"),
        ["a", "b", "limit ≤ 20 %, house rule"]
    );
    let limits = drawing.groups("limit", None);
    assert_eq!(limits.len(), 3);
    assert!(
        limits
            .iter()
            .all(|shapes| shapes[0][0][1] == limits[0][0][0][1])
    );
    // 80 in the second panel, on the axis printed beside the first.
    let line = &drawing.groups("series", Some("b"))[1][0];
    near(line[0][1], drawing.y_axis(false).place(80.0), "shared axis");
}

fn designs() -> Scatter {
    let sample = |x: f64, y: f64| Sample {
        x,
        y,
        x_error: 0.05,
        y_error: 2.0,
        label: format!("design {x}"),
    };
    Scatter {
        title: "Designs".to_owned(),
        x: Axis::linear("touch shift", "pF"),
        y: Axis::linear("neighbour ratio", "%"),
        clouds: vec![
            Cloud {
                name: "acrylic".to_owned(),
                samples: [(0.2, 4.0), (0.6, 12.0), (0.5, 30.0), (f64::NAN, 1.0)]
                    .map(|(x, y)| sample(x, y))
                    .to_vec(),
            },
            Cloud {
                name: "glass".to_owned(),
                samples: [(0.9, 25.0), (0.9, 27.0), (0.4, 12.0), (0.3, 40.0)]
                    .map(|(x, y)| sample(x, y))
                    .to_vec(),
            },
        ],
        x_limits: vec![limit(0.35, Sense::AtLeast)],
        y_limits: vec![limit(20.0, Sense::AtMost)],
        assumption: "Two materials.".to_owned(),
    }
}

#[test]
fn samples_and_the_front_are_drawn_where_they_belong() {
    let chart = TradeOff {
        scatter: designs(),
        x_better: Better::Higher,
        y_better: Better::Lower,
    };
    let front: Vec<(f64, f64)> = chart.front().iter().map(|s| (s.x, s.y)).collect();
    assert_eq!(front, [(0.2, 4.0), (0.6, 12.0), (0.9, 25.0)]);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let joined = drawing.shapes("front", None).concat();
    assert_eq!(joined.len(), front.len());
    for (point, design) in joined.iter().zip(&front) {
        near(point[0], x.place(design.0), "front");
        near(point[1], y.place(design.1), "front");
    }
    assert_eq!(drawing.shapes("front-marks", None).len(), front.len());
    let mut drawn: Vec<[f64; 2]> = drawing
        .shapes("markers", Some("glass"))
        .iter()
        .map(centre)
        .collect();
    drawn.sort_by(|a, b| a[0].total_cmp(&b[0]).then(b[1].total_cmp(&a[1])));
    for (point, design) in drawn
        .iter()
        .zip([(0.3, 40.0), (0.4, 12.0), (0.9, 25.0), (0.9, 27.0)])
    {
        near(point[0], x.place(design.0), "glass");
        near(point[1], y.place(design.1), "glass");
    }
    assert_eq!(drawing.shapes("markers", Some("acrylic")).len(), 3);
    assert!(drawing.words("design").contains(&"design 0.9".to_owned()));
    let limits = drawing.groups("limit", None);
    near(limits[0][0][0][1], y.place(20.0), "level limit");
    near(limits[1][0][0][0], x.place(0.35), "upright limit");
    let upright_strokes_left = limits[1][1..].iter().all(|s| s[1][0] < limits[1][0][0][0]);
    assert!(upright_strokes_left, "less than the limit is ruled out");
}

#[test]
fn bars_reach_from_zero_to_their_effect() {
    let bar = |name: &str, value: f64| Bar {
        name: name.to_owned(),
        value,
        error: 0.5,
        opposite: None,
    };
    let chart = BarChart {
        title: "Effects".to_owned(),
        value: Axis::linear("change", "%"),
        bars: vec![bar("thickness", -8.25), bar("permittivity", 5.5)],
        limits: vec![limit(-10.0, Sense::AtLeast)],
        ..BarChart::default()
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let x = drawing.x_axis(false);
    let bars = drawing.shapes("bars", None);
    near(bars[0][0][0], x.place(-8.25), "thickness");
    near(bars[0][1][0], x.place(0.0), "thickness");
    near(bars[1][0][0], x.place(0.0), "permittivity");
    near(bars[1][1][0], x.place(5.5), "permittivity");
    assert_eq!(drawing.words("bar-name"), ["thickness", "permittivity"]);
    assert_eq!(drawing.words("bar-value"), ["−8.25 %", "+5.5 %"]);
    assert_eq!(drawing.words("limit"), ["limit ≥ −10 %, house rule"]);
}

#[test]
fn numbers_stand_clear_of_the_widest_bars_on_both_sides() {
    let chart = BarChart {
        title: "Effects".to_owned(),
        value: Axis::linear("change of the window ratio", "percent of the nominal"),
        bars: [36.12, 4.5, -31.47]
            .map(|value| Bar {
                name: "a value of the panel with a name that takes all the room for names"
                    .to_owned(),
                value,
                error: 0.0,
                opposite: Some(-value),
            })
            .to_vec(),
        name: "upper end".to_owned(),
        opposite_name: "lower end".to_owned(),
        ..BarChart::default()
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let x = drawing.x_axis(false);
    let numbers = drawing.texts("bar-value");
    assert_eq!(numbers.len(), 6);
    for number in numbers {
        let value: f64 = number
            .text
            .split(' ')
            .next()
            .expect("a number")
            .replace('−', "-")
            .parse()
            .expect("a number");
        // Texts start, or to the left end, at their place; five chart units are clear of a bar.
        let beyond = (number.x - x.place(value)) * value.signum();
        assert!(beyond >= 50.0, "{number:?} is {beyond} beyond its bar");
    }
}

#[test]
fn a_histogram_counts_every_finite_value_once() {
    let values: Vec<f64> = (0..90)
        .map(|k| 0.01 * f64::from(k))
        .chain([f64::NAN])
        .collect();
    let chart = Histogram {
        title: "Shift".to_owned(),
        x: Axis::linear("touch shift", "pF"),
        counted: "units".to_owned(),
        groups: vec![ValueGroup {
            name: "all".to_owned(),
            values,
        }],
        limits: vec![limit(0.45, Sense::AtLeast)],
        assumption: String::new(),
    };
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let outline = drawing
        .shapes("histogram", Some("all"))
        .into_iter()
        .next()
        .expect("an outline");
    // Ten values in each bin of 0.1; the outline's corners are the bins' tops.
    let tops: Vec<&[f64; 2]> = outline.iter().filter(|p| y.value(p[1]) > 0.5).collect();
    assert_eq!(tops.len(), 18, "{outline:?}");
    for (corner, point) in tops.into_iter().enumerate() {
        near(point[1], y.place(10.0), "count");
        near(point[0], x.place(0.1 * corner.div_ceil(2) as f64), "edge");
    }
}

#[test]
fn bytes_are_the_same_every_time_and_need_nothing_from_outside() {
    let chart = spacing(Scale::Linear);
    let svg = chart.svg().expect("a chart");
    assert_eq!(svg, chart.svg().expect("a chart"));
    let picture = chart.png(1.0).expect("a picture");
    assert_eq!(picture, chart.png(1.0).expect("a picture"));
    assert!(svg.contains("@font-face") && svg.contains("url(data:font/woff2;base64,"));
    let references = svg.matches("url(").count() + svg.matches("href=").count();
    assert_eq!(references, svg.matches("data:").count());
}

/// Width, height and grey values of a PNG picture.
fn pixels(png: &[u8]) -> (u32, u32, Vec<u8>) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .expect("a PNG header");
    let mut bytes = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut bytes).expect("pixels");
    let channels = info.color_type.samples();
    let grey = bytes
        .chunks(channels)
        .map(|p| p[0].min(p[1]).min(p[2]))
        .collect();
    (info.width, info.height, grey)
}

#[test]
fn the_picture_has_the_layout_of_the_svg_with_its_texts() {
    let chart = spacing(Scale::Linear);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (width, height, grey) = pixels(&chart.png(2.0).expect("a picture"));
    let title = &drawing.texts("title")[0];
    assert_eq!(width, 1600);
    let dark = |x: f64, y: f64, across: f64, up: f64| {
        let mut count = 0;
        for row in ((y - up) * 2.0 / FINE) as u32..(y * 2.0 / FINE) as u32 {
            for column in (x * 2.0 / FINE) as u32..((x + across) * 2.0 / FINE) as u32 {
                count += usize::from(grey[(row * width + column) as usize] < 100);
            }
        }
        count
    };
    // The box of the title's first word holds strokes of letters, the box above it none.
    assert!(dark(title.x, title.y, 800.0, 130.0) > 500);
    assert_eq!(dark(title.x, title.y - 140.0, 800.0, 60.0), 0);
    assert_eq!(grey.len(), (width * height) as usize);
    for scale in [0.0, -1.0, f64::NAN, f64::INFINITY, 9.0] {
        assert!(
            matches!(chart.png(scale), Err(ChartError::BadScale { .. })),
            "{scale}"
        );
    }
}

#[test]
fn texts_from_a_panel_file_cannot_break_the_document() {
    let mut chart = spacing(Scale::Linear);
    chart.title = "a <b> & \"c\" \u{1}\u{7f} ' 中文".to_owned();
    chart.panels[0].series[0].name = "\"><script>".to_owned();
    chart.limits[0].because = "<&>".to_owned();
    chart.assumption = "incomprehensibilities".repeat(40);
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert!(drawing.words("legend").contains(&"\"><script>".to_owned()));
    assert_eq!(drawing.words("assumption").concat(), chart.assumption);
    chart.png(1.0).expect("a picture");
}

#[test]
fn impossible_input_is_refused_with_a_reason() {
    let empty = LineChart {
        title: "nothing".to_owned(),
        ..LineChart::default()
    };
    let error = empty.svg().expect_err("no data");
    assert_eq!(
        error.to_string(),
        "chart \"nothing\" has no finite value to draw"
    );
    let mut chart = spacing(Scale::Logarithmic);
    chart.panels[0].series[0].points[2].value = -1.0;
    let error = chart.svg().expect_err("a logarithm");
    assert!(
        error
            .to_string()
            .contains("\"neighbour ratio\" is logarithmic and cannot show -1")
    );
    let mut chart = spacing(Scale::Linear);
    chart.limits[0].value = f64::NAN;
    assert!(matches!(chart.svg(), Err(ChartError::NotFinite { .. })));
    chart.limits.clear();
    chart.y.range = Some([3.0, 3.0]);
    assert!(matches!(chart.svg(), Err(ChartError::BadRange { .. })));
    assert!(Scatter::default().svg().is_err());
    assert!(BarChart::default().svg().is_err());
    assert!(Histogram::default().svg().is_err());
    assert!(LineChart::default().svg().is_err());
}

/// Numbers as a study may produce them, and worse.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -100.0..100.0,
        1 => prop::sample::select(vec![
            0.0, -0.0, 1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN,
            f64::MIN_POSITIVE, 5e-324, 1e-200, 1e200, 1e15, 1e15 + 1.0,
        ]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, rng_seed: proptest::test_runner::RngSeed::Fixed(1), ..ProptestConfig::default() })]

    /// Whatever the numbers, there is a well-formed picture or an error.
    #[test]
    fn no_numbers_make_it_panic(
        numbers in prop::collection::vec((any_number(), any_number(), any_number()), 0..7),
        limit_at in any_number(),
        logarithmic in any::<bool>(),
    ) {
        let scale = if logarithmic { Scale::Logarithmic } else { Scale::Linear };
        let axis = |label: &str| Axis { scale, ..Axis::linear(label, "mm") };
        let line = LineChart {
            x: axis("x"),
            y: axis("y"),
panels: vec![LinePanel {
            series: vec![series("s", &numbers)],
            crossings: numbers.iter().map(|&(x, value, low)| CrossingMark {
                x, low, high: limit_at, value, label: String::new(),
            }).collect(),
..LinePanel::default()
}],
            limits: vec![limit(limit_at, Sense::AtMost)],
            places: vec![PlaceMark { x: limit_at, label: "here".to_owned() }],
            ..LineChart::default()
        };
        let samples: Vec<Sample> = numbers.iter().map(|&(x, y, error)| Sample {
            x, y, x_error: error, y_error: error, label: "d".to_owned(),
        }).collect();
        let scatter = Scatter {
            x: axis("x"),
            y: axis("y"),
            clouds: vec![Cloud { name: "c".to_owned(), samples }],
            x_limits: vec![limit(limit_at, Sense::AtLeast)],
            ..Scatter::default()
        };
        let bars = BarChart {
            value: axis("v"),
            bars: numbers.iter().map(|&(value, opposite, error)| Bar {
                name: "b".to_owned(), value, error, opposite: Some(opposite),
            }).collect(),
            ..BarChart::default()
        };
        let histogram = Histogram {
            x: axis("x"),
            groups: vec![ValueGroup { name: "g".to_owned(), values: numbers.iter().map(|n| n.0).collect() }],
            ..Histogram::default()
        };
        let trade_off = TradeOff {
            scatter: scatter.clone(), x_better: Better::Higher, y_better: Better::Lower,
        };
        let drawn = [line.svg(), scatter.svg(), trade_off.svg(), bars.svg(), histogram.svg()];
        for svg in drawn.into_iter().flatten() {
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf\""));
            Drawing::of(&svg);
        }
    }

    /// A design is on the front exactly when no other is at least as good in both and better in one.
    #[test]
    fn the_front_is_what_nothing_dominates(
        places in prop::collection::vec((0_u8..12, 0_u8..12), 1..40),
    ) {
        let samples: Vec<Sample> = places.iter().map(|&(x, y)| Sample {
            x: f64::from(x), y: f64::from(y), ..Sample::default()
        }).collect();
        let chart = TradeOff {
            scatter: Scatter {
                clouds: vec![Cloud { name: String::new(), samples: samples.clone() }],
                ..Scatter::default()
            },
            x_better: Better::Higher,
            y_better: Better::Lower,
        };
        let on_front: Vec<(f64, f64)> = chart.front().iter().map(|s| (s.x, s.y)).collect();
        for a in &samples {
            let dominated = samples.iter().any(|b| {
                b.x >= a.x && b.y <= a.y && (b.x > a.x || b.y < a.y)
            });
            prop_assert_eq!(on_front.contains(&(a.x, a.y)), !dominated);
        }
    }
}
