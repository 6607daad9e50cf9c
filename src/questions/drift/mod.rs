//! Drift: how far the baseline drifts with temperature, moisture and age, and what firmware must do about it.
//!
//! Takes a panel with its climate, a finger and what is known of its layers; gives a [`Drift`]: per pad the
//! drift in pF and counts at both ends of the climate, by layer, the same for the touch shift and the
//! neighbour's, the tracking rate and what a held finger loses at it, what a reference channel leaves;
//! fails when a touch cannot be solved.
//!
//! - **Drift**: `dC = sum over layers of C S_m a_m dT`, S_m the share of the field energy in layer m, which
//!   is `d ln C/d ln permittivity` exactly: no extra solve. For a shift, shares of touched minus untouched.
//!   Linear in dT; [`check`] solves both ends again.
//! - **Counts**: to first order, `drift x counts per farad`, plus what temperature does to the circuit.
//! - **Intervals** are those of the coefficients, every one at its unfavourable end at once: input
//!   tolerance. The estimated numerical error is kept apart.
//! - Not included: thermal expansion, films, gloves, water in slots, what has no figure.

mod check;
mod checks;
mod compute;
mod picture;
mod record;
mod report;
mod words;

pub use crate::event::{LinearDrift, LinearPart, Spread, linear_drift};
pub use check::{CheckedEnd, check};
pub use compute::drift;
pub use picture::picture;
pub use record::DriftRecord;
pub use report::report;

use crate::panel::Climate;
use padfield_engine::field::Printed;
use padfield_engine::units::{Capacitance, Time};

/// Baseline tracking over drift rate: common practice, no source.
pub const TRACKING_OVER_DRIFT: f64 = 2.0;
/// Largest share of its shift that a held finger may lose to tracking: common practice, no source.
pub const LARGEST_LOSS: f64 = 0.2;
/// Threshold over the touch of the finger, where nobody says a threshold: common practice, no source.
pub const USUAL_THRESHOLD_SHARE: f64 = 0.5;
/// A reference channel is worth it when it leaves at most this share of the drift: a choice made here.
pub const WORTHWHILE_SHARE: f64 = 0.5;

#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Question<'q> {
    /// The finger; none: the first of the file.
    pub finger: Option<&'q str>,
    /// Threshold \[counts\]; none: half the touch of the finger.
    pub threshold: Option<f64>,
}

/// Coefficients of a layer as they are used; none: no figure, not counted.
#[derive(Clone, Debug, PartialEq)]
pub struct LayerDrift {
    pub name: String,
    pub material: String,
    /// Relative change per kelvin \[1/K\], and its source.
    pub per_k: Option<(Spread, String)>,
    /// Relative rise from dry to damp, and its source.
    pub moisture: Option<(Spread, String)>,
    /// Relative change over its life, and its source.
    pub ageing: Option<(Spread, String)>,
}

/// Part of a drift over the climate, cold to hot.
#[derive(Clone, Debug, PartialEq)]
pub struct WalkPart {
    /// Layer, or "circuit".
    pub name: String,
    /// Share of the field energy in it; none for the circuit.
    pub share: Option<f64>,
    /// From the lowest to the highest temperature \[counts\].
    pub counts: Spread,
}

/// A pad at one end of the climate, against the reference temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    /// Temperature \[degrees Celsius\].
    pub celsius: f64,
    /// Drift of the base \[F\].
    pub base: Spread,
    /// Drift of the baseline \[counts towards a touch\].
    pub counts: Spread,
    /// Change of the touch shift \[F\].
    pub shift: Spread,
    /// The touch there \[counts\].
    pub count_shift: Spread,
    /// Change of the neighbour's shift \[F\]; none without a neighbour.
    pub neighbour: Option<Spread>,
}

/// What the difference to an untouched pad leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceChannel {
    /// The pad of the panel that is the best reference.
    pub pad: String,
    /// Drift from cold to hot that is left \[counts\].
    pub left: Spread,
    /// Its largest size over the largest size of the drift.
    pub share: f64,
}

impl ReferenceChannel {
    /// Whether it leaves little enough.
    pub fn is_worth_it(&self) -> bool {
        self.share <= WORTHWHILE_SHARE
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct PadDrift {
    /// Panel index.
    pub pad: usize,
    pub name: String,
    /// Field part of the base, untouched \[F\].
    pub base: f64,
    /// Its estimated numerical error \[F\].
    pub base_error: f64,
    pub base_at_pin: Capacitance,
    pub base_count: f64,
    /// Touch shift \[F\].
    pub shift: f64,
    /// Count shift of the touch \[counts\].
    pub count_shift: f64,
    /// Its estimated numerical error \[counts\].
    pub count_shift_error: f64,
    /// Pad with the largest neighbour shift, and that shift \[F\].
    pub neighbour: Option<(String, f64)>,
    /// Threshold that the drift is compared with \[counts\].
    pub threshold: f64,
    /// The parts, layers first.
    pub parts: Vec<WalkPart>,
    /// Cold and hot end.
    pub ends: [End; 2],
    /// Drift from cold to hot \[counts\].
    pub over_range: Spread,
    /// Its estimated numerical error \[counts\].
    pub numerical_error: f64,
    /// Rise from dry to damp \[counts\]; none where the climate is dry.
    pub moisture: Option<Spread>,
    /// Change over the life \[counts\].
    pub ageing: Spread,
    /// Fastest drift \[counts per second\], largest over the coefficients.
    pub rate: f64,
    /// Share of its shift that a held finger loses at the tracking rate.
    pub loss: f64,
    /// The best reference channel; none on a panel with one pad.
    pub reference: Option<ReferenceChannel>,
}

impl PadDrift {
    /// Largest size of the drift over the climate \[counts\].
    pub fn largest_drift(&self) -> f64 {
        self.over_range.largest_size()
    }

    pub fn over_threshold(&self) -> f64 {
        self.largest_drift() / self.threshold
    }

    /// Needed tracking rate \[counts per second\].
    pub fn tracking(&self) -> f64 {
        TRACKING_OVER_DRIFT * self.rate
    }

    /// Whether a held finger keeps enough of its shift.
    pub fn loss_is_small(&self) -> bool {
        self.loss <= LARGEST_LOSS
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    pub climate: Climate,
    pub finger: String,
    /// Whether the threshold was said.
    pub threshold_is_given: bool,
    /// Coefficients by layer, from the touched face.
    pub layers: Vec<LayerDrift>,
    /// The pads; segments of sliders are not among them.
    pub pads: Vec<PadDrift>,
    pub assumptions: Vec<String>,
    /// What is not included or low in confidence.
    pub warnings: Vec<String>,
    /// Field problems solved, each untouched and touched.
    pub field_problems: usize,
    /// Fineness of the grid, for solving the ends again.
    pub fineness: Option<f64>,
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

impl Drift {
    /// The pad whose drift is the largest over its threshold; of equal ones the first.
    pub fn worst(&self) -> Option<&PadDrift> {
        let pads = self.pads.iter().rev();
        pads.max_by(|a, b| a.over_threshold().total_cmp(&b.over_threshold()))
    }

    /// How long a finger is held.
    pub fn held(&self) -> Time {
        self.climate.held.value
    }
}
