//! How far the numbers can be trusted: bracket, outer wall and input tolerance, apart from one another.

use crate::note::facts::Facts;
use crate::note::words::{BASE_DIGITS, mm, range_of};
use crate::report::{Block, Table};
use crate::rounding::{signed_with_error, significant};
use padfield_chart::ChartError;
use padfield_engine::units::Capacitance;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut table = Table::new(
        "Bracket and input tolerance, kept apart",
        &[
            "pad",
            "base ± estimated error, pF",
            "bounds, pF",
            "bounds are",
            "touch shift ± estimated error, pF",
            "base at the pin, stray tolerance range, pF",
        ],
        1,
    )
    .with_words_in(&[3]);
    table.command = facts.solve_command();
    for pad in &facts.response.pads {
        let Some(base) = pad.base else {
            continue;
        };
        let touch = pad.touch.as_ref();
        table.row(vec![
            pad.name.clone(),
            base.computed.shown(),
            base.bounds
                .map(|end| significant(end.pf(), BASE_DIGITS + 1))
                .join(" to "),
            match base.bounds_are_guaranteed {
                true => "guaranteed for the model",
                false => "estimated (round outlines or a cut)",
            }
            .to_owned(),
            touch.map_or(String::new(), |t| t.shift.shown()),
            pad.base_at_pin.map_or(String::new(), |at_pin| {
                range_of(&at_pin, |c| significant(c.pf(), BASE_DIGITS))
            }),
        ]);
    }
    Ok(vec![
        Block::paragraph(
            "The field is solved twice on the same grid, once from above by potentials and once from below by \
             fluxes. The true value of the model lies between these bounds; the estimated error is that \
             of the mean. Input tolerance is another matter and stands in columns of its own.",
        ),
        Block::Table(table),
        Block::Table(wall(facts)),
        Block::paragraph(
            "Not in any of these bars: what the model leaves out (losses in wet or filled materials, resistance of \
             printed conductors, soft fingertips, bodies near metal walls), see the assumptions.",
        ),
    ])
}

fn wall(facts: &Facts<'_>) -> Table {
    let check = &facts.farther_wall;
    let mut table = Table::new(
        format!("The outer wall, checked on pad \"{}\"", check.pad),
        &[
            "quantity",
            "farther minus near ± errors of both, pF",
            "within them",
        ],
        1,
    )
    .with_words_in(&[2]);
    for (quantity, [change, errors]) in [("base", check.base), ("touch shift", check.shift)] {
        let pf = |c: Capacitance| c.pf();
        let is_within = pf(change).abs() <= pf(errors);
        table.row(vec![
            quantity.to_owned(),
            signed_with_error(pf(change), pf(errors)),
            if is_within { "yes" } else { "no" }.to_owned(),
        ]);
    }
    let [near, far] = check.distances;
    table.remark = format!(
        "The open wall stands for endless space. All numbers have it {} mm away, the check {} mm: what moves \
         with it beyond the errors is not resolved.",
        mm(near),
        mm(far)
    );
    table.command = format!(
        "{} --pad {} --set {}",
        facts.solve_command(),
        crate::note::words::quoted(&check.pad),
        crate::note::words::quoted(&format!("wall_distance={} mm", mm(far)))
    );
    table
}
