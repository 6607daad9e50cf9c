//! Slots (air reliefs) cut into a dielectric layer between pads or anywhere.

use super::group::strips_between;
use super::outline::Rectangle;
use super::{Layer, PadGroup};
use padfield_engine::units::{Length, Permittivity};

/// Face of the layer a slot is cut from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlotSide {
    /// The face towards the back of the panel.
    Back,
    /// The face towards the touched side.
    Front,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlotFilling {
    /// Dry.
    Air,
    /// Standing water, as a dielectric; its conduction is not part of the field.
    Water,
}

impl SlotFilling {
    /// Relative to vacuum; water at 20 degrees Celsius, from memory.
    pub fn permittivity(self) -> Permittivity {
        Permittivity::from_relative(match self {
            Self::Air => 1.0,
            Self::Water => 80.0,
        })
    }
}

#[derive(Clone, Debug, PartialEq)]
pub enum SlotPlace {
    /// In the middle of every gap of a pad group, as long as the pads.
    Between {
        group: String,
        /// Width of the slots; zero means none.
        width: Length,
    },
    Own {
        /// Middle x, y.
        centre: [Length; 2],
        /// Extent along x and y.
        size: [Length; 2],
    },
}

/// A slot with straight walls in one dielectric layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    pub name: String,
    /// Index into [`Panel::layers`](super::Panel::layers); a dielectric layer.
    pub layer: usize,
    pub place: SlotPlace,
    /// How deep it is cut; at most the thickness of the layer, zero means none.
    pub depth: Length,
    /// Face it is cut from.
    pub side: SlotSide,
    pub filling: SlotFilling,
}

impl Slot {
    /// Whether nothing is cut: no depth or no width.
    pub fn is_empty(&self) -> bool {
        let no_width = match &self.place {
            SlotPlace::Between { width, .. } => width.metres() <= 0.0,
            SlotPlace::Own { size, .. } => size.iter().any(|side| side.metres() <= 0.0),
        };
        no_width || self.depth.metres() <= 0.0
    }

    /// Outlines of the slots \[m\], each `[low, high]`; none when nothing is cut. `groups` are those of its
    /// panel.
    pub fn strips(&self, groups: &[PadGroup]) -> Vec<Rectangle> {
        if self.is_empty() {
            return Vec::new();
        }
        match &self.place {
            SlotPlace::Between { group, width } => {
                strips_between(groups, group, |_| width.metres())
            }
            SlotPlace::Own { centre, size } => {
                let edge = |side: f64| {
                    [0, 1].map(|axis| (centre[axis] + size[axis] * (0.5 * side)).metres())
                };
                vec![[edge(-1.0), edge(1.0)]]
            }
        }
    }

    /// Whether it is cut into the same layer, as deep, from the same face, with the same filling.
    pub fn cuts_like(&self, other: &Self) -> bool {
        (self.layer, self.depth, self.side, self.filling)
            == (other.layer, other.depth, other.side, other.filling)
    }

    /// What is left of the nominal thickness of its layer.
    pub fn wall_left(&self, layers: &[Layer]) -> Length {
        let thickness = layers
            .get(self.layer)
            .map_or(self.depth, |layer| layer.thickness.nominal);
        thickness - self.depth
    }
}
