//! `padfield walk FILE`: a finger across the panel, and over its face.

use super::chart_files::{Drawn, drawn_text};
use super::common::{Destination, Given, Solving};
use super::ending::{cautions_text, checks_text, exit_of, with_ending};
use super::input::{Input, bad_input};
use super::so_far::with_so_far;
use super::window as window_command;
use super::{Exit, Failure, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::panel::{Finger, Model, Panel, Supply};
use crate::questions::walk::{
    Direction, TouchMap, Walk, WalkRecord, assumption, map_picture, map_so_far, report, touch_map,
    usual_fingers, walk as walk_along, walk_picture, walk_so_far,
};
use crate::questions::window::{SoFar, window as decide};
use crate::report::terminal;
use crate::sensitivity::PanelFamily;
use crate::touch::{TouchError, WorkLimits};
use std::io::Write;
use std::path::PathBuf;

/// Walk a finger across the panel and over its face: counts of every pad at every place
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield walk scenarios/fern.toml --finger child --finger thumb --no-map\n         \
    padfield walk scenarios/tern.toml --slider slider --finger adult\n\n\
    Exit codes: 0 success, 2 bad input, 4 accuracy not reached, 130 interrupted"
)]
pub struct WalkArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// Finger or user that walks, given several times for several (default: the users of the smallest
    /// and of the largest contact)
    #[arg(long, value_name = "NAME")]
    pub finger: Vec<String>,
    /// Supply of the device (default: the first of the panel)
    #[arg(long, value_name = "NAME")]
    pub supply: Option<String>,
    /// The line goes through the middle of this pad (default: the first)
    #[arg(long, value_name = "PAD")]
    pub through: Option<String>,
    /// Walk upwards instead of from left to right
    #[arg(long)]
    pub vertical: bool,
    /// Threshold in counts (default: the one that `window` decides on, for all pads)
    #[arg(long, value_name = "COUNTS")]
    pub threshold: Option<f64>,
    /// Walk along this slider or around this wheel instead: the position its segments tell
    #[arg(long, value_name = "PADS", conflicts_with_all = ["through", "vertical", "no_map", "threshold"])]
    pub slider: Option<String>,
    /// Leave the map over the face out
    #[arg(long)]
    pub no_map: bool,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
}

/// A threshold and where it comes from.
type Threshold = Option<(f64, &'static str)>;

/// Runs the command.
///
/// # Errors
/// A file that cannot be read, a faulty panel, an unknown name, a place that cannot be solved.
pub fn walk(
    arguments: &WalkArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let input = arguments.given.read()?;
    let Input { document, panel } = &input;
    let limits = arguments.solving.limits(progress);
    let fingers = fingers(arguments, panel)?;
    let supply = supply(arguments, panel)?;
    let charts = arguments.to.charts(&arguments.given, "walk")?;
    if arguments.slider.is_some() {
        return super::walk_slider::walk_slider(
            arguments, &input, &fingers, supply, &limits, charts, output,
        );
    }
    let through = pad(arguments, panel)?;
    let failed = |error: TouchError| window_command::failure((document, panel), &error);
    if arguments.vertical && panel.model.value != Model::Volume {
        return Err(bad_input(format!(
            "{}: --vertical needs model = \"volume\": in a cut along x every place along y is the same",
            arguments.given.file.display()
        )));
    }
    let direction = match arguments.vertical {
        true => Direction::Vertical,
        false => Direction::Across,
    };
    let largest = fingers.last().filter(|_| !arguments.no_map);
    let answer = || -> Result<_, TouchError> {
        Ok((
            threshold(arguments, panel, &limits)?,
            walk_along(panel, &fingers, supply, through, direction, &limits)?,
            match largest {
                Some(largest) => touch_map(panel, largest, supply, &limits)?,
                None => None,
            },
        ))
    };
    let so_far = || -> Result<_, TouchError> {
        let mut parts = Vec::new();
        if arguments.threshold.is_none() {
            let window = SoFar::of(&PanelFamily::of_panel(panel), &limits)?.of_pad(None);
            parts.push(format!("threshold: {}", window.words()));
        }
        let line = walk_so_far(panel, &fingers, supply, through, direction, &limits)?;
        parts.push(line);
        if let Some(largest) = largest {
            parts.extend(map_so_far(panel, largest, supply, &limits)?);
        }
        Ok(parts.join("\n"))
    };
    let (threshold, walked, map) = answer().map_err(|error| with_so_far(failed(error), so_far))?;
    let assumption = assumption(panel, supply);
    let mut checks = walked.checks();
    checks.extend(map.iter().flat_map(Findings::checks));
    if let Some(charts) = charts {
        print(
            output,
            &terminal::answer(
                &panel.title,
                &report(
                    panel,
                    &walked,
                    map.as_ref(),
                    &supply.name,
                    threshold,
                    &assumption,
                ),
            ),
        )?;
        print(output, &cautions_text(panel))?;
        print(output, &checks_text(&checks))?;
        print(
            output,
            &draw(charts, panel, &walked, map.as_ref(), threshold, &assumption)?,
        )?;
    } else {
        let counts = threshold.map(|(counts, _)| counts);
        let record = WalkRecord::of(panel, &walked, map.as_ref(), counts, &assumption);
        print_json(output, &with_ending(record, panel, &checks))?;
    }
    Ok(exit_of(&checks))
}

pub(super) fn unknown<'n>(
    arguments: &WalkArguments,
    kind: &str,
    name: &str,
    known: impl Iterator<Item = &'n str>,
) -> Failure {
    let known: Vec<&str> = known.collect();
    bad_input(format!(
        "{}: there is no {kind} \"{name}\"; known: {}",
        arguments.given.file.display(),
        known.join(", ")
    ))
}

