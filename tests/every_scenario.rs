//! Every scenario asked everything, on small fields: window, tolerance, levers and note tell the same events to the
//! last bit, and what makes any command end with exit code 3 is among the risks of the note.

use crate::event::agree;
use crate::quick::{QUICK, Quick};
use padfield::checks::{Check, Findings};
use padfield::event::Event;
use padfield::input::{Document, Override};
use padfield::note::{Facts, Order, compose, gather};
use padfield::questions::window::{Window, levers, window_of};
use padfield::sensitivity::PanelFamily;
use padfield::touch::{KeptFields, Progress, WorkLimits};
use padfield::{
    questions::discharge, questions::drift, questions::return_path, questions::slider,
    questions::tolerance, questions::walk, report,
};
use padfield_engine::case::Case;
use padfield_engine::field::Settings;
use std::path::{Path, PathBuf};

/// Coarse: numbers do not matter here, only that all tell the same and that none of them is lost.
const ACCURACY: f64 = 0.2;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios")
}

/// The scenario made small, asked for 15 kV.
fn family(quick: &Quick) -> PanelFamily {
    let file = format!("{}.toml", quick.name);
    let text = std::fs::read_to_string(folder().join(&file)).expect("a scenario");
    let document = Document::from_text(&file, &text).expect("a panel file");
    let mut set = vec![("discharge.level", "air 15 kV")];
    set.extend(quick.changes);
    let overrides = set
        .iter()
        .map(|(path, value)| Override::parse(&format!("{path}={value}")).expect("an override"));
    let overrides: Vec<Override> = overrides.collect();
    let document = document.overridden(&overrides).expect("a panel file");
    PanelFamily::of_document(&document).expect("a panel")
}

fn facts<'a>(name: &'a str, family: &'a PanelFamily, limits: &'a WorkLimits<'_>) -> Facts<'a> {
    let order = Order {
        file: name,
        command: "padfield note",
        date: "2026-01-02",
        set: &[],
        remark: None,
        document: family.document.as_ref().expect("a file"),
        panel: &family.panel,
        accuracy: ACCURACY,
        window_accuracy: ACCURACY,
        settings: &limits.settings,
        with_window: true,
        with_remedies: false,
        with_guidelines: false,
        with_tolerances: true,
        units: 0,
        with_environment: true,
        with_walk: true,
        with_touch_map: false,
        studies: &[],
    };
    gather(order, limits.solver, &|| false, &|_| {}).expect("facts")
}

/// Rows of the open risks: state, risk, what is known.
fn risks(note: &report::Document) -> Vec<[String; 3]> {
    let section = note.sections.iter().find(|section| section.id == "risks");
    let tables = section.into_iter().flat_map(|section| &section.blocks);
    tables
        .filter_map(|block| match block {
            report::Block::Table(table) => Some(table),
            _ => None,
        })
        .flat_map(|table| &table.rows)
        .map(|row| [0, 1, 2].map(|cell: usize| row[cell].text.clone()))
        .collect()
}

/// The checks of every command that asks the panel on its own, as it asks: what makes one end with exit code 3.
fn of_every_command(family: &PanelFamily, limits: &WorkLimits<'_>) -> Vec<Check> {
    let panel = &family.panel;
    let mut checks = discharge::discharge(panel).expect("paths").checks();
    let drifted = drift::drift(panel, &drift::Question::default(), limits);
    checks.extend(drifted.iter().flat_map(Findings::checks));
    let question = return_path::Question::default();
    let returned = return_path::return_study(panel, &question, limits);
    checks.extend(returned.iter().flat_map(Findings::checks));
    checks.extend(window_of(family, limits).expect("a window").checks());
    let sliders = slider::decide_all(panel, limits).expect("sliders");
    checks.extend(sliders.iter().flat_map(Findings::checks));
    let question = tolerance::Question {
        pad: None,
        threshold: None,
        units: 0,
        seed: 1,
    };
    let spread = tolerance::tolerance(family, &question, limits);
    checks.extend(spread.iter().flat_map(Findings::checks));
    let fingers = walk::usual_fingers(panel);
    let Some(supply) = panel.usage.supplies.value.first() else {
        return checks;
    };
    let walked = walk::walk(panel, &fingers, supply, 0, walk::Direction::Across, limits);
    checks.extend(walked.iter().flat_map(Findings::checks));
    for slider in &panel.sliders {
        for finger in &fingers {
            let slid = walk::slide(panel, slider, finger, supply, limits);
            checks.extend(slid.iter().flat_map(Findings::checks));
        }
    }
    checks
}

