//! Mirror images of a panel's pads.

use crate::panel::lowering::{LoweringError, panel_metal};
use crate::panel::symmetry::{Mirror, SAME_POINT_M, panel_images};
use crate::panel::{Film, Model, Panel};

/// A symmetry of a panel's copper, of the slots in its layers and of its wet films.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PanelMirror {
    /// The symmetry.
    pub mirror: Mirror,
    /// Panel index of every pad's image.
    pub images: Vec<usize>,
}

/// The symmetries of a panel; none about an axis, where there is one pad only.
///
/// # Errors
/// The panel cannot be lowered.
pub fn panel_mirrors(panel: &Panel) -> Result<Vec<PanelMirror>, LoweringError> {
    if panel.model.value == Model::Axisymmetric {
        return Ok(Vec::new());
    }
    let metal = panel_metal(panel)?;
    Ok(Mirror::ALL
        .into_iter()
        .filter(|mirror| films_are_symmetric(&panel.films, *mirror))
        .filter_map(|mirror| {
            let mut images = panel_images(panel, &metal, mirror)?;
            // What an image is connected to must be the same as well: pad for pad, part for part.
            let connection = |index: usize| {
                let name = &metal.conductors[index].name;
                metal
                    .parts
                    .iter()
                    .find(|part| part.name == *name)
                    .map(|part| part.connection)
            };
            let is_pad = |index: usize| index < panel.pads.len();
            let alike = images.iter().enumerate().all(|(index, &image)| {
                is_pad(index) == is_pad(image) && connection(index) == connection(image)
            });
            images.truncate(panel.pads.len());
            alike.then_some(PanelMirror { mirror, images })
        })
        .collect())
}

/// Whether every film is found again in the mirror, alike in all but its place.
fn films_are_symmetric(films: &[Film], mirror: Mirror) -> bool {
    let signs = mirror.signs();
    films.iter().all(|film| {
        films.iter().any(|other| {
            let is_there = (0..2).all(|axis| {
                let image = signs[axis] * film.centre[axis].metres();
                (image - other.centre[axis].metres()).abs() <= SAME_POINT_M
            });
            is_there
                && film.shape == other.shape
                && film.bound == other.bound
                && film.thickness == other.thickness
        })
    })
}
