//! Heat maps: contours on an analytic field, colours, scale, absent values.

use crate::drawing::Drawing;
use padfield_chart::*;

fn limit(value: f64, sense: Sense) -> LimitLine {
    LimitLine {
        value,
        sense,
        because: "requirement".to_owned(),
    }
}

/// A shift that falls with thickness and rises with pad size.
fn field(side: f64, thickness: f64) -> f64 {
    0.05 * side / thickness
}

fn map(scale: Scale) -> HeatMap {
    let sides: Vec<f64> = (0..33).map(|k| 6.0 + 0.5 * f64::from(k)).collect();
    let thicknesses: Vec<f64> = (0..33).map(|k| 1.0 + 0.25 * f64::from(k)).collect();
    let values = thicknesses
        .iter()
        .flat_map(|&t| sides.iter().map(move |&s| field(s, t)))
        .collect();
    HeatMap {
        computed_every: 1,
        title: "Touch shift".to_owned(),
        x: Axis::linear("pad side", "mm"),
        y: Axis::linear("overlay thickness", "mm"),
        value: Axis {
            scale,
            ..Axis::linear("touch shift", "pF")
        },
        x_values: sides,
        y_values: thicknesses,
        panels: vec![MapPanel {
            values,
            limits: vec![MapLimit::shown(limit(0.2, Sense::AtLeast), "pF")],
            ..MapPanel::default()
        }],
        assumption: "Solid ground behind.".to_owned(),
        ..HeatMap::default()
    }
}

/// Positions of the numbers along the axes, which a map has without grid lines: the strokes of its
/// frame, in order.
fn rulers(drawing: &Drawing) -> (impl Fn(f64) -> f64, impl Fn(f64) -> f64) {
    let [left, top, right, bottom] = drawing.frame();
    // A map fills its frame exactly.
    let x = move |place: f64| 6.0 + 16.0 * (place - left) / (right - left);
    let y = move |place: f64| 1.0 + 8.0 * (bottom - place) / (bottom - top);
    (x, y)
}

#[test]
fn the_contour_lies_where_the_field_has_the_value_of_the_limit() {
    // Linear interpolation of 1/t between steps of 0.25 mm errs by at most t''h^2/8: 0.4 % of the
    // value at 4 mm and above, more below; a logarithmic scale interpolates the logarithm.
    for scale in [Scale::Linear, Scale::Logarithmic] {
        let svg = map(scale).svg().expect("a map");
        let drawing = Drawing::of(&svg);
        let (x, y) = rulers(&drawing);
        let contour = drawing.shapes("contour", None).concat();
        assert!(contour.len() > 40, "{} points", contour.len());
        for point in &contour {
            let (side, thickness) = (x(point[0]), y(point[1]));
            let value = field(side, thickness);
            assert!(
                (value / 0.2 - 1.0).abs() < 0.012,
                "{value} at {side}, {thickness}"
            );
        }
        let reach = contour.iter().map(|p| x(p[0])).fold(f64::MIN, f64::max);
        assert!(reach > 21.9, "the contour ends at {reach}");
    }
}

#[test]
fn strokes_point_to_the_side_ruled_out() {
    for sense in [Sense::AtLeast, Sense::AtMost] {
        let mut chart = map(Scale::Linear);
        chart.panels[0].limits[0].limit.sense = sense;
        let svg = chart.svg().expect("a map");
        let drawing = Drawing::of(&svg);
        let (x, y) = rulers(&drawing);
        let strokes = drawing.shapes("contour-strokes", None);
        assert!(strokes.len() > 20);
        for stroke in strokes {
            let tip = field(x(stroke[1][0]), y(stroke[1][1]));
            assert_eq!(tip < 0.2, sense == Sense::AtLeast, "{sense:?} {tip}");
        }
    }
}

#[test]
fn labels_name_quantities_units_and_reasons() {
    let svg = map(Scale::Linear).svg().expect("a map");
    let drawing = Drawing::of(&svg);
    assert_eq!(
        drawing.words("caption"),
        [
            "pad side (mm)",
            "overlay thickness (mm)",
            "touch shift (pF)"
        ]
    );
    assert_eq!(drawing.words("limit"), ["limit ≥ 0.2 pF, requirement"]);
    assert_eq!(drawing.words("assumption"), ["Solid ground behind."]);
    assert!(drawing.words("scale-tick").len() >= 4);
    assert_eq!(
        drawing.words("x-tick").first().map(String::as_str),
        Some("6")
    );
}

#[test]
fn another_quantity_gives_its_own_contour_and_name() {
    let mut chart = map(Scale::Linear);
    let ratios: Vec<f64> = chart
        .y_values
        .iter()
        .flat_map(|_| chart.x_values.iter().map(|side| 40.0 - side))
        .collect();
    chart.panels[0].limits = vec![MapLimit {
        limit: limit(25.0, Sense::AtMost),
        name: "neighbour ratio".to_owned(),
        unit: "%".to_owned(),
        values: Some(ratios),
    }];
    let svg = chart.svg().expect("a map");
    let drawing = Drawing::of(&svg);
    let (x, _) = rulers(&drawing);
    for point in drawing.shapes("contour", None).concat() {
        assert!((x(point[0]) - 15.0).abs() < 0.01, "{point:?}");
    }
    assert_eq!(
        drawing.words("limit"),
        ["neighbour ratio limit ≤ 25 %, requirement"]
    );
}

