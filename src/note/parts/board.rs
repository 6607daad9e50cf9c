//! The copper as seen from the touched side, and the size of every pad.

use crate::drawing::board_drawing;
use crate::note::facts::Facts;
use crate::note::words::{TYPED_IN, decimal, mark, mm};
use crate::panel::outline::{area, pad_polygons};
use crate::panel::{Outline, Pad};
use crate::report::{Block, Figure, Table};
use crate::rounding::significant;
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let panel = facts.order.panel;
    let names: Vec<&str> = panel.pads.iter().map(|pad| pad.name.as_str()).collect();
    let finger = panel
        .fingers
        .iter()
        .find(|finger| finger.name == facts.response.finger);
    let [width, height] = panel.board.value;
    let figure = Figure {
        name: "board".to_owned(),
        caption: format!(
            "Board of {} mm x {} mm seen from the touched side, to scale. Dashed circle: contact of finger \
             \"{}\" on \"{}\".",
            mm(width),
            mm(height),
            facts.response.finger,
            facts.farther_wall.pad
        ),
        alternative: format!(
            "Board of {} mm by {} mm with the pads {}",
            mm(width),
            mm(height),
            names.join(", ")
        ),
        svg: board_drawing(panel, finger, &facts.farther_wall.pad).svg()?,
        command: facts.note_command(),
    };
    let mut table = Table::new(
        "Pads",
        &[
            "pad",
            "outline",
            "area, mm²",
            "centre x, mm",
            "centre y, mm",
            "layer",
            "trace not drawn, mm",
            "which is",
        ],
        2,
    )
    .with_words_in(&[5, 7]);
    table.remark = TYPED_IN.to_owned();
    for pad in &panel.pads {
        table.row(vec![
            pad.name.clone(),
            outline(pad),
            significant(1e6 * area(&pad_polygons(pad)), 4),
            mm(pad.centre[0]),
            mm(pad.centre[1]),
            panel
                .layers
                .get(pad.layer)
                .map_or(String::new(), |layer| layer.name.clone()),
            mm(pad.trace_length.value),
            mark(pad.trace_length.origin),
        ]);
    }
    Ok(vec![Block::Figure(figure), Block::Table(table)])
}

fn outline(pad: &Pad) -> String {
    let mut text = match &pad.outline {
        Outline::Rectangle { width, height } => format!("{} mm x {} mm", mm(*width), mm(*height)),
        Outline::RoundedRectangle {
            width,
            height,
            corner_radius,
        } => format!(
            "{} mm x {} mm, corners of {} mm",
            mm(*width),
            mm(*height),
            mm(*corner_radius)
        ),
        Outline::Disc { diameter } => format!("disc of {} mm", mm(*diameter)),
        Outline::Ring {
            outer_diameter,
            inner_diameter,
        } => format!(
            "ring of {} mm and {} mm",
            mm(*outer_diameter),
            mm(*inner_diameter)
        ),
        Outline::Polygon { corners } => format!("polygon of {} corners", corners.len()),
    };
    if let Some(hole) = pad.hole {
        text += &format!(", hole of {} mm", mm(hole));
    }
    if pad.rotation_degrees != 0.0 {
        text += &format!(", turned {} degrees", decimal(pad.rotation_degrees));
    }
    text
}
