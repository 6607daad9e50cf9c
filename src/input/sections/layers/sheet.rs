//! What a layer covers: its own outline or the board, and whether something lies within it.

use super::super::common::*;

use crate::panel::outline::{Rectangle, pad_box};
use crate::panel::{Layer, LayerContent, LayerOutline, Pad};

/// A rectangle with its name for messages.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub bounds_m: Rectangle,
    name: Option<String>,
    size: [Length; 2],
}

impl Sheet {
    /// Of a layer by its index; without an outline of its own it is the board.
    pub fn of(layers: &[Layer], index: usize, board: [Length; 2]) -> Self {
        let own = layers
            .get(index)
            .and_then(|layer| Some((layer.name.clone(), layer.outline?)));
        let outline = own.as_ref().map_or(
            LayerOutline {
                size: board,
                centre: [Length::default(); 2],
            },
            |(_, outline)| *outline,
        );
        Self {
            bounds_m: outline.bounds_m(),
            name: own.map(|(name, _)| name),
            size: outline.size,
        }
    }

    /// Whether a rectangle lies within it.
    pub fn holds(&self, [low, high]: Rectangle) -> bool {
        let [least, most] = self.bounds_m;
        (0..2).all(|axis| {
            low[axis] >= least[axis] - TOUCHING_M && high[axis] <= most[axis] + TOUCHING_M
        })
    }

    /// `the board (60 mm x 40 mm)`; `plain` where it has no outline of its own.
    pub fn words(&self, plain: &str) -> String {
        let [width, height] = self.size.map(show_mm);
        match &self.name {
            Some(name) => format!("layer \"{name}\" ({width} x {height})"),
            None => format!("the {plain} ({width} x {height})"),
        }
    }
}

/// Every pad lies under the touched layer: elsewhere nobody could touch it through anything.
pub(crate) fn pads_covered(
    layers: &[Layer],
    pads: &[Pad],
    board: [Length; 2],
) -> Result<(), Finding> {
    let covers = |pad: &&Pad| {
        let before = layers.iter().take(pad.layer).enumerate();
        let solid = before.filter(|(_, layer)| {
            layer.content != LayerContent::Copper && layer.thickness.nominal.metres() > 0.0
        });
        let mut whole = solid.map(|(index, _)| Sheet::of(layers, index, board).holds(pad_box(pad)));
        whole.next().is_none_or(|first| first)
    };
    match pads.iter().find(|pad| !covers(pad)) {
        None => Ok(()),
        Some(pad) => {
            let cover = layers
                .iter()
                .position(|layer| layer.thickness.nominal.metres() > 0.0)
                .unwrap_or_default();
            Err(Finding::at(
                steps!["layer", cover, "outline"],
                format!("pad \"{}\" is not all under this layer", pad.name),
                "the touched layer lies over every pad: write a larger outline or another centre",
            ))
        }
    }
}
