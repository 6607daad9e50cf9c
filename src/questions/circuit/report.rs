//! The trade in words: the answer and why, then the table.

use super::{Answer, Point, Question, Row};
use crate::measuring_circuit::CHECK_SOURCE;
use crate::report::{Block, Report, Table};
use crate::response::{BUDGET_HANGS_ON, Response};
use crate::rounding::{rounded_with_error, significant};

/// The trade of a panel.
pub struct Told<'t> {
    /// What the panel does.
    pub response: &'t Response,
    pub question: &'t Question,
    /// Whether somebody said the wanted ratio.
    pub ratio_is_given: bool,
    /// The answer when something was asked.
    pub answer: Option<&'t Answer>,
    /// Pairs of resistor and gate.
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

pub fn report(told: &Told<'_>) -> Report {
    let mut report = Report::default();
    if let Some(answer) = told.answer {
        for line in answer_lines(told, answer) {
            report.detail(Block::paragraph(line));
        }
    }
    report.detail(rows(told));
    report.detail(Block::paragraph(format!(
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
    if let Some(words) = &told.judged_elsewhere {
        report.say(Block::paragraph(words.clone()));
    }
    report.assumptions(&told.response.assumptions);
    report
}

fn answer_lines(told: &Told<'_>, answer: &Answer) -> Vec<String> {
    let asked = format!("Asked: {}, at the least average current.", told.wish());
    match (&answer.best, &answer.nearest) {
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
    }
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

fn rows(told: &Told<'_>) -> Table {
    let mut table = Table::new(
        format!(
            "Resistor and gate, touch by finger \"{}\"; {}. Count shift: its error is in proportion to that of S/N",
            told.response.finger,
            told.wish()
        ),
        &[
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
            "battery\nyears",
            "breaks",
        ],
        1,
    )
    .with_words_in(&[11]);
    let is_shown = |row: &&Row| told.shows_all || row.is_worth_a_look;
    for row in told.rows.iter().filter(is_shown) {
        let point = &row.point;
        let life = point.battery_life.map(|life| three(life.years()));
        let broken: Vec<&str> = row.broken.iter().map(|name| short(name)).collect();
        table.row(vec![
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
            life.unwrap_or_default(),
            broken.join(", "),
        ]);
    }
    if told.rows.iter().all(|row| row.point.battery_life.is_none()) {
        table.drop_column(10);
    }
    let mut remarks = Vec::new();
    if told.rows.iter().all(|row| !row.broken.is_empty()) {
        remarks.push("No pair keeps all limits.".to_owned());
    }
    if !told.shows_all {
        remarks.push(format!(
            "{} of {} pairs: the panel file's own, the recommended one, and of each resistor the gate of least \
             current that keeps all limits. --all prints every pair.",
            table.rows.len(),
            told.rows.len()
        ));
    }
    table.remark = remarks.join(" ");
    table
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
