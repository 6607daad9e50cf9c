//! A field that finds no room, at the place of the file that makes it large.

use super::Document;
use super::error::ScenarioError;
use crate::input::place::Finding;
use crate::input::place::steps;
use crate::panel::{Heaviest, Panel};

impl Document {
    /// What refused the field of a panel of this file, at the section that asks for most cells of its grid; none
    /// where no section does.
    pub fn without_room(&self, panel: &Panel, refusal: &str) -> Option<ScenarioError> {
        let heaviest = Heaviest::of(panel)?;
        let steps = match heaviest {
            Heaviest::Lines(area, _) => {
                let is_ground = self.sections("ground").contains(&area.name);
                let section = if is_ground { "ground" } else { "shield" };
                steps![section, &area.name, "pitch"]
            }
            Heaviest::Pads(group, _) => steps!["pads", &group.name],
        };
        let message = format!("{refusal}; {}", heaviest.words());
        Some(self.placed(Finding::at(steps, message, heaviest.remedy())))
    }
}
