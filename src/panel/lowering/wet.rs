//! Wet films on the touched face as sheets of conductor or boxes of water.

use super::super::film::{Film, FilmBound, FilmShape, WATER_PERMITTIVITY};
use super::super::metal::Connection;
use super::super::{Finger, Panel};
use super::levels::Levels;
use super::part::LoweredPart;
use super::{FINGER, GROUND, LoweringError};
use padfield_engine::case::{Conductor, Dielectric, Extent, RoundBody, Solid};

/// All films of a panel.
#[derive(Default)]
pub(super) struct Wet {
    pub dielectrics: Vec<Dielectric>,
    pub conductors: Vec<Conductor>,
    /// Pieces that join the finger.
    pub joined: Vec<Solid>,
    pub parts: Vec<LoweredPart>,
    pub simplifications: Vec<String>,
}

pub(super) fn wet(
    panel: &Panel,
    levels: &Levels,
    finger: &Finger,
    centre_m: [f64; 2],
) -> Result<Wet, LoweringError> {
    let mut wet = Wet::default();
    for film in &panel.films {
        if film.name == GROUND || film.name == FINGER {
            return Err(LoweringError::ReservedName(film.name.clone()));
        }
        if film.bound == FilmBound::Dielectric {
            wet.dielectrics.push(water(film, levels));
            wet.simplifications.push(format!(
                "the finger displaces the wet film \"{}\": its contact sits on the face",
                film.name
            ));
            if matches!(film.shape, FilmShape::Disc { .. }) {
                wet.simplifications.push(format!(
                    "the drop \"{}\" is a square of the same area",
                    film.name
                ));
            }
            continue;
        }
        let solid = sheet(film, levels.touched_face_m);
        // Water creeps up a bare fingertip about as high as the film is thick.
        let reach = finger.contact.metres() / 2.0 + film.thickness.metres();
        let is_near = finger.distance <= film.thickness;
        let is_touched = is_near && finger.glove.is_none() && film.distance_m(centre_m) <= reach;
        if is_touched {
            wet.joined.push(solid.clone());
            wet.simplifications.push(format!(
                "finger and wet film \"{}\" touch and are one conductor",
                film.name
            ));
        }
        wet.conductors.push(Conductor {
            name: film.name.clone(),
            solids: vec![solid],
        });
        wet.parts.push(LoweredPart {
            name: film.name.clone(),
            connection: match film.bound {
                FilmBound::Floating => Connection::Floating,
                FilmBound::Earthed | FilmBound::Dielectric => Connection::Grounded,
            },
            is_touched,
        });
    }
    Ok(wet)
}

fn water(film: &Film, levels: &Levels) -> Dielectric {
    let half = match film.shape {
        FilmShape::Rectangle { .. } => film.half_extent_m(),
        FilmShape::Disc { .. } => film
            .half_extent_m()
            .map(|radius| radius * std::f64::consts::PI.sqrt() / 2.0),
    };
    let bottom = levels.touched_face_m;
    let at = |axis: usize, side: f64| film.centre[axis].metres() + side * half[axis];
    Dielectric {
        name: film.name.clone(),
        relative_permittivity: WATER_PERMITTIVITY,
        extent: Extent {
            low_m: [at(0, -1.0), at(1, -1.0), bottom],
            high_m: [at(0, 1.0), at(1, 1.0), bottom + film.thickness.metres()],
        },
        comes_with: Some(film.name.clone()),
    }
}

fn sheet(film: &Film, face_m: f64) -> Solid {
    let centre_m = film.centre.map(|at| at.metres());
    let half = film.half_extent_m();
    match film.shape {
        FilmShape::Rectangle { .. } => Solid::Block(Extent {
            low_m: [centre_m[0] - half[0], centre_m[1] - half[1], face_m],
            high_m: [centre_m[0] + half[0], centre_m[1] + half[1], face_m],
        }),
        FilmShape::Disc { .. } => Solid::Round(RoundBody {
            centre_m,
            contact_radius_m: half[0],
            dome_radius_m: half[0],
            bottom_m: face_m,
            top_m: face_m,
        }),
    }
}
