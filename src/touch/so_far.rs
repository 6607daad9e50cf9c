//! What is known of places whose question was interrupted: touches of rounds that somebody keeps.

use super::limits::{TouchError, WorkLimits};
use super::places::{TouchOptions, TouchPlace, Touches, Worked};
use crate::panel::Panel;
use padfield_engine::field::Settings;

/// What is known of places whose question was interrupted.
pub struct KeptTouches {
    /// Indices of the places whose rounds are kept.
    pub places: Vec<usize>,
    /// Their touches.
    pub touches: Touches,
    /// Field problems that all places together take.
    pub problems: usize,
}

impl KeptTouches {
    /// How many of the touches are known.
    pub fn words(&self) -> String {
        known_words([self.touches.problems(), self.problems])
    }
}

/// How many touches of how many are known, to begin a sentence with.
pub fn known_words([known, all]: [usize; 2]) -> String {
    format!("so far {known} of {all} touches are solved")
}

/// Those of the places whose rounds are kept.
///
/// # Errors
/// The panel does not fit its model.
pub fn kept_touches(
    panel: &Panel,
    places: &[TouchPlace],
    options: TouchOptions<'_>,
    limits: &WorkLimits<'_>,
) -> Result<KeptTouches, TouchError> {
    let silent = WorkLimits {
        settings: Settings {
            only_kept: true,
            ..limits.settings.clone()
        },
        solver: limits.solver,
        stop: &|| false,
        progress: &|_| {},
    };
    let mut worked = Worked::on(panel, places, options, &silent)?;
    let problems = worked.problems();
    let (places, touches) = (worked.only_known(), worked.touches(panel)?);
    Ok(KeptTouches {
        places,
        touches,
        problems,
    })
}
