//! The events that decide a pad's threshold, and their counts on one unit.

use super::ToleranceError;
use crate::event::{Counted, Event, Group, PadField, count, return_path};
use crate::panel::Panel;
use crate::questions::window::{EventTable, PadWindow, place, ratio};
use crate::touch::{PadTouch, TouchPlace};
use padfield_engine::units::Capacitance;

/// Events whose nominal bound is this near to that of the pair that binds are watched as well: another
/// unit may have another pair.
const NEAR: f64 = 1.3;
/// Places of a group that are watched at most: each is a field problem of its own.
const MOST_PLACES: usize = 2;

/// An event that is watched over all units.
#[derive(Clone, Debug, PartialEq)]
pub struct Watched {
    /// The event at nominal values.
    pub event: Event,
    /// Index of its place; of an event without a touch that of the weakest touch, whose base and shift it
    /// follows.
    pub place: usize,
}

/// The events of a pad that are watched, and where their fingers are.
#[derive(Clone, Debug, PartialEq)]
pub struct Watch {
    /// Panel index of the pad.
    pub pad: usize,
    /// The events; the weakest true one first.
    pub events: Vec<Watched>,
    /// Index of the strongest false one.
    pub strongest: usize,
    pub places: Vec<TouchPlace>,
    /// What the pad shows of each at nominal values, as the window has it.
    pub known: Vec<PadTouch>,
    /// Standard deviations of the noise between a mean and its bound.
    pub noise_margin: f64,
}

impl Watch {
    /// Chooses the events of a pad from the window at nominal values.
    ///
    /// # Errors
    /// No user touches the pad, or nothing false is known of it.
    pub fn new(
        panel: &Panel,
        table: &EventTable,
        window: &PadWindow,
    ) -> Result<Self, ToleranceError> {
        let pad = window.pad.ok_or(ToleranceError::NoPair)?;
        let (weakest, strongest) = window
            .weakest_true
            .zip(window.strongest_false)
            .ok_or(ToleranceError::NoPair)?;
        let mut watch = Self {
            pad,
            events: Vec::new(),
            strongest: 0,
            places: Vec::new(),
            known: Vec::new(),
            noise_margin: panel.usage.noise_margin.value,
        };
        let bound = |index: usize| table.events[index].bound;
        for group in [Group::True, Group::False] {
            let binding = match group {
                Group::True => weakest,
                _ => strongest,
            };
            let is_near = |index: &usize| match group {
                Group::True => bound(*index) <= NEAR * bound(binding).abs(),
                _ => bound(*index) >= bound(binding) / NEAR,
            };
            let of_pad = |index: &usize| {
                let event = &table.events[*index];
                event.pad == pad && event.group == group
            };
            let mut near: Vec<usize> = (0..table.events.len())
                .filter(of_pad)
                .filter(|index| is_near(index) && *index != binding)
                .collect();
            near.sort_by(|a, b| bound(*a).total_cmp(&bound(*b)));
            if group == Group::False {
                near.reverse();
                watch.strongest = watch.events.len();
            }
            // The pair that binds, and that of the unit which is built as drawn, are always watched.
            let nominal = |index: &usize| table.events[*index].nominal_bound(watch.noise_margin);
            let of_group = (0..table.events.len()).filter(of_pad);
            let as_drawn = match group {
                Group::True => of_group.min_by(|a, b| nominal(a).total_cmp(&nominal(b))),
                _ => of_group.max_by(|a, b| nominal(a).total_cmp(&nominal(b))),
            };
            let before = watch.places.len();
            watch.add(panel, &table.events[binding], usize::MAX);
            if let Some(index) = as_drawn.filter(|index| *index != binding) {
                near.retain(|other| *other != index);
                watch.add(panel, &table.events[index], usize::MAX);
            }
            for index in near {
                watch.add(panel, &table.events[index], before + MOST_PLACES);
            }
        }
        Ok(watch)
    }

    fn add(&mut self, panel: &Panel, event: &Event, most_places: usize) {
        let index = match (place(panel, event), &event.field) {
            (Some(place), PadField::Changed(touch)) => {
                match self.places.iter().position(|known| *known == place) {
                    Some(index) => index,
                    None if self.places.len() >= most_places => return,
                    None => {
                        self.places.push(place);
                        self.known.push(*touch);
                        self.places.len() - 1
                    }
                }
            }
            _ => 0,
        };
        self.events.push(Watched {
            event: event.clone(),
            place: index,
        });
    }

