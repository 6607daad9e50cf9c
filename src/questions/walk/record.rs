//! Walks, maps and strokes for machines; lengths in mm.

use super::{Curve, PlaceCounts, Slide, SlidePlace, TouchMap, Walk};
use crate::accuracy::WorkRecord;
use crate::panel::{Panel, SliderLimits};
use crate::record::{all, record};
use padfield_engine::units::Length;

record! {
    /// A finger across the panel and over its face.
    pub struct WalkRecord(panel: &Panel, walk: &Walk, map: Option<&TouchMap>, threshold: Option<f64>, assumption: &str) {
        /// Threshold that it is held against, counts; null when none separates the touches.
        threshold_counts: Option<f64> = threshold,
        /// The finger along a line.
        walk: LineRecord = LineRecord::of(panel, walk),
        /// The finger over the face; null when it was not asked for, or in a cut.
        map: Option<MapRecord> = map.map(|map| MapRecord::of(panel, map)),
        /// What is assumed.
        assumptions: Vec<String> = vec![assumption.to_owned()],
    }

    /// A walk along a line.
    pub struct LineRecord(panel: &Panel, walk: &Walk) {
        /// Coordinate along the walk: `x` or `y`.
        along: &'static str = walk.direction.names()[0],
        /// The other coordinate, the same for all places, mm.
        fixed_mm: f64 = walk.fixed.mm(),
        /// Places of the contact's middle along the line, ascending, mm.
        places_mm: Vec<f64> = millimetres(&walk.places),
        /// What the pads make of every finger.
        fingers: Vec<CurveRecord> =
            walk.curves.iter().map(|curve| CurveRecord::of(panel, curve)).collect(),
        /// What it took and how exact it is.
        #[serde(flatten)]
        work: WorkRecord =
            WorkRecord::of(walk.work.field_problems, walk.work.accuracy_reached, &walk.work.missed),
    }

    /// What the pads make of one finger.
    pub struct CurveRecord(panel: &Panel, curve: &Curve) {
        /// The finger.
        finger: String = curve.finger.clone(),
        /// Every pad.
        pads: Vec<PadRecord> = by_pad(panel, &curve.counts),
    }

    /// What one pad makes of a finger, place by place; null where it is not in the model.
    pub struct PadRecord(pad: &str, counts: &[Option<PlaceCounts>]) {
        /// Its name.
        pad: String = pad.to_owned(),
        /// Count shifts.
        count_shift: Vec<Option<f64>> = counts.iter().map(|one| one.map(|c| c.value)).collect(),
        /// Their estimated numerical errors, counts.
        estimated_error: Vec<Option<f64>> = counts.iter().map(|one| one.map(|c| c.error)).collect(),
    }

    /// A raster over the face.
    pub struct MapRecord(panel: &Panel, map: &TouchMap) {
        /// The finger.
        finger: String = map.finger.clone(),
        /// Columns, ascending, mm.
        x_mm: Vec<f64> = millimetres(&map.x),
        /// Rows, ascending, mm.
        y_mm: Vec<f64> = millimetres(&map.y),
        /// Every pad, row by row.
        pads: Vec<PadRecord> = by_pad(panel, &map.counts),
        /// What it took and how exact it is.
        #[serde(flatten)]
        work: WorkRecord =
            WorkRecord::of(map.work.field_problems, map.work.accuracy_reached, &map.work.missed),
    }

    /// Fingers along a slider or around a wheel.
    pub struct SlidesRecord(slides: &[Slide]) {
        /// One per finger.
        slides: Vec<SlideRecord> = all(slides, SlideRecord::of),
    }

    /// One finger along one slider.
    pub struct SlideRecord(slide: &Slide) {
        /// Its pad group.
        pads: String = slide.group.clone(),
        /// The finger.
        finger: String = slide.finger.clone(),
        /// Distance of neighbouring segments along the course, mm.
        pitch_mm: f64 = slide.pitch.mm(),
        /// Largest distance between estimate and truth away from the dead zones, mm.
        largest_deviation_mm: f64 = slide.linearity().mm(),
        /// Ripple of the total, relative.
        ripple: f64 = slide.ripple(),
        /// Largest standard deviation of the estimate by the noise of the counts, mm.
        resolution_mm: f64 = slide.resolution().mm(),
        /// Dead zones at both ends, mm.
        dead_zones_mm: [f64; 2] = slide.dead_zones().map(|zone| zone.mm()),
        /// What it is judged by.
        limits: LimitsRecord = LimitsRecord::of(&slide.limits),
        /// From the first to the last place, or around.
        places: Vec<PlaceRecord> = all(&slide.places, PlaceRecord::of),
        /// What it took and how exact it is.
        #[serde(flatten)]
        work: WorkRecord =
            WorkRecord::of(slide.work.field_problems, slide.work.accuracy_reached, &slide.work.missed),
    }

    /// What a slider is judged by.
    pub struct LimitsRecord(limits: &SliderLimits) {
        /// Largest deviation, mm.
        deviation_mm: f64 = limits.deviation.value.mm(),
        /// Largest ripple of the total, relative.
        ripple: f64 = limits.ripple.value,
        /// Longest dead zone, mm.
        dead_zone_mm: f64 = limits.dead_zone.value.mm(),
    }

    /// One place of the finger.
    pub struct PlaceRecord(place: &SlidePlace) {
        /// True position along the course, from its middle or, around a wheel, from the first segment, mm.
        position_mm: f64 = place.position.mm(),
        /// Position that the segments tell, mm.
        estimate_mm: f64 = place.estimate.mm(),
        /// Its numerical error, mm.
        estimate_error_mm: f64 = place.estimate_error.mm(),
        /// Counts of all segments together.
        total_counts: f64 = place.total_counts,
        /// Standard deviation of the estimate by the noise of the counts, mm.
        resolution_mm: f64 = place.resolution.mm(),
    }
}

fn by_pad(panel: &Panel, counts: &[Vec<Option<PlaceCounts>>]) -> Vec<PadRecord> {
    let pads = panel.pads.iter().zip(counts);
    pads.map(|(pad, counts)| PadRecord::of(&pad.name, counts))
        .collect()
}

fn millimetres(lengths: &[Length]) -> Vec<f64> {
    lengths.iter().map(|length| length.mm()).collect()
}
