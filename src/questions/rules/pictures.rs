//! The chart behind a row: the curve with the rule's and the needed value, bars of changes, a power law
//! beside the computed points.

use super::row::{Detail, EffectDetail, EstimateDetail, NeededDetail, Place, PowerDetail, Row};
use super::words::{number, with_unit};
use super::{Change, Reference};
use crate::figures::{Picture, capital, of_path};
use crate::questions::find::Sample;
use crate::study::Relation;
use padfield_chart::{
    Axis, Bar, BarChart, CrossingMark, LimitLine, LineChart, LinePanel, PlaceMark, Reading, Sense,
    Series,
};

/// Name of the files of a row, without an ending.
pub fn file_name(row: &Row) -> String {
    let group = row.group.as_deref().unwrap_or("");
    crate::figures::file_name(&format!("{} {group}", row.rule))
}

/// The chart of a row; none when there are no numbers. `finger` is the finger's name.
pub fn picture(row: &Row, finger: &str) -> Option<Picture> {
    let title = format!("{}: {}", capital(&row.says), row.verdict.words());
    let assumption = assumption(row, finger);
    match &row.detail {
        Detail::None | Detail::Threshold { .. } => None,
        Detail::Needed(detail) => Some(needed(detail, &row.because, title, assumption)),
        Detail::Effects(details) => Some(effects(details, title, assumption)),
        Detail::Power(detail) => Some(power(detail, title, assumption)),
        Detail::Estimate(detail) => Some(estimate(detail, title, assumption)),
    }
}

fn assumption(row: &Row, finger: &str) -> String {
    let mut text = format!(
        "Rule \"{}\": {}. {}.",
        row.rule,
        row.source,
        capital(&row.reason)
    );
    if let Some(touch) = &row.touch {
        text += &format!(" Finger \"{finger}\" on pad \"{}\"", touch.pad);
        text += &match &touch.off_towards {
            Some((other, mm)) => format!(", {} mm off towards \"{other}\".", number(*mm)),
            None => ".".to_owned(),
        };
    }
    text
}

fn reading(x: f64, sample: Sample) -> Reading {
    Reading {
        x,
        value: sample.value,
        error: sample.error,
    }
}

/// Sense of a relation; `Equal` has none and counts as at most.
fn sense(relation: Relation) -> Sense {
    match relation {
        Relation::AtLeast => Sense::AtLeast,
        Relation::AtMost | Relation::Equal => Sense::AtMost,
    }
}

fn needed(detail: &NeededDetail, because: &str, title: String, assumption: String) -> Picture {
    let condition = &detail.condition;
    let quantity = condition.quantity.kind.words();
    let label = match detail.reference {
        None => quantity.to_owned(),
        Some(Reference::AsDrawn) => format!("{quantity} over that of the panel as drawn"),
        Some(Reference::Best) => format!("{quantity} over the best of the range"),
    };
    // The long form of a reason is in the text; beside the line there is little room.
    let origin = because.split([',', ':']).next().unwrap_or("").to_owned();
    let mut places = vec![PlaceMark {
        x: detail.rule,
        label: format!("rule {}", with_unit(&number(detail.rule), &detail.unit)),
    }];
    if let Some(drawn) = detail.drawn {
        places.push(PlaceMark {
            x: drawn,
            label: format!("as drawn {}", with_unit(&number(drawn), &detail.unit)),
        });
    }
    let crossings = match detail.needed {
        Place::At(at, [low, high]) => vec![CrossingMark {
            x: at,
            low,
            high,
            value: condition.value,
            label: "needed".to_owned(),
        }],
        _ => Vec::new(),
    };
    let samples = detail.samples.iter();
    Picture::Line(LineChart {
        title,
        x: Axis::linear(of_path(&detail.path), detail.unit.clone()),
        y: Axis::linear(label, detail.sample_unit()),
        panels: vec![LinePanel {
            series: vec![Series::computed(
                "computed",
                samples.map(|(x, sample)| reading(*x, *sample)),
            )],
            crossings,
            ..LinePanel::default()
        }],
        limits: vec![LimitLine {
            value: condition.value,
            sense: sense(condition.relation),
            because: origin,
        }],
        places,
        assumption,
        ..LineChart::default()
    })
}

