//! Counts of all segments together.

use super::SliderDecision;
use super::places::Standing;
use crate::event::{
    Cause, InputEnds, PadField, count, linear_drift, return_path, signed, sizes, touched,
};
use crate::panel::{Panel, ReturnPath, Slider};
use crate::sensitivity::PanelFamily;
use crate::touch::{PadTouch, SolvedChange, Surrounding, TouchError, Touches};
use crate::units::{Capacitance, Length};
use crate::window::{ratio as window_ratio, threshold_between};

/// Counts of all segments of one event, towards a touch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Total {
    /// At nominal values \[counts\].
    pub mean: f64,
    /// Smallest and largest over the input tolerances \[counts\].
    pub input_range: [f64; 2],
    /// Estimated numerical error \[counts\].
    pub numerical_error: f64,
    /// Noise \[counts rms\].
    pub noise: f64,
}

impl Total {
    /// Unfavourable end of everything: the lowest of what must be reported, the highest of what must not.
    pub fn bound(&self, must_report: bool, noise_margin: f64) -> f64 {
        let margin = self.numerical_error + noise_margin * self.noise;
        match must_report {
            true => self.input_range[0] - margin,
            false => self.input_range[1] + margin,
        }
    }

    /// The same with every input at its nominal value.
    fn nominal_bound(&self, must_report: bool, noise_margin: f64) -> f64 {
        let nominal = Self {
            input_range: [self.mean; 2],
            ..*self
        };
        nominal.bound(must_report, noise_margin)
    }
}

