//! Mirror images of a panel's pads.

use crate::panel::lowering::{LoweringError, copper_conductors};
use crate::panel::symmetry::{Mirror, panel_images};
use crate::panel::{Model, Panel};

/// A symmetry of a panel's copper and of the slots in its layers.
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
    let copper = copper_conductors(panel)?;
    Ok(Mirror::ALL
        .into_iter()
        .filter_map(|mirror| {
            let mut images = panel_images(panel, &copper, mirror)?;
            images.truncate(panel.pads.len());
            // A conductor's image may not leave the pads: the ground has no name of a pad.
            let stays = images.iter().all(|&image| image < panel.pads.len());
            stays.then_some(PanelMirror { mirror, images })
        })
        .collect())
}
