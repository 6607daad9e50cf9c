//! The estimate in words: the verdict, every path, what each level needs, the strengths.

use super::{Discharge, Verdict, level_text};
use crate::panel::{Origin, Panel};
use crate::report::{Block, Report, Table};
use crate::rounding::significant;
use padfield_engine::units::Voltage;

pub fn report(panel: &Panel, found: &Discharge) -> Report {
    let mut report = Report::default();
    report.say(Block::paragraph(verdict(found)));
    report.say(paths(found));
    report.detail(levels(found));
    report.detail(strengths(panel));
    report.assumptions(&found.assumptions);
    // The first is about every discharge, the others are those of the panel.
    let (own, general) = found.cautions.split_at(found.cautions.len().min(1));
    report.say(Block::cautions(own.to_vec()));
    report.detail(Block::cautions(general.to_vec()));
    report
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

fn kilovolts(voltage: Voltage) -> String {
    significant(voltage.volts() / 1e3, 2)
}

fn paths(found: &Discharge) -> Table {
    let mut table = Table::new(
        "Paths of a discharge to the copper (estimate)",
        &["path", "mm", "holds, kV", "verdict", "note"],
        1,
    )
    .with_words_in(&[2, 3, 4]);
    let unjudged = match found.demand.level {
        None => "not asked",
        Some(_) => "not judged",
    };
    for path in &found.paths {
        let [least, most] = path.holds.map(kilovolts);
        table.row(vec![
            path.name.clone(),
            significant(path.length.mm(), 3),
            format!("{least} to {most}"),
            found
                .verdict(path)
                .map_or(unjudged, Verdict::word)
                .to_owned(),
            path.note.clone(),
        ]);
    }
    table
}

fn levels(found: &Discharge) -> Table {
    let layer = found
        .main_layer
        .as_deref()
        .unwrap_or("no layer with a strength");
    let mut table = Table::new(
        format!(
            "What each level of IEC 61000-4-2 needs: thickness of \"{layer}\" alone, distance from an open seam \
             to copper"
        ),
        &[
            "level",
            "kV",
            "stored\nmJ",
            "mm, margin\n1",
            &format!("mm, margin\n{}", found.demand.margin.value),
            "seam at\n3 kV/mm",
            "seam at\n1 kV/mm",
        ],
        1,
    );
    for level in &found.levels {
        let thickness = |end: usize| {
            let both = level.thickness;
            both.map_or_else(String::new, |both| significant(both[end].mm(), 2))
        };
        table.row(vec![
            format!("{} {}", level.kind.word(), level.number),
            kilovolts(level.voltage),
            significant(1e3 * level.energy_joules, 2),
            thickness(0),
            thickness(1),
            significant(level.distance[0].mm(), 2),
            significant(level.distance[1].mm(), 2),
        ]);
    }
    table
}

fn strengths(panel: &Panel) -> Table {
    let mut table = Table::new(
        "Dielectric strengths",
        &["layer", "mm", "kV/mm", "tested at, mm", "source"],
        5,
    );
    for index in panel.dielectric_layers() {
        let properties = panel.properties(index);
        let layer = &panel.layers[index];
        let (range, source) = match &properties.dielectric_strength_v_per_m {
            Some(strength) => {
                let [least, most] =
                    [strength.value.least, strength.value.most].map(|v| significant(v / 1e6, 3));
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
        table.row(vec![
            layer.name.clone(),
            significant(layer.thickness.nominal.mm(), 3),
            range,
            tested,
            source,
        ]);
    }
    table
}