    /// Counts of an event on one unit. `touches` are what the pad shows of every place on that unit, `panel`
    /// has the unit's circuit and return paths.
    pub fn counts(&self, watched: &Watched, panel: &Panel, touches: &[PadTouch]) -> Counted {
        let Event {
            cause, pad, supply, ..
        } = &watched.event;
        let touch = &touches[watched.place];
        let field = match watched.event.cause.gesture() {
            Some(_) => PadField::Changed(*touch),
            // Not solved again: it follows the weakest touch.
            None => {
                let known = &self.known[watched.place];
                watched.event.field.scaled_like(known, touch)
            }
        };
        count(panel, cause, *pad, *supply, &field)
    }

    /// Counts of an event on one unit at its unfavourable end, with numerical error and noise.
    pub fn bound(&self, watched: &Watched, panel: &Panel, touches: &[PadTouch]) -> f64 {
        let counted = self.counts(watched, panel, touches);
        let event = &watched.event;
        event.bound_at(counted.mean, counted.noise, self.noise_margin)
    }

    /// Shift of an event with a touch.
    pub fn shift(&self, watched: &Watched, panel: &Panel, touches: &[PadTouch]) -> Capacitance {
        touches[watched.place].shift(return_path(panel, watched.event.supply))
    }

    /// What one unit does: the numbers that spread.
    pub fn outcome(&self, panel: &Panel, touches: &[PadTouch]) -> Outcome {
        let first = &self.events[0];
        let strongest = &self.events[self.strongest];
        let stray = panel.stray.of(&panel.pads[self.pad]);
        let field_part = Capacitance::from_farads(touches[first.place].base);
        let base = stray.at_pin(field_part).nominal;
        let mut bounds = [f64::INFINITY, f64::NEG_INFINITY];
        for watched in &self.events {
            let bound = self.bound(watched, panel, touches);
            match watched.event.group {
                Group::True => bounds[0] = bounds[0].min(bound),
                Group::False => bounds[1] = bounds[1].max(bound),
                Group::Either => {}
            }
        }
        Outcome {
            base: base.farads(),
            touch_shift: self.shift(first, panel, touches).farads(),
            neighbour_shift: match strongest.event.cause.gesture() {
                Some(_) => self.shift(strongest, panel, touches).farads(),
                None => 0.0,
            },
            true_counts: self.counts(first, panel, touches).mean,
            false_counts: self.counts(strongest, panel, touches).mean,
            weakest_true: bounds[0],
            strongest_false: bounds[1],
        }
    }
}

/// The numbers of one unit that spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outcome {
    /// Base capacitance at the pin \[F\].
    pub base: f64,
    /// Shift of the weakest true touch of the nominal pair \[F\].
    pub touch_shift: f64,
    /// Shift of the strongest false event of that pair, if somebody touches \[F\].
    pub neighbour_shift: f64,
    /// Mean count shift of the weakest true touch of that pair.
    pub true_counts: f64,
    /// Mean count shift of the strongest false event of that pair.
    pub false_counts: f64,
    /// Lowest bound of all true events that are watched, noise taken off \[counts\].
    pub weakest_true: f64,
    /// Highest bound of all false events that are watched, noise added \[counts\].
    pub strongest_false: f64,
}

/// A number of an [`Outcome`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Output {
    /// Base capacitance at the pin.
    Base,
    TouchShift,
    NeighbourShift,
    /// Counts of the weakest true touch.
    TrueCounts,
    /// Counts of the strongest false event.
    FalseCounts,
    /// Window ratio.
    Ratio,
}

impl Output {
    /// All of them, in the order of tables.
    pub const ALL: [Self; 6] = [
        Self::Base,
        Self::TouchShift,
        Self::NeighbourShift,
        Self::TrueCounts,
        Self::FalseCounts,
        Self::Ratio,
    ];

    /// Its name in full.
    pub fn name(self) -> &'static str {
        match self {
            Self::Base => "base capacitance",
            Self::TouchShift => "touch shift",
            Self::NeighbourShift => "neighbour shift",
            Self::TrueCounts => "weakest true touch",
            Self::FalseCounts => "strongest false event",
            Self::Ratio => "window ratio",
        }
    }

    /// Its unit at the edge; empty for a plain number.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Base | Self::TouchShift | Self::NeighbourShift => "pF",
            Self::TrueCounts | Self::FalseCounts => "counts",
            Self::Ratio => "",
        }
    }
}

impl Outcome {
    /// One of the numbers, in the unit of [`Output::unit`].
    pub fn of(&self, output: Output) -> f64 {
        match output {
            Output::Base => 1e12 * self.base,
            Output::TouchShift => 1e12 * self.touch_shift,
            Output::NeighbourShift => 1e12 * self.neighbour_shift,
            Output::TrueCounts => self.true_counts,
            Output::FalseCounts => self.false_counts,
            Output::Ratio => self.ratio(),
        }
    }

    /// Lowest true bound over highest false one: zero when the touch may show nothing, endless when
    /// nothing false can be seen.
    pub fn ratio(&self) -> f64 {
        ratio(self.weakest_true, self.strongest_false)
    }
}
