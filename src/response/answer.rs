//! The result types.

use super::counts::Counts;
use crate::panel::{IdleState, Model, Origin};
use crate::rounding::{rounded_up, rounded_with_error};
use crate::touch::Surrounding;
use padfield_engine::field::Printed;
use padfield_engine::units::{Capacitance, Toleranced};

/// Ratios of hand estimate to computed value outside these limits get a warning.
pub const RATIO_LIMITS: [f64; 2] = [0.2, 5.0];

/// A computed capacitance with its estimated numerical error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimated {
    /// The value.
    pub value: Capacitance,
    /// Estimated numerical error, never negative.
    pub error: Capacitance,
}

impl Estimated {
    /// Whether the value cannot be told from zero.
    pub fn is_below_resolution(&self) -> bool {
        self.value.farads().abs() <= self.error.farads()
    }

    /// In pF with its error, or that it cannot be told from zero.
    pub fn shown(&self) -> String {
        if self.is_below_resolution() {
            return format!("below resolution ({})", rounded_up(self.error.pf()));
        }
        rounded_with_error(self.value.pf(), self.error.pf())
    }
}

/// Field part of an untouched pad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseCapacitance {
    /// Value with its estimated error.
    pub computed: Estimated,
    /// Lower and upper bound.
    pub bounds: [Capacitance; 2],
    /// Whether the bounds are mathematically guaranteed for the model: no round outlines, no cut.
    pub bounds_are_guaranteed: bool,
}

/// A capacitance that is entered, not computed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StrayPart {
    /// Value with its input tolerance.
    pub value: Toleranced<Capacitance>,
    /// Given or default.
    pub origin: Origin,
}

/// Share of the untouched base at the pin: shift / base at the pin, 0.1 for 10 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RelativeShift {
    /// At nominal stray capacitance.
    pub value: f64,
    /// Estimated numerical error.
    pub error: f64,
    /// Smallest and largest over the input tolerance of the stray capacitance.
    pub stray_tolerance_range: [f64; 2],
}

/// What the touch does to another pad.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    /// The other pad.
    pub pad: String,
    /// Its own shift.
    pub shift: Estimated,
    /// Its shift over the touched pad's shift, both in pF (0.02 for 2 %).
    pub ratio: f64,
    /// Estimated numerical error of the ratio.
    pub ratio_error: f64,
    /// Smallest and largest ratio over the tolerances of the layers, where these were solved.
    pub ratio_range: [f64; 2],
    /// Its shift over its own untouched base at the pin.
    pub relative: RelativeShift,
}

/// What an estimate stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// Field part of the base capacitance.
    Base,
    /// Touch shift.
    TouchShift,
}

/// A hand estimate beside the computed value.
#[derive(Clone, Debug, PartialEq)]
pub struct HandEstimate {
    /// Name of the formula.
    pub name: &'static str,
    /// What it stands for.
    pub subject: Subject,
    /// The estimate.
    pub value: Capacitance,
    /// Estimate over computed value.
    pub ratio: f64,
    /// Which way it errs, in a few words.
    pub known_bias: &'static str,
    /// Where the formula is a floor, a lower bound of what it estimates: relative estimated error of the computed
    /// value.
    pub floor_below: Option<f64>,
}

impl HandEstimate {
    /// Whether the ratio lies outside [`RATIO_LIMITS`]; a floor is far off only above the computed value, beyond
    /// the bar of that.
    pub fn is_far_off(&self) -> bool {
        match self.floor_below {
            Some(bar) => self.ratio.is_nan() || self.ratio > 1.0 + bar,
            None => !(RATIO_LIMITS[0]..=RATIO_LIMITS[1]).contains(&self.ratio),
        }
    }
}

/// A finger on one pad.
#[derive(Clone, Debug, PartialEq)]
pub struct Touch {
    /// Touch shift of the touched pad.
    pub shift: Estimated,
    /// The same as a share of the base at the pin.
    pub relative: RelativeShift,
    /// All other pads of the field problem, in panel order.
    pub neighbours: Vec<Neighbour>,
    /// Hand estimates of base and touch shift.
    pub estimates: Vec<HandEstimate>,
    /// The pad whose mirror image this touch is, when it was not solved itself.
    pub mirrored_from: Option<String>,
}

