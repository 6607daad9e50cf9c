//! What `circuit` tells: the answer and why, then the table.

use crate::measuring_circuit::CHECK_SOURCE;
use crate::questions::circuit::{Answer, Nearest, Point, Question, Row};
use crate::report::terminal::{table, wrap};
use crate::response::{BUDGET_HANGS_ON, Response};
use crate::rounding::{rounded_with_error, significant};
use serde_json::{Value, json};

/// The trade of a panel.
pub(super) struct Told<'t> {
    pub response: &'t Response,
    pub question: &'t Question,
    /// Whether somebody said the wanted ratio.
    pub ratio_is_given: bool,
    /// The answer when something was asked.
    pub answer: Option<&'t Answer>,
    pub rows: &'t [Row],
    /// Whether all rows are printed, or only those worth a look.
    pub shows_all: bool,
    /// What has no signal-to-noise ratio here.
    pub judged_elsewhere: Option<String>,
}

impl Told<'_> {
    /// Where the wanted signal-to-noise ratio comes from.
    pub fn origin(&self) -> &'static str {
        match self.ratio_is_given {
            true => "as asked",
            false => CHECK_SOURCE,
        }
    }

    fn wish(&self) -> String {
        let ratio = format!(
            "S/N at least {} rms ({})",
            significant(self.question.signal_to_noise, 3),
            self.origin()
        );
        match self.question.response {
            Some(response) => format!("{ratio}, response at most {} ms", three(response.ms())),
            None => ratio,
        }
    }
}

fn three(value: f64) -> String {
    significant(value, 3)
}

/// `100 kohm, gate 2.1 ms`.
fn choice(point: &Point) -> String {
    format!(
        "{} kohm, gate {} ms",
        three(point.resistor.kilohms()),
        significant(point.gate.ms(), 2)
    )
}

/// What a point gives, in words.
fn gives(point: &Point) -> String {
    let mut text = format!(
        "S/N {} rms (pad {}{}, count shift {} of {}), response {} ms, average current {} uA",
        rounded_with_error(point.signal_to_noise, point.signal_to_noise_error),
        point.pad,
        match &point.supply {
            Some(supply) => format!(" on supply {supply}"),
            None => String::new(),
        },
        rounded_with_error(point.count_shift, point.count_shift_error),
        significant(point.base_count, 4),
        three(point.budget.response.ms()),
        three(point.budget.average_current.ua()),
    );
    if let Some(life) = point.battery_life {
        text += &format!(", battery {} years", three(life.years()));
    }
    text
}

pub(super) fn to_text(told: &Told<'_>) -> String {
    let mut parts = vec![wrap(&told.response.title)];
    if let Some(answer) = told.answer {
        parts.push(answer_text(told, answer));
    }
    parts.push(rows_text(told));
    parts.push(wrap(&format!(
        "S/N: count shift of the weakest touched pad over the noise while touched, rms, {}; its numerical \
         error is that of the touch shift. A measured noise holds at the file's own resistor and gate; \
         what of it is not quantisation is carried on as jitter of independent periods. Response: \
         (debounce + 1) cycles, filter, feedback. Current: controller and what goes into the pads. \
         {BUDGET_HANGS_ON} Limits of frequency, base count, resistor, series resistor: {CHECK_SOURCE}.",
        match told.rows.iter().find_map(|row| row.point.supply.as_deref()) {
            Some(supply) => format!(
                "on the supply where it is smallest (\"{supply}\"), with what comes through the finger there"
            ),
            None => "under the finger's own return path".to_owned(),
        }
    )));
    parts.extend(told.judged_elsewhere.as_deref().map(wrap));
    parts.push(wrap(&format!(
        "Assumptions. {}",
        told.response.assumptions.join(" ")
    )));
    parts.join("\n\n") + "\n"
}

fn answer_text(told: &Told<'_>, answer: &Answer) -> String {
    let asked = format!("Asked: {}, at the least average current.", told.wish());
    let lines = match (&answer.best, &answer.nearest) {
        (Some(best), _) => vec![
            asked,
            format!(
                "Answer: {}, a scan every {} ms: {}.",
                choice(best),
                three(best.budget.cycle.ms()),
                gives(best)
            ),
            why(answer),
        ],
        (None, Some(nearest)) => vec![
            asked,
            format!(
                "Answer: none of {} pairs keeps all limits. The nearest, {}, gives {} and breaks: {}.",
                answer.points,
                choice(&nearest.point),
                gives(&nearest.point),
                nearest.broken.join(", ")
            ),
        ],
        (None, None) => vec![
            asked,
            "Answer: none; filter and feedback alone take longer than this response.".to_owned(),
        ],
    };
    let lines: Vec<String> = lines.iter().map(|line| wrap(line)).collect();
    lines.join("\n")
}

/// Which limits hold the answer where it is.
fn why(answer: &Answer) -> String {
    let mut sentences = vec![match &answer.shorter_gate {
        None => "no shorter gate was allowed".to_owned(),
        Some(shorter) if shorter.broken.is_empty() => {
            "a shorter gate takes more current".to_owned()
        }
        Some(shorter) => format!(
            "with {} ms it breaks {}",
            significant(shorter.point.gate.ms(), 2),
            shorter.broken.join(", ")
        ),
    }];
    for other in &answer.other_resistors {
        let name = format!("{} kohm", three(other.point.resistor.kilohms()));
        sentences.push(match other.broken.is_empty() {
            true => format!(
                "{name} needs {} ms and takes {} uA",
                significant(other.point.gate.ms(), 2),
                three(other.point.budget.average_current.ua())
            ),
            false => format!("{name} breaks {} at any gate", other.broken.join(", ")),
        });
    }
    format!("Why: {}.", sentences.join("; "))
}

