//! Drift of the baseline, return path of the finger, discharges.

use crate::note::document::{Block, Figure, Table};
use crate::note::facts::Facts;
use crate::note::words::{counts, decimal, pf};
use crate::questions::discharge::{self, Discharge, level_text};
use crate::questions::drift::{self, Drift, PadDrift, Spread};
use crate::questions::return_path::{self, Least, ReturnStudy};
use crate::rounding::{percent_of, rounded_with_error, significant};
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(environment) = &facts.environment else {
        return Ok(vec![Block::paragraph("Left out of this note.")]);
    };
    let mut blocks = vec![Block::heading("Drift of the baseline")];
    match &environment.drift {
        Ok(drift) => blocks.extend(of_drift(facts, drift)?),
        Err(reason) => blocks.push(not_computed(reason)),
    }
    blocks.push(Block::heading("Return path"));
    match &environment.return_study {
        Ok(study) => blocks.extend(of_return(facts, study)?),
        Err(reason) => blocks.push(not_computed(reason)),
    }
    blocks.push(Block::heading(
        "Discharge: an estimate, no safety insulation",
    ));
    match &environment.discharge {
        Ok(found) => blocks.extend(of_discharge(facts, found)?),
        Err(reason) => blocks.push(not_computed(reason)),
    }
    Ok(blocks)
}

fn not_computed(reason: &str) -> Block {
    Block::paragraph(format!("Not computed: {reason}."))
}

fn drifts(pad: &PadDrift) -> String {
    let [nominal, least, most] = [
        pad.over_range.nominal,
        pad.over_range.least,
        pad.over_range.most,
    ];
    format!(
        "{} ({} to {})",
        rounded_with_error(nominal, pad.numerical_error),
        counts(least),
        counts(most)
    )
}

fn interval(spread: &Spread) -> String {
    format!(
        "{} ({} to {})",
        counts(spread.nominal),
        counts(spread.least),
        counts(spread.most)
    )
}

fn of_drift(facts: &Facts<'_>, drift: &Drift) -> Result<Vec<Block>, ChartError> {
    let climate = &drift.climate;
    let mut table = Table::new(
        "Drift of the baseline from cold to hot",
        &[
            "pad",
            "base at the pin, pF",
            "drift ± numerical, counts",
            "of the threshold, at most",
            "damp, counts",
            "tracking needed, counts/min",
            "a held finger loses, %",
        ],
        1,
    );
    for pad in &drift.pads {
        table.row(vec![
            pad.name.clone(),
            pf(pad.base_at_pin),
            drifts(pad),
            significant(pad.over_threshold(), 2),
            pad.moisture.as_ref().map_or("-".to_owned(), interval),
            significant(60.0 * pad.tracking(), 2),
            significant(100.0 * pad.loss, 2),
        ]);
    }
    table.command = facts.drift_command();
    table.remark = format!(
        "{} to {} degC about {} degC. In parentheses the ends of the coefficients: input tolerance. Tracking: \
         twice the fastest drift; a held finger should lose less than 20 % (common practice, no source).",
        decimal(climate.lowest_celsius.value),
        decimal(climate.highest_celsius.value),
        decimal(climate.reference_celsius.value)
    );
    let mut blocks = vec![Block::Table(table)];
    if let Some(chart) = drift::picture(&facts.response.title, drift) {
        blocks.push(Block::Figure(Figure {
            name: "drift".to_owned(),
            caption: "Drift of the baseline over temperature, the threshold to compare".to_owned(),
            alternative:
                "Line chart of the baseline of the worst pad over temperature, its parts by layer, \
                          the threshold on either side; its numbers are in the table above."
                    .to_owned(),
            svg: chart.svg()?,
            command: facts.drift_command(),
        }));
    }
    Ok(blocks)
}

fn least(least: Least) -> String {
    match least {
        Least::Needs(capacitance) => pf(capacitance),
        Least::Any => "any".to_owned(),
        Least::Never => "none is enough".to_owned(),
    }
}

fn of_return(facts: &Facts<'_>, study: &ReturnStudy) -> Result<Vec<Block>, ChartError> {
    if study.pads.is_empty() {
        return Ok(vec![Block::paragraph(
            "No pad is judged: segments of sliders and wheels are not among them.",
        )]);
    }
    let mut table = Table::new(
        "Touch on every supply",
        &[
            "pad",
            "supply",
            "return, pF",
            "touch shift, pF",
            "in pF, % of the earthed one",
            "count shift (weakest to strongest return)",
            "noise while touched, counts rms",
        ],
        2,
    );
    for pad in &study.pads {
        for on in &pad.supplies {
            let [nominal, weakest, strongest] = on.counts;
            table.row(vec![
                pad.name.clone(),
                on.supply.clone(),
                on.path.map_or("no limit".to_owned(), pf),
                rounded_with_error(1e12 * on.shift[0], 1e12 * on.shift_error),
                percent_of(on.shift[0], pad.earthed, 3),
                format!(
                    "{} ({} to {})",
                    rounded_with_error(nominal, on.counts_error),
                    counts(weakest),
                    counts(strongest)
                ),
                significant(on.noise_counts, 2),
            ]);
        }
    }
    table.command = facts.return_command();
    let wanted: Vec<String> = study
        .pads
        .iter()
        .map(|pad| format!("{} {}", pad.name, least(pad.for_share)))
        .collect();
    table.remark = format!(
        "Least return for {} % of the earthed shift, pF: {}.",
        decimal(100.0 * study.share),
        wanted.join(", ")
    );
    Ok(vec![
        Block::Table(table),
        Block::Figure(Figure {
            name: "return-path".to_owned(),
            caption: "What a weak return path leaves of the touch".to_owned(),
            alternative:
                "Line chart of the share of the earthed touch shift over return capacitance for \
                          every pad, the supplies marked; its numbers are in the table above."
                    .to_owned(),
            svg: return_path::picture(&facts.response.title, study).svg()?,
            command: facts.return_command(),
        }),
    ])
}

fn of_discharge(facts: &Facts<'_>, found: &Discharge) -> Result<Vec<Block>, ChartError> {
    let kilovolts = |volts: f64| significant(volts / 1e3, 2);
    let mut table = Table::new(
        "Ways of a discharge to the copper",
        &["way", "length, mm", "holds, kV", "verdict", "note"],
        1,
    )
    .with_words_in(&[3, 4]);
    for path in &found.paths {
        let [low, high] = path.holds.map(|voltage| kilovolts(voltage.volts()));
        table.row(vec![
            path.name.clone(),
            significant(path.length.mm(), 3),
            format!("{low} to {high}"),
            found
                .verdict(path)
                .map_or("not asked".to_owned(), |v| v.word().to_owned()),
            path.note.clone(),
        ]);
    }
    table.command = facts.discharge_command();
    table.remark = match &found.demand.level {
        Some(level) => format!("Judged against {} of the panel file.", level_text(level)),
        None => "The panel file asks for no level.".to_owned(),
    };
    let mut blocks = vec![Block::Table(table)];
    if !found.paths.is_empty() {
        blocks.push(Block::Figure(Figure {
            name: "discharge".to_owned(),
            caption: "What every way holds, against the levels of the test standard".to_owned(),
            alternative:
                "Ranges of the voltage that every way of a discharge holds, the levels marked; its \
                          numbers are in the table above."
                    .to_owned(),
            svg: discharge::picture(&facts.response.title, found).svg()?,
            command: facts.discharge_command(),
        }));
    }
    blocks.push(Block::list(found.cautions.clone()));
    Ok(blocks)
}
