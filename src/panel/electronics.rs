//! The electronics of a panel: measuring circuit, scan, battery.

use super::Origin;
use crate::measuring_circuit::{Battery, Circuit, Scan};
use padfield_engine::units::Toleranced;
use std::collections::BTreeSet;

/// What temperature does to a measuring circuit; none: not said, not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CircuitDrift {
    /// Relative change per kelvin of what sets the rate, resistor, current or integration capacitor
    /// \[1/K\].
    pub component_per_k: Option<Toleranced<f64>>,
    /// Relative change per kelvin of period or transfers through thresholds and comparator \[1/K\].
    pub threshold_per_k: Option<Toleranced<f64>>,
}

/// Measuring circuit, scan and battery, with what of them nobody wrote down.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Electronics {
    /// The measuring circuit, the same for every pad.
    pub circuit: Circuit,
    pub scan: Scan,
    /// What feeds the panel; none: the mains, or not said.
    pub battery: Option<Battery>,
    /// What temperature does to the circuit.
    pub drift: CircuitDrift,
    /// Dotted paths of the values that were written down.
    pub given: BTreeSet<String>,
}

impl Electronics {
    /// Origin of the value at a dotted path, such as `circuit.resistor`.
    pub fn origin(&self, path: &str) -> Origin {
        match self.given.contains(path) {
            true => Origin::Given,
            false => Origin::Default,
        }
    }

    /// Whether anything about scan or battery was written down.
    pub fn is_scan_given(&self) -> bool {
        let is_of_scan = |path: &String| path.starts_with("scan.") || path.starts_with("battery.");
        self.given.iter().any(is_of_scan)
    }
}