/// What a row is beside the others.
fn mark(row: &Row) -> String {
    let marks = [
        (row.is_panel_file, "panel file"),
        (row.is_recommended, "recommended"),
    ];
    let marks = marks.into_iter().filter(|(is, _)| *is);
    marks.map(|(_, word)| word).collect::<Vec<_>>().join(", ")
}

fn rows_text(told: &Told<'_>) -> String {
    let with_battery = told.rows.iter().any(|row| row.point.battery_life.is_some());
    let shown = || {
        told.rows
            .iter()
            .filter(|row| told.shows_all || row.is_worth_a_look)
    };
    let rows = shown()
        .map(|row| {
            let point = &row.point;
            let mut cells = vec![
                mark(row),
                three(point.resistor.kilohms()),
                significant(point.gate.ms(), 2),
                three(point.frequency.khz()),
                significant(point.base_count, 4),
                three(point.count_shift),
                rounded_with_error(point.signal_to_noise, point.signal_to_noise_error),
                three(point.budget.scan.ms()),
                three(point.budget.response.ms()),
                three(point.budget.average_current.ua()),
            ];
            if with_battery {
                let life = point.battery_life.map(|life| three(life.years()));
                cells.push(life.unwrap_or_default());
            }
            let broken: Vec<&str> = row.broken.iter().map(|name| short(name)).collect();
            cells.push(broken.join(", "));
            cells
        })
        .collect();
    let mut header = vec![
        "",
        "kohm",
        "gate\nms",
        "kHz",
        "base\ncount",
        "count\nshift",
        "S/N\nrms",
        "scan\nms",
        "response\nms",
        "current\nuA",
    ];
    if with_battery {
        header.push("battery\nyears");
    }
    header.push("breaks");
    let heading = wrap(&format!(
        "Resistor and gate, touch by finger \"{}\"; {}. Count shift: its error is in proportion to that of S/N",
        told.response.finger,
        told.wish()
    ));
    let mut text = format!("{heading}\n{}", table(&header, 1, rows));
    if told.rows.iter().all(|row| !row.broken.is_empty()) {
        text += "\nNo pair keeps all limits.";
    }
    if !told.shows_all {
        text += &format!(
            "\n{}",
            wrap(&format!(
                "{} of {} pairs: the panel file's own, the recommended one, and of each resistor the gate of least \
                 current that keeps all limits. --all prints every pair.",
                shown().count(),
                told.rows.len()
            ))
        );
    }
    text
}

/// A limit by the heading of its column.
fn short(name: &str) -> &str {
    match name {
        "frequency" => "kHz",
        "base count" => "count",
        "resistor" => "kohm",
        "series resistor times base over period" => "series",
        "signal-to-noise ratio" => "S/N",
        other => other,
    }
}

/// The same for machines.
pub(super) fn to_json(told: &Told<'_>) -> Value {
    json!({
        "title": told.response.title,
        "finger": told.response.finger,
        "asked": {
            "signal_to_noise_rms": told.question.signal_to_noise,
            "signal_to_noise_origin": told.origin(),
            "response_ms": told.question.response.map(|response| response.ms()),
        },
        "answer": told.answer.map(answer_json),
        "rows": told.rows.iter().map(row_json).collect::<Vec<_>>(),
        "judged_elsewhere": told.judged_elsewhere,
        "assumptions": told.response.assumptions,
    })
}

fn answer_json(answer: &Answer) -> Value {
    json!({
        "met": answer.best.is_some(),
        "best": answer.best.as_ref().map(point_json),
        "cycle_ms": answer.cycle.map(|cycle| cycle.ms()),
        "shorter_gate": answer.shorter_gate.as_ref().map(nearest_json),
        "other_resistors": answer.other_resistors.iter().map(nearest_json).collect::<Vec<_>>(),
        "nearest": answer.nearest.as_ref().map(nearest_json),
        "points": answer.points,
    })
}

fn nearest_json(nearest: &Nearest) -> Value {
    let mut record = point_json(&nearest.point);
    record["breaks"] = json!(nearest.broken);
    record
}

fn row_json(row: &Row) -> Value {
    let mut record = point_json(&row.point);
    record["is_panel_file"] = json!(row.is_panel_file);
    record["is_recommended"] = json!(row.is_recommended);
    record
}

fn point_json(point: &Point) -> Value {
    json!({
        "resistor_kohm": point.resistor.kilohms(),
        "gate_ms": point.gate.ms(),
        "pad": point.pad,
        "supply": point.supply,
        "frequency_khz": point.frequency.khz(),
        "base_count": point.base_count,
        "count_shift": point.count_shift,
        "count_shift_estimated_error": point.count_shift_error,
        "signal_to_noise_rms": point.signal_to_noise,
        "signal_to_noise_estimated_error": point.signal_to_noise_error,
        "scan_ms": point.budget.scan.ms(),
        "cycle_ms": point.budget.cycle.ms(),
        "response_ms": point.budget.response.ms(),
        "average_current_ua": point.budget.average_current.ua(),
        "battery_life_years": point.battery_life.map(|life| life.years()),
        "breaks": point.broken,
    })
}
