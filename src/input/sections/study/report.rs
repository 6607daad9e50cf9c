//! What a study reports, and the limits of it: quantities by their words, values in their units.

use super::super::common::*;
use super::{LimitEntry, STUDY, StudyEntry};
use crate::input::quantity::reading::read_one;
use crate::panel::Panel;
use crate::study::{Limit, Quantity, QuantityKind, Side};

/// Message and hint of a refusal.
pub(crate) type Refusal = (String, String);

pub(super) fn report(
    name: &str,
    entry: &Keyed<StudyEntry>,
    panel: &Panel,
) -> Result<Vec<Quantity>, Finding> {
    let Some(given) = &entry.report else {
        return Ok([
            QuantityKind::BaseCapacitance,
            QuantityKind::TouchShift,
            QuantityKind::NeighbourRatio,
        ]
        .map(Quantity::of_panel)
        .to_vec());
    };
    if given.is_empty() {
        return Err(Finding::at(
            steps![STUDY, name, "report"],
            "nothing is reported",
            format!("name at least one of {}", all_quantities()),
        ));
    }
    let mut report: Vec<Quantity> = Vec::new();
    for (index, text) in given.iter().enumerate() {
        let at = steps![STUDY, name, "report", index];
        let quantity = quantity(at.clone(), text, panel)?;
        if report.contains(&quantity) {
            return Err(Finding::at(
                at,
                format!("\"{quantity}\" is reported twice"),
                "remove one of them",
            ));
        }
        report.push(quantity);
    }
    Ok(report)
}

fn all_quantities() -> String {
    listed(QuantityKind::ALL.map(QuantityKind::words))
}

/// A quantity of the panel by its words.
pub(crate) fn quantity(at: Vec<Step>, text: &str, panel: &Panel) -> Result<Quantity, Finding> {
    let quantity: Quantity = text
        .parse()
        .map_err(|unknown: crate::study::UnknownQuantity| {
            let known = QuantityKind::ALL.map(QuantityKind::words);
            let hint = match nearest(&unknown.0, known) {
                Some(near) => format!("did you mean \"{near}\"? one of {}", all_quantities()),
                None => format!("write one of {}, or one \"of\" a pad", all_quantities()),
            };
            Finding::at(at.clone(), unknown.to_string(), hint)
        })?;
    if let Some(pad) = &quantity.pad {
        find_name(at, pad, "pad", panel.pads.iter().map(|p| p.name.as_str()))?;
    }
    Ok(quantity)
}

pub(super) fn limit(at: Vec<Step>, entry: &LimitEntry, panel: &Panel) -> Result<Limit, Finding> {
    let quantity = quantity(with_step(&at, "quantity"), &entry.quantity, panel)?;
    let (side, key, text) = match (&entry.at_most, &entry.at_least) {
        (Some(text), None) => (Side::AtMost, "at_most", text),
        (None, Some(text)) => (Side::AtLeast, "at_least", text),
        _ => {
            return Err(Finding::at(
                at,
                "a limit is one of at_most and at_least",
                "write one of them; a band is two limits",
            ));
        }
    };
    let value = value_of(quantity.kind, text)
        .map_err(|(message, hint)| Finding::at(with_step(&at, key), message, hint))?;
    Ok(Limit {
        quantity,
        side,
        value,
        because: entry.because.clone(),
    })
}

/// A value in the unit of its quantity: `"20 %"` as 20, `"500 fF"` as 0.5, `"30 counts"`
/// as 30.
pub(crate) fn value_of(kind: QuantityKind, text: &str) -> Result<f64, Refusal> {
    match kind.unit() {
        "%" => percent(text),
        "counts" => in_base_units(text, Measure::Counts),
        "" => in_base_units(text, Measure::Number),
        _ => read_one(text, Measure::Capacitance)
            .map(|farads| farads * 1e12)
            .map_err(|misread| (misread.message, misread.hint)),
    }
}

fn in_base_units(text: &str, measure: Measure) -> Result<f64, Refusal> {
    read_one(text, measure).map_err(|misread| (misread.message, misread.hint))
}

/// `"20 %"` as 20.
pub(super) fn percent(text: &str) -> Result<f64, Refusal> {
    let number = text.trim().strip_suffix('%').map(str::trim_end);
    match number.map(str::parse::<f64>) {
        Some(Ok(value)) if value.is_finite() => Ok(value),
        _ => {
            let bare = text.trim().parse::<f64>().is_ok_and(f64::is_finite);
            Err((
                match bare {
                    true => format!("{} has no unit", text.trim()),
                    false => format!("\"{text}\" is not a share"),
                },
                match bare {
                    true => format!("did you mean \"{} %\"?", text.trim()),
                    false => "write a share such as \"20 %\"".to_owned(),
                },
            ))
        }
    }
}
