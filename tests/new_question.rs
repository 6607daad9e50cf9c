//! A question of one's own, outside of the program, with everything that a question has: how alike are the touches of
//! all pads? The guide shows this file ("A question of your own").

use padfield::chart::{Axis, Bar, BarChart, Chart};
use padfield::checks::{Check, Findings, Kind, Severity, Source, fails};
use padfield::engine::field::Settings;
use padfield::report::{Block, Report, Table, terminal};
use padfield::rounding::{percent_with_error, rounded_with_error};
use padfield::{LoweringOptions, PadResponse, Panel, Request, ResponseError, WorkLimits};
use padfield::{panel_from_bytes, respond_under};
use serde::Serialize;

/// A pad's touch shift beside the largest of the panel.
#[derive(Serialize)]
struct Touch {
    pad: String,
    touch_shift_pf: f64,
    estimated_error_pf: f64,
    share_of_largest: f64,
}

#[derive(Serialize)]
struct Evenness {
    touches: Vec<Touch>,
    wanted: f64,
}

/// Computes it. Whoever calls says how exactly and hears of the progress.
fn evenness(panel: &Panel, wanted: f64, limits: &WorkLimits) -> Result<Evenness, ResponseError> {
    let request = Request {
        panel,
        finger: None,
        pad: None,
        settings: limits.settings.clone(),
        options: LoweringOptions::default(),
    };
    let response = respond_under(&request, limits)?;
    let shift = |pad: &PadResponse| Some(pad.touch.as_ref()?.shift);
    let shifts = response.pads.iter().filter_map(shift);
    let largest = shifts.map(|shift| shift.value.pf()).fold(0.0, f64::max);
    let touches = response.pads.iter().filter_map(|pad| {
        let shift = shift(pad)?;
        Some(Touch {
            pad: pad.name.clone(),
            touch_shift_pf: shift.value.pf(),
            estimated_error_pf: shift.error.pf(),
            share_of_largest: shift.value.pf() / largest,
        })
    });
    Ok(Evenness {
        touches: touches.collect(),
        wanted,
    })
}

/// What is not kept: exit codes, warnings and the risks of a note come from this.
impl Findings for Evenness {
    fn checks(&self) -> Vec<Check> {
        let uneven = self
            .touches
            .iter()
            .filter(|touch| touch.share_of_largest < self.wanted);
        let check = |touch: &Touch| {
            Check::new(Kind::Question, Severity::Failed, Source::Solve)
                .at(format!("pad \"{}\"", touch.pad))
                .found(format!(
                    "{:.0} % of the largest touch shift",
                    100.0 * touch.share_of_largest
                ))
                .keeps(format!("at least {:.0} %", 100.0 * self.wanted))
        };
        uneven.map(check).collect()
    }
}

/// Says it once.
fn report(found: &Evenness) -> Report {
    let mut report = Report::default();
    let verdict = match fails(&found.checks()) {
        true => "The pads are not alike.",
        false => "The pads are alike.",
    };
    report.say(Block::verdict(verdict));
    let mut table = Table::new(
        "Touch shifts",
        &["pad", "touch shift, pF", "of the largest, %"],
        1,
    );
    for touch in &found.touches {
        let share = touch.share_of_largest;
        let error = share * touch.estimated_error_pf / touch.touch_shift_pf;
        table.row(vec![
            touch.pad.clone(),
            rounded_with_error(touch.touch_shift_pf, touch.estimated_error_pf),
            percent_with_error(share, error),
        ]);
    }
    report.say(table);
    report
}

/// Draws it.
fn picture(found: &Evenness) -> BarChart {
    let bar = |touch: &Touch| Bar {
        name: touch.pad.clone(),
        value: 100.0 * touch.share_of_largest,
        ..Bar::default()
    };
    BarChart {
        title: "How alike are the touches?".to_owned(),
        value: Axis::linear("touch shift over the largest", "%"),
        bars: found.touches.iter().map(bar).collect(),
        ..BarChart::default()
    }
}

/// Two keys side by side are touched alike, being mirror images; a third of half their width is not.
#[test]
fn a_question_of_ones_own() {
    let pads = |name: &str, rest: &str| {
        format!("[pads.{name}]\nlayer = \"front\"\nshape = \"rectangle\"\n{rest}\n")
    };
    let keys = pads(
        "keys",
        "size = \"12 mm x 12 mm\"\ncolumns = 2\ngap = \"8 mm\"",
    );
    let narrow = pads(
        "narrow",
        "size = \"6 mm x 12 mm\"\ncentre = \"30 mm, 0 mm\"",
    );
    let layers = "model = \"section\"\n[[layer]]\nname = \"overlay\"\nmaterial = \"acrylic\"\n\
                  thickness = \"3 mm\"\n[[layer]]\nname = \"front\"\ncopper = \"35 um\"\n";
    for (text, verdict) in [
        (format!("{layers}{keys}"), "are alike"),
        (format!("{layers}{keys}{narrow}"), "are not alike"),
    ] {
        let panel = panel_from_bytes("keys.toml", text.as_bytes(), &[]).expect("a panel");
        let mut limits = WorkLimits::of(Settings::default());
        limits.settings.accuracy = 0.05;
        let found = evenness(&panel, 0.9, &limits).expect("an answer");
        let printed = terminal::answer(&panel.title, &report(&found));
        assert!(printed.contains(verdict), "{printed}");
        assert_eq!(report(&found).extract("padfield evenness").len(), 2);
        assert!(picture(&found).svg().is_ok());
        assert!(serde_json::to_string(&found).is_ok_and(|json| json.contains("keys-1")));
    }
}