#[test]
fn a_limit_without_contour_says_whether_it_is_kept() {
    for (value, verdict) in [(0.001, "kept everywhere"), (50.0, "kept nowhere")] {
        let mut chart = map(Scale::Linear);
        chart.panels[0].limits[0].limit.value = value;
        let svg = chart.svg().expect("a map");
        let labels = Drawing::of(&svg).words("limit");
        assert!(labels[0].ends_with(verdict), "{labels:?}");
    }
}

#[test]
fn the_map_is_one_embedded_picture() {
    let chart = map(Scale::Linear);
    let svg = chart.svg().expect("a map");
    assert_eq!(svg.matches("<image class=\"map\"").count(), 1);
    assert!(svg.len() < 200_000, "{} bytes", svg.len());
    assert_eq!(svg, chart.svg().expect("a map"));
    chart.png(1.0).expect("a picture");
}

#[test]
fn panels_share_the_colour_scale() {
    let chart = map(Scale::Linear);
    let panel = |title: &str, factor: f64| MapPanel {
        title: title.to_owned(),
        values: chart.panels[0].values.iter().map(|v| v * factor).collect(),
        limits: chart.panels[0].limits.clone(),
    };
    let multiples = HeatMap {
        computed_every: 1,
        title: "Two".to_owned(),
        x: chart.x.clone(),
        y: chart.y.clone(),
        value: chart.value.clone(),
        x_values: chart.x_values.clone(),
        y_values: chart.y_values.clone(),
        panels: vec![panel("one", 1.0), panel("two", 2.0)],
        ..HeatMap::default()
    };
    let svg = multiples.svg().expect("maps");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.words("panel"), ["one", "two"]);
    assert_eq!(svg.matches("<image class=\"map\"").count(), 2);
    assert_eq!(svg.matches("<image class=\"scale\"").count(), 1);
    // The first panel reaches 1.1 pF, the second twice that.
    assert_eq!(
        drawing.words("scale-tick").last().map(String::as_str),
        Some("2")
    );
}

#[test]
fn degenerate_maps_are_refused_or_drawn() {
    let good = map(Scale::Linear);
    let mut chart = good.clone();
    chart.panels[0].values.pop();
    assert!(matches!(
        chart.svg(),
        Err(ChartError::Shape { found: 1088, .. })
    ));
    let mut chart = good.clone();
    chart.x_values.swap(3, 4);
    assert!(matches!(chart.svg(), Err(ChartError::NotIncreasing { .. })));
    let mut chart = good.clone();
    chart.panels[0].values.fill(f64::NAN);
    assert!(matches!(chart.svg(), Err(ChartError::NoData { .. })));
    let mut chart = map(Scale::Logarithmic);
    chart.panels[0].values[0] = 0.0;
    assert!(matches!(chart.svg(), Err(ChartError::NotPositive { .. })));
    let mut chart = good.clone();
    chart.panels[0].values.fill(0.2);
    chart.svg().expect("a flat map");
    let mut chart = good.clone();
    chart.panels[0].values[5] = f64::NAN;
    let svg = chart.svg().expect("a map with a hole");
    assert!(
        Drawing::of(&svg)
            .words("legend")
            .contains(&"no value".to_owned())
    );
    chart.x.range = Some([0.0, 30.0]);
    chart.png(0.5).expect("a map smaller than its frame");
    assert!(HeatMap::default().svg().is_err());
    assert!(HeatMap::default().svg().is_err());
}

fn square(centre: [f64; 2], half: f64, label: &str) -> MapOutline {
    let [x, y] = centre;
    MapOutline {
        corners: vec![
            [x - half, y - half],
            [x + half, y - half],
            [x + half, y + half],
            [x - half, y + half],
        ],
        label: label.to_owned(),
    }
}

#[test]
fn outlines_lie_in_axis_units_are_closed_and_end_at_the_frame() {
    let mut chart = map(Scale::Linear);
    chart.outlines = vec![
        square([14.0, 5.0], 2.0, "vent"),
        square([22.0, 5.0], 2.0, "cut"),
    ];
    chart.outline_name = "copper".to_owned();
    let svg = chart.svg().expect("a map");
    let drawing = Drawing::of(&svg);
    let (x, y) = rulers(&drawing);
    // A rim and the line on it.
    let whole = drawing.shapes("outline", Some("vent"));
    assert_eq!(whole.len(), 2);
    assert_eq!(whole[0], whole[1]);
    assert_eq!(whole[0].first(), whole[0].last());
    for corner in &chart.outlines[0].corners {
        let met = whole[0]
            .iter()
            .any(|p| (x(p[0]) - corner[0]).abs() < 0.01 && (y(p[1]) - corner[1]).abs() < 0.01);
        assert!(met, "no corner at {corner:?}");
    }
    let [_, _, right, _] = drawing.frame();
    let cut = drawing.shapes("outline", Some("cut")).concat();
    assert!(cut.iter().all(|p| p[0] <= right));
    assert_eq!(drawing.words("outline"), ["vent", "cut"]);
    assert!(drawing.words("legend").contains(&"copper".to_owned()));
    // With outlines the only limit moves into the legend.
    assert!(drawing.words("limit").is_empty());
    let legend = drawing.words("legend");
    assert!(legend.contains(&"limit ≥ 0.2 pF, requirement".to_owned()));
    assert!(drawing.element("desc").contains("copper: vent, cut."));
}

