//! Events with the field's inputs at the ends of their tolerances: solved at the worst touch of every user,
//! taken over to its other touches in proportion.

use super::asked::Asked;
use super::gather::is_worse;
use crate::event::{Cause, Event, FieldEnds, Group, PadField, count, field_varies};
use crate::sensitivity::PanelFamily;
use crate::touch::{Tally, TouchError, WorkLimits};
use padfield_engine::field::{Printed, joined_printed};
use rayon::prelude::*;
use std::collections::BTreeMap;

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
        (Cause::TraceTouch(..) | Cause::NearMiss(..), _) => Seen::Trace,
        (_, Group::True) => Seen::Own,
        (_, Group::False | Group::Either) => Seen::Other,
    };
    let gesture = event.cause.gesture()?;
    Some((gesture.user.clone(), seen))
}

/// What the worst touches show at the ends of the field's inputs.
pub(super) struct KnownEnds {
    by_key: BTreeMap<Key, FieldEnds>,
    /// Key of the weakest true touch of all.
    weakest: Option<Key>,
    pub problems: usize,
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
}

impl KnownEnds {
    /// The ends of the weakest true touch.
    pub fn weakest_own(&self) -> Option<&FieldEnds> {
        self.by_key.get(self.weakest.as_ref()?)
    }

    /// Sets what an event shows at the ends.
    pub fn put_to(&self, event: &mut Event) {
        let own = || self.weakest_own();
        let known = match key(event) {
            Some(key) => self.by_key.get(&key),
            // Bases and what drifts of them follow those of a touched pad.
            None => own(),
        };
        if let Some(known) = known {
            event.field_ends = known
                .ends
                .iter()
                .map(|end| event.field.scaled_like(&known.nominal, end))
                .collect();
        }
    }
}

/// Solves the worst true touch, the worst false one and the worst on a trace of every user with the field's
/// inputs at both ends; nothing when none of them has a tolerance.
pub(super) fn field_ends(
    family: &PanelFamily,
    asked: &[Asked],
    events: &[(Event, usize)],
    limits: &WorkLimits<'_>,
) -> Result<Option<KnownEnds>, TouchError> {
    if !field_varies(family) {
        return Ok(None);
    }
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
    let weakest = worst
        .iter()
        .filter(|(key, _)| key.1 == Seen::Own)
        .min_by(|a, b| a.1.0.bound.total_cmp(&b.1.0.bound))
        .map(|(key, _)| key.clone());
    let tally = Tally::new(
        worst.len(),
        "places with derivatives solved",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = limits.heard_by(&tell);
    let solved: Vec<(Key, FieldEnds)> = worst
        .into_par_iter()
        .filter_map(|(key, (event, place))| {
            let PadField::Changed(touch) = &event.field else {
                return None;
            };
            let counts = |touch: &crate::touch::PadTouch| {
                let field = PadField::Changed(*touch);
                let panel = &family.panel;
                count(panel, &event.cause, event.pad, event.supply, &field).mean
            };
            let place = &asked[*place].place;
            let watched = (event.pad, Some(&[event.pad][..]));
            let ends = FieldEnds::solve(family, place, watched, Some(*touch), &counts, &limits);
            let ends = ends.inspect(|_| tally.add());
            ends.map(|ends| ends.map(|ends| (key, ends))).transpose()
        })
        .collect::<Result<_, _>>()?;
    Ok(Some(KnownEnds {
        problems: solved.iter().map(|(_, ends)| ends.problems).sum(),
        accuracy_reached: solved.iter().all(|(_, ends)| ends.accuracy_reached),
        missed: joined_printed(solved.iter().map(|(_, ends)| &ends.missed[..])),
        by_key: solved.into_iter().collect(),
        weakest,
    }))
}