/// The fingers that walk, the smallest contact first.
fn fingers(arguments: &WalkArguments, panel: &Panel) -> Result<Vec<Finger>, Failure> {
    let known = || panel.usage.users.value.iter().chain(&panel.fingers);
    let mut fingers: Vec<Finger> = if arguments.finger.is_empty() {
        usual_fingers(panel)
    } else {
        let find = |name: &String| {
            known()
                .find(|finger| finger.name == *name)
                .cloned()
                .ok_or_else(|| {
                    let names = known().map(|finger| finger.name.as_str());
                    unknown(arguments, "finger", name, names)
                })
        };
        arguments
            .finger
            .iter()
            .map(find)
            .collect::<Result<_, _>>()?
    };
    fingers.sort_by(|a, b| a.contact.metres().total_cmp(&b.contact.metres()));
    fingers.dedup_by(|a, b| a.name == b.name);
    Ok(fingers)
}

fn supply<'p>(arguments: &WalkArguments, panel: &'p Panel) -> Result<&'p Supply, Failure> {
    let supplies = &panel.usage.supplies.value;
    let wanted = arguments.supply.as_deref();
    let found = match wanted {
        Some(name) => supplies.iter().find(|supply| supply.name == name),
        None => supplies.first(),
    };
    found.ok_or_else(|| {
        let names = supplies.iter().map(|supply| supply.name.as_str());
        unknown(arguments, "supply", wanted.unwrap_or_default(), names)
    })
}

fn pad(arguments: &WalkArguments, panel: &Panel) -> Result<usize, Failure> {
    let Some(name) = &arguments.through else {
        return Ok(0);
    };
    let found = panel.pads.iter().position(|pad| pad.name == *name);
    found.ok_or_else(|| {
        let names = panel.pads.iter().map(|pad| pad.name.as_str());
        unknown(arguments, "pad", name, names)
    })
}

fn threshold(
    arguments: &WalkArguments,
    panel: &Panel,
    limits: &WorkLimits<'_>,
) -> Result<Threshold, TouchError> {
    if let Some(counts) = arguments.threshold {
        return Ok(Some((counts, "threshold as given")));
    }
    let window = decide(panel, limits)?;
    Ok(match window.common.choice {
        Some(choice) => Some((choice.threshold, "threshold of window")),
        None => None,
    })
}

/// Draws a chart per finger and the map.
fn draw(
    (folder, mut drawn): (PathBuf, Drawn),
    panel: &Panel,
    walk: &Walk,
    map: Option<&TouchMap>,
    threshold: Threshold,
    assumption: &str,
) -> Result<String, Failure> {
    for (index, curve) in walk.curves.iter().enumerate() {
        let chart = walk_picture(panel, walk, index, threshold, assumption);
        let name = format!("walk-{}", curve.finger.replace(' ', "-"));
        drawn.add(&folder, &name, &Picture::Line(chart))?;
    }
    if let Some(map) = map {
        let chart = map_picture(panel, map, threshold, assumption);
        drawn.add(&folder, "touch-map", &Picture::Map(chart))?;
    }
    Ok(drawn_text(&drawn, &folder))
}
