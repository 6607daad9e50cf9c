//! How a copper area is filled.

use crate::units::Length;

/// Copper of an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// Copper everywhere.
    Solid,
    /// A square mesh of lines.
    Hatch(Hatch),
}

/// A square mesh of copper lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hatch {
    /// Width of the lines.
    pub line: Length,
    /// Distance between the middles of neighbouring lines.
    pub pitch: Length,
    /// Whether the lines run at 45 degrees to the edges of the board.
    pub is_diagonal: bool,
    /// Whether every line is drawn in the field; otherwise the mesh is a sheet that lets some of the
    /// field through, as much as one cell of it does.
    pub is_drawn: bool,
}

impl Hatch {
    /// Share of the area that is copper: `1 - (1 - line / pitch)^2`, exact.
    pub fn copper_share(&self) -> f64 {
        let open = 1.0 - self.line / self.pitch;
        1.0 - open * open
    }
}
