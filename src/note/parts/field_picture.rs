//! The field around a touch as a cut.

use crate::note::facts::Facts;
use crate::report::{Block, Figure};
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let view = match &facts.section {
        Ok(view) => view,
        Err(reason) => {
            return Ok(vec![Block::paragraph(format!(
                "No picture of the field: {reason}."
            ))]);
        }
    };
    let mut said = "Lines: equal potential, every 10 % of the pad's. Shade: density of the flux, relative to the \
                    largest mean value of the two pictures, on a logarithmic scale. "
        .to_owned();
    said += "A cut along x, endless in the other direction: a trend, no numbers of this note come from it.";
    if !view.left_out.is_empty() {
        said += &format!(" Left out of the cut: {}.", view.left_out.join(", "));
    }
    Ok(vec![
        Block::Figure(Figure {
            name: "field".to_owned(),
            caption: format!(
                "The field of pad \"{}\" untouched (left) and touched (right).",
                view.pad
            ),
            alternative: format!(
                "Cross-section through pad \"{}\" with lines of equal potential, untouched and touched by \
                 finger \"{}\"",
                view.pad, facts.response.finger
            ),
            svg: view.picture.svg()?,
            command: facts.note_command(),
        }),
        Block::paragraph(said),
    ])
}
