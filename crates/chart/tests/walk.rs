//! Finger walks: zones behind the lines and copper between plot and axis.

use crate::drawing::Drawing;
use padfield_chart::*;

/// Drawing units by which rounding to whole units may move a point: a fifth of a chart pixel.
const ROUNDING: f64 = 2.0;

fn piece(low: f64, high: f64, label: &str) -> StripPiece {
    StripPiece {
        low,
        high,
        label: label.to_owned(),
    }
}

fn zone(low: f64, high: f64, label: &str) -> Zone {
    Zone {
        low,
        high,
        label: label.to_owned(),
    }
}

fn walk_of(name: &str, centre: f64) -> Series {
    let value = |x: f64| 120.0 / (1.0 + ((x - centre) / 8.0).powi(4));
    Series::computed(
        name,
        (-30..=30).map(f64::from).map(|x| Reading {
            x,
            value: value(x),
            error: 0.0,
        }),
    )
}

fn walk() -> LineChart {
    LineChart {
        title: "Finger walk".to_owned(),
        x: Axis::linear("finger position", "mm"),
        y: Axis::linear("count shift", "counts"),
        panels: vec![LinePanel {
            series: vec![walk_of("vent", -12.0), walk_of("mist", 12.0)],
            zones: vec![
                zone(-2.0, 2.0, "two pads may act"),
                zone(-40.0, -22.0, "no pad acts"),
                zone(50.0, 60.0, "no pad acts"),
            ],
            ..LinePanel::default()
        }],
        strip: vec![
            StripRow {
                name: "pads".to_owned(),
                pieces: vec![piece(4.5, 19.5, "mist"), piece(-19.5, -4.5, "vent")],
            },
            StripRow {
                name: "ground".to_owned(),
                pieces: vec![piece(-0.5, 0.5, "guard"), piece(25.0, 45.0, "fill")],
            },
        ],
        assumption: "Adult finger.".to_owned(),
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
fn zones_and_copper_lie_where_the_axis_puts_them_and_end_at_the_frame() {
    let svg = walk().svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let (x, [left, top, right, bottom]) = (drawing.x_axis(false), drawing.frame());
    let zones = drawing.groups("zone", None);
    assert_eq!(zones.len(), 2, "the third lies outside");
    let ends = [[x.place(-2.0), x.place(2.0)], [left, x.place(-22.0)]];
    for (shapes, [from, to]) in zones.iter().zip(ends) {
        near(shapes[0][0][0], from, "zone");
        near(shapes[0][1][0], to, "zone");
        near(shapes[0][0][1], top, "zone");
        near(shapes[0][1][1], bottom, "zone");
    }
    // Each piece is a fill and its outline; a row is drawn from left to right.
    let pads = drawing.shapes("strip", Some("pads"));
    near(pads[0][0][0], x.place(-19.5), "vent");
    near(pads[0][1][0], x.place(-4.5), "vent");
    near(pads[2][0][0], x.place(4.5), "mist");
    near(pads[2][1][0], x.place(19.5), "mist");
    let ground = drawing.shapes("strip", Some("ground"));
    near(ground[2][1][0], right, "fill");
    assert!(pads[0][0][1] > bottom && ground[0][0][1] > pads[0][1][1]);
    let numbers = drawing.texts("x-tick");
    assert!(numbers.iter().all(|number| number.y > ground[0][1][1]));
}

#[test]
fn legend_labels_and_description_name_zones_and_copper() {
    let svg = walk().svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(
        drawing.words("legend"),
        ["vent", "mist", "two pads may act", "no pad acts"]
    );
    assert_eq!(drawing.words("strip"), ["vent", "mist", "guard", "fill"]);
    assert_eq!(drawing.words("strip-name"), ["pads", "ground"]);
    let description = drawing.element("desc");
    assert!(description.contains("two pads may act from −2 to 2 mm."));
    assert!(description.contains("pads: mist from 4.5 to 19.5 mm, vent from −19.5 to −4.5 mm."));
}

#[test]
fn labels_of_pieces_too_close_for_them_are_left_out_and_never_overlap() {
    let mut chart = walk();
    chart.strip[1].pieces = (0..30)
        .map(|k| {
            let at = -30.0 + 2.0 * f64::from(k);
            piece(at, at + 0.5, &format!("trace {k}"))
        })
        .collect();
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    // Two pads and the last trace, which has room up to the frame at most.
    let labels = drawing.words("strip");
    assert!(labels.len() <= 3, "{labels:?}");
    assert!(labels.contains(&"vent".to_owned()) && labels.contains(&"mist".to_owned()));
    assert_eq!(drawing.shapes("strip", Some("ground")).len(), 60);
}

#[test]
fn a_strip_does_not_move_the_lines() {
    let with = walk().svg().expect("a chart");
    let bare = LineChart {
        strip: Vec::new(),
        ..walk()
    };
    let without = bare.svg().expect("a chart");
    let (with, without) = (Drawing::of(&with), Drawing::of(&without));
    // The names of the rows may take room at the left, nothing else changes.
    let heights = |drawing: &Drawing| -> Vec<f64> {
        let line = drawing.shapes("series", Some("vent")).concat();
        line.iter().map(|p| p[1]).collect()
    };
    assert_eq!(heights(&with), heights(&without));
}

#[test]
fn panels_have_their_own_zones_and_the_same_copper() {
    let chart = walk();
    let panel = |title: &str, zones: Vec<Zone>| LinePanel {
        title: title.to_owned(),
        series: chart.panels[0].series.clone(),
        zones,
        ..LinePanel::default()
    };
    let multiples = LineChart {
        title: "Two walks".to_owned(),
        x: chart.x.clone(),
        y: chart.y.clone(),
        panels: vec![
            panel("child", vec![zone(-3.0, 3.0, "no pad acts")]),
            panel("thumb", vec![zone(-1.0, 1.0, "two pads may act")]),
        ],
        strip: chart.strip.clone(),
        ..LineChart::default()
    };
    let svg = multiples.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    assert_eq!(
        drawing.attribute("zone", "data-name"),
        [
            Some("no pad acts".to_owned()),
            Some("two pads may act".to_owned())
        ]
    );
    assert_eq!(drawing.groups("strip", Some("pads")).len(), 2);
    assert_eq!(drawing.words("strip-name"), ["pads", "ground"]);
    let description = drawing.element("desc");
    assert!(description.contains("child no pad acts from −3 to 3 mm."));
}

#[test]
fn ends_that_are_not_numbers_are_refused() {
    let mut chart = walk();
    chart.panels[0].zones[0].high = f64::NAN;
    assert_eq!(
        chart.svg().expect_err("not a number").to_string(),
        "zone \"two pads may act\" is NaN; expected a finite number"
    );
    let mut chart = walk();
    chart.strip[0].pieces[1].low = f64::INFINITY;
    assert_eq!(
        chart.svg().expect_err("not a number").to_string(),
        "piece \"vent\" of the strip is inf; expected a finite number"
    );
}

#[test]
fn a_logarithmic_axis_cuts_what_it_cannot_show() {
    let mut chart = walk();
    chart.x.scale = Scale::Logarithmic;
    for series in &mut chart.panels[0].series {
        series.points.retain(|reading| reading.x > 0.0);
    }
    let svg = chart.svg().expect("a chart");
    let drawing = Drawing::of(&svg);
    let [left, ..] = drawing.frame();
    near(drawing.shapes("zone", None)[0][0][0], left, "zone");
    assert_eq!(drawing.shapes("strip", Some("pads")).len(), 2);
    assert!(!svg.contains("NaN"));
}
