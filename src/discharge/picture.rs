//! What every path holds beside the levels.

use super::{Discharge, DischargePath, Verdict, level_text};
use crate::chart::{Axis, Bar, BarChart, LimitLine, Sense};
use crate::panel::DischargeKind;

/// Bars of the voltage that each path holds, with lines at the levels of air discharge.
pub fn picture(title: &str, discharge: &Discharge) -> BarChart {
    let bar = |path: &DischargePath| {
        let [least, most] = path.holds.map(|voltage| voltage.volts() / 1e3);
        let verdict = discharge.verdict(path).map_or("", |verdict| match verdict {
            Verdict::Holds => ": holds",
            Verdict::Open => ": open, a test decides",
            Verdict::Fails => ": fails",
        });
        Bar {
            name: format!("{}{verdict}", path.name),
            value: 0.5 * (least + most),
            error: 0.5 * (most - least),
            opposite: None,
        }
    };
    let air = discharge
        .levels
        .iter()
        .filter(|level| level.kind == DischargeKind::Air);
    let mut limits: Vec<LimitLine> = air
        .map(|level| LimitLine {
            value: level.voltage.volts() / 1e3,
            sense: Sense::AtLeast,
            because: format!("IEC 61000-4-2 level {}, air", level.number),
        })
        .collect();
    if let Some(asked) = &discharge.demand.level {
        let margin = discharge.demand.margin.value;
        limits.push(LimitLine {
            value: margin * asked.voltage.volts() / 1e3,
            sense: Sense::AtLeast,
            because: format!("puncture, asked: {} times {margin}", level_text(asked)),
        });
    }
    BarChart {
        title: format!("Discharge: what each path holds, {title}"),
        value: Axis::linear("voltage held, estimate", "kV"),
        bars: discharge.paths.iter().map(bar).collect(),
        limits,
        assumption: format!(
            "Bars end in the middle of the interval, error bars are its ends: range of the strength, of \
             its fall with thickness, of layer tolerances; 1 to 3 kV/mm along surfaces. {}",
            super::ESTIMATE
        ),
        ..BarChart::default()
    }
}
