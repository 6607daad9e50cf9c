//! Binding events on a panel with a value elsewhere: their fields followed or solved, their counts counted again.

use super::levers::STEP;
use super::{PadWindow, Window, decide, ratio};
use crate::event::{Event, Group, InputEnds, PadField};
use crate::input::{Document, Override, Scalable};
use crate::panel::{Finger, Panel};
use crate::sensitivity::{DifferentiatedTouch, PanelFamily, PlaceError, PlaceModel};
use crate::touch::{PadTouch, TouchError, TouchPlace, WorkLimits};
use padfield_engine::units::Length;
use rayon::prelude::*;

/// Events with their fields for comparison: the two that bind, or the weakest true one alone.
pub(super) struct Compared<'a> {
    pub events: Vec<&'a Event>,
    noise_margin: f64,
    /// What the pad shows at the places of all, on the panel as it is.
    shown: Vec<Option<PadTouch>>,
    /// The touches among them with the rates of what the pad shows; none for what happens without a touch.
    models: Vec<Option<PlaceModel>>,
}

impl<'a> Compared<'a> {
    pub fn pair(panel: &Panel, found: &'a Window, binding: &PadWindow) -> Option<Self> {
        let events = [binding.weakest_true?, binding.strongest_false?];
        let events = events.map(|index| &found.table.events[index]);
        let shown = events.iter().map(|event| match &event.field {
            PadField::Changed(touch) if event.cause.gesture().is_some() => Some(*touch),
            _ => None,
        });
        Some(Self {
            shown: filled(shown.collect()),
            events: events.to_vec(),
            noise_margin: panel.usage.noise_margin.value,
            models: Vec::new(),
        })
    }

    /// Solves all on the panel as it is, with the rates of what the pad shows to these values; gives the field problems
    /// that took.
    pub fn follow(
        &mut self,
        (document, panel): (&Document, &Panel),
        scalables: &[Scalable],
        limits: &WorkLimits<'_>,
    ) -> Result<usize, TouchError> {
        (limits.progress)("what every value of the file does to the binding events");
        let family = PanelFamily::turning(document, panel, scalables);
        let places = self.events.par_iter().zip(&self.shown);
        let models = places.map(|(event, known)| {
            let Some(place) = place(panel, event) else {
                return Ok(None);
            };
            let watched = (event.pad, Some(&[event.pad][..]));
            match PlaceModel::new(&family, &place, watched, *known, &|_| true, limits) {
                Ok(model) => Ok(Some(model)),
                Err(PlaceError::NotInModel) => Ok(None),
                Err(PlaceError::Touch(error)) => Err(error),
                Err(PlaceError::Scenario(error)) => Err(TouchError::Panel(error)),
            }
        });
        self.models = models.collect::<Result<_, _>>()?;
        let problems = self.models.iter().flatten().map(|model| model.problems);
        Ok(problems.sum())
    }

    /// What the pad shows with a value turned by a factor; what happens without a touch has the place of the first.
    pub fn turned(&self, index: usize, factor: f64) -> Vec<Option<PadTouch>> {
        let own = |model: &PlaceModel| model.carried(&[(index, factor)]);
        let all = self.models.iter();
        filled(all.map(|model| model.as_ref().map(own)).collect())
    }

    /// What the pad shows where the events touch a panel; what happens without a touch has the place of the first.
    pub fn solve(
        &self,
        panel: &Panel,
        limits: &WorkLimits<'_>,
    ) -> Result<Vec<Option<PadTouch>>, TouchError> {
        let all = self.events.par_iter().map(|event| {
            let Some(place) = place(panel, event) else {
                return Ok(None);
            };
            let only = Some(&[event.pad][..]);
            let touch = DifferentiatedTouch::solve_for(panel, &place, only, limits)?;
            Ok(touch.pads()?[event.pad])
        });
        Ok(filled(all.collect::<Result<_, TouchError>>()?))
    }

    /// How many of the events are touches.
    pub fn touches(&self) -> usize {
        let all = self.events.iter();
        all.filter(|event| event.cause.gesture().is_some()).count()
    }

