//! What every path holds beside the levels.

use super::{Discharge, DischargePath, Verdict, level_text};
use crate::panel::DischargeKind;
use padfield_chart::{Axis, PlaceMark, RangeChart, RangeGroup, RangeRow};

/// Bars from the careful to the hopeful end of the voltage that each path holds, with lines at the levels of
/// air discharge; `title` is that of the panel.
pub fn picture(title: &str, discharge: &Discharge) -> RangeChart {
    let row = |path: &DischargePath| {
        let [low, high] = path.holds.map(|voltage| voltage.volts() / 1e3);
        let verdict = discharge.verdict(path).map(|verdict| match verdict {
            Verdict::Holds => "estimated to hold",
            Verdict::Open => "left open, a test decides",
            Verdict::Fails => "estimated to fail",
        });
        RangeRow {
            name: path.name.clone(),
            mean: None,
            low,
            high,
            binding: false,
            note: verdict.unwrap_or_default().to_owned(),
        }
    };
    let group = |title: &str, is_judged: bool| {
        let paths = discharge.paths.iter();
        let rows: Vec<RangeRow> = paths
            .filter(|path| path.is_judged == is_judged)
            .map(row)
            .collect();
        (!rows.is_empty()).then(|| RangeGroup {
            title: title.to_owned(),
            rows,
        })
    };
    let levels = discharge.levels.iter();
    let mut marks: Vec<PlaceMark> = levels
        .filter(|level| level.kind == DischargeKind::Air)
        .map(|level| {
            let kilovolts = level.voltage.volts() / 1e3;
            PlaceMark {
                x: kilovolts,
                label: format!("{kilovolts} kV, IEC 61000-4-2 level {}, air", level.number),
            }
        })
        .collect();
    if let Some(asked) = &discharge.demand.level {
        let margin = discharge.demand.margin.value;
        let kilovolts = margin * asked.voltage.volts() / 1e3;
        marks.push(PlaceMark {
            x: kilovolts,
            label: format!(
                "{kilovolts} kV, asked of puncture: {} times {margin}",
                level_text(asked)
            ),
        });
    }
    RangeChart {
        title: format!("Discharge, an estimate of what each path holds: {title}"),
        value: Axis::logarithmic("voltage held, estimate", "kV"),
        groups: [
            group("to the copper that senses", true),
            group("for information", false),
        ]
        .into_iter()
        .flatten()
        .collect(),
        marks,
        band: None,
        assumption: format!(
            "Bars: range of the strength, of its fall with thickness, of layer tolerances; 1 to 3 kV/mm along \
             surfaces. {}",
            super::ESTIMATE
        ),
    }
}
