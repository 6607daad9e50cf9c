//! Shift over return capacitance with the supplies marked.

use super::ReturnStudy;
use padfield_chart::{Axis, LimitLine, LineChart, LinePanel, PlaceMark, Reading, Series};

/// Most lines; pads that answer alike share one.
const MOST_LINES: usize = 6;
/// Pads whose curves differ by less than this are drawn as one.
const ALIKE: f64 = 0.005;

/// The chart of all pads; `title` is that of the panel.
pub fn picture(title: &str, study: &ReturnStudy) -> LineChart {
    let mut series: Vec<Series> = Vec::new();
    for pad in &study.pads {
        let points: Vec<Reading> = pad
            .curve
            .iter()
            .map(|(path, share)| Reading {
                x: path.pf(),
                value: 100.0 * share,
                error: 0.0,
            })
            .collect();
        let alike = series.iter().position(|known| {
            let pairs = known.points.iter().zip(&points);
            pairs
                .into_iter()
                .all(|(a, b)| (a.value - b.value).abs() < 100.0 * ALIKE)
        });
        match alike {
            Some(known) => series[known].name += &format!(", {}", pad.name),
            None if series.len() < MOST_LINES => {
                series.push(Series::computed(pad.name.clone(), points))
            }
            None => {}
        }
    }
    let supplies = study.pads.first().map(|pad| &pad.supplies);
    let places = supplies
        .into_iter()
        .flatten()
        .filter_map(|supply| {
            let path = supply.path?.pf();
            Some(PlaceMark {
                x: path,
                label: format!("{}, {path:.0} pF with the body", supply.supply),
            })
        })
        .collect();
    LineChart {
        title: format!("Touch shift over the return path: {title}"),
        x: Axis::logarithmic("return capacitance, body to device ground", "pF"),
        y: Axis {
            range: Some([0.0, 110.0]),
            ..Axis::linear("touch shift over that of an earthed finger", "%")
        },
        panels: vec![LinePanel {
            series,
            ..LinePanel::default()
        }],
        limits: vec![LimitLine::at_least(100.0 * study.share, "share to keep")],
        places,
        assumption: study.assumptions[..study.assumptions.len().min(2)].join(" "),
        ..LineChart::default()
    }
}
