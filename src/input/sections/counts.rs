//! How much a file asks for at once, counted before anything is made of it.

use super::common::*;

use crate::panel::{Outline, Pad};

/// Most layers.
const MOST_LAYERS: usize = 100;
/// Most sections of one kind; every one is a body of the field or something to be solved for every pad.
const MOST_SECTIONS: usize = 100;
/// Most traces: one per pad and as many of their own.
const MOST_TRACES: usize = 2000;
/// Most corners of all pads together: columns and rows repeat those of a polygon.
const MOST_CORNERS: usize = 50_000;
/// Most touches and most events of all questions about a panel together.
const MOST_TOUCHES: usize = 100_000;

/// Counts the sections of every kind.
pub(crate) fn sections(file: &PanelFile) -> Result<(), Finding> {
    if file.layer.len() > MOST_LAYERS {
        return Err(Finding::at(
            steps!["layer", MOST_LAYERS],
            format!("there are {} layers", file.layer.len()),
            format!("write {MOST_LAYERS} at most"),
        ));
    }
    for (section, names) in file.named() {
        let most = match section {
            "trace" => MOST_TRACES,
            _ => MOST_SECTIONS,
        };
        if let Some(name) = names.get(most) {
            return Err(Finding::at_key(
                steps![section, *name],
                format!("there are {} sections [{section}.NAME]", names.len()),
                format!("write {most} at most"),
            ));
        }
    }
    Ok(())
}

/// Counts the corners of all pads, and what every pad is asked about: touches by every finger, under
/// every film, on every supply.
pub(crate) fn touches(file: &PanelFile, pads: &[Pad]) -> Result<(), Finding> {
    let mut corners = 0;
    for pad in pads {
        if let Outline::Polygon { corners: own } = &pad.outline {
            corners += own.len();
        }
        if corners > MOST_CORNERS {
            return Err(Finding::at(
                steps!["pads", &pad.group, "corners"],
                format!("with this group all pads have more than {MOST_CORNERS} corners"),
                "write fewer corners, or smaller numbers of columns and rows",
            ));
        }
    }
    let factors = [
        ("pads", pads.len()),
        ("finger", file.finger.len().max(1)),
        ("film", file.film.len() + 1),
        ("supply", file.supply.len().max(1)),
    ];
    let count = factors
        .iter()
        .try_fold(1_usize, |product, (_, count)| product.checked_mul(*count));
    if count.is_some_and(|count| count <= MOST_TOUCHES) {
        return Ok(());
    }
    let [pads, fingers, states, supplies] = factors.map(|(_, count)| count);
    let most = if fingers >= states.max(supplies) {
        "finger"
    } else if states >= supplies {
        "film"
    } else {
        "supply"
    };
    Err(Finding::at_key(
        steps![most],
        format!(
            "{pads} pads, {fingers} fingers, {} films and {supplies} supplies make more than \
             {MOST_TOUCHES} touches",
            states - 1
        ),
        "ask about fewer of them in one file",
    ))
}