impl Touch {
    /// The neighbour with the largest shift; of equal ones the first.
    pub fn worst_neighbour(&self) -> Option<&Neighbour> {
        first_largest(&self.neighbours, |one| one.shift.value.farads())
    }
}

/// Shifts closer than this share of the larger are equal: pads at mirrored places differ by what an iteration leaves.
const EQUAL: f64 = 1e-3;

/// The first of the largest, so that every table names the same one of equal neighbours.
pub(super) fn first_largest<T>(all: &[T], value: impl Fn(&T) -> f64) -> Option<&T> {
    let largest = all.iter().map(&value).fold(f64::NEG_INFINITY, f64::max);
    let least = largest - EQUAL * largest.abs();
    all.iter().find(|one| value(one) >= least)
}

/// One pad.
#[derive(Clone, Debug, PartialEq)]
pub struct PadResponse {
    /// Name.
    pub name: String,
    /// Field part; none when the model does not hold the pad (a section misses it).
    pub base: Option<BaseCapacitance>,
    /// Pin and package.
    pub pin: StrayPart,
    /// Trace: capacitance per length times its length.
    pub trace: StrayPart,
    /// Field part, trace and pin together, with the input tolerance of the stray parts.
    pub base_at_pin: Option<Toleranced<Capacitance>>,
    /// What the driver of every driven shield and guard has to charge while this pad is measured.
    pub driver_loads: Vec<(String, Estimated)>,
    /// The touch, when the finger was put on this pad.
    pub touch: Option<Touch>,
}

/// How the numbers were found.
#[derive(Clone, Debug, PartialEq)]
pub struct Numerics {
    /// Field problems solved: each touch untouched and touched, and the segments of a slider or wheel that
    /// no touch shows untouched.
    pub solves: usize,
    /// Cells of the largest grid, after symmetry.
    pub cells: usize,
    /// Largest fineness M of a touch.
    pub fineness: f64,
    /// Most iterations of any system.
    pub iterations: usize,
    /// Largest relative residual.
    pub residual: f64,
    /// Wall-clock time of all of it \[s\].
    pub seconds: f64,
    /// Accuracy asked for, relative.
    pub accuracy_asked: f64,
    /// Largest estimated relative error of what is printed.
    pub accuracy_estimated: f64,
    /// Whether the accuracy was reached in every field problem.
    pub accuracy_reached: bool,
    /// Printed quantities that missed it.
    pub missed: Vec<Printed>,
}

/// A pad's base before and after its surroundings change, untouched.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseStep {
    /// What changes.
    pub kind: Surrounding,
    /// The film, object or frame.
    pub name: String,
    /// The pad.
    pub pad: String,
    /// Field part of the base before: dry, without the object, with the frame floating.
    pub before: Estimated,
    /// After minus before.
    pub change: Estimated,
}

/// Complete answer for one panel and one finger.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Title of the panel.
    pub title: String,
    /// Name of the finger.
    pub finger: String,
    /// Model.
    pub model: Model,
    /// State of idle pads.
    pub idle: IdleState,
    /// Every pad, in panel order.
    pub pads: Vec<PadResponse>,
    /// Base capacitances before and after each change of the surroundings.
    pub steps: Vec<BaseStep>,
    /// The same in counts of the measuring circuit.
    pub counts: Counts,
    /// What the numbers hang on, one line each.
    pub assumptions: Vec<String>,
    /// Cautions that this panel has and others do not, one line each.
    pub cautions: Vec<String>,
    /// How the numbers were found.
    pub numerics: Numerics,
}

impl Response {
    /// Why a pad has no base, in the words of a table cell.
    pub fn why_no_base(&self) -> &'static str {
        match self.model {
            // Only bases that were not asked for are missing.
            Model::Volume => "not solved",
            Model::Axisymmetric | Model::Section => "not in the cut",
        }
    }
}
