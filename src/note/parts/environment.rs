//! Drift of the baseline, return path of the finger, discharges.

use super::{figure, left_out, told};
use crate::note::facts::Facts;
use crate::questions::discharge;
use crate::questions::drift;
use crate::questions::return_path;
use crate::report::Block;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(environment) = &facts.environment else {
        return Ok(left_out());
    };
    let panel = facts.order.panel;
    let title = &facts.response.title;
    let mut blocks = vec![Block::heading("Drift of the baseline")];
    let command = facts.drift_command();
    let drift = environment.drift.as_ref();
    let report = drift.map(|drift| drift::report(panel, drift, &[]));
    blocks.extend(told(report, &command));
    if let Some(chart) = drift.ok().and_then(|found| drift::picture(title, found)) {
        let words = [
            "drift",
            "Drift of the baseline over temperature, the threshold to compare",
            "Line chart of the baseline of the worst pad over temperature, its parts by layer, the threshold on either \
             side; its numbers are in the table above.",
        ];
        blocks.push(figure(&chart, words, &command)?);
    }
    blocks.push(Block::heading("Return path"));
    let command = facts.return_command();
    let study = environment.return_study.as_ref();
    let report = study.map(|study| return_path::report(panel, study));
    blocks.extend(told(report, &command));
    if let Some(study) = study.ok().filter(|study| !study.pads.is_empty()) {
        let words = [
            "return-path",
            "What a weak return path leaves of the touch",
            "Line chart of the share of the earthed touch shift over return capacitance for every pad, the supplies \
             marked; its numbers are in the table above.",
        ];
        let chart = return_path::picture(title, study);
        blocks.push(figure(&chart, words, &command)?);
    }
    blocks.push(Block::heading(
        "Discharge: an estimate, no safety insulation",
    ));
    let command = facts.discharge_command();
    let found = environment.discharge.as_ref();
    let report = found.map(|found| discharge::report(panel, found));
    blocks.extend(told(report, &command));
    if let Some(found) = found.ok().filter(|found| !found.paths.is_empty()) {
        let words = [
            "discharge",
            "What every way holds, against the levels of the test standard",
            "Ranges of the voltage that every way of a discharge holds, the levels marked; its numbers are in the table \
             above.",
        ];
        let chart = discharge::picture(title, found);
        blocks.push(figure(&chart, words, &command)?);
    }
    Ok(blocks)
}
