//! `padfield walk FILE --slider PADS`: the position that a slider tells.

use super::chart_files::{Drawn, drawn_text};
use super::ending::{cautions_text, checks_text, exit_of, with_ending};
use super::input::Input;
use super::so_far::with_so_far;
use super::walk::{WalkArguments, unknown};
use super::{Exit, Failure, print, print_json, window as window_command};
use crate::checks::{Check, Findings};
use crate::figures::Picture;
use crate::panel::{Finger, Supply};
use crate::questions::walk::{
    SlidesRecord, assumption, slide, slide_pictures, slide_report, slides_so_far,
};
use crate::report::terminal;
use crate::touch::WorkLimits;
use padfield_chart::Stacked;
use std::io::Write;
use std::path::PathBuf;

pub(super) fn walk_slider(
    arguments: &WalkArguments,
    Input { document, panel }: &Input,
    fingers: &[Finger],
    supply: &Supply,
    limits: &WorkLimits<'_>,
    charts: Option<(PathBuf, Drawn)>,
    output: &mut dyn Write,
) -> Result<Exit, Failure> {
    let group = arguments.slider.as_deref().unwrap_or_default();
    let known = panel.sliders.iter().map(|slider| slider.group.as_str());
    let slider = panel
        .sliders
        .iter()
        .find(|slider| slider.group == group)
        .ok_or_else(|| unknown(arguments, "slider or wheel", group, known))?;
    let mut slides = Vec::new();
    for finger in fingers {
        let slid = slide(panel, slider, finger, supply, limits).map_err(|error| {
            with_so_far(window_command::failure((document, panel), &error), || {
                slides_so_far(panel, slider, fingers, supply, limits)
            })
        })?;
        slides.push(slid);
    }
    let checks: Vec<Check> = slides.iter().flat_map(Findings::checks).collect();
    if let Some((folder, mut drawn)) = charts {
        print(
            output,
            &terminal::answer(&panel.title, &slide_report(&slides, &supply.name)),
        )?;
        print(output, &cautions_text(panel))?;
        print(output, &checks_text(&checks))?;
        let pictures = slide_pictures(&panel.title, &slides, &assumption(panel, supply));
        match Stacked::new(&pictures[0].title, &pictures) {
            Ok(stacked) => {
                let name = format!("slider-{}", group.replace(' ', "-"));
                drawn.add(&folder, &name, &Picture::Stacked(stacked))?;
                print(output, &drawn_text(&drawn, &folder))?;
            }
            Err(error) => print(output, &format!("No chart: {error}\n"))?,
        }
    } else {
        print_json(
            output,
            &with_ending(SlidesRecord::of(&slides), panel, &checks),
        )?;
    }
    Ok(exit_of(&checks))
}
