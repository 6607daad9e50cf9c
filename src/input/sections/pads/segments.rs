//! Segments of sliders and wheels.

use super::super::common::*;
use super::outline::{missing_key, only_keys_of_shape};
use super::{Ends, PadsEntry, Shape, left_over, names, trace_lengths};

use crate::panel::outline::{crosses_itself, outline_polygons, polygon_box};
use crate::panel::{
    Course, GroupLayout, Layer, Outline, Pad, PadGroup, Slider, SliderLimits, StraightSegments,
    WheelSegments,
};

/// Most segments of one slider or wheel.
const MOST_SEGMENTS: usize = 32;
/// Most teeth of one boundary.
const MOST_TEETH: usize = 16;

pub(crate) fn segment_pads(
    group: &str,
    entry: &Keyed<PadsEntry>,
    layers: &[Layer],
    drawn: &[&str],
) -> Result<(Vec<Pad>, PadGroup, Slider), Finding> {
    let at = |key: &str| steps!["pads", group, key];
    only_keys_of_shape(group, entry)?;
    let layer = copper_layer(at("layer"), &entry.layer, layers)?;
    let boundaries = boundaries(group, entry)?;
    let Boundaries { count, gap, .. } = boundaries;
    let centre = centre(|| at("centre"), entry.centre)?;
    let (outlines, middles, course) = match entry.shape.0 {
        Shape::Wheel => wheel(group, entry, boundaries)?,
        _ => straight(group, entry, boundaries)?,
    };
    if outlines.iter().any(is_crossed) {
        let key = match entry.overlap {
            Some(_) => "overlap",
            None => "gap",
        };
        return Err(Finding::at(
            at(key),
            "the boundaries of a segment cross: nothing of it is left between them",
            "write a smaller overlap or gap, or a larger pitch",
        ));
    }
    let at_middle = |outline: &Outline| outline_polygons(outline, 0.0, [Length::default(); 2]);
    let polygons: Vec<_> = outlines.iter().flat_map(at_middle).collect();
    let placed = PadGroup {
        name: group.to_owned(),
        members: 0..count,
        layout: GroupLayout::Segments { gap },
        centre,
        pad_box: polygon_box(&polygons).map(|corner| corner.map(Length::from_metres)),
    };
    let names = names(group, entry, count)?;
    let lengths = trace_lengths(group, entry, count)?;
    let drawn_outlines = outlines.into_iter().zip(middles);
    let pads = names.into_iter().zip(lengths).zip(drawn_outlines);
    let pads = pads.map(|((name, trace_length), (outline, middle))| Pad {
        group: group.to_owned(),
        layer,
        outline: about(outline, middle),
        rotation_degrees: 0.0,
        centre: [0, 1].map(|axis| centre[axis] + middle[axis]),
        hole: None,
        feature: gap,
        trace_length: left_over(trace_length, &name, drawn),
        name,
    });
    let slider = Slider {
        group: group.to_owned(),
        course,
        centre,
        limits: limits(group, entry)?,
    };
    Ok((pads.collect(), placed, slider))
}

/// How segments follow one another.
#[derive(Clone, Copy)]
struct Boundaries {
    count: usize,
    overlap: Length,
    teeth: usize,
    gap: Length,
}

fn boundaries(group: &str, entry: &Keyed<PadsEntry>) -> Result<Boundaries, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let missing = |key: &str| missing_key(group, entry, key);
    let count = entry.segments.ok_or_else(|| missing("segments"))?.0 as usize;
    let least = if entry.shape.0 == Shape::Wheel { 3 } else { 2 };
    if !(least..=MOST_SEGMENTS).contains(&count) {
        return Err(Finding::at(
            at("segments"),
            format!("{count} segments tell no position"),
            format!("write {least} to {MOST_SEGMENTS}"),
        ));
    }
    let teeth = entry.teeth.map_or(1, |teeth| teeth.0 as usize);
    if teeth > MOST_TEETH {
        return Err(Finding::at(
            at("teeth"),
            format!("{teeth} teeth are too many"),
            format!("write at most {MOST_TEETH}"),
        ));
    }
    let overlap = if_not_negative(at("overlap"), entry.overlap, "the overlap")?.unwrap_or_default();
    let gap = entry.gap.ok_or_else(|| missing("gap"))?.0[0];
    Ok(Boundaries {
        count,
        overlap,
        teeth,
        gap: positive(at("gap"), gap, "the gap")?,
    })
}