#[test]
fn labels_of_outlines_never_cover_one_another() {
    let mut chart = map(Scale::Linear);
    chart.outlines = vec![square([14.0, 5.0], 2.0, "same place"); 12];
    let svg = chart.svg().expect("a map");
    let mut places: Vec<f64> = Drawing::of(&svg)
        .texts("outline")
        .into_iter()
        .map(|label| label.y)
        .collect();
    places.sort_by(f64::total_cmp);
    assert!((2..12).contains(&places.len()), "{places:?}");
    assert!(places.windows(2).all(|pair| pair[1] - pair[0] >= 120.0));
}

#[test]
fn with_equal_scale_a_square_is_square_whatever_the_shape_of_the_map() {
    let axis_end = |values: &[f64]| values[values.len() - 1] - values[0];
    for (x_step, y_step) in [(0.5, 0.5), (0.5, 0.1), (0.1, 0.5), (0.3, 1.0), (2.0, 0.25)] {
        let mut chart = map(Scale::Linear);
        chart.equal_scale = true;
        chart.x_values = (0..33).map(|k| x_step * f64::from(k)).collect();
        chart.y_values = (0..33).map(|k| y_step * f64::from(k)).collect();
        let svg = chart.svg().expect("a map");
        let [left, top, right, bottom] = Drawing::of(&svg).frame();
        let (across, up) = (
            (right - left) / axis_end(&chart.x_values),
            (bottom - top) / axis_end(&chart.y_values),
        );
        // The frame is rounded to whole drawing units at both ends.
        assert!((across / up - 1.0).abs() < 0.01, "{across} {up}");
    }
}

#[test]
fn panels_share_outlines_and_equal_scale() {
    let chart = map(Scale::Linear);
    let panel = |title: &str| MapPanel {
        title: title.to_owned(),
        values: chart.panels[0].values.clone(),
        limits: chart.panels[0].limits.clone(),
    };
    let multiples = HeatMap {
        computed_every: 1,
        title: "Three".to_owned(),
        x: chart.x.clone(),
        y: chart.y.clone(),
        value: chart.value.clone(),
        x_values: chart.x_values.clone(),
        y_values: chart.y_values.clone(),
        panels: vec![panel("one"), panel("two"), panel("three")],
        outlines: vec![square([14.0, 5.0], 2.0, "vent")],
        equal_scale: true,
        ..HeatMap::default()
    };
    let svg = multiples.svg().expect("maps");
    let drawing = Drawing::of(&svg);
    assert_eq!(drawing.groups("outline", Some("vent")).len(), 3);
    for outline in drawing.groups("outline", Some("vent")) {
        let extent = |axis: usize| {
            let along = || outline[0].iter().map(|p| p[axis]);
            along().fold(f64::MIN, f64::max) - along().fold(f64::MAX, f64::min)
        };
        assert!((extent(0) - extent(1)).abs() <= 2.0);
    }
}

#[test]
fn outlines_and_equal_scale_that_make_no_sense_are_refused() {
    let good = map(Scale::Linear);
    let mut chart = good.clone();
    chart.outlines = vec![square([14.0, 5.0], 2.0, "vent")];
    chart.outlines[0].corners.truncate(2);
    assert_eq!(
        chart.svg().expect_err("two corners").to_string(),
        "outline \"vent\" has 2 corners; expected at least 3"
    );
    chart.outlines = vec![square([14.0, f64::NAN], 2.0, "vent")];
    assert!(matches!(chart.svg(), Err(ChartError::NotFinite { .. })));
    let mut chart = good.clone();
    chart.equal_scale = true;
    chart.y.unit = "cm".to_owned();
    assert!(matches!(chart.svg(), Err(ChartError::UnequalAxes { .. })));
    chart.y = good.y.clone();
    chart.x.scale = Scale::Logarithmic;
    assert!(matches!(chart.svg(), Err(ChartError::UnequalAxes { .. })));
    // Far away or huge outlines are cut, not refused.
    let mut chart = good;
    chart.outlines = vec![
        square([1e300, 5.0], 2.0, "far"),
        square([14.0, 5.0], 1e9, "huge"),
    ];
    let svg = chart.svg().expect("a map");
    assert!(!svg.contains("NaN"));
    assert!(Drawing::of(&svg).words("outline").is_empty());
}
