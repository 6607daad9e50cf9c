//! Every scenario made small, so that it can be asked everything in seconds.

use padfield::touch::Progress;
use padfield_engine::case::Case;
use padfield_engine::field::{self, FieldAnswer, FieldError, Settings};

/// A scenario and what makes its fields small.
pub struct Quick {
    /// Its file without the ending.
    pub name: &'static str,
    /// Changes of its values: a section that holds its pads.
    pub changes: &'static [(&'static str, &'static str)],
    /// Fineness of the one grid it is solved on; none: as fine as it takes.
    pub fineness: Option<f64>,
}

/// In a section, or in space where that takes seconds.
const fn small(name: &'static str, changes: &'static [(&'static str, &'static str)]) -> Quick {
    Quick {
        name,
        changes,
        fineness: None,
    }
}

/// Traces need the model in space: on a grid so coarse that its numbers are worth nothing, while everything
/// that is made of them is made as of good ones.
const fn coarse(name: &'static str, fineness: f64) -> Quick {
    Quick {
        name,
        changes: &[],
        fineness: Some(fineness),
    }
}

const SECTION: &[(&str, &str)] = &[("model", "section")];

/// All of them.
pub const QUICK: [Quick; 11] = [
    coarse("acorn", 0.08),
    coarse("clover", 0.08),
    small("fern", SECTION),
    small("guide", SECTION),
    coarse("guide_open", 0.08),
    coarse("hazel", 0.05),
    small("lantern", SECTION),
    coarse("lantern_wake", 0.08),
    small("slider", SECTION),
    coarse("tern", 0.08),
    small("two_pads", SECTION),
];

impl Quick {
    /// Solves a field problem of it.
    ///
    /// # Errors
    /// See [`FieldError`].
    pub fn solve(
        &self,
        case: &Case,
        without: Option<&str>,
        settings: &Settings,
        tell: &Progress<'_>,
    ) -> Result<FieldAnswer, FieldError> {
        match self.fineness {
            None => field::solve(case, without, settings, tell),
            Some(_) => {
                let settings = Settings {
                    start_fineness: self.fineness,
                    accuracy: f64::MAX,
                    ..settings.clone()
                };
                field::solve(case, without, &settings, tell)
            }
        }
    }
}
