//! How much the hatches that are drawn as lines ask for, counted before a line is made.

use super::super::error::Finding;
use super::super::keys::steps;
use super::show_mm;
use crate::panel::{Fill, GroundArea, SHEET_REMEDY};

/// Most lines of all drawn hatches of a panel: with a thousand along either side of a board the field
/// needs about a hundred gigabytes.
const MOST_LINES: f64 = 2000.0;
/// Most cells in the plane that they ask for, of the same size.
const MOST_CELLS: f64 = 4e6;

/// The hatches drawn so far.
#[derive(Default)]
pub(super) struct Drawing {
    lines: f64,
    cells: f64,
}

impl Drawing {
    /// Counts an area; one that is solid or a sheet asks for nothing.
    pub fn add(&mut self, (section, name): (&str, &str), area: &GroundArea) -> Result<(), Finding> {
        let Fill::Hatch(hatch) = area.fill else {
            return Ok(());
        };
        if !hatch.is_drawn {
            return Ok(());
        }
        let size_m = area.size.map(|side| side.metres());
        let beside = hatch.lines_beside_the_middle(size_m);
        self.lines += beside.iter().map(|lines| 2.0 * lines + 1.0).sum::<f64>();
        self.cells = self.cells.max(hatch.least_cells(size_m));
        if self.lines > MOST_LINES {
            return Err(Finding::at(
                steps![section, name, "pitch"],
                format!(
                    "at a pitch of {} hatches are drawn with {:.0} lines, {MOST_LINES} at most",
                    show_mm(hatch.pitch),
                    self.lines
                ),
                format!("{SHEET_REMEDY}, or a larger pitch"),
            ));
        }
        if self.cells > MOST_CELLS {
            return Err(Finding::at(
                steps![section, name, "line"],
                format!(
                    "drawing lines of {} takes {:.0} cells in the plane, {MOST_CELLS} at most",
                    show_mm(hatch.line),
                    self.cells
                ),
                format!("{SHEET_REMEDY}, or a larger line width"),
            ));
        }
        Ok(())
    }
}
