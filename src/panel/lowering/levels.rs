//! Heights of layers.

use super::super::outline::Rectangle;
use super::super::{CopperModel, LayerContent, LayerOutline, Panel};
use super::LoweringError;
use padfield_engine::case::{Dielectric, Extent};

/// A dielectric layer with its final heights.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct DielectricSheet {
    pub name: String,
    pub relative_permittivity: f64,
    /// What it covers in the plane \[m\].
    pub plane_m: Rectangle,
    /// Its own outline, where it is not as large as the board.
    pub outline: Option<LayerOutline>,
    /// Lower face \[m\].
    pub bottom_m: f64,
    /// Upper face \[m\].
    pub top_m: f64,
}

impl DielectricSheet {
    /// The layer over an extent.
    pub fn over(&self, extent: Extent) -> Dielectric {
        Dielectric {
            name: self.name.clone(),
            relative_permittivity: self.relative_permittivity,
            extent,
            comes_with: None,
        }
    }
}

/// All heights of a stackup, z = 0 at the lower face of one copper layer.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Levels {
    /// Lower and upper face of each copper layer \[m\], by layer index; equal for sheets.
    pub copper: Vec<Option<[f64; 2]>>,
    pub dielectrics: Vec<DielectricSheet>,
    /// The face the finger touches \[m\].
    pub touched_face_m: f64,
    /// Lowest face of the stackup \[m\].
    pub back_m: f64,
}

impl Levels {
    /// Stacks the layers; `reference_layer` is the copper whose lower face is z = 0.
    pub fn new(panel: &Panel, reference_layer: usize) -> Result<Self, LoweringError> {
        let mut copper = vec![None; panel.layers.len()];
        let mut dielectrics: Vec<DielectricSheet> = Vec::new();
        // Heights count from the touched face first; depth only grows, so equal faces stay equal.
        let mut depth_m = 0.0;
        for (index, layer) in panel.layers.iter().enumerate() {
            let top_m = -depth_m;
            let thickness_m = layer.thickness.nominal.metres();
            match &layer.content {
                // A layer of zero thickness is not there.
                LayerContent::Dielectric { .. } if thickness_m == 0.0 => {}
                LayerContent::Dielectric { permittivity, .. } => {
                    depth_m += thickness_m;
                    dielectrics.push(DielectricSheet {
                        name: layer.name.clone(),
                        relative_permittivity: permittivity.nominal.relative(),
                        plane_m: panel.layer_bounds_m(index),
                        outline: layer.outline,
                        bottom_m: -depth_m,
                        top_m,
                    });
                }
                LayerContent::Copper => {
                    let before = index.checked_sub(1).map(|i| &panel.layers[i]);
                    match before {
                        None => return Err(LoweringError::Uncovered(layer.name.clone())),
                        Some(before) if before.content == LayerContent::Copper => {
                            return Err(LoweringError::TouchingCopper {
                                first: before.name.clone(),
                                second: layer.name.clone(),
                            });
                        }
                        Some(_) => {}
                    }
                    if panel.copper.value == CopperModel::Thick {
                        depth_m += thickness_m;
                        if let Some(above) = dielectrics.last_mut() {
                            above.bottom_m = -depth_m;
                        }
                    }
                    copper[index] = Some([-depth_m, top_m]);
                }
            }
        }
        let mut levels = Self {
            copper,
            dielectrics,
            touched_face_m: 0.0,
            back_m: -depth_m,
        };
        let zero_m = levels.copper_level(panel, reference_layer, "pad")?[0];
        levels.move_down_by(zero_m);
        Ok(levels)
    }

    /// Lower and upper face \[m\] of the copper layer that `name` is drawn on.
    pub fn copper_level(
        &self,
        panel: &Panel,
        layer: usize,
        name: &str,
    ) -> Result<[f64; 2], LoweringError> {
        self.copper
            .get(layer)
            .copied()
            .flatten()
            .ok_or_else(|| LoweringError::NotCopper {
                name: name.to_owned(),
                layer: panel
                    .layers
                    .get(layer)
                    .map_or_else(|| format!("number {layer}"), |layer| layer.name.clone()),
            })
    }

    fn move_down_by(&mut self, zero_m: f64) {
        for height in self.copper.iter_mut().flatten().flatten() {
            *height -= zero_m;
        }
        for sheet in &mut self.dielectrics {
            sheet.bottom_m -= zero_m;
            sheet.top_m -= zero_m;
        }
        self.touched_face_m -= zero_m;
        self.back_m -= zero_m;
    }
}
