//! The electronics of a panel: measuring circuit, scan, battery.

use super::Origin;
use crate::circuit::{Battery, Circuit, Scan};
use std::collections::BTreeSet;

/// Measuring circuit, scan and battery, with what of them nobody wrote down.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Electronics {
    /// The measuring circuit, the same for every pad.
    pub circuit: Circuit,
    /// How the pads are scanned.
    pub scan: Scan,
    /// What feeds the panel; none: the mains, or not said.
    pub battery: Option<Battery>,
    /// Dotted paths of the values that were written down.
    pub given: BTreeSet<&'static str>,
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
        let is_of_scan = |path: &&str| path.starts_with("scan.") || path.starts_with("battery.");
        self.given.iter().any(is_of_scan)
    }
}
