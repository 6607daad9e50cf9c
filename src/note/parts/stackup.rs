//! The layers: drawn and as a table.

use crate::drawing::stack_drawing;
use crate::note::facts::Facts;
use crate::note::words::{TYPED_IN, decimal, mm, range_of};
use crate::panel::LayerContent;
use crate::report::{Block, Figure, Table};
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let panel = facts.order.panel;
    let names: Vec<&str> = panel
        .layers
        .iter()
        .map(|layer| layer.name.as_str())
        .collect();
    let figure = Figure {
        name: "stackup".to_owned(),
        caption: "Stackup from the touched face (top) to the back. Heights to scale where nothing is said; \
                  thin layers are drawn thicker, with a zigzag at their left end."
            .to_owned(),
        alternative: format!("Stackup, from the touched face to the back: {}", names.join(", ")),
        svg: stack_drawing(panel).svg()?,
        command: facts.note_command(),
    };
    let mut table = Table::new(
        "Layers from the touched face to the back",
        &[
            "layer",
            "material",
            "thickness, mm",
            "tolerance range, mm",
            "permittivity",
            "tolerance range",
            "source of permittivity",
        ],
        2,
    )
    .with_words_in(&[6]);
    table.remark = TYPED_IN.to_owned();
    for layer in &panel.layers {
        let thickness = mm(layer.thickness.nominal);
        let over = range_of(&layer.thickness, mm);
        table.row(match &layer.content {
            LayerContent::Dielectric {
                material,
                permittivity,
                source,
            } => vec![
                layer.name.clone(),
                material.clone(),
                thickness,
                over,
                decimal(permittivity.nominal.relative()),
                range_of(permittivity, |p| decimal(p.relative())),
                source.clone(),
            ],
            LayerContent::Copper => vec![
                layer.name.clone(),
                "copper".to_owned(),
                thickness,
                over,
                String::new(),
                String::new(),
                String::new(),
            ],
        });
    }
    Ok(vec![Block::Figure(figure), Block::Table(table)])
}
