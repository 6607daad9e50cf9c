//! The parts of a note in the order in which they are computed, and how far their computation is.

use super::facts::Order;
use crate::touch::TouchError;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A part of a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// What `solve` prints.
    Touches,
    /// The same touch with the outer wall farther away.
    OuterWall,
    /// The threshold window.
    Window,
    /// Sliders and wheels.
    Sliders,
    /// What would widen the window.
    Levers,
    /// Rules of thumb.
    Guidelines,
    /// Sensitivities and tolerances.
    Tolerances,
    /// Drift, return path, discharge.
    Environment,
    /// A finger across the panel.
    Walks,
}

impl Part {
    const ALL: [Self; 9] = [
        Self::Touches,
        Self::OuterWall,
        Self::Window,
        Self::Sliders,
        Self::Levers,
        Self::Guidelines,
        Self::Tolerances,
        Self::Environment,
        Self::Walks,
    ];

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Touches => "bases and touches",
            Self::OuterWall => "outer wall",
            Self::Window => "window",
            Self::Sliders => "sliders",
            Self::Levers => "what would widen the window",
            Self::Guidelines => "guidelines",
            Self::Tolerances => "tolerances",
            Self::Environment => "climate and return path",
            Self::Walks => "walks",
        }
    }

    fn is_wanted(self, order: &Order<'_>) -> bool {
        match self {
            Self::Touches | Self::OuterWall => true,
            Self::Window => order.with_window,
            Self::Sliders => order.with_window && !order.panel.sliders.is_empty(),
            Self::Levers => order.with_window && order.with_remedies,
            Self::Guidelines => order.with_guidelines,
            Self::Tolerances => order.with_tolerances,
            Self::Environment => order.with_environment,
            Self::Walks => order.with_walk,
        }
    }
}

/// Parts in words.
pub(super) fn named(parts: &[Part]) -> String {
    match parts {
        [] => "nothing".to_owned(),
        parts => {
            let names: Vec<&str> = parts.iter().map(|part| part.name()).collect();
            names.join(", ")
        }
    }
}

/// How far a note is.
pub(super) struct Course<'a> {
    stop: &'a (dyn Fn() -> bool + Sync),
    /// Place of the part in work among all.
    at: AtomicUsize,
}

impl<'a> Course<'a> {
    pub fn new(stop: &'a (dyn Fn() -> bool + Sync)) -> Self {
        Self {
            stop,
            at: AtomicUsize::new(0),
        }
    }

    /// The part in work.
    pub fn part(&self) -> Part {
        Part::ALL[self.at.load(Ordering::Relaxed)]
    }

    /// A part begins.
    ///
    /// # Errors
    /// Interrupted: the part before it was asked to stop and may have ended without a word.
    pub fn begin(&self, part: Part) -> Result<(), TouchError> {
        if (self.stop)() {
            return Err(TouchError::Interrupted);
        }
        self.at.store(part as usize, Ordering::Relaxed);
        Ok(())
    }

    /// What is wanted of the note: parts that are done, then the one in work and those after it.
    pub fn parts(&self, order: &Order<'_>) -> [Vec<Part>; 2] {
        let (done, left) = Part::ALL.split_at(self.at.load(Ordering::Relaxed));
        [done, left].map(|parts| {
            let wanted = parts.iter().filter(|part| part.is_wanted(order));
            wanted.copied().collect()
        })
    }
}
