//! The position of a slider as charts: told against true, and the difference.

use super::slide::Slide;
use crate::panel::Origin;
use padfield_chart::{Axis, LimitLine, LineChart, LinePanel, Reading, Sense, Series};

/// Told against true position of several fingers on one slider, and below it the deviation.
pub fn slide_pictures(title: &str, slides: &[Slide], assumption: &str) -> [LineChart; 2] {
    let group = slides.first().map_or("", |slide| slide.group.as_str());
    let along = || Axis::linear("true position of the finger", "mm");
    let series = |value: &dyn Fn(&super::SlidePlace) -> f64| -> Vec<Series> {
        slides
            .iter()
            .map(|slide| {
                Series::computed(
                    slide.finger.clone(),
                    slide.places.iter().map(|place| Reading {
                        x: place.position.mm(),
                        value: value(place),
                        error: place.estimate_error.mm(),
                    }),
                )
            })
            .collect()
    };
    let limits = slides.first().map(|slide| slide.limits.deviation);
    let limit = |sign: f64, sense: Sense| {
        limits.map(|most| LimitLine {
            value: sign * most.value.mm(),
            sense,
            because: match most.origin {
                Origin::Given => "limit of the panel file",
                Origin::Default => "common practice, no source",
            }
            .to_owned(),
        })
    };
    let mut told = series(&|place| place.estimate.mm());
    if let Some(slide) = slides.first() {
        told.push(Series::dashed(
            "as it should be",
            slide.places.iter().map(|place| Reading {
                x: place.position.mm(),
                value: place.position.mm(),
                error: f64::NAN,
            }),
        ));
    }
    [
        LineChart {
            title: format!("Position told by \"{group}\": {title}"),
            x: along(),
            y: Axis::linear("position told", "mm"),
            panels: vec![LinePanel {
                series: told,
                ..LinePanel::default()
            }],
            ..LineChart::default()
        },
        LineChart {
            title: "Deviation".to_owned(),
            x: along(),
            y: Axis::linear("told minus true", "mm"),
            panels: vec![LinePanel {
                series: series(&|place| place.deviation().mm()),
                ..LinePanel::default()
            }],
            limits: [limit(1.0, Sense::AtMost), limit(-1.0, Sense::AtLeast)]
                .into_iter()
                .flatten()
                .collect(),
            assumption: assumption.to_owned(),
            ..LineChart::default()
        },
    ]
}
