//! Every value at the end of its tolerance that hurts.

use super::ToleranceError;
use super::watch::{Outcome, Output, Watch};
use crate::event::extremes;
use crate::panel::Panel;
use crate::sensitivity::PanelFamily;
use crate::touch::PadTouch;
use std::collections::HashMap;

/// What the pad shows of every place on a unit.
pub(super) trait Response {
    /// `values` are those of all parameters.
    fn touches(&self, values: &[f64]) -> Vec<PadTouch>;
}

/// Smallest and largest of every output over the ends of all tolerances, by going from end to end of one
/// value after the other: exact for what rises or falls with every value.
pub(super) fn worst(
    family: &PanelFamily,
    watch: &Watch,
    response: &dyn Response,
) -> Result<[[f64; 2]; 6], ToleranceError> {
    let nominal: Vec<f64> = family.parameters.iter().map(|p| p.value).collect();
    let varying: Vec<usize> = (0..nominal.len())
        .filter(|&index| family.parameters[index].spread.is_some())
        .collect();
    let mut panels: HashMap<Vec<(usize, u64)>, Option<Panel>> = HashMap::new();
    let mut known: HashMap<Vec<i8>, Option<Outcome>> = HashMap::new();
    let mut outcome = |corner: &[i8]| -> Option<Outcome> {
        if let Some(known) = known.get(corner) {
            return *known;
        }
        let mut values = nominal.clone();
        let mut beside = Vec::new();
        for (&index, end) in varying.iter().zip(corner) {
            let parameter = &family.parameters[index];
            let Some(spread) = parameter.spread else {
                continue;
            };
            values[index] = match end {
                0 => continue,
                end if *end < 0 => spread.least,
                _ => spread.most,
            };
            if !parameter.changes_field {
                beside.push((index, values[index]));
            }
        }
        let name = beside
            .iter()
            .map(|(index, value)| (*index, value.to_bits()));
        let panel = panels
            .entry(name.collect())
            .or_insert_with(|| family.panel(&beside).ok());
        let found = panel
            .as_ref()
            .map(|panel| watch.outcome(panel, &response.touches(&values)));
        known.insert(corner.to_vec(), found);
        found
    };
    let start = watch.outcome(&family.panel, &watch.known);
    Ok(Output::ALL.map(|output| {
        extremes(varying.len(), start.of(output), &mut |corner| {
            Some(outcome(corner)?.of(output))
        })
    }))
}