/// What the scenarios had to show, counted: a test that compares nothing fails.
#[derive(Default)]
struct Seen {
    judged_pairs: usize,
    levers: usize,
    failed: usize,
    with_failures: Vec<&'static str>,
}

impl Seen {
    /// Window, tolerance and note tell the same events: all counts of all of them, nominal ratio and binding pair.
    fn compare_events(
        &mut self,
        quick: &Quick,
        family: &PanelFamily,
        window: &Window,
        facts: &Facts<'_>,
        limits: &WorkLimits<'_>,
    ) {
        let name = quick.name;
        let noted = facts.decided().expect("a window");
        assert_eq!(noted.table.events, window.table.events, "{name}");
        assert_eq!(noted.pads, window.pads, "{name}");
        assert_eq!(noted.common, window.common, "{name}");
        let judged = window.binding();
        let (Some(weakest), Some(strongest)) = (judged.weakest_true, judged.strongest_false) else {
            return;
        };
        self.judged_pairs += 1;
        agree(name, &family.panel, window);
        let Some(Ok(spread)) = &facts.spread else {
            panic!("{name}: no tolerances: {:?}", facts.spread);
        };
        assert_eq!(spread.nominal_ratio, judged.nominal_ratio, "{name}");
        let watched: Vec<&Event> = spread.watch.events.iter().map(|one| &one.event).collect();
        for index in [weakest, strongest] {
            assert!(watched.contains(&&window.table.events[index]), "{name}");
        }
        // Levers of the others would take minutes.
        if judged.ratio > 0.0 && quick.fineness.is_none() {
            let found = levers(family, window, limits).expect("levers");
            assert_eq!(found.ratio, judged.ratio, "{name}");
            self.levers += 1;
        }
    }

    /// What makes a command end with exit code 3, each asked on its own, is among the risks of the note.
    fn compare_checks(&mut self, quick: &Quick, checks: &[Check], told: &[[String; 3]]) {
        let name = quick.name;
        for check in checks {
            let row = [
                check.severity.word().to_owned(),
                check.subject(),
                check.value.clone(),
            ];
            assert!(told.contains(&row), "{name}: {row:?} is not in {told:?}");
        }
        let fails = checks.iter().filter(|check| check.fails()).count();
        self.failed += fails;
        if fails > 0 {
            self.with_failures.push(name);
        }
    }
}

#[test]
fn every_scenario_is_asked_here() {
    let files = std::fs::read_dir(folder()).expect("the scenarios");
    let names = files.map(|file| file.expect("an entry").file_name());
    let mut names: Vec<String> = names
        .map(|name| name.to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".toml"))
        .collect();
    names.sort();
    let known: Vec<String> = QUICK
        .iter()
        .map(|one| format!("{}.toml", one.name))
        .collect();
    assert_eq!(names, known);
}

#[test]
fn all_questions_about_a_scenario_tell_the_same_and_its_note_hides_no_failure() {
    let mut seen = Seen::default();
    for quick in &QUICK {
        // The fields are solved once for all that ask for the same; what is made of them each makes on its own.
        let solve =
            |case: &Case, without: Option<&str>, settings: &Settings, tell: &Progress<'_>| {
                quick.solve(case, without, settings, tell)
            };
        let kept = KeptFields::of(&solve);
        let limits = WorkLimits {
            solver: &|case, without, settings, tell| kept.solve(case, without, settings, tell),
            ..WorkLimits::of(Settings {
                accuracy: ACCURACY,
                ..Settings::default()
            })
        };
        let family = family(quick);
        let facts = facts(quick.name, &family, &limits);
        let window = window_of(&family, &limits).expect("solved");
        seen.compare_events(quick, &family, &window, &facts, &limits);
        let mut checks = facts.response.checks();
        checks.extend(of_every_command(&family, &limits));
        seen.compare_checks(quick, &checks, &risks(&compose(&facts).expect("a note")));
    }
    assert!(seen.levers >= 2, "{} panels with levers", seen.levers);
    assert!(seen.judged_pairs >= 6, "{} pairs", seen.judged_pairs);
    let (failed, names) = (seen.failed, seen.with_failures);
    assert!(failed >= 10 && names.len() >= 5, "{failed}: {names:?}");
}
