//! The position of a slider as charts: told against true, and the difference.

use super::slide::Slide;
use crate::chart::{Axis, LimitLine, LineChart, Reading, Sense, Series};

/// Largest deviation of a slider \[mm\]. Common practice, no source.
pub const LARGEST_DEVIATION_MM: f64 = 1.5;
/// Largest ripple of the total of a slider. Common practice, no source.
pub const LARGEST_RIPPLE: f64 = 0.2;

/// Told against true position of several fingers on one slider, and below it the deviation.
pub fn slide_pictures(title: &str, slides: &[Slide], assumption: &str) -> [LineChart; 2] {
    let group = slides.first().map_or("", |slide| slide.group.as_str());
    let along = || Axis::linear("true position of the finger", "mm");
    let series = |value: &dyn Fn(&super::SlidePlace) -> f64| -> Vec<Series> {
        slides
            .iter()
            .map(|slide| Series {
                name: slide.finger.clone(),
                points: slide
                    .places
                    .iter()
                    .map(|place| Reading {
                        x: place.position.mm(),
                        value: value(place),
                        error: place.estimate_error.mm(),
                    })
                    .collect(),
                dashed: false,
            })
            .collect()
    };
    let limit = |value: f64, sense: Sense| LimitLine {
        value,
        sense,
        because: "common practice, no source".to_owned(),
    };
    let mut told = series(&|place| place.estimate.mm());
    if let Some(slide) = slides.first() {
        told.push(Series {
            name: "as it should be".to_owned(),
            points: slide
                .places
                .iter()
                .map(|place| Reading {
                    x: place.position.mm(),
                    value: place.position.mm(),
                    error: f64::NAN,
                })
                .collect(),
            dashed: true,
        });
    }
    [
        LineChart {
            title: format!("Position told by \"{group}\": {title}"),
            x: along(),
            y: Axis::linear("position told", "mm"),
            series: told,
            ..LineChart::default()
        },
        LineChart {
            title: "Deviation".to_owned(),
            x: along(),
            y: Axis::linear("told minus true", "mm"),
            series: series(&|place| place.deviation().mm()),
            limits: vec![
                limit(LARGEST_DEVIATION_MM, Sense::AtMost),
                limit(-LARGEST_DEVIATION_MM, Sense::AtLeast),
            ],
            assumption: assumption.to_owned(),
            ..LineChart::default()
        },
    ]
}
