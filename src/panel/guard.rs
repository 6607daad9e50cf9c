//! Guard traces between the pads of a group or around all of them.

use super::group::strips_between;
use super::metal::{Connection, frame};
use super::outline::Rectangle;
use super::{Length, PadGroup};

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GuardPlace {
    /// In the middle of every gap of the group, as long as the pads; zero width means none.
    Between {
        /// Width of the trace.
        width: Length,
    },
    /// In every gap of the group, as wide as the distance it keeps to the pads lets it.
    BetweenKeeping {
        /// Distance to the pads on both sides.
        clearance: Length,
    },
    /// A frame around the whole group; zero width means none.
    Around {
        /// Width of the trace.
        width: Length,
        /// Distance from the outermost pads.
        clearance: Length,
    },
}

/// A trace that keeps pads apart electrically.
#[derive(Clone, Debug, PartialEq)]
pub struct Guard {
    pub name: String,
    /// Pad group it runs in or around.
    pub group: String,
    /// Index into [`Panel::layers`](super::Panel::layers); a copper layer.
    pub layer: usize,
    pub place: GuardPlace,
    pub connection: Connection,
}

impl Guard {
    /// Width of its trace, where it has one of its own.
    pub fn width(&self) -> Option<Length> {
        match self.place {
            GuardPlace::Between { width } | GuardPlace::Around { width, .. } => Some(width),
            GuardPlace::BetweenKeeping { .. } => None,
        }
    }

    /// Whether it has no copper: no width.
    pub fn is_empty(&self) -> bool {
        self.width().is_some_and(|width| width.metres() <= 0.0)
    }

    /// Outlines of its copper \[m\]; none when it is empty or the pads leave no room. `groups` are those of
    /// its panel.
    pub fn strips(&self, groups: &[PadGroup]) -> Vec<Rectangle> {
        if self.is_empty() {
            return Vec::new();
        }
        match self.place {
            GuardPlace::Between { width } => {
                strips_between(groups, &self.group, |_| width.metres())
            }
            GuardPlace::BetweenKeeping { clearance } => {
                let room = |gap_m: f64| gap_m - 2.0 * clearance.metres();
                strips_between(groups, &self.group, room)
            }
            GuardPlace::Around { width, clearance } => {
                let around = groups.iter().find(|group| group.name == self.group);
                around.map_or_else(Vec::new, |group| {
                    let [low, high] = group.extent();
                    let clearance = clearance.metres();
                    let inner = [low.map(|at| at - clearance), high.map(|at| at + clearance)];
                    frame(inner, width.metres()).to_vec()
                })
            }
        }
    }
}