/// Outlines and middles of segments, and how a finger runs over them.
type Drawn = (Vec<Outline>, Vec<[Length; 2]>, Course);

fn wheel(group: &str, entry: &Keyed<PadsEntry>, boundaries: Boundaries) -> Result<Drawn, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let missing = |key: &str| missing_key(group, entry, key);
    let diameter = entry.diameter.ok_or_else(|| missing("diameter"))?;
    let inner = entry.inner_diameter;
    let inner = inner.ok_or_else(|| missing("inner_diameter"))?;
    let wheel = WheelSegments {
        count: boundaries.count,
        diameter: positive(at("diameter"), diameter.0, "the diameter")?,
        inner_diameter: positive(at("inner_diameter"), inner.0, "the inner diameter")?,
        overlap: boundaries.overlap,
        teeth: boundaries.teeth,
        gap: boundaries.gap,
    };
    if wheel.inner_diameter >= wheel.diameter {
        return Err(Finding::at(
            at("inner_diameter"),
            "the hole is as large as the wheel",
            format!("write less than {}", show_mm(wheel.diameter)),
        ));
    }
    let radius = wheel.radius();
    Ok((wheel.outlines(), wheel.centres(), Course::Round { radius }))
}

fn straight(
    group: &str,
    entry: &Keyed<PadsEntry>,
    boundaries: Boundaries,
) -> Result<Drawn, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let missing = |key: &str| missing_key(group, entry, key);
    let pitch = entry.pitch.ok_or_else(|| missing("pitch"))?;
    let height = entry.height.ok_or_else(|| missing("height"))?;
    let pitch = positive(at("pitch"), pitch.0, "the pitch")?;
    let slider = StraightSegments {
        count: boundaries.count,
        pitch,
        height: positive(at("height"), height.0, "the height")?,
        overlap: boundaries.overlap,
        teeth: boundaries.teeth,
        gap: boundaries.gap,
        has_half_ends: entry.ends.is_some_and(|word| word.0 == Ends::Half),
    };
    Ok((
        slider.outlines(),
        slider.centres(),
        Course::Straight { pitch },
    ))
}

/// Whether the boundaries of a segment leave nothing between them.
fn is_crossed(outline: &Outline) -> bool {
    let Outline::Polygon { corners } = outline else {
        return false;
    };
    let polygon: Vec<[f64; 2]> = corners.iter().map(|c| c.map(Length::metres)).collect();
    crosses_itself(&polygon) || signed_area(&polygon) <= 0.0
}

fn limits(group: &str, entry: &Keyed<PadsEntry>) -> Result<SliderLimits, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let usual = SliderLimits::default();
    let length = |key: &str, given| if_positive(at(key), given, "the limit");
    let deviation = length("largest_deviation", entry.largest_deviation)?;
    let dead_zone = length("largest_dead_zone", entry.largest_dead_zone)?;
    let ripple = entry.largest_ripple.map(|given| given.0);
    Ok(SliderLimits {
        deviation: sourced(deviation, usual.deviation.value),
        ripple: sourced(ripple, usual.ripple.value),
        dead_zone: sourced(dead_zone, usual.dead_zone.value),
    })
}

/// A polygon drawn about 0, 0 as one drawn about `middle`.
fn about(outline: Outline, middle: [Length; 2]) -> Outline {
    let Outline::Polygon { corners } = outline else {
        return outline;
    };
    let corners = corners.into_iter();
    Outline::Polygon {
        corners: corners
            .map(|corner| [0, 1].map(|axis| corner[axis] - middle[axis]))
            .collect(),
    }
}

fn signed_area(polygon: &[[f64; 2]]) -> f64 {
    let next = polygon.iter().cycle().skip(1);
    let twice = polygon
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - a[1] * b[0]);
    0.5 * twice.sum::<f64>()
}
