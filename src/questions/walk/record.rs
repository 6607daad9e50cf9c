//! A stroke as one JSON object.

use super::Slide;
use crate::accuracy::missed_json;
use serde_json::{Value, json};

impl Slide {
    /// Everything about it, lengths in millimetres.
    pub fn to_json(&self) -> Value {
        json!({
            "pads": self.group,
            "finger": self.finger,
            "pitch_mm": self.pitch.mm(),
            "largest_deviation_mm": self.linearity().mm(),
            "ripple": self.ripple(),
            "resolution_mm": self.resolution().mm(),
            "dead_zones_mm": self.dead_zones().map(|zone| zone.mm()),
            "limits": {
                "deviation_mm": self.limits.deviation.value.mm(),
                "ripple": self.limits.ripple.value,
                "dead_zone_mm": self.limits.dead_zone.value.mm(),
            },
            "places": self.places.iter().map(|place| json!({
                "position_mm": place.position.mm(),
                "estimate_mm": place.estimate.mm(),
                "estimate_error_mm": place.estimate_error.mm(),
                "total_counts": place.total_counts,
                "resolution_mm": place.resolution.mm(),
            })).collect::<Vec<_>>(),
            "field_problems": self.work.field_problems,
            "accuracy_reached": self.work.accuracy_reached,
            "accuracy_missed": missed_json(&self.work.missed),
        })
    }
}
