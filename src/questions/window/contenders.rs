//! Events that may bind once a value has moved: those near the ones that bind now.

use super::asked::{Asked, AskedAim};
use super::gather::gather_of;
use super::{Window, decide};
use crate::event::{Event, Gesture, Group};
use crate::panel::Panel;
use crate::sensitivity::PanelFamily;
use crate::touch::{TouchError, WorkLimits};

/// An event of a pad is near when its bound is within this factor of the binding one, and a pad when its window
/// ratio is within it of the smallest.
const NEAR: f64 = 2.0;

/// Pads and touches that are near.
pub(super) struct Contenders<'a> {
    pads: Vec<usize>,
    touches: Vec<&'a Gesture>,
}

impl<'a> Contenders<'a> {
    /// Of a window with a ratio above zero.
    pub fn of(found: &'a Window) -> Self {
        let least = found.binding().ratio;
        let mut pads = Vec::new();
        let mut touches = Vec::new();
        for window in &found.pads {
            let (Some(pad), Some(weakest)) = (window.pad, window.weakest_true) else {
                continue;
            };
            if window.ratio > NEAR * least {
                continue;
            }
            pads.push(pad);
            let events = &found.table.events;
            let bound = |index: usize| events[index].bound;
            let strongest = window.strongest_false.map_or(0.0, bound);
            let is_near = |event: &&Event| match event.group {
                Group::True => event.bound <= NEAR * bound(weakest),
                Group::False => event.bound >= strongest / NEAR,
                Group::Either => false,
            };
            let own = events.iter().filter(|event| event.pad == pad);
            touches.extend(
                own.filter(is_near)
                    .filter_map(|event| event.cause.gesture()),
            );
        }
        Self { pads, touches }
    }

    /// Whether a place is among them, or the typical touch of a pad that is.
    fn holds(&self, panel: &Panel, one: &Asked) -> bool {
        let pad = one.place.pad;
        let offset = one.place.finger.offset;
        match one.aim {
            AskedAim::Reference => self.pads.contains(&pad),
            _ => self.touches.iter().any(|touch| {
                let off = |axis: usize| (touch.offset[axis] - offset[axis]).metres().abs();
                touch.user == one.user
                    && touch.aimed_at == panel.pads[pad].name
                    && off(0).max(off(1)) < 1e-9
            }),
        }
    }

    /// The smallest window ratio of the pads on a panel with a value elsewhere, of these events only, and the field
    /// problems it took: the others can only make it smaller.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn ratio(
        &self,
        changed: &PanelFamily,
        limits: &WorkLimits<'_>,
    ) -> Result<(f64, usize), TouchError> {
        let panel = &changed.panel;
        let table = gather_of(changed, &|one| self.holds(panel, one), limits)?;
        let pads = self
            .pads
            .iter()
            .map(|&pad| decide(panel, &table, Some(pad)));
        let ratio = pads.map(|pad| pad.ratio).fold(f64::INFINITY, f64::min);
        Ok((ratio, table.field_problems))
    }
}
