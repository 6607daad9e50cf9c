//! All rules on all pad groups of a panel.

use super::bench::{Bench, Engine, NoNumbers, Solved, Touch, Trouble};
use super::data::{Kind, Rule};
use super::needed::Judged;
use super::row::{Row, Verdict};
use super::subject::{Asked, Subject, subjects};
use super::{effect, needed, ratio};
use crate::cautions::cautions;
use crate::panel::lowering::LoweringOptions;
use crate::panel::{IdleState, Panel};
use crate::questions::against::FINER;
use crate::response::{Request, ResponseError, point_values, respond_with};
use crate::touch::{Progress, to_go};
use padfield_engine::case::Case;
use padfield_engine::field::{self, FieldError, Printed, Settings};
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

/// Every rule on every pad group, and what it took.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Rule by rule, group by group.
    pub rows: Vec<Row>,
    /// Title of the panel.
    pub title: String,
    pub finger: String,
    /// What the numbers hang on, one line each, for the first touch that was solved.
    pub assumptions: Vec<String>,
    /// Cautions that belong to the panel, one line each.
    pub cautions: Vec<String>,
    /// Field problems that were solved (each untouched and touched).
    pub field_problems: usize,
    /// Field problems behind [`Asked::thresholds`], solved before.
    pub threshold_problems: usize,
    /// Numbers that were known already from another rule or place.
    pub shared: usize,
    /// Whether every solve reached its accuracy.
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
    /// Whether the field engine gave no answer somewhere.
    pub has_numerical_failure: bool,
    /// Whether it was asked to stop.
    pub stopped: bool,
    /// Wall-clock time \[s\].
    pub seconds: f64,
}

/// The built-in field engine. `progress` hears what it does.
///
/// Idle pads at 0 V that are not watched get no row of the matrix: their numbers are not wanted, and a
/// row costs as much as that of the touched pad.
pub fn field_engine<'e>(
    settings: &'e Settings,
    progress: &'e (dyn Fn(&str) + Sync),
) -> impl Fn(&Panel, Touch<'_>) -> Result<Solved, NoNumbers> + 'e {
    move |panel, touch| {
        let asked = touch.accuracy;
        let request = Request {
            panel,
            finger: Some(touch.finger),
            pad: Some(touch.pad),
            settings: Settings {
                accuracy: asked,
                // Half of it is for differences.
                printed_accuracy: Some(asked.max(settings.printed_accuracy())),
                ..settings.clone()
            },
            options: LoweringOptions::default(),
        };
        let is_wanted = |name: &String| {
            let is_pad = panel.pads.iter().any(|pad| pad.name == *name);
            !is_pad || name == touch.pad || touch.watched.contains(name)
        };
        let solver = |case: &Case, without: Option<&str>, settings: &Settings, _: &Progress<'_>| {
            let mut settings = settings.clone();
            if let (IdleState::Grounded, Some(drive)) = (panel.idle.value, &mut settings.drive) {
                drive.retain(is_wanted);
            }
            field::solve(case, without, &settings, progress)
        };
        let response = respond_with(&request, &solver).map_err(|error| NoNumbers {
            is_numerical: matches!(
                error,
                ResponseError::Field(
                    FieldError::NotConverged { .. }
                        | FieldError::TooLarge { .. }
                        | FieldError::NoMemory { .. }
                )
            ),
            reason: error.reason(panel),
        })?;
        Ok(Solved {
            values: point_values(&response),
            accuracy_reached: response.numerics.accuracy_reached,
            missed: response.numerics.missed,
            field_problems: response.numerics.solves,
            assumptions: response.assumptions,
        })
    }
}

/// Judges rules with the built-in engine. `judged` hears how many are judged; `progress` how many of all, how long the
/// others take, and what goes on.
pub fn judge_and_tell(
    asked: &Asked<'_>,
    panel: &Panel,
    rules: &[Rule],
    stop: &dyn Fn() -> bool,
    judged: &dyn Fn(usize),
    progress: &(dyn Fn(&str) + Sync),
) -> Judgement {
    let start = Instant::now();
    let at = Mutex::new(String::new());
    let at = || at.lock().unwrap_or_else(PoisonError::into_inner);
    let tell = |text: &str| {
        let at = at().clone();
        progress(&format!("{at}; {text}"));
    };
    judge(
        asked,
        panel,
        rules,
        &field_engine(&asked.settings, &tell),
        stop,
        &mut |[done, of], name| {
            judged(done);
            let to_go = to_go(done, of, start.elapsed().as_secs_f64());
            *at() = format!("{done} of {of} rules judged{to_go}");
            tell(name);
        },
    )
}

