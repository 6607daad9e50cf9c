//! What of a panel asks for most cells of a grid: where to look when there is no room for one.
//!
//! Takes a panel; gives a hatch whose lines are drawn, a group of many pads, or nothing where neither explains
//! a large grid; never fails.

use super::fill::SHEET_REMEDY;
use super::{Fill, GroundArea, PadGroup, Panel};

/// Below so many cells in the plane nothing is at fault but the accuracy.
const LEAST_CELLS: f64 = 1000.0;

/// What asks for most cells in the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heaviest<'p> {
    /// An area filled with a hatch that is drawn line by line, and the cells its lines ask for at least.
    Lines(&'p GroundArea, f64),
    /// Pads of a group, and the cells their edges ask for at least.
    Pads(&'p PadGroup, f64),
}

impl<'p> Heaviest<'p> {
    pub fn of(panel: &'p Panel) -> Option<Self> {
        let lines = panel.grounds.iter().filter_map(|area| match area.fill {
            Fill::Hatch(hatch) if hatch.is_drawn => {
                let cells = hatch.least_cells(area.size.map(|side| side.metres()));
                Some(Self::Lines(area, cells))
            }
            _ => None,
        });
        // Two lines for every pad along either axis.
        let pads = panel.groups.iter().map(|group| {
            let lines = 4 * group.columns() * group.rows();
            Self::Pads(group, lines as f64)
        });
        let all = lines.chain(pads).filter(|one| one.cells() >= LEAST_CELLS);
        all.max_by(|one, other| one.cells().total_cmp(&other.cells()))
    }

    fn cells(&self) -> f64 {
        match self {
            Self::Lines(_, cells) | Self::Pads(_, cells) => *cells,
        }
    }

    /// What it is and what it asks for.
    pub fn words(&self) -> String {
        let cells = self.cells();
        match self {
            Self::Lines(area, _) => format!(
                "the hatch \"{}\" is drawn with all its lines, which take {cells:.0} cells in the plane",
                area.name
            ),
            Self::Pads(group, _) => format!(
                "the {} pads of \"{}\" take {cells:.0} cells in the plane",
                group.members.len(),
                group.name
            ),
        }
    }

    pub fn remedy(&self) -> String {
        match self {
            Self::Lines(..) => format!("{SHEET_REMEDY}, or a larger pitch"),
            Self::Pads(..) => {
                "ask for a coarser accuracy, or write fewer columns and rows".to_owned()
            }
        }
    }
}
