//! `padfield rules FILE`: rules of thumb held against one panel.

use super::chart_files::{ChartFailure, Drawn, drawn_text, place};
use super::common::{Solving, Touching};
use super::ending::{checks_text, exit_of, with_ending};
use super::input::{self, Input, bad_input, faulty};
use super::so_far::{interrupted, telling};
use super::{Exit, Failure, interrupt, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::panel::Panel;
use crate::questions::rules::{
    Asked, COMMON_PRACTICE, Judgement, Rule, RulesRecord, ThresholdShares, Verdict, add_or_replace,
    built_in, file_name, judge_and_tell, picture, report, rules_of,
};
use crate::questions::window::{SoFar, Window, picture as window_picture, window};
use crate::report::terminal;
use crate::sensitivity::PanelFamily;
use crate::touch::WorkLimits;
use padfield_engine::field::{Settings, join_printed};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Hold rules of thumb against a panel: which hold, which are more careful than needed, which fail
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield rules scenarios/two_pads.toml\n\n\
    A house keeps its own rules in a file: padfield rules --show > house.toml prints the built-in ones to \
    start from; --rules house.toml adds those of the file and replaces those of the same name. Charts \
    (.svg, .png) go to DIR.\n\n\
    Exit codes: 0 judged, 3 a rule fails here, 2 bad input, 4 accuracy not reached, 130 interrupted")]
pub struct RulesArguments {
    /// Panel file (TOML)
    #[arg(value_name = "FILE", required_unless_present = "show")]
    pub file: Option<PathBuf>,
    /// Rules file (TOML) whose rules are added or replace those of the same name; may be given several
    /// times
    #[arg(long, value_name = "RULES")]
    pub rules: Vec<PathBuf>,
    /// Judge this rule only; may be given several times
    #[arg(long, value_name = "NAME")]
    pub only: Vec<String>,
    /// Judge this pad group only; may be given several times (default: each in turn)
    #[arg(long, value_name = "GROUP")]
    pub pads: Vec<String>,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Override a value of the file by its dotted path; may be given several times
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// Folder for the charts (default: results/PANEL/rules)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Write no charts
    #[arg(long)]
    pub no_charts: bool,
    /// Print the built-in rules and end
    #[arg(long)]
    pub show: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// Runs the command: reads panel and rules, judges, draws, prints to `output`. An interrupt ends it;
/// what is judged by then is printed.
///
/// # Errors
/// A file that cannot be read or is faulty, a name that is not there, charts that cannot be written.
pub fn rules(
    arguments: &RulesArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let Some(file) = arguments.file.as_ref().filter(|_| !arguments.show) else {
        print(output, COMMON_PRACTICE)?;
        return Ok(Exit::Success);
    };
    let shown = file.display().to_string();
    let Input { document, panel } = input::read(file, &arguments.set)?;
    check_names(arguments, &shown, &panel)?;
    let rules = chosen(arguments)?;
    let settings = telling(arguments.solving.settings());
    let mut charts = match arguments.no_charts {
        true => None,
        false => Some(place(
            file,
            "rules",
            arguments.out.as_ref(),
            &arguments.set,
        )?),
    };
    let about_thresholds = rules.iter().find(|rule| rule.needs_thresholds());
    let found = about_thresholds.map(|_| all_touches(&panel, &settings, progress));
    let asked = Asked {
        document: &document,
        overrides: &[],
        finger: arguments.touching.of(file, &panel)?,
        groups: &arguments.pads,
        settings: settings.clone(),
        thresholds: match &found {
            Some(Ok(found)) => ThresholdShares::of(found),
            Some(Err(reason)) => Err(reason.clone()),
            None => Err("no rule asks for thresholds".to_owned()),
        },
    };
    let judgement = judged(&asked, &panel, &rules, found.as_ref(), progress);
    let checks = judgement.checks();
    let thresholds = about_thresholds.zip(found.as_ref().and_then(|found| found.as_ref().ok()));
    let mut draw = || match &mut charts {
        // Pictures take longer than there is.
        _ if judgement.stopped => Ok(()),
        Some((folder, drawn)) => draw_judged(drawn, folder, &panel, &judgement, thresholds),
        None => Ok(()),
    };
    if arguments.json {
        // The record names the charts: what is judged is told, whatever becomes of them.
        let ended = draw();
        let drawn = charts.map(|(_, drawn)| drawn).unwrap_or_default();
        let record = RulesRecord::of(&judgement, settings.accuracy, &drawn.files, &drawn.left_out);
        print_json(output, &with_ending(record, &panel, &checks))?;
        ended?;
    } else {
        let text = terminal::answer(&judgement.title, &report(&judgement, settings.accuracy))
            + &checks_text(&checks);
        print(output, &text)?;
        draw()?;
        let drawn = charts.map(|(folder, drawn)| drawn_text(&drawn, &folder));
        if let Some(drawn) = drawn.filter(|text| !text.is_empty()) {
            print(output, &format!("\n{}\n", terminal::wrap(drawn.trim_end())))?;
        }
    }
    if judgement.stopped {
        let judged = judgement.rows.iter();
        let judged = judged.filter(|row| row.verdict != Verdict::NotJudged);
        let mut known = format!(
            "{} of {} rules are judged",
            judged.count(),
            judgement.rows.len()
        );
        if let Some(Err(_)) = found
            && let Ok(window) = SoFar::of(&PanelFamily::of_panel(&panel), &WorkLimits::of(settings))
        {
            known += &format!("\nthresholds: {}", window.of_pad(None).words());
        }
        return Err(interrupted(&known));
    }
    Ok(exit_of(&checks))
}

/// Judges the rules; `found` are the touches that thresholds are judged by, whose solving is part of it.
fn judged(
    asked: &Asked<'_>,
    panel: &Panel,
    rules: &[Rule],
    found: Option<&Result<Window, String>>,
    tell: &(dyn Fn(&str) + Sync),
) -> Judgement {
    let mut judgement = judge_and_tell(
        asked,
        panel,
        rules,
        &interrupt::asked,
        &|judged| {
            if judged > 0 {
                interrupt::something_is_known();
            }
        },
        tell,
    );
    match found {
        Some(Ok(found)) => {
            judgement.threshold_problems = found.field_problems;
            judgement.accuracy_reached &= found.accuracy_reached;
            join_printed(&mut judgement.missed, found.missed.iter().cloned());
            judgement.seconds += found.seconds;
        }
        // Nobody knows what thresholds would have said.
        Some(Err(_)) => judgement.stopped |= interrupt::asked(),
        None => {}
    }
    judgement
}

/// Draws the window of a rule about thresholds and every row that has a picture.
fn draw_judged(
    drawn: &mut Drawn,
    folder: &Path,
    panel: &Panel,
    judgement: &Judgement,
    thresholds: Option<(&Rule, &Window)>,
) -> Result<(), ChartFailure> {
    if let Some((rule, found)) = thresholds {
        let chart = window_picture(&panel.title, found, found.binding());
        drawn.add(folder, &rule.name, &Picture::Ranges(chart))?;
    }
    for row in &judgement.rows {
        if let Some(picture) = picture(row, &judgement.finger) {
            drawn.add(folder, &file_name(row), &picture)?;
        }
    }
    Ok(())
}

/// Built-in rules, those of the house, of these the ones that are asked for.
fn chosen(arguments: &RulesArguments) -> Result<Vec<Rule>, Failure> {
    let mut rules = built_in();
    for path in &arguments.rules {
        let more = rules_of(&path.display().to_string(), &input::bytes(path)?).map_err(faulty)?;
        add_or_replace(&mut rules, more);
    }
    let names: Vec<String> = rules.iter().map(|rule| rule.name.clone()).collect();
    for name in &arguments.only {
        known("rule", name, &names).map_err(bad_input)?;
    }
    if !arguments.only.is_empty() {
        rules.retain(|rule| arguments.only.contains(&rule.name));
    }
    Ok(rules)
}

fn check_names(arguments: &RulesArguments, file: &str, panel: &Panel) -> Result<(), Failure> {
    let mut groups: Vec<String> = panel.pads.iter().map(|pad| pad.group.clone()).collect();
    groups.dedup();
    for name in &arguments.pads {
        known("pad group", name, &groups)
            .map_err(|message| bad_input(format!("{file}: {message}")))?;
    }
    Ok(())
}

fn known(what: &str, name: &str, known: &[String]) -> Result<(), String> {
    match known.iter().any(|k| k == name) {
        true => Ok(()),
        false => Err(format!(
            "there is no {what} \"{name}\"; there are: {}",
            known.join(", ")
        )),
    }
}

/// Every touch of every user: what thresholds are judged by.
fn all_touches(
    panel: &Panel,
    settings: &Settings,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Window, String> {
    let limits = WorkLimits {
        settings: settings.clone(),
        solver: &padfield_engine::field::solve,
        stop: &interrupt::asked,
        progress: &|text| progress(&format!("thresholds: {text}")),
    };
    window(panel, &limits).map_err(|error| error.to_string())
}