/// Judges rules on a checked panel. `stop` is asked before every solve; `observe` hears before each rule how
/// many are judged, of how many on all groups of pads, and its name.
pub fn judge(
    asked: &Asked<'_>,
    panel: &Panel,
    rules: &[Rule],
    engine: &Engine<'_>,
    stop: &dyn Fn() -> bool,
    observe: &mut dyn FnMut([usize; 2], &str),
) -> Judgement {
    let start = Instant::now();
    let first = || panel.fingers.first().map_or("", |finger| &finger.name);
    let finger = asked.finger.unwrap_or_else(first);
    let mut bench = Bench::new(asked, engine, stop);
    let mut rows = Vec::new();
    let mut stopped = false;
    let mut number = 0;
    let subjects = subjects(panel, finger, asked.groups);
    for subject in &subjects {
        for rule in rules {
            observe([number, subjects.len() * rules.len()], &rule.name);
            number += 1;
            let judged = if stopped {
                Err(Trouble::Stopped)
            } else {
                judge_one(&mut bench, subject, rule)
            };
            stopped |= judged.as_ref().is_err_and(|t| *t == Trouble::Stopped);
            rows.push(row(rule, subject, settled(judged)));
        }
    }
    Judgement {
        rows,
        title: panel.title.clone(),
        finger: finger.to_owned(),
        assumptions: bench.assumptions,
        cautions: cautions(panel),
        field_problems: bench.field_problems,
        threshold_problems: 0,
        shared: bench.shared,
        accuracy_reached: !bench.is_short_of_accuracy,
        missed: bench.missed,
        has_numerical_failure: bench.has_numerical_failure,
        stopped,
        seconds: start.elapsed().as_secs_f64(),
    }
}

fn judge_one(bench: &mut Bench<'_>, subject: &Subject, rule: &Rule) -> Result<Judged, Trouble> {
    if !rule.overlay.is_empty() && !rule.overlay.contains(&subject.overlay_material) {
        return Ok(Judged {
            verdict: Verdict::NotAbout,
            ..Judged::not_described(format!(
                "the overlay is {}; the rule is about {}",
                subject.overlay_material,
                rule.overlay.join(", ")
            ))
        });
    }
    bench.accuracy = match &rule.kind {
        Kind::Effect(_) | Kind::PowerLaw(_) => bench.asked.settings.accuracy / FINER,
        _ => bench.asked.settings.accuracy,
    };
    match &rule.kind {
        Kind::NeededValue(needed) => needed::judge(bench, subject, rule, needed),
        Kind::Effect(effect) => effect::judge(bench, subject, rule, effect),
        Kind::PowerLaw(law) => ratio::power_law(bench, subject, rule, law),
        Kind::Estimate {
            name,
            within_percent,
        } => ratio::estimate(bench, subject, rule, name, *within_percent),
        Kind::ThresholdShare(shares) => {
            Ok(ratio::threshold_share(&bench.asked.thresholds, *shares))
        }
        Kind::NotDescribed(needs) => Ok(Judged::not_described(format!(
            "the panel file would need {needs}"
        ))),
    }
}

fn settled(judged: Result<Judged, Trouble>) -> Judged {
    match judged {
        Ok(judged) => judged,
        Err(Trouble::Stopped) => not_judged("interrupted".to_owned()),
        Err(Trouble::Engine(reason)) => not_judged(reason),
        Err(Trouble::None(reason)) => Judged::not_described(reason),
    }
}

fn not_judged(reason: String) -> Judged {
    Judged {
        verdict: Verdict::NotJudged,
        ..Judged::not_described(reason)
    }
}

fn row(rule: &Rule, subject: &Subject, judged: Judged) -> Row {
    Row {
        rule: rule.name.clone(),
        says: rule.says.clone(),
        source: rule.source.clone(),
        because: rule.because.clone(),
        group: subject.is_one_of_several.then(|| subject.group.clone()),
        touch: judged.touch,
        verdict: judged.verdict,
        reason: judged.reason,
        detail: judged.detail,
    }
}
