//! What is open: everything the other sections could not settle, with what would settle it.

use super::guidelines::open;
use super::threshold::pad_name;
use crate::chart::ChartError;
use crate::note::document::{Block, Table};
use crate::note::facts::Facts;
use crate::note::words::ratio;
use crate::panel::{Model, Origin};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut table = Table::new(
        "Open risks",
        &["risk", "what is known", "what would settle it", "owner"],
        4,
    );
    for [risk, known, settles] in risks(facts) {
        table.row(vec![risk, known, settles, String::new()]);
    }
    if table.rows.is_empty() {
        return Ok(vec![Block::paragraph(
            "Nothing that padfield knows of; what it does not compute is in the cautions.",
        )]);
    }
    table.command = facts.note_command();
    Ok(vec![Block::Table(table)])
}

fn risks(facts: &Facts<'_>) -> Vec<[String; 3]> {
    let mut risks: Vec<[String; 3]> = Vec::new();
    let mut add = |risk: &str, known: String, settles: &str| {
        risks.push([risk.to_owned(), known, settles.to_owned()]);
    };
    let panel = facts.order.panel;
    match &facts.window {
        None => add(
            "thresholds",
            "the window was left out of this note".to_owned(),
            "a note with the window",
        ),
        Some(Err(reason)) => add(
            "thresholds",
            reason.clone(),
            "a panel file whose window can be solved",
        ),
        Some(Ok(window)) => {
            let wanted = panel.usage.wanted_ratio.value;
            for pad in window.pads.iter().filter(|pad| pad.weakest_true.is_some()) {
                if pad.ratio < wanted {
                    add(
                        &format!("window of pad \"{}\"", pad_name(window, pad)),
                        format!("W = {}, wanted {wanted}", ratio(pad.ratio)),
                        "a change of the stackup, the users or the wanted ratio; see what would widen the window",
                    );
                }
            }
            for missing in &window.table.not_described {
                add(
                    missing,
                    "not described, so not judged".to_owned(),
                    "a line in the panel file, or a test",
                );
            }
            if !window.accuracy_reached {
                add(
                    "accuracy of the window",
                    "not reached everywhere".to_owned(),
                    "more memory, or a coarser demand",
                );
            }
        }
    }
    if !facts.response.numerics.accuracy_reached {
        add(
            "accuracy of bases and touches",
            "not reached".to_owned(),
            "more memory, or a coarser demand",
        );
    }
    if panel.model.value != Model::Volume {
        add(
            "model",
            "not three-dimensional: a trend".to_owned(),
            "the volume model, or a prototype",
        );
    }
    let stray = &panel.stray;
    let defaults = [
        ("pin capacitance", stray.pin.origin),
        ("trace capacitance per length", stray.trace.origin),
        ("users", panel.usage.users.origin),
        ("supplies", panel.usage.supplies.origin),
        (
            "resistor of the circuit",
            panel.electronics.origin("circuit.resistor"),
        ),
        (
            "gate of the circuit",
            panel.electronics.origin("circuit.gate"),
        ),
        (
            "noise of the circuit",
            panel.electronics.origin("circuit.noise"),
        ),
    ];
    for (what, origin) in defaults {
        if origin == Origin::Default {
            add(
                what,
                "a default, not a value of this product".to_owned(),
                "a value in the panel file, or a measurement",
            );
        }
    }
    for row in open(facts) {
        add(
            &format!("guideline: {}", row.says),
            format!("{}: {}", row.verdict.words(), row.reason),
            "a decision against the rule with its reason, or another value",
        );
    }
    for warning in &facts.response.warnings {
        add(
            "warning of the solver",
            warning.clone(),
            "a look at the value behind it",
        );
    }
    risks
}
