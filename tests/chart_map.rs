//! Heat maps: contours on an analytic field, colours, scale, absent values.

mod drawing;

use drawing::Drawing;
use padfield::chart::*;

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
        title: "Touch shift".to_owned(),
        x: Axis::linear("pad side", "mm"),
        y: Axis::linear("overlay thickness", "mm"),
        value: Axis {
            scale,
            ..Axis::linear("touch shift", "pF")
        },
        x_values: sides,
        y_values: thicknesses,
        values,
        limits: vec![MapLimit::shown(limit(0.2, Sense::AtLeast), "pF")],
        assumption: "Solid ground behind.".to_owned(),
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
        chart.limits[0].limit.sense = sense;
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
    chart.limits = vec![MapLimit {
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
        chart.limits[0].limit.value = value;
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
        values: chart.values.iter().map(|v| v * factor).collect(),
        limits: chart.limits.clone(),
    };
    let multiples = MapMultiples {
        title: "Two".to_owned(),
        x: chart.x.clone(),
        y: chart.y.clone(),
        value: chart.value.clone(),
        x_values: chart.x_values.clone(),
        y_values: chart.y_values.clone(),
        panels: vec![panel("one", 1.0), panel("two", 2.0)],
        assumption: String::new(),
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
    chart.values.pop();
    assert!(matches!(
        chart.svg(),
        Err(ChartError::Shape { found: 1088, .. })
    ));
    let mut chart = good.clone();
    chart.x_values.swap(3, 4);
    assert!(matches!(chart.svg(), Err(ChartError::NotIncreasing { .. })));
    let mut chart = good.clone();
    chart.values.fill(f64::NAN);
    assert!(matches!(chart.svg(), Err(ChartError::NoData { .. })));
    let mut chart = map(Scale::Logarithmic);
    chart.values[0] = 0.0;
    assert!(matches!(chart.svg(), Err(ChartError::NotPositive { .. })));
    let mut chart = good.clone();
    chart.values.fill(0.2);
    chart.svg().expect("a flat map");
    let mut chart = good.clone();
    chart.values[5] = f64::NAN;
    let svg = chart.svg().expect("a map with a hole");
    assert!(
        Drawing::of(&svg)
            .words("legend")
            .contains(&"no value".to_owned())
    );
    chart.x.range = Some([0.0, 30.0]);
    chart.png(0.5).expect("a map smaller than its frame");
    assert!(HeatMap::default().svg().is_err());
    assert!(MapMultiples::default().svg().is_err());
}
