//! What a touch of one pad does to every other.

use crate::note::facts::Facts;
use crate::report::{Block, Cell, Table};
use crate::response::{Estimated, PadResponse, Touch};
use crate::rounding::rounded_with_error;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let pads = &facts.response.pads;
    let names: Vec<&str> = pads.iter().map(|pad| pad.name.as_str()).collect();
    let touched: Vec<(&PadResponse, &Touch)> = pads
        .iter()
        .filter_map(|pad| Some((pad, pad.touch.as_ref()?)))
        .collect();
    if names.len() < 2 || touched.is_empty() {
        return Ok(Vec::new());
    }
    let headers: Vec<&str> = std::iter::once("touched")
        .chain(names.iter().copied())
        .collect();
    let matrix = |caption: &str,
                  own: &dyn Fn(&PadResponse, &Touch) -> String,
                  other: &dyn Fn(&PadResponse, &Touch, &str) -> String| {
        let mut table = Table::new(caption, &headers, 1);
        table.command = facts.solve_command();
        for (pad, touch) in &touched {
            let mut row = vec![Cell::from(pad.name.clone())];
            row.extend(names.iter().map(|&name| match name == pad.name {
                true => Cell {
                    text: own(pad, touch),
                    strong: true,
                },
                false => Cell::from(other(pad, touch, name)),
            }));
            table.cells(row);
        }
        table
    };
    let shown = |shift: Estimated| shift.shown();
    let in_pf = matrix(
        "Shifts in pF: rows are touched, columns respond",
        &|_, touch| shown(touch.shift),
        &|_, touch, name| {
            let found = touch.neighbours.iter().find(|one| one.pad == name);
            found.map_or(String::new(), |one| shown(one.shift))
        },
    );
    let counts =
        |shift: crate::measuring_circuit::CountShift| rounded_with_error(shift.value, shift.error);
    let of = |pad: &PadResponse| {
        facts
            .response
            .counts
            .pad(&pad.name)
            .and_then(|c| c.touch.as_ref())
    };
    let in_counts = matrix(
        "The same in counts of each pad's own circuit",
        &|pad, _| of(pad).map_or(String::new(), |touch| counts(touch.shift)),
        &|pad, _, name| {
            let found =
                of(pad).and_then(|touch| touch.neighbours.iter().find(|one| one.pad == name));
            found.map_or(String::new(), |one| counts(one.shift))
        },
    );
    Ok(vec![
        Block::paragraph(format!(
            "Finger \"{}\" where the panel file puts it on each pad; the diagonal is the touch itself. Users \
             who miss the middle of a pad are in the threshold window.",
            facts.response.finger
        )),
        Block::Table(in_pf),
        Block::Table(in_counts),
    ])
}
