//! Totals of all places: which are the worst, and the threshold between them.

use super::SliderDecision;
use super::places::Standing;
use super::total::{Total, TotalCause, TotalEvent};
use crate::event::Worst;
use crate::panel::Panel;
use crate::questions::window::{ratio as window_ratio, threshold_between};
use padfield_engine::units::{Capacitance, Length};

/// The total of a place on a supply.
pub(super) struct One {
    pub standing: Standing,
    /// Index of the supply.
    pub supply: usize,
    pub total: Total,
    /// What it shifts the capacitances of all segments by.
    pub shift: Capacitance,
}

/// Totals of touches.
pub(super) struct Totals {
    all: Vec<One>,
    noise_margin: f64,
    /// Smallest and largest factor by which layers at the ends of their tolerances move true and false totals.
    factors: [[f64; 2]; 2],
    positions: Vec<Length>,
}

impl Totals {
    pub fn new(panel: &Panel, positions: &[Length], all: Vec<One>) -> Self {
        Self {
            all,
            noise_margin: panel.usage.noise_margin.value,
            factors: [[1.0; 2]; 2],
            positions: positions.to_vec(),
        }
    }

    /// A total with the layers at their ends.
    fn over_layers(&self, one: &One) -> Total {
        let [low, high] = self.factors[usize::from(!one.standing.must_report())];
        let spread = |counts: f64, toward: f64, away: f64| {
            counts * if counts >= 0.0 { toward } else { away }
        };
        let [least, most] = one.total.input_range;
        let [few, many] = one.total.worst;
        Total {
            input_range: [spread(least, low, high), spread(most, high, low)],
            // What comes through the finger grows with the layers as the counts do; that it shrinks is not counted on.
            worst: [
                Worst {
                    mean: spread(few.mean, low, high),
                    ..few
                },
                Worst {
                    mean: spread(many.mean, high, low),
                    noise: many.noise * high.max(1.0),
                },
            ],
            ..one.total
        }
    }

    fn bound(&self, one: &One) -> f64 {
        let must_report = one.standing.must_report();
        self.over_layers(one).bound(must_report, self.noise_margin)
    }

    /// The standing with the lowest bound of those that fit, and its supply.
    pub fn lowest(&self, fits: impl Fn(&Standing) -> bool) -> Option<(Standing, usize)> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let lowest = fitting.min_by(|a, b| self.bound(a).total_cmp(&self.bound(b)));
        lowest.map(|one| (one.standing.clone(), one.supply))
    }

    /// The standing with the highest bound of those that fit, and its supply.
    pub fn highest(&self, fits: impl Fn(&Standing) -> bool) -> Option<(Standing, usize)> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let highest = fitting.max_by(|a, b| self.bound(a).total_cmp(&self.bound(b)));
        highest.map(|one| (one.standing.clone(), one.supply))
    }

    /// The standing with the least shift of all segments, or with the most, of those that fit. Nothing but the field
    /// decides on it, so that other places are not looked at, and solved, for another circuit or margin.
    pub fn least_shift(&self, fits: impl Fn(&Standing) -> bool) -> Option<&Standing> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let least = fitting.min_by(|a, b| a.shift.farads().total_cmp(&b.shift.farads()));
        least.map(|one| &one.standing)
    }

    /// See [`Totals::least_shift`].
    pub fn most_shift(&self, fits: impl Fn(&Standing) -> bool) -> Option<&Standing> {
        let fitting = self.all.iter().filter(|one| fits(&one.standing));
        let most = fitting.max_by(|a, b| a.shift.farads().total_cmp(&b.shift.farads()));
        most.map(|one| &one.standing)
    }

    pub fn extend(&mut self, more: Self) {
        self.all.extend(more.all);
    }

    /// Widens the range of true or false totals by what the layers at an end make of one of them.
    pub fn widen(&mut self, must_report: bool, factor: f64) {
        if factor.is_finite() && factor > 0.0 {
            let range = &mut self.factors[usize::from(!must_report)];
            *range = [range[0].min(factor), range[1].max(factor)];
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
        centre: [Length; 2],
        quiet: Vec<(TotalCause, Total)>,
    ) -> (Option<f64>, SliderDecision) {
        let mut worst: indexmap::IndexMap<(u8, String, usize), &One> = indexmap::IndexMap::new();
        for one in &self.all {
            let must_report = one.standing.must_report();
            let key = (
                kind(&one.standing),
                user(&one.standing).to_owned(),
                one.supply,
            );
            let known = worst.entry(key).or_insert(one);
            let is_worse = match must_report {
                true => self.bound(one) < self.bound(known),
                false => self.bound(one) > self.bound(known),
            };
            if is_worse {
                *known = one;
            }
        }
        let touched = worst.into_values().map(|one| {
            let must_report = one.standing.must_report();
            let cause = self.cause(panel, centre, one);
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

    fn cause(&self, panel: &Panel, centre: [Length; 2], one: &One) -> TotalCause {
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
            Standing::Palm { finger, at } => TotalCause::Palm {
                user: finger.name.clone(),
                supply,
                offset: [0, 1].map(|axis| at[axis] - centre[axis]),
            },
            Standing::Trace { finger, trace, .. } => TotalCause::Trace {
                user: finger.name.clone(),
                supply,
                trace: panel.traces[*trace].name.clone(),
            },
        }
    }
}

fn user(standing: &Standing) -> &str {
    match standing {
        Standing::Stroke { finger, .. }
        | Standing::Beside { finger, .. }
        | Standing::Palm { finger, .. }
        | Standing::Trace { finger, .. } => &finger.name,
    }
}

/// What is told apart in the list of totals.
fn kind(standing: &Standing) -> u8 {
    match standing {
        Standing::Stroke { .. } => 0,
        Standing::Beside { .. } => 1,
        Standing::Palm { .. } => 2,
        Standing::Trace { .. } => 3,
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
