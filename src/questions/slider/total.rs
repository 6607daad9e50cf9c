//! Counts of all segments together.

use super::places::Standing;
use super::worst::{One, Totals};
use crate::event::{
    Cause, FieldEnds, InputEnds, PadField, Shown, Worst, count, field_varies, linear_drift,
    return_path, signed, sizes, touched,
};
use crate::panel::{Panel, ReturnPath, Slider};
use crate::questions::walk::{segments, stroke};
use crate::sensitivity::PanelFamily;
use crate::touch::{
    PadTouch, SolvedChange, Surrounding, TouchError, TouchPlace, Touches, WorkLimits,
};
use padfield_engine::units::{Capacitance, Length};

/// Counts of all segments of one event, towards a touch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Total {
    /// At nominal values \[counts\].
    pub mean: f64,
    /// Smallest and largest over the input tolerances \[counts\].
    pub input_range: [f64; 2],
    /// On the units that are worst for what must be reported and for what must not.
    pub worst: [Worst; 2],
    /// Estimated numerical error \[counts\].
    pub numerical_error: f64,
    /// Noise \[counts rms\].
    pub noise: f64,
}

impl Total {
    /// Unfavourable end of everything: the lowest of what must be reported, the highest of what must not.
    pub fn bound(&self, must_report: bool, noise_margin: f64) -> f64 {
        let worst = &self.worst[usize::from(!must_report)];
        let bad = worst.badness(must_report, noise_margin) + self.numerical_error;
        match must_report {
            true => -bad,
            false => bad,
        }
    }

    /// The same with every input at its nominal value.
    pub(super) fn nominal_bound(&self, must_report: bool, noise_margin: f64) -> f64 {
        let here = Worst {
            mean: self.mean,
            noise: self.noise,
        };
        let nominal = Self {
            worst: [here; 2],
            ..*self
        };
        nominal.bound(must_report, noise_margin)
    }
}

#[derive(Clone, Debug, PartialEq)]
pub enum TotalCause {
    /// A user on the slider.
    Stroke {
        user: String,
        supply: String,
        /// Place along the stroke, as in [`crate::questions::walk::SlidePlace::position`].
        along: Length,
        /// Off its line.
        across: Length,
    },
    /// A user on a pad beside it, the aim error towards it.
    Beside {
        user: String,
        supply: String,
        pad: String,
        /// How far off its centre.
        off: Length,
    },
    /// A palm that leans beside it.
    Palm {
        user: String,
        supply: String,
        /// Its middle, from the middle of the slider.
        offset: [Length; 2],
    },
    /// A user on the trace of a segment.
    Trace {
        user: String,
        supply: String,
        trace: String,
    },
    /// Nobody touches; the counts are noisy.
    Noise,
    /// What baseline tracking leaves of the drift.
    Drift,
    /// The surroundings change; nobody touches.
    Surrounding(Surrounding, String),
}

/// A total with what it is and how it is judged.
#[derive(Clone, Debug, PartialEq)]
pub struct TotalEvent {
    pub cause: TotalCause,
    /// Whether a position must be reported.
    pub must_report: bool,
    /// Its counts.
    pub total: Total,
    /// Unfavourable end of everything \[counts\].
    pub bound: f64,
}

/// Makes totals of what the segments see.
pub(super) struct Counter<'p> {
    panel: &'p Panel,
    /// The panel with what of it can move.
    family: PanelFamily,
    members: Vec<usize>,
    positions: Vec<Length>,
}

impl<'p> Counter<'p> {
    pub fn new(panel: &'p Panel, slider: &Slider) -> Self {
        Self {
            panel,
            family: PanelFamily::of_panel(panel),
            members: segments(panel, slider),
            positions: stroke(panel, slider).positions,
        }
    }

    /// Every standing on every supply.
    pub fn of_touches(
        &self,
        touches: &Touches,
        standing: &[Standing],
    ) -> Result<Totals, TouchError> {
        let inputs = InputEnds::new(&self.family);
        let mut all = Vec::new();
        for supply in 0..self.panel.usage.supplies.value.len() {
            for (index, one) in standing.iter().enumerate() {
                let seen = touches.seen(index, return_path(self.panel, Some(supply)))?;
                let shown = touches.pads(index)?;
                let own = self.members.iter().filter_map(|&pad| seen.shifts[pad]);
                all.push(One {
                    standing: one.clone(),
                    supply,
                    shift: Capacitance::from_farads(own.map(|shift| shift.value).sum()),
                    total: self.changed(&inputs, Some(supply), &|pad| {
                        let (base, shift) = (seen.bases[pad]?.estimate, seen.shifts[pad]?);
                        Some((shown[pad]?, [base.error, shift.error]))
                    }),
                });
            }
        }
        Ok(Totals::new(self.panel, &self.positions, all))
    }