    /// The bound of one of the events on another panel, whose pad shows this; numerical errors keep their
    /// share of the mean, what the field does at the ends of its inputs its proportion.
    pub fn bound(&self, number: usize, changed: &PanelFamily, shown: &[Option<PadTouch>]) -> f64 {
        let (Some(from), Some(to)) = (&self.shown[number], &shown[number]) else {
            return f64::NAN;
        };
        let event = self.events[number];
        let scaled = |field: &PadField| field.scaled_like(from, to);
        let moved = Event {
            field: scaled(&event.field),
            field_ends: event.field_ends.iter().map(scaled).collect(),
            ..event.clone()
        };
        recounted_event(moved, &InputEnds::new(changed), self.noise_margin).bound
    }

    /// The ratio of the two bounds on another panel, whose pad shows this.
    pub fn ratio(&self, changed: &PanelFamily, shown: &[Option<PadTouch>]) -> f64 {
        let [weakest, strongest] = [0, 1].map(|number| self.bound(number, changed, shown));
        ratio(weakest, strongest)
    }

    /// Relative numerical error of the ratio.
    pub fn relative_error(&self) -> f64 {
        self.events
            .iter()
            .filter(|event| event.mean != 0.0)
            .map(|event| (event.numerical_error / event.mean).abs())
            .sum()
    }
}

/// What happens without a touch has the place of the first.
fn filled(mut shown: Vec<Option<PadTouch>>) -> Vec<Option<PadTouch>> {
    for number in 1..shown.len() {
        shown[number] = shown[number].or(shown[0]);
    }
    shown
}

/// Those of the values that leave a panel on one side of what they are at least.
pub(super) fn possible(document: &Document, scalables: Vec<Scalable>) -> Vec<Scalable> {
    let all = scalables.into_par_iter();
    let is_possible = |one: &Scalable| {
        let ends = [1.0 - STEP, 1.0 + STEP];
        ends.into_iter()
            .any(|factor| with(document, &one.overrides(factor)).is_some())
    };
    all.filter(is_possible).collect()
}

/// The family of a file with some of its values elsewhere; none for an impossible panel.
pub(super) fn with(document: &Document, overrides: &[Override]) -> Option<PanelFamily> {
    PanelFamily::of_document(&document.overridden(overrides).ok()?).ok()
}

/// An event counted again; its numerical error keeps its share of the mean.
fn recounted_event(event: Event, inputs: &InputEnds<'_>, noise_margin: f64) -> Event {
    let before = event.mean;
    let mut counted = event.counted(inputs);
    if before != 0.0 {
        counted.numerical_error *= (counted.mean / before).abs();
    }
    counted.with_bound(noise_margin)
}

/// Window ratio of the panel when only what circuit and return path make of the fields has changed: every
/// event counted again.
pub(super) fn recounted(changed: &PanelFamily, found: &Window) -> f64 {
    let inputs = InputEnds::new(changed);
    let margin = changed.panel.usage.noise_margin.value;
    let mut table = found.table.clone();
    for event in &mut table.events {
        *event = recounted_event(event.clone(), &inputs, margin);
    }
    let touched = (0..changed.panel.pads.len())
        .map(|pad| decide(&changed.panel, &table, Some(pad)))
        .filter(|pad| pad.weakest_true.is_some());
    touched.map(|pad| pad.ratio).fold(f64::INFINITY, f64::min)
}

/// The place of an event on a panel that may have other dimensions: an offset keeps its length, and
/// a palm its distance from the pad.
pub(crate) fn place(panel: &Panel, event: &Event) -> Option<TouchPlace> {
    let gesture = event.cause.gesture()?;
    let usage = &panel.usage;
    let known = |finger: &&Finger| finger.name == gesture.user;
    let mut all = usage.users.value.iter().chain(usage.palm.as_ref());
    let mut finger = all.find(known)?.clone();
    finger.offset = gesture
        .offset
        .map(|part| Length::from_metres(part.metres()));
    let pad = panel
        .pads
        .iter()
        .position(|pad| pad.name == gesture.aimed_at)?;
    debug_assert!(event.group != Group::True || pad == event.pad);
    Some(TouchPlace { finger, pad })
}
