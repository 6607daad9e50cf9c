//! What water does to the untouched pads: base capacitance from dry to wet.

use super::places::TouchError;
use super::seen::{film_role, idle_role};
use crate::capacitance::{Estimate, Role, measure, measure_shift};
use crate::case::Case;
use crate::field::{self, Bounded, FieldAnswer, Settings};
use crate::panel::lowering::{FINGER, LoweringOptions, lower};
use crate::panel::{Film, Panel};

/// Base change of every pad when one film appears on the dry face.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmChange {
    /// The film.
    pub film: String,
    /// Field parts of the dry pads, in panel order \[F\].
    pub dry: Vec<Estimate>,
    /// Wet minus dry \[F\].
    pub changes: Vec<Estimate>,
}

/// Solves every film of the panel alone on the untouched face, without finger.
///
/// A conducting film is left out on the same grid, so that what wet and dry share cancels. A film of
/// dielectric is solved wet and with its water replaced by air; the errors of both are added up.
///
/// # Errors
/// See [`TouchError`].
pub fn film_changes(
    panel: &Panel,
    settings: &Settings,
    stop: &(dyn Fn() -> bool + Sync),
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Vec<FilmChange>, TouchError> {
    panel
        .films
        .iter()
        .map(|film| {
            if stop() {
                return Err(TouchError::Interrupted);
            }
            film_change(panel, film, settings, &|text: &str| {
                progress(&format!("wet film {}: {text}", film.name));
            })
        })
        .collect()
}

fn film_change(
    panel: &Panel,
    film: &Film,
    settings: &Settings,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<FilmChange, TouchError> {
    let mut alone = panel.clone();
    alone.films = vec![film.clone()];
    let pads: Vec<String> = panel.pads.iter().map(|pad| pad.name.clone()).collect();
    let mut change = FilmChange {
        film: film.name.clone(),
        dry: Vec::new(),
        changes: Vec::new(),
    };
    // The finger only marks where the outer wall is: it is taken away again.
    let (Some(first), Some(finger)) = (pads.first(), panel.fingers.first()) else {
        return Ok(change);
    };
    let mut finger = finger.clone();
    finger.glove = None;
    let lowered = lower(&alone, first, &finger, LoweringOptions::default())?;
    let mut case = lowered.case;
    case.conductors.retain(|conductor| conductor.name != FINGER);
    let idle = idle_role(panel.idle.value);
    let roles = |conductors: &[String], measured: &str| -> Vec<Role> {
        let role = |name: &String| match lowered.films.iter().find(|one| &one.name == name) {
            _ if name == measured => Role::Measured,
            Some(film) => film_role(film, false),
            None => idle,
        };
        conductors.iter().map(role).collect()
    };
    let solve = |case: &Case, without: Option<&str>, more: Settings| {
        let mut drive = pads.clone();
        drive.extend(without.map(str::to_owned));
        let settings = Settings {
            drive: Some(drive),
            ..more
        };
        field::solve(case, without, &settings, progress)
    };
    if lowered.films.is_empty() {
        let wet = solve(&case, None, settings.clone())?;
        let background = case.background_relative_permittivity;
        for water in case.dielectrics.iter_mut().filter(|d| d.name == film.name) {
            water.relative_permittivity = background;
        }
        let same_grid = Settings {
            start_fineness: Some(wet.grid.fineness),
            ..settings.clone()
        };
        let dry = solve(&case, None, same_grid)?;
        let base = |matrix: &Bounded, pad: &str| {
            measure(matrix, &roles(&matrix.conductors, pad)).map(|base| base.estimate)
        };
        for pad in &pads {
            let (dry, wet) = (base(&dry.with, pad)?, base(&wet.with, pad)?);
            change.dry.push(dry);
            change.changes.push(Estimate {
                value: wet.value - dry.value,
                error: wet.error + dry.error,
            });
        }
        return Ok(change);
    }
    let FieldAnswer { with, shift, .. } = solve(&case, Some(&film.name), settings.clone())?;
    if let Some(shift) = &shift {
        for pad in &pads {
            let wet_roles = roles(&with.conductors, pad);
            let dry_roles = roles(&shift.without.conductors, pad);
            let dry = measure(&shift.without, &dry_roles)?;
            change.dry.push(dry.estimate);
            let added = measure_shift(&with, shift, &wet_roles, &dry_roles)?;
            change.changes.push(added);
        }
    }
    Ok(change)
}
