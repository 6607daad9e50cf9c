//! The numbers of one point: every quantity of every pad, each with its error bar.

use super::quantity::{Quantity, QuantityKind};
use serde::{Deserialize, Serialize};

/// A computed value with its error bar, in the unit of its quantity ([`QuantityKind::unit`]).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reported {
    pub value: f64,
    /// Estimated numerical error, never negative.
    pub error: f64,
    /// Lower bound of a base capacitance; other quantities have an estimate only.
    pub lower: Option<f64>,
    /// Upper end of it.
    pub upper: Option<f64>,
    /// Whether the bounds are mathematically guaranteed: no round outlines, no section.
    pub guaranteed: bool,
}

/// A hand estimate beside the computed value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HandValue {
    /// Name of the formula.
    pub name: String,
    /// Whether it stands for the base capacitance; otherwise for the touch shift.
    pub of_base: bool,
    /// The estimate \[pF\].
    pub value_pf: f64,
}

/// Everything about one pad: as the touched pad, its neighbours being the others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PadValues {
    pub pad: String,
    /// Field part of the base capacitance \[pF\].
    pub base_capacitance: Option<Reported>,
    /// Touch shift \[pF\].
    pub touch_shift: Option<Reported>,
    /// Relative touch shift \[%\].
    pub relative_touch_shift: Option<Reported>,
    /// Largest shift of another pad \[pF\].
    pub neighbour_shift: Option<Reported>,
    /// That shift over the touch shift \[%\].
    pub neighbour_ratio: Option<Reported>,
    /// Count shift of the touched pad \[counts\].
    pub count_shift: Option<Reported>,
    /// Largest count shift of another pad \[counts\].
    pub neighbour_count_shift: Option<Reported>,
    /// Count shift over the noise while touched, rms.
    pub signal_to_noise: Option<Reported>,
    /// The other pad with the largest shift.
    pub worst_neighbour: Option<String>,
    /// Hand estimates of base and touch shift.
    pub hand_estimates: Vec<HandValue>,
}

impl PadValues {
    /// One quantity; none when the pad was not touched, has no neighbour or is not in the model.
    pub fn of(&self, kind: QuantityKind) -> Option<Reported> {
        match kind {
            QuantityKind::BaseCapacitance => self.base_capacitance,
            QuantityKind::TouchShift => self.touch_shift,
            QuantityKind::RelativeTouchShift => self.relative_touch_shift,
            QuantityKind::NeighbourShift => self.neighbour_shift,
            QuantityKind::NeighbourRatio => self.neighbour_ratio,
            QuantityKind::CountShift => self.count_shift,
            QuantityKind::NeighbourCountShift => self.neighbour_count_shift,
            QuantityKind::SignalToNoise => self.signal_to_noise,
        }
    }
}

/// The numbers of one point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PointValues {
    /// Pads in panel order.
    pub pads: Vec<PadValues>,
    /// Whether reduced models gave them rather than a solution of this very point.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub is_reduced: bool,
}

impl PointValues {
    /// A quantity of its pad or, without one, of the pad that stands for the panel: the largest base
    /// capacitance, the weakest touch, the worst neighbour.
    pub fn of(&self, quantity: &Quantity) -> Option<Reported> {
        self.pad_of(quantity)?.of(quantity.kind)
    }

    /// The pad a quantity is taken from; of equal ones the first.
    pub fn pad_of(&self, quantity: &Quantity) -> Option<&PadValues> {
        let kind = quantity.kind;
        if let Some(name) = &quantity.pad {
            return self.pads.iter().find(|pad| &pad.pad == name);
        }
        let is_worse = |new: f64, old: f64| match kind.largest_is_worst() {
            true => new > old,
            false => new < old,
        };
        self.pads
            .iter()
            .filter_map(|pad| Some((pad.of(kind)?.value, pad)))
            .reduce(|worst, new| if is_worse(new.0, worst.0) { new } else { worst })
            .map(|(_, pad)| pad)
    }
}
