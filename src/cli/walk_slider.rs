//! `padfield walk FILE --slider PADS`: the position that a slider tells.

use super::chart_files::{Drawn, drawn_text};
use super::ending::{add_ending, cautions_text, checks_text, exit_of};
use super::input::Input;
use super::walk::{WalkArguments, unknown};
use super::{Exit, Failure, print, print_json, window as window_command};
use crate::checks::{Check, Findings};
use crate::figures::Picture;
use crate::panel::{Finger, Origin, Panel, SliderLimits, Supply};
use crate::questions::walk::{Slide, assumption, slide, slide_pictures};
use crate::report::terminal::{table, wrap};
use crate::rounding::{rounded_with_error, significant};
use crate::touch::WorkLimits;
use padfield_chart::Stacked;
use serde_json::{Value, json};
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
        let slid = slide(panel, slider, finger, supply, limits)
            .map_err(|error| window_command::failure((document, panel), &error))?;
        slides.push(slid);
    }
    let checks: Vec<Check> = slides.iter().flat_map(Findings::checks).collect();
    if let Some((folder, mut drawn)) = charts {
        print(output, &text(panel, supply, &slides))?;
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
        let records: Vec<Value> = slides.iter().map(Slide::to_json).collect();
        let mut record = json!({ "slides": records });
        add_ending(&mut record, panel, &checks);
        print_json(output, record)?;
    }
    Ok(exit_of(&checks))
}

fn text(panel: &Panel, supply: &Supply, slides: &[Slide]) -> String {
    let rows = slides
        .iter()
        .map(|slide| {
            let error = slide.places.iter().map(|place| place.estimate_error.mm());
            vec![
                slide.finger.clone(),
                rounded_with_error(slide.linearity().mm(), error.fold(0.0, f64::max)),
                format!("{} %", significant(100.0 * slide.ripple(), 2)),
                significant(slide.resolution().mm(), 2),
                slide.dead_zone_words(),
                slide.work.field_problems.to_string(),
            ]
        })
        .collect();
    let header = [
        "finger",
        "largest\ndeviation, mm",
        "ripple of\nthe total",
        "resolution\nmm rms",
        "dead zones\nmm",
        "field\nproblems",
    ];
    let group = slides.first().map_or("", |slide| slide.group.as_str());
    let pitch = slides.first().map_or(0.0, |slide| slide.pitch.mm());
    let limit = |of: fn(&SliderLimits) -> (Origin, String)| {
        let told = slides.first().map(|slide| of(&slide.limits));
        match told {
            None => String::new(),
            Some((Origin::Given, value)) => value,
            Some((Origin::Default, value)) => format!("{value} (common practice, no source)"),
        }
    };
    let explained = format!(
        "Centroid of the three neighbouring segments with the most counts, {} mm apart; around a wheel the \
         direction of all. Deviation from the true position without any correction, outside the dead zones, \
         with its largest numerical error; in a dead zone the estimate moves less than half as far as the \
         finger. Resolution: one standard deviation of the untouched noise. Limits: deviation {}, ripple {}, \
         dead zones {}.",
        significant(pitch, 3),
        limit(|limits| (
            limits.deviation.origin,
            format!("{} mm", limits.deviation.value.mm())
        )),
        limit(|limits| (
            limits.ripple.origin,
            format!("{} %", 100.0 * limits.ripple.value)
        )),
        limit(|limits| (
            limits.dead_zone.origin,
            format!("{} mm", limits.dead_zone.value.mm())
        )),
    );
    format!(
        "{}\n\nPosition told by \"{group}\", supply {}\n{}\n{}\n",
        panel.title,
        supply.name,
        table(&header, 1, rows),
        wrap(&explained),
    )
}