/// What happens.
#[derive(Clone, Debug, PartialEq)]
pub enum TotalCause {
    /// A user on the slider.
    Stroke {
        /// The user.
        user: String,
        /// The supply of the device.
        supply: String,
        /// Place along the stroke, as in [`crate::walk::SlidePlace::position`].
        along: Length,
        /// Off its line.
        across: Length,
    },
    /// A user on a pad beside it, the aim error towards it.
    Beside {
        /// The user.
        user: String,
        /// The supply of the device.
        supply: String,
        /// Name of the pad.
        pad: String,
        /// How far off its centre.
        off: Length,
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
    /// What happens.
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

struct One {
    standing: Standing,
    /// Index of the supply.
    supply: usize,
    total: Total,
}

/// Totals of touches.
pub(super) struct Totals {
    all: Vec<One>,
    noise_margin: f64,
    /// Smallest and largest factor by which layers at the ends of their tolerances move true and false totals.
    factors: [[f64; 2]; 2],
    positions: Vec<Length>,
}

impl<'p> Counter<'p> {
    pub fn new(panel: &'p Panel, slider: &Slider) -> Self {
        let own = |pad: &usize| panel.pads[*pad].group == slider.group;
        Self {
            panel,
            family: PanelFamily::of_panel(panel),
            members: (0..panel.pads.len()).filter(own).collect(),
            positions: crate::walk::stroke(panel, slider).positions,
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
                all.push(One {
                    standing: one.clone(),
                    supply,
                    total: self.changed(&inputs, Some(supply), &|pad| {
                        let (base, shift) = (seen.bases[pad]?.estimate, seen.shifts[pad]?);
                        Some((shown[pad]?, [base.error, shift.error]))
                    }),
                });
            }
        }
        Ok(Totals {
            all,
            noise_margin: self.panel.usage.noise_margin.value,
            factors: [[1.0; 2]; 2],
            positions: self.positions.clone(),
        })
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
        let sum = |panel: &Panel| {
            own.iter()
                .map(|(pad, touch, _)| on(panel, *pad, touch).mean)
                .sum()
        };
        let path = return_path(self.panel, supply);
        let circuit = &self.panel.electronics.circuit;
        let error = |(pad, touch, errors): &(usize, PadTouch, [f64; 2])| {
            let [base_error, shift_error] = errors.map(Capacitance::from_farads);
            let base = self.at_pin(*pad, touch.base);
            circuit.count_error(base, touch.shift(path), base_error, shift_error)
        };
        Total {
            mean: sum(self.panel),
            input_range: inputs.range(&sum),
            numerical_error: own.iter().map(error).sum(),
            noise: own
                .iter()
                .map(|(pad, touch, _)| on(self.panel, *pad, touch).noise)
                .fold(0.0, f64::hypot),
        }
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
            numerical_error: 0.0,
            noise,
        };
        events.push((TotalCause::Noise, silent(0.0, [0.0; 2])));
        if panel.usage.drift_residue.is_some() || panel.environment.climate.is_given {
            let drift = |panel: &Panel| {
                let each = fields.iter();
                each.map(|(pad, field)| signed(panel, &Cause::Drift, *pad, None, field))
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

impl Totals {
    fn must_report(standing: &Standing) -> bool {
        matches!(standing, Standing::Stroke { .. })
    }

    /// A total with the layers at their ends.
    fn over_layers(&self, one: &One) -> Total {
        let [low, high] = self.factors[usize::from(!Self::must_report(&one.standing))];
        let spread = |counts: f64, toward: f64, away: f64| {
            counts * if counts >= 0.0 { toward } else { away }
        };
        let [least, most] = one.total.input_range;
        Total {
            input_range: [spread(least, low, high), spread(most, high, low)],
            ..one.total
        }
    }

    fn bound(&self, one: &One) -> f64 {
        let must_report = Self::must_report(&one.standing);
        self.over_layers(one).bound(must_report, self.noise_margin)
    }

    /// The standing with the lowest bound of those that fit.
    pub fn lowest(&self, fits: impl Fn(&Standing) -> bool) -> Option<Standing> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let lowest = fitting.min_by(|a, b| self.bound(a).total_cmp(&self.bound(b)));
        lowest.map(|one| one.standing.clone())
    }

    /// The standing with the highest bound of those that fit.
    pub fn highest(&self, fits: impl Fn(&Standing) -> bool) -> Option<Standing> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let highest = fitting.max_by(|a, b| self.bound(a).total_cmp(&self.bound(b)));
        highest.map(|one| one.standing.clone())
    }

    pub fn extend(&mut self, more: Self) {
        self.all.extend(more.all);
    }

    /// Widens the range of true and false totals by what the same standings are with the layers at an end.
    pub fn widen(&mut self, at_end: &Self) {
        for end in &at_end.all {
            let same = |one: &&One| one.supply == end.supply && one.standing == end.standing;
            let Some(own) = self.all.iter().find(same) else {
                continue;
            };
            let factor = end.total.mean / own.total.mean;
            if factor.is_finite() && factor > 0.0 {
                let range = &mut self.factors[usize::from(!Self::must_report(&end.standing))];
                *range = [range[0].min(factor), range[1].max(factor)];
            }
        }
    }

    /// Lowest bound over all supplies at every place of a walker's stroke.
    pub fn lowest_bounds(&self, number: usize) -> Vec<f64> {
        let mut lowest = vec![f64::INFINITY; self.positions.len()];
        for one in &self.all {
            if let Standing::Stroke {
                walker,
                place,
                across,
                ..
            } = &one.standing
                && *walker == number
                && across.metres() == 0.0
            {
                lowest[*place] = lowest[*place].min(self.bound(one));
            }
        }
        lowest
    }

    /// The decision without its strokes, with the worst total of every user and supply.
    pub fn decide(
        &self,
        panel: &Panel,
        quiet: Vec<(TotalCause, Total)>,
    ) -> (Option<f64>, SliderDecision) {
        let mut worst: indexmap::IndexMap<(bool, String, usize), &One> = indexmap::IndexMap::new();
        for one in &self.all {
            let must_report = Self::must_report(&one.standing);
            let key = (must_report, user(&one.standing).to_owned(), one.supply);
            let known = worst.entry(key).or_insert(one);
            let is_worse = match must_report {
                true => self.bound(one) < self.bound(known),
                false => self.bound(one) > self.bound(known),
            };
            if is_worse {
                *known = one;
            }
        }
        let touched = worst.into_iter().map(|((must_report, ..), one)| {
            let cause = self.cause(panel, one);
            (cause, must_report, self.over_layers(one))
        });
        let untouched = quiet
            .into_iter()
            .map(|(cause, total)| (cause, false, total));
        let events: Vec<TotalEvent> = touched
            .chain(untouched)
            .map(|(cause, must_report, total)| TotalEvent {
                bound: total.bound(must_report, self.noise_margin),
                cause,
                must_report,
                total,
            })
            .collect();
        decided(panel, events)
    }

    fn cause(&self, panel: &Panel, one: &One) -> TotalCause {
        let supply = panel.usage.supplies.value[one.supply].name.clone();
        match &one.standing {
            Standing::Stroke {
                finger,
                place,
                across,
                ..
            } => TotalCause::Stroke {
                user: finger.name.clone(),
                supply,
                along: self.positions[*place],
                across: *across,
            },
            Standing::Beside { finger, pad } => TotalCause::Beside {
                user: finger.name.clone(),
                supply,
                pad: panel.pads[*pad].name.clone(),
                off: finger.aim_error.value,
            },
        }
    }
}

fn user(standing: &Standing) -> &str {
    match standing {
        Standing::Stroke { finger, .. } | Standing::Beside { finger, .. } => &finger.name,
    }
}

/// The threshold between the weakest of what must be reported and the strongest of what must not.
pub(super) fn decided(panel: &Panel, events: Vec<TotalEvent>) -> (Option<f64>, SliderDecision) {
    let usage = &panel.usage;
    let of = |must_report: bool| {
        let all = events.iter().enumerate();
        all.filter(move |(_, event)| event.must_report == must_report)
    };
    let weakest = of(true).min_by(|a, b| a.1.bound.total_cmp(&b.1.bound));
    let strongest = of(false).max_by(|a, b| a.1.bound.total_cmp(&b.1.bound));
    let nominal = |must_report: bool| {
        let margin = usage.noise_margin.value;
        of(must_report).map(move |(_, event)| event.total.nominal_bound(must_report, margin))
    };
    let bounds = weakest.zip(strongest).map(|(w, s)| [w.1.bound, s.1.bound]);
    let ratio = bounds.map_or(0.0, |[low, high]| window_ratio(low, high));
    let nominal_ratio = window_ratio(
        nominal(true).fold(f64::INFINITY, f64::min),
        nominal(false).fold(0.0, f64::max),
    );
    let threshold = bounds
        .filter(|_| ratio > 1.0)
        .map(|[weakest, strongest]| threshold_between(strongest, weakest));
    let decision = SliderDecision {
        group: String::new(),
        weakest_true: weakest.map(|one| one.0),
        strongest_false: strongest.map(|one| one.0),
        ratio,
        nominal_ratio,
        wanted_ratio: usage.wanted_ratio.value,
        threshold,
        release: threshold.map(|threshold| threshold * usage.release_share.value),
        strokes: Vec::new(),
        reports: Vec::new(),
        not_judged: Vec::new(),
        field_problems: 0,
        accuracy_asked: 0.0,
        accuracy_reached: true,
        missed: Vec::new(),
        events,
    };
    (threshold, decision)
}
