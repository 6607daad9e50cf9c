//! What `discharge` tells: the verdict, every path, what each level needs, the strengths.

use super::paragraph::wrap;
use super::table::{significant, table};
use crate::panel::{Origin, Panel};
use crate::questions::discharge::{Discharge, Verdict, level_text};

pub(super) fn to_text(panel: &Panel, found: &Discharge) -> String {
    let mut parts = vec![
        wrap(&panel.title),
        wrap(&verdict(found)),
        paths(found),
        levels(found),
        strengths(panel),
        wrap(&format!("Assumptions. {}", found.assumptions.join(" "))),
    ];
    let cautions: Vec<String> = found.cautions.iter().map(|line| wrap(line)).collect();
    parts.push(cautions.join("\n"));
    parts.join("\n\n") + "\n"
}

fn verdict(found: &Discharge) -> String {
    let Some(level) = &found.demand.level else {
        return "No level is asked for ([discharge] level = \"air 8 kV\").".to_owned();
    };
    let margin = &found.demand.margin;
    let mark = match margin.origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    };
    let asked = format!(
        "Asked: {}, margin {}{mark} on puncture.",
        level_text(level),
        margin.value
    );
    let of = |wanted: Verdict| {
        let paths = found.paths.iter();
        paths
            .filter(|path| found.verdict(path) == Some(wanted))
            .map(|path| path.name.as_str())
            .collect::<Vec<_>>()
            .join("; ")
    };
    let mut sentences = vec![asked];
    for (wanted, words) in [
        (Verdict::Fails, "Estimated to fail"),
        (Verdict::Open, "Left open, a test decides"),
        (Verdict::Holds, "Estimated to hold"),
    ] {
        let names = of(wanted);
        if !names.is_empty() {
            sentences.push(format!("{words}: {names}."));
        }
    }
    sentences.join(" ")
}

fn paths(found: &Discharge) -> String {
    let rows = found
        .paths
        .iter()
        .map(|path| {
            let [least, most] = path
                .holds
                .map(|voltage| significant(voltage.volts() / 1e3, 2));
            vec![
                path.name.clone(),
                significant(path.length.mm(), 3),
                format!("{least} to {most}"),
                found
                    .verdict(path)
                    .map_or_else(String::new, |verdict| verdict.word().to_owned()),
                path.note.clone(),
            ]
        })
        .collect();
    format!(
        "Paths to the copper (estimate)\n{}",
        table(&["path", "mm", "holds, kV", "verdict", "note"], 5, rows)
    )
}

fn levels(found: &Discharge) -> String {
    let layer = found
        .main_layer
        .as_deref()
        .unwrap_or("no layer with a strength");
    let rows = found
        .levels
        .iter()
        .map(|level| {
            let thickness = |end: usize| {
                level
                    .thickness
                    .map_or_else(String::new, |both| significant(both[end].mm(), 2))
            };
            vec![
                format!("{} {}", level.kind.word(), level.number),
                significant(level.voltage.volts() / 1e3, 2),
                significant(1e3 * level.energy_joules, 2),
                thickness(0),
                thickness(1),
                significant(level.distance[0].mm(), 2),
                significant(level.distance[1].mm(), 2),
            ]
        })
        .collect();
    let margin = format!("mm, margin\n{}", found.demand.margin.value);
    let header = [
        "level",
        "kV",
        "stored\nmJ",
        "mm, margin\n1",
        margin.as_str(),
        "seam at\n3 kV/mm",
        "seam at\n1 kV/mm",
    ];
    format!(
        "{}\n{}",
        wrap(&format!(
            "What each level of IEC 61000-4-2 needs: thickness of \"{layer}\" alone, distance from an open seam \
             to copper"
        )),
        table(&header, 1, rows)
    )
}

fn strengths(panel: &Panel) -> String {
    let rows = panel
        .dielectric_layers()
        .map(|index| {
            let properties = panel.properties(index);
            let layer = &panel.layers[index];
            let (range, source) = match &properties.dielectric_strength_v_per_m {
                Some(strength) => {
                    let [least, most] = [strength.value.least, strength.value.most]
                        .map(|v| significant(v / 1e6, 3));
                    let range = match least == most {
                        true => least,
                        false => format!("{least} to {most}"),
                    };
                    (range, strength.source.clone())
                }
                None => ("no figure".to_owned(), String::new()),
            };
            let tested = properties.strength_thickness.map_or_else(
                || "not said".to_owned(),
                |thickness| significant(thickness.mm(), 2),
            );
            vec![
                layer.name.clone(),
                significant(layer.thickness.nominal.mm(), 3),
                range,
                tested,
                source,
            ]
        })
        .collect();
    format!(
        "Dielectric strengths\n{}",
        table(
            &["layer", "mm", "kV/mm", "tested at, mm", "source"],
            5,
            rows
        )
    )
}