fn effects(details: &[EffectDetail], title: String, assumption: String) -> Picture {
    let first = &details[0].expectation;
    // The same limit for all bars is drawn, others are said.
    let all_alike = details
        .iter()
        .all(|d| d.expectation.change == first.change && d.expectation.percent == first.percent);
    let bars = details.iter().map(|detail| {
        let expectation = &detail.expectation;
        let mut name = expectation.quantity.words().to_owned();
        if let Some(form) = detail.form {
            name += &format!(" as {}s", form.words());
        }
        if !all_alike {
            name += &format!(
                ", {} {} %",
                expectation.change.words(),
                number(expectation.percent)
            );
        }
        Bar {
            name,
            value: detail.change.value,
            error: detail.change.error,
            opposite: None,
        }
    });
    let limit = |value: f64, sense: Sense| LimitLine {
        value,
        sense,
        because: String::new(),
    };
    let limits = match (all_alike, first.change) {
        (false, _) => Vec::new(),
        (true, Change::FallsAtLeast) => vec![limit(-first.percent, Sense::AtMost)],
        (true, Change::FallsAtMost) => vec![limit(-first.percent, Sense::AtLeast)],
        (true, Change::RisesAtLeast) => vec![limit(first.percent, Sense::AtLeast)],
        (true, Change::RisesAtMost) => vec![limit(first.percent, Sense::AtMost)],
        (true, Change::ChangesAtMost) => vec![
            limit(-first.percent, Sense::AtLeast),
            limit(first.percent, Sense::AtMost),
        ],
    };
    Picture::Bars(BarChart {
        title,
        value: Axis::linear("change", "%"),
        bars: bars.collect(),
        limits,
        assumption,
        ..BarChart::default()
    })
}

fn power(detail: &PowerDetail, title: String, assumption: String) -> Picture {
    let [_, (base, middle), _] = detail.samples;
    let law = |x: f64| Reading {
        x,
        value: middle.value * (x / base).powf(detail.rule[0]),
        error: 0.0,
    };
    let points = detail.samples.iter();
    Picture::Line(LineChart {
        title,
        x: Axis::logarithmic(of_path(&detail.against[0]), detail.against[1].clone()),
        y: Axis::logarithmic(detail.quantity.words(), detail.quantity.unit()),
        panels: vec![LinePanel {
            series: vec![
                Series::computed(
                    "computed",
                    points.clone().map(|(x, sample)| reading(*x, *sample)),
                ),
                Series::dashed(
                    "the rule through the drawn panel",
                    points.map(|(x, _)| law(*x)),
                ),
            ],
            ..LinePanel::default()
        }],
        assumption,
        ..LineChart::default()
    })
}

/// A limit that follows from a computed value has no more digits than it.
fn three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

fn estimate(detail: &EstimateDetail, title: String, assumption: String) -> Picture {
    let bar = |name: &str, value: f64, error: f64| Bar {
        name: name.to_owned(),
        value,
        error,
        opposite: None,
    };
    let computed = detail.computed_pf;
    let share = 0.01 * detail.within_percent;
    let limit = |factor: f64, sense: Sense| LimitLine {
        value: three_digits(factor * computed.value),
        sense,
        because: format!("{} x computed", number(factor)),
    };
    Picture::Bars(BarChart {
        title,
        value: Axis::linear(detail.quantity.words(), "pF"),
        bars: vec![
            bar("computed", computed.value, computed.error),
            bar(
                &format!("estimate: {}", detail.name),
                detail.estimate_pf,
                0.0,
            ),
        ],
        limits: vec![
            limit(1.0 - share, Sense::AtLeast),
            limit(1.0 + share, Sense::AtMost),
        ],
        assumption,
        ..BarChart::default()
    })
}
