//! How a copper area is filled.

use padfield_engine::units::Length;

/// What to write instead of lines that are too many.
pub(crate) const SHEET_REMEDY: &str =
    "write treat_as = \"sheet\", which leaks as one cell of the mesh does";

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

    /// How many lines run on either side of the middle one in an area of such a size, those across x
    /// and those across y: a line half outside counts as well.
    pub fn lines_beside_the_middle(&self, size_m: [f64; 2]) -> [f64; 2] {
        let [line, pitch] = [self.line.metres(), self.pitch.metres()];
        self.reach_m(size_m)
            .map(|reach| ((reach + line / 2.0) / pitch).floor())
    }

    /// How far from the middle of an area its lines reach, across x and across y \[m\].
    pub fn reach_m(&self, size_m: [f64; 2]) -> [f64; 2] {
        match self.is_diagonal {
            true => [size_m[0].hypot(size_m[1]) / 2.0; 2],
            false => size_m.map(|side| side / 2.0),
        }
    }

    /// Grid cells in the plane that all lines of an area ask for at least: two across a line and the gap
    /// beside it, of lines that run at an angle half a line width everywhere.
    pub fn least_cells(&self, size_m: [f64; 2]) -> f64 {
        let along = match self.is_diagonal {
            true => size_m.map(|side| 2.0 * side / self.line.metres()),
            false => {
                (self.lines_beside_the_middle(size_m)).map(|beside| 2.0 * (2.0 * beside + 1.0))
            }
        };
        along[0] * along[1]
    }
}
