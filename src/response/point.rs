//! The response as the numbers of one point of a study.

use super::answer::{Estimated, PadResponse, Response, Subject, Touch};
use super::counts::TouchCounts;
use crate::measuring_circuit::CountShift;
use crate::study::{HandValue, PadValues, PointValues, Reported};

/// Every quantity of every pad in the units of [`crate::study::QuantityKind::unit`].
pub fn point_values(response: &Response) -> PointValues {
    PointValues {
        pads: response
            .pads
            .iter()
            .map(|pad| {
                let counts = response.counts.pad(&pad.name);
                pad_values(pad, counts.and_then(|counts| counts.touch.as_ref()))
            })
            .collect(),
        is_reduced: false,
    }
}

fn estimate(value: f64, error: f64) -> Reported {
    Reported {
        value,
        error,
        lower: None,
        upper: None,
        guaranteed: false,
    }
}

fn picofarads(estimated: Estimated) -> Reported {
    estimate(estimated.value.pf(), estimated.error.pf())
}

fn counts(shift: CountShift) -> Reported {
    estimate(shift.value, shift.error)
}

fn pad_values(pad: &PadResponse, in_counts: Option<&TouchCounts>) -> PadValues {
    let touch = pad.touch.as_ref();
    let worst = touch.and_then(Touch::worst_neighbour);
    PadValues {
        pad: pad.name.clone(),
        base_capacitance: pad.base.map(|base| Reported {
            lower: Some(base.bounds[0].pf()),
            upper: Some(base.bounds[1].pf()),
            guaranteed: base.bounds_are_guaranteed,
            ..picofarads(base.computed)
        }),
        touch_shift: touch.map(|touch| picofarads(touch.shift)),
        relative_touch_shift: touch
            .map(|touch| estimate(100.0 * touch.relative.value, 100.0 * touch.relative.error)),
        neighbour_shift: worst.map(|worst| picofarads(worst.shift)),
        neighbour_ratio: worst.map(|w| estimate(100.0 * w.ratio, 100.0 * w.ratio_error)),
        count_shift: in_counts.map(|touch| counts(touch.shift)),
        neighbour_count_shift: in_counts
            .and_then(TouchCounts::worst_neighbour)
            .map(|worst| counts(worst.shift)),
        signal_to_noise: in_counts
            .map(|touch| estimate(touch.signal_to_noise, touch.signal_to_noise_error)),
        worst_neighbour: worst.map(|worst| worst.pad.clone()),
        hand_estimates: touch
            .into_iter()
            .flat_map(|touch| &touch.estimates)
            .map(|estimate| HandValue {
                name: estimate.name.to_owned(),
                of_base: estimate.subject == Subject::Base,
                value_pf: estimate.value.pf(),
            })
            .collect(),
    }
}
