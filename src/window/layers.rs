//! What the layers' tolerances do to the touches of a user.

use super::event::{Cause, Event, Group};
use super::events::{Asked, at_pin, is_worse, return_paths};
use crate::panel::{LayerContent, Panel};
use crate::touch::{TouchError, TouchPlace, WorkLimits, solve_touches};
use crate::units::{Capacitance, Toleranced};
use std::collections::BTreeMap;

/// Counts with the layers at the ends of their tolerances over counts with nominal ones: smallest and
/// largest, per user and group.
pub(super) struct LayerFactors {
    by_user: BTreeMap<Key, [f64; 2]>,
    pub field_problems: usize,
    pub accuracy_reached: bool,
}

impl LayerFactors {
    /// Smallest and largest factor of an event's counts.
    pub fn of(&self, event: &Event) -> [f64; 2] {
        let known = key(event).and_then(|key| self.by_user.get(&key));
        known.copied().unwrap_or([1.0; 2])
    }
}

/// A user, and what the touch is to the pad that sees it.
type Key = (String, Seen);

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Seen {
    Own,
    Other,
    Trace,
}

fn key(event: &Event) -> Option<Key> {
    let seen = match (&event.cause, event.group) {
        (Cause::TraceTouch(..), _) => Seen::Trace,
        (_, Group::True) => Seen::Own,
        (_, Group::False) => Seen::Other,
    };
    let gesture = event.cause.gesture()?;
    Some((gesture.user.clone(), seen))
}

/// Whether any dielectric layer has a tolerance.
pub(super) fn layers_vary(panel: &Panel) -> bool {
    panel.layers.iter().any(|layer| {
        let LayerContent::Dielectric { permittivity, .. } = &layer.content else {
            return false;
        };
        layer.thickness.least != layer.thickness.most || permittivity.least != permittivity.most
    })
}

/// The panel with every dielectric at one end: weak touches have thick layers of low permittivity
/// before the pads and thin ones of high permittivity behind them; strong touches the opposite.
fn at_ends(panel: &Panel, weak: bool) -> Panel {
    let pad_layer = panel.pads.first().map_or(0, |pad| pad.layer);
    let mut panel = panel.clone();
    for (index, layer) in panel.layers.iter_mut().enumerate() {
        let LayerContent::Dielectric { permittivity, .. } = &mut layer.content else {
            continue;
        };
        let thick = (index < pad_layer) == weak;
        layer.thickness = end(&layer.thickness, thick);
        *permittivity = end(permittivity, !thick);
    }
    panel
}

fn end<Q: Copy>(value: &Toleranced<Q>, most: bool) -> Toleranced<Q> {
    Toleranced::exact(if most { value.most } else { value.least })
}

/// Solves the worst true and the worst false touch of every user with the layers at both ends.
pub(super) fn layer_factors(
    panel: &Panel,
    asked: &[Asked],
    events: &[(Event, usize)],
    limits: &WorkLimits<'_>,
) -> Result<LayerFactors, TouchError> {
    let mut worst: BTreeMap<Key, &(Event, usize)> = BTreeMap::new();
    for entry in events {
        let Some(key) = key(&entry.0) else { continue };
        match worst.get(&key) {
            Some(known) if !is_worse(&entry.0, &known.0) => {}
            _ => {
                worst.insert(key, entry);
            }
        }
    }
    let places: Vec<TouchPlace> = worst
        .values()
        .map(|(_, place)| asked[*place].place.clone())
        .collect();
    let mut factors = LayerFactors {
        by_user: worst.keys().map(|key| (key.clone(), [1.0; 2])).collect(),
        field_problems: 0,
        accuracy_reached: true,
    };
    for weak in [true, false] {
        let changed = at_ends(panel, weak);
        let touches = solve_touches(&changed, &places, limits)?;
        factors.field_problems += touches.problems();
        factors.accuracy_reached &= touches.accuracy_reached;
        for (index, (key, (event, _))) in worst.iter().enumerate() {
            let Some(gesture) = event.cause.gesture() else {
                continue;
            };
            let known = &panel.usage.supplies.value;
            let Some(supply) = known.iter().find(|known| known.name == gesture.supply) else {
                continue;
            };
            let [nominal, ..] = return_paths(panel, supply);
            let seen = touches.seen(index, nominal)?;
            let (Some(base), Some(shift)) = (seen.bases[event.pad], seen.shifts[event.pad]) else {
                continue;
            };
            let base = at_pin(panel, event.pad, base.estimate.value);
            let circuit = &panel.electronics.circuit;
            let counts = circuit.counts_towards_touch(base, Capacitance::from_farads(shift.value));
            let factor = counts / event.mean;
            if factor.is_finite() && factor > 0.0 {
                let range = factors.by_user.entry(key.clone()).or_insert([1.0; 2]);
                *range = [range[0].min(factor), range[1].max(factor)];
            }
        }
    }
    Ok(factors)
}
