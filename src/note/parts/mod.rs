//! The sections of a note, each a function from the facts to blocks. A section without blocks is left out.

mod accuracy;
mod assumptions;
mod bench;
mod board;
mod decision;
mod electronics;
mod environment;
mod estimates;
mod field_picture;
mod guidelines;
mod neighbours;
mod pads;
mod provenance;
mod requirements;
mod risks;
mod stackup;
mod studies;
mod test_plan;
mod threshold;
mod tolerances;
mod walks;

use super::facts::Facts;
use crate::report::{Block, Document, Figure, Report, Section};
use padfield_chart::{Chart, ChartError};

/// A section: word for links, heading, what it says.
type Part = (
    &'static str,
    &'static str,
    fn(&Facts<'_>) -> Result<Vec<Block>, ChartError>,
);

/// All of them, in reading order.
const PARTS: [Part; 20] = [
    ("decision", "Decision", decision::blocks),
    ("requirements", "Requirements", requirements::blocks),
    ("stackup", "Stackup", stackup::blocks),
    ("board", "Board and pads", board::blocks),
    ("pads", "Base capacitance and touch", pads::blocks),
    ("neighbours", "Neighbours", neighbours::blocks),
    ("field", "The field of a touch", field_picture::blocks),
    ("estimates", "Hand estimates", estimates::blocks),
    ("threshold", "Threshold window", threshold::blocks),
    ("walk", "A finger across the panel", walks::blocks),
    ("guidelines", "Guideline decisions", guidelines::blocks),
    (
        "electronics",
        "Electronics and firmware constants",
        electronics::blocks,
    ),
    ("tolerances", "Tolerances", tolerances::blocks),
    (
        "environment",
        "Climate, return path, discharge",
        environment::blocks,
    ),
    ("studies", "Studies", studies::blocks),
    ("accuracy", "How accurate is this", accuracy::blocks),
    (
        "assumptions",
        "Assumptions and solver record",
        assumptions::blocks,
    ),
    ("cautions", "Cautions", assumptions::cautions),
    ("risks", "Open risks", risks::blocks),
    ("test-plan", "Verification plan", test_plan::blocks),
];

/// What a note takes of an answer, or why there is none.
fn told(answer: Result<Report, &String>, command: &str) -> Vec<Block> {
    match answer {
        Ok(report) => report.extract(command),
        Err(reason) => vec![not_computed(reason)],
    }
}

fn not_computed(reason: &str) -> Block {
    Block::paragraph(format!("Not computed: {reason}."))
}

fn left_out() -> Vec<Block> {
    vec![Block::paragraph("Left out of this note.")]
}

/// A chart as a picture of the note: name of its file, caption, the same in words.
fn figure(
    chart: &dyn Chart,
    [name, caption, alternative]: [&str; 3],
    command: &str,
) -> Result<Block, ChartError> {
    Ok(Block::Figure(Figure {
        name: name.to_owned(),
        caption: caption.to_owned(),
        alternative: alternative.to_owned(),
        svg: chart.svg()?,
        command: command.to_owned(),
    }))
}

/// The note.
///
/// # Errors
/// A picture that cannot be drawn.
pub fn compose(facts: &Facts<'_>) -> Result<Document, ChartError> {
    let mut sections = Vec::new();
    for (id, heading, blocks) in PARTS {
        let blocks = blocks(facts)?;
        if !blocks.is_empty() {
            sections.push(Section {
                id,
                heading: heading.to_owned(),
                blocks,
            });
        }
    }
    let title = match facts.response.title.trim() {
        "" => facts.order.file,
        title => title,
    };
    let mut document = Document {
        title: match facts.order.remark {
            Some(remark) => format!("Design note. {title} [{}]", remark.title),
            None => format!("Design note. {title}"),
        },
        made_from: format!(
            "Made from {} by padfield {} (inputs {}). {}Computed, not measured: a prototype must confirm it.",
            facts.order.file,
            facts.engine(),
            &facts.inputs[..16],
            facts
                .order
                .remark
                .map_or_else(String::new, |remark| format!("{} ", remark.caption)),
        ),
        sections,
    };
    document
        .sections
        .push(provenance::section(facts, &document));
    Ok(document)
}
