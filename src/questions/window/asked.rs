//! Where fingers are put to judge a panel: every user on every pad, beside it, on traces, a palm.

use super::aim::{aims, palm_offsets};
use super::trace_aim::{OnTrace, trace_places};
use crate::panel::{Finger, Panel};
use crate::touch::TouchPlace;
use padfield_engine::units::Length;

/// A place to be solved and what it stands for.
pub(super) struct Asked {
    pub place: TouchPlace,
    /// Who touches.
    pub user: String,
    /// The pad the finger missed its own towards.
    pub towards: Option<usize>,
    pub aim: AskedAim,
}

/// What a place stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum AskedAim {
    /// A pad.
    Pad,
    /// A palm beside the pads.
    Palm,
    /// The trace of that number in the panel, where nobody who aims at its pad could land.
    Trace(usize),
    /// The trace of that number, off its pad, but within the aim error of somebody who aims at it.
    Miss(usize),
    /// A typical touch, for comparison only.
    Reference,
}

/// The user a threshold is compared with.
const ADULT: &str = "adult";

/// Everything that is asked of a panel; the references come last, one for every single pad.
pub(super) fn asked(panel: &Panel) -> Vec<Asked> {
    let users = &panel.usage.users.value;
    let mut asked = Vec::new();
    for user in users {
        for pad in single_pads(panel) {
            let is_on_other = |on: &String| *on != panel.pads[pad].name;
            if user.on.as_ref().is_some_and(is_on_other) {
                continue;
            }
            asked.extend(aims(panel, pad, user).into_iter().map(|aim| Asked {
                place: placed(user, pad, aim.offset),
                user: user.name.clone(),
                towards: aim.towards,
                aim: AskedAim::Pad,
            }));
        }
    }
    if let (Some(palm), Some(edge)) = (palm(panel), panel.usage.palm_distance) {
        for pad in single_pads(panel) {
            let radius = Length::from_metres(palm.contact.metres() / 2.0);
            for offset in palm_offsets(panel, pad, edge, radius) {
                asked.push(one(palm, pad, offset, AskedAim::Palm));
            }
        }
    }
    for user in users {
        for place in trace_places(panel, user) {
            let aim = match place.kind {
                OnTrace::Clear => AskedAim::Trace(place.trace),
                OnTrace::WithinAim => AskedAim::Miss(place.trace),
            };
            asked.push(one(user, place.pad, place.offset, aim));
        }
    }
    if let Some(adult) = reference_user(panel) {
        for pad in single_pads(panel) {
            asked.push(one(adult, pad, [Length::default(); 2], AskedAim::Reference));
        }
    }
    asked
}

fn one(finger: &Finger, pad: usize, offset: [Length; 2], aim: AskedAim) -> Asked {
    Asked {
        place: placed(finger, pad, offset),
        user: finger.name.clone(),
        towards: None,
        aim,
    }
}

fn placed(finger: &Finger, pad: usize, offset: [Length; 2]) -> TouchPlace {
    let mut finger = finger.clone();
    finger.offset = offset;
    TouchPlace { finger, pad }
}

/// Pads that have a threshold of their own: all but the segments of sliders.
fn single_pads(panel: &Panel) -> impl Iterator<Item = usize> + '_ {
    (0..panel.pads.len()).filter(|&pad| !panel.is_segment(&panel.pads[pad]))
}

/// The gesture of a hand that leans: the panel's own palm, or none.
pub(crate) fn palm(panel: &Panel) -> Option<&Finger> {
    panel.usage.palm_distance?;
    panel.usage.palm.as_ref()
}

/// Who a threshold is compared with: the adult, the first finger, or the first user.
pub(super) fn reference_user(panel: &Panel) -> Option<&Finger> {
    let users = &panel.usage.users.value;
    let adult = users.iter().find(|user| user.name == ADULT);
    adult.or(panel.fingers.first()).or(users.first())
}