    /// The total of a touch or a change of the surroundings, from what every segment shows of it with the
    /// errors of base and shift: the one place where they become counts. All segments have the same inputs,
    /// so that the range is that of their sum.
    fn changed(
        &self,
        inputs: &InputEnds<'_>,
        supply: Option<usize>,
        shown: &dyn Fn(usize) -> Option<(PadTouch, [f64; 2])>,
    ) -> Total {
        let own: Vec<(usize, PadTouch, [f64; 2])> = self
            .members
            .iter()
            .filter_map(|&pad| shown(pad).map(|(touch, errors)| (pad, touch, errors)))
            .collect();
        let on = |panel: &Panel, pad: usize, touch: &PadTouch| {
            let supply = supply.and_then(|index| panel.usage.supplies.value.get(index));
            touched(panel, pad, supply, touch)
        };
        // Segments are measured one after the other: their noise adds up as squares.
        let unit = |panel: &Panel| {
            let each = own.iter().map(|(pad, touch, _)| on(panel, *pad, touch));
            each.fold(Worst::default(), |sum, counted| Worst {
                mean: sum.mean + counted.mean,
                noise: sum.noise.hypot(counted.noise),
            })
        };
        let margin = self.panel.usage.noise_margin.value;
        let worst =
            |must_report: bool| inputs.worst(&unit, &|found| found.badness(must_report, margin));
        let path = return_path(self.panel, supply);
        let circuit = &self.panel.electronics.circuit;
        let error = |(pad, touch, errors): &(usize, PadTouch, [f64; 2])| {
            let [base_error, shift_error] = errors.map(Capacitance::from_farads);
            let base = self.at_pin(*pad, touch.base);
            circuit.count_error(base, touch.shift(path), base_error, shift_error)
        };
        let Worst { mean, noise } = unit(self.panel);
        Total {
            mean,
            input_range: inputs.range(&|panel| unit(panel).mean),
            worst: [true, false].map(worst),
            numerical_error: own.iter().map(error).sum(),
            noise,
        }
    }

    /// By which factors layers at the ends of their tolerances move the total of a place, and the field problems
    /// that took; none without tolerances.
    pub fn over_layers(
        &self,
        place: &TouchPlace,
        supply: usize,
        limits: &WorkLimits<'_>,
    ) -> Result<Option<([f64; 2], FieldEnds)>, TouchError> {
        if !field_varies(&self.family) {
            return Ok(None);
        }
        let panel = self.panel;
        let on = panel.usage.supplies.value.get(supply);
        let total = |shown: &Shown| -> f64 {
            let own = self.members.iter();
            own.filter_map(|&pad| Some(touched(panel, pad, on, &shown[pad]?).mean))
                .sum()
        };
        // Of all segments the one the finger is nearest to says how far the ends are.
        let at = [0, 1].map(|axis| panel.pads[place.pad].centre[axis] + place.finger.offset[axis]);
        let off = |pad: usize| {
            let [x, y] = [0, 1].map(|axis| (panel.pads[pad].centre[axis] - at[axis]).metres());
            x.hypot(y)
        };
        let nearest = self.members.iter().copied();
        let Some(nearest) = nearest.min_by(|&a, &b| off(a).total_cmp(&off(b))) else {
            return Ok(None);
        };
        let ends = FieldEnds::solve_for(
            &self.family,
            place,
            (nearest, Some(&self.members)),
            None,
            &total,
            limits,
        )?;
        Ok(ends.map(|ends| {
            let nominal = total(&ends.corners.nominal());
            let factors = ends.corners.extremes(&total);
            (factors.map(|shown| total(&shown) / nominal), ends)
        }))
    }

    fn at_pin(&self, pad: usize, farads: f64) -> Capacitance {
        let stray = self.panel.stray.of(&self.panel.pads[pad]);
        stray.at_pin(Capacitance::from_farads(farads)).nominal
    }

    /// What nobody touches for: noise, drift, changes of the surroundings. The untouched segments are those of the
    /// first touch.
    pub fn quiet(
        &self,
        touches: &Touches,
        changes: &[SolvedChange],
    ) -> Result<Vec<(TotalCause, Total)>, TouchError> {
        let mut events = Vec::new();
        if touches.is_empty() {
            return Ok(events);
        }
        let panel = self.panel;
        let inputs = InputEnds::new(&self.family);
        let seen = touches.seen(0, ReturnPath::Earthed)?;
        let fields: Vec<(usize, PadField)> = self
            .members
            .iter()
            .filter_map(|&pad| {
                let linear = linear_drift(panel, &seen, pad)?;
                let (base, by_layer) = (linear.base, linear.base_by_layer);
                Some((pad, PadField::Quiet { base, by_layer }))
            })
            .collect();
        let noise =
            |(pad, field): &(usize, PadField)| count(panel, &Cause::Noise, *pad, None, field).noise;
        let noise = fields.iter().map(noise).fold(0.0, f64::hypot);
        let silent = |mean: f64, input_range: [f64; 2]| Total {
            mean,
            input_range,
            worst: input_range.map(|mean| Worst { mean, noise }),
            numerical_error: 0.0,
            noise,
        };
        events.push((TotalCause::Noise, silent(0.0, [0.0; 2])));
        if panel.usage.drift_residue.is_some() || panel.environment.climate.is_given {
            let drift = |panel: &Panel| {
                let each = fields.iter();
                each.map(|(pad, field)| signed(panel, &Cause::Drift, *pad, None, field).mean)
                    .sum()
            };
            let nominal: f64 = drift(panel);
            let range = sizes(inputs.range(&drift));
            events.push((TotalCause::Drift, silent(nominal.abs(), range)));
        }
        for change in changes {
            let steps = change.steps()?;
            let before = change.seen(ReturnPath::Earthed)?;
            let hangs_on_body = steps.iter().any(|step| step.drawn != 0.0);
            let supplies: Vec<Option<usize>> = match hangs_on_body {
                true => (0..panel.usage.supplies.value.len()).map(Some).collect(),
                false => vec![None],
            };
            for supply in supplies {
                let total = self.changed(&inputs, supply, &|pad| {
                    let slot = before.pads.iter().position(|other| *other == pad)?;
                    let errors = [before.before[slot].error, before.changes[slot].error];
                    Some((steps[slot], errors))
                });
                let cause = TotalCause::Surrounding(before.kind, before.name.clone());
                events.push((cause, total));
            }
        }
        Ok(events)
    }
}
