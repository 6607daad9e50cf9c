//! Drift of the baseline, return path of the finger, discharges.

use super::told;
use crate::note::facts::Facts;
use crate::questions::discharge;
use crate::questions::drift;
use crate::questions::return_path;
use crate::report::{Block, Figure};
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(environment) = &facts.environment else {
        return Ok(vec![Block::paragraph("Left out of this note.")]);
    };
    let panel = facts.order.panel;
    let title = &facts.response.title;
    let mut blocks = vec![Block::heading("Drift of the baseline")];
    let command = facts.drift_command();
    let drift = environment.drift.as_ref();
    blocks.extend(told(
        drift.map(|drift| drift::report(panel, drift, &[])),
        &command,
    ));
    if let Some(chart) = drift.ok().and_then(|found| drift::picture(title, found)) {
        blocks.push(Block::Figure(Figure {
            name: "drift".to_owned(),
            caption: "Drift of the baseline over temperature, the threshold to compare".to_owned(),
            alternative: "Line chart of the baseline of the worst pad over temperature, its parts by layer, the \
                          threshold on either side; its numbers are in the table above."
                .to_owned(),
            svg: chart.svg()?,
            command,
        }));
    }
    blocks.push(Block::heading("Return path"));
    let command = facts.return_command();
    let study = environment.return_study.as_ref();
    blocks.extend(told(
        study.map(|study| return_path::report(panel, study)),
        &command,
    ));
    if let Some(study) = study.ok().filter(|study| !study.pads.is_empty()) {
        blocks.push(Block::Figure(Figure {
            name: "return-path".to_owned(),
            caption: "What a weak return path leaves of the touch".to_owned(),
            alternative: "Line chart of the share of the earthed touch shift over return capacitance for every pad, \
                          the supplies marked; its numbers are in the table above."
                .to_owned(),
            svg: return_path::picture(title, study).svg()?,
            command,
        }));
    }
    blocks.push(Block::heading(
        "Discharge: an estimate, no safety insulation",
    ));
    let command = facts.discharge_command();
    let found = environment.discharge.as_ref();
    blocks.extend(told(
        found.map(|found| discharge::report(panel, found)),
        &command,
    ));
    if let Some(found) = found.ok().filter(|found| !found.paths.is_empty()) {
        blocks.push(Block::Figure(Figure {
            name: "discharge".to_owned(),
            caption: "What every way holds, against the levels of the test standard".to_owned(),
            alternative: "Ranges of the voltage that every way of a discharge holds, the levels marked; its numbers \
                          are in the table above."
                .to_owned(),
            svg: discharge::picture(title, found).svg()?,
            command,
        }));
    }
    Ok(blocks)
}
