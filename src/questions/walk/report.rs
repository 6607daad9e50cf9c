//! Walks in words: what every pad sees, where it acts, what is ambiguous; what a slider makes of a finger.

use super::{AMBIGUOUS_RATIO, Slide, Stretch, TouchMap, Walk, acting, ambiguous};
use crate::panel::{Origin, Panel, SliderLimits};
use crate::report::{Block, Report, Table};
use crate::rounding::{fixed, rounded_with_error, significant};

/// A walk, with the map over the face where there is one. The threshold is in counts, with where it comes from; the
/// assumption that of the charts.
pub fn report(
    panel: &Panel,
    walk: &Walk,
    map: Option<&TouchMap>,
    supply: &str,
    threshold: Option<(f64, &str)>,
    assumption: &str,
) -> Report {
    let mut report = Report::default();
    report.say(peaks(panel, walk, supply, threshold));
    for curve in &walk.curves {
        let floor = threshold.map_or(0.0, |(counts, _)| counts);
        report.say(Block::paragraph(format!(
            "Ambiguous for {} (second pad above {:.0} % of the first; common practice, no source): {} mm",
            curve.finger,
            100.0 * AMBIGUOUS_RATIO,
            stretches(&ambiguous(walk, curve, AMBIGUOUS_RATIO, floor))
        )));
    }
    if threshold.is_none() {
        report.say(Block::paragraph(
            "No threshold separates the touches of this panel: see padfield window, or give one with --threshold.",
        ));
    }
    let mut works = vec![("walk", &walk.work)];
    works.extend(map.map(|map| ("map", &map.work)));
    for (what, work) in works {
        report.detail(Block::paragraph(format!(
            "The {what}: {} places from {} field problems.",
            work.places, work.field_problems
        )));
    }
    report.assumptions(&[assumption.to_owned()]);
    report
}

fn stretches(stretches: &[Stretch]) -> String {
    if stretches.is_empty() {
        return "nowhere".to_owned();
    }
    let each = stretches.iter().map(|stretch| {
        format!(
            "{} to {}",
            fixed(stretch.low_mm, 1),
            fixed(stretch.high_mm, 1)
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

fn peaks(panel: &Panel, walk: &Walk, supply: &str, threshold: Option<(f64, &str)>) -> Table {
    let [along, other] = walk.direction.names();
    let acts = threshold.map_or("acts at (no threshold)".to_owned(), |(counts, _)| {
        format!("at least {counts:.0} counts, mm")
    });
    let mut table = Table::new(
        format!(
            "Walk along {along} at {other} = {} mm, supply {supply}",
            fixed(walk.fixed.mm(), 1)
        ),
        &["finger", "pad", "largest count shift", "at, mm", &acts],
        2,
    );
    for curve in &walk.curves {
        for (index, pad) in panel.pads.iter().enumerate() {
            let Some((place, peak)) = curve.peak(index) else {
                continue;
            };
            table.row(vec![
                curve.finger.clone(),
                pad.name.clone(),
                rounded_with_error(peak.value, peak.error),
                fixed(walk.places[place].mm(), 1),
                threshold.map_or("-".to_owned(), |(counts, _)| {
                    stretches(&acting(walk, curve, index, counts))
                }),
            ]);
        }
    }
    table
}

/// Fingers along one slider or around one wheel.
pub fn slide_report(slides: &[Slide], supply: &str) -> Report {
    let mut report = Report::default();
    let Some(first) = slides.first() else {
        return report;
    };
    let mut table = Table::new(
        format!(
            "What \"{}\" makes of a finger along it, supply {supply}",
            first.group
        ),
        &[
            "finger",
            "largest\ndeviation, mm",
            "ripple of\nthe total",
            "resolution\nmm rms",
            "dead zones\nmm",
            "field\nproblems",
        ],
        1,
    )
    .with_details_in(&[5]);
    for slide in slides {
        let error = slide.places.iter().map(|place| place.estimate_error.mm());
        table.row(vec![
            slide.finger.clone(),
            rounded_with_error(slide.linearity().mm(), error.fold(0.0, f64::max)),
            format!("{} %", significant(100.0 * slide.ripple(), 2)),
            significant(slide.resolution().mm(), 2),
            slide.dead_zone_words(),
            slide.work.field_problems.to_string(),
        ]);
    }
    table.remark = format!(
        "Centroid of the three neighbouring segments with the most counts, {} mm apart; around a wheel the direction of \
         all. Deviation from the true position without any correction, outside the dead zones, with its largest \
         numerical error; in a dead zone the estimate moves less than half as far as the finger. Resolution: one \
         standard deviation of the untouched noise. Limits: {}.",
        significant(first.pitch.mm(), 3),
        limits(&first.limits)
    );
    report.say(table);
    report
}

fn limits(limits: &SliderLimits) -> String {
    let marked = |origin: Origin, value: String| match origin {
        Origin::Given => value,
        Origin::Default => format!("{value} (common practice, no source)"),
    };
    format!(
        "deviation {}, ripple {}, dead zones {}",
        marked(
            limits.deviation.origin,
            format!("{} mm", limits.deviation.value.mm())
        ),
        marked(
            limits.ripple.origin,
            format!("{} %", 100.0 * limits.ripple.value)
        ),
        marked(
            limits.dead_zone.origin,
            format!("{} mm", limits.dead_zone.value.mm())
        )
    )
}
