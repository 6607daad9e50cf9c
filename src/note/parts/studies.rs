//! Charts of the studies that the panel file asks for, from what is recorded of them.

use crate::note::facts::{Facts, StudyCharts};
use crate::report::{Block, Figure};
use padfield_chart::{Chart, ChartError};

/// Most charts of one study.
const MOST_CHARTS: usize = 8;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut blocks = Vec::new();
    for (place, study) in facts.order.studies.iter().enumerate() {
        blocks.push(Block::heading(study.name.clone()));
        blocks.extend(of_study(facts, place, study));
    }
    Ok(blocks)
}

fn of_study(facts: &Facts<'_>, place: usize, study: &StudyCharts) -> Vec<Block> {
    let command = facts.sweep_command(&study.name);
    let [recorded, all] = study.points;
    if recorded == 0 {
        return vec![Block::paragraph(format!(
            "Nothing is recorded for this panel file: {command} runs it, and the next note has its charts."
        ))];
    }
    let mut blocks = vec![Block::paragraph(format!(
        "{recorded} of {all} points are recorded."
    ))];
    let mut left_out = study.figures.left_out.clone();
    let mut drawn = 0;
    for figure in &study.figures.figures {
        if drawn == MOST_CHARTS {
            left_out.push(format!(
                "{} further charts, in the folder of the study",
                study.figures.figures.len() - drawn
            ));
            break;
        }
        let svg = match figure.picture.svg() {
            Ok(svg) => svg,
            Err(reason) => {
                left_out.push(format!("{}: {reason}", figure.name));
                continue;
            }
        };
        drawn += 1;
        let title = figure.picture.title();
        blocks.push(Block::Figure(Figure {
            name: format!("study-{}-{drawn}", place + 1),
            caption: format!("Study \"{}\": {title}", study.name),
            alternative: format!(
                "Chart of study \"{}\": {title}. {}",
                study.name,
                figure.notes.join(" ")
            ),
            svg,
            command: command.clone(),
        }));
        if !figure.notes.is_empty() {
            blocks.push(Block::list(figure.notes.clone()));
        }
    }
    if !left_out.is_empty() {
        blocks.push(Block::paragraph(format!(
            "Not shown: {}.",
            left_out.join("; ")
        )));
    }
    blocks
}
