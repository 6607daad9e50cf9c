//! The judgement in words: a table of verdicts, the reasons, what the numbers hang on.

use super::{
    Bound, Detail, Judgement, Place, Row, Verdict, figure, number, said, signed_figure, with_unit,
};
use crate::accuracy::reached_words;
use crate::report::{Block, Cell, Report, Table};
use crate::rounding::{duration, fixed, significant};

/// The answer in blocks; `accuracy` is the one asked for.
pub fn report(judgement: &Judgement, accuracy: f64) -> Report {
    let mut report = Report::default();
    report.say(verdicts(judgement));
    report.say(Block::list(reasons(judgement)));
    report.say(Block::paragraph(sources(judgement)));
    if judgement.stopped {
        report.say(Block::paragraph(
            "Interrupted: this is what was judged by then.",
        ));
    }
    report.detail(Block::cautions(judgement.cautions.clone()));
    if !judgement.assumptions.is_empty() {
        report.detail(Block::paragraph(format!(
            "Assumptions of the first touch that was solved. {}",
            judgement.assumptions.join(" ")
        )));
    }
    report.detail(Block::paragraph(effort(judgement, accuracy)));
    report
}

fn verdicts(judgement: &Judgement) -> Table {
    let mut table = Table::new(
        "Guidelines on this panel",
        &[
            "rule of thumb",
            "rule's value",
            "as drawn",
            "this panel",
            "verdict",
        ],
        5,
    );
    for row in &judgement.rows {
        let [rule, drawn, needed] = cells(row);
        let name = match &row.group {
            Some(group) => format!("{group}: {}", row.says),
            None => row.says.clone(),
        };
        let mut cells: Vec<Cell> = [name, rule, drawn, needed].map(Cell::from).into();
        cells.push(Cell {
            text: row.verdict.words().to_owned(),
            strong: row.verdict == Verdict::FailsHere,
        });
        table.cells(cells);
    }
    table.remark = "Each rule of thumb with what it comes to here. \"More careful than needed\" leaves room to save; \
                    \"fails here\" means that keeping the rule is not enough. In brackets: where value minus and plus \
                    its estimated error meet the limit."
        .to_owned();
    table
}

/// The rule's value, the drawn one, the one this panel needs or what came out.
fn cells(row: &Row) -> [String; 3] {
    match &row.detail {
        Detail::None => [String::new(), String::new(), String::new()],
        Detail::Needed(detail) => {
            let unit = |text: &str| with_unit(text, &detail.unit);
            let value = unit(&number(detail.rule));
            let rule = match detail.rule_text == value || detail.rule_text.contains(" x ") {
                true => value,
                false => format!("{} ({value})", detail.rule_text),
            };
            [
                format!("{} {rule}", detail.side.words()),
                detail.drawn.map(|at| unit(&number(at))).unwrap_or_default(),
                needed(detail.side, detail.needed, &detail.unit),
            ]
        }
        Detail::Effects(details) => {
            let changes = details.iter().map(|detail| {
                let what = match detail.form {
                    Some(form) => form.words(),
                    None => detail.expectation.quantity.words(),
                };
                format!("{what} {} %", signed_figure(detail.change))
            });
            let mut said: Vec<String> = Vec::new();
            for expectation in details.iter().map(|detail| &detail.expectation) {
                let words = expectation.change.words().trim_start_matches("should ");
                let text = format!("{words} {} %", number(expectation.percent));
                if !said.contains(&text) {
                    said.push(text);
                }
            }
            [
                said.join(", "),
                String::new(),
                changes.collect::<Vec<_>>().join(", "),
            ]
        }
        Detail::Power(detail) => [
            format!("power {}", said(detail.rule[0], detail.rule[1])),
            String::new(),
            format!("power {}", figure(detail.exponent)),
        ],
        Detail::Estimate(detail) => [
            said(1.0, 0.01 * detail.within_percent),
            String::new(),
            format!("{} x computed", figure(detail.ratio)),
        ],
        Detail::Threshold { shares, found } => [
            format!("{} to {} %", number(shares[0]), number(shares[1])),
            found
                .recommended
                .map_or_else(String::new, |share| format!("{} %", fixed(share, 0))),
            if found.working[0] < found.working[1] {
                format!(
                    "{} to {} %",
                    fixed(found.working[0], 0),
                    fixed(found.working[1], 0)
                )
            } else {
                "none".to_owned()
            },
        ],
    }
}

/// `at least 3.2 mm (3.1 to 3.3)`.
fn needed(side: Bound, place: Place, unit: &str) -> String {
    let beyond = |end: f64, is_less: bool| {
        let word = if is_less { "less than" } else { "more than" };
        format!("{word} {}", with_unit(&number(end), unit))
    };
    match place {
        Place::At(at, [low, high]) => format!(
            "{} {} ({} to {})",
            side.words(),
            with_unit(&number(at), unit),
            number(low),
            number(high)
        ),
        Place::BeyondEnd(end) => beyond(end, side == Bound::AtLeast),
        Place::NowhereTo(end) => beyond(end, side == Bound::AtMost),
        Place::Unclear => "cannot be told".to_owned(),
    }
}

fn reasons(judgement: &Judgement) -> Vec<String> {
    let is_about = |row: &&Row| row.verdict != Verdict::NotAbout;
    let lines = judgement.rows.iter().filter(is_about).map(|row| {
        let name = match &row.group {
            Some(group) => format!("{} ({group})", row.rule),
            None => row.rule.clone(),
        };
        let mut text = format!("{name}: {}", row.reason);
        if let Some(touch) = &row.touch {
            text += &match &touch.off_towards {
                Some((other, mm)) => format!(
                    "; finger on \"{}\", {} mm off towards \"{other}\"",
                    touch.pad,
                    number(*mm)
                ),
                None => format!("; finger on \"{}\"", touch.pad),
            };
        }
        text + "."
    });
    let mut lines: Vec<String> = lines.collect();
    let rows = judgement.rows.iter().filter(|row| !is_about(row));
    let other: Vec<&str> = rows.map(|row| row.rule.as_str()).collect();
    if !other.is_empty() {
        lines.push(format!("Not about this overlay: {}.", other.join(", ")));
    }
    lines
}

/// Sources, those of the same words together.
fn sources(judgement: &Judgement) -> String {
    let mut known: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in &judgement.rows {
        match known.iter_mut().find(|(source, _)| *source == row.source) {
            Some((_, rules)) if rules.contains(&row.rule.as_str()) => {}
            Some((_, rules)) => rules.push(&row.rule),
            None => known.push((&row.source, vec![&row.rule])),
        }
    }
    match &known[..] {
        [] => "There are no rules to judge.".to_owned(),
        [(source, _)] => format!("Source of every rule: {source}."),
        several => {
            let parts: Vec<String> = several
                .iter()
                .map(|(source, rules)| format!("{source}: {}", rules.join(", ")))
                .collect();
            format!("Sources of the rules. {}.", parts.join(". "))
        }
    }
}

fn effort(judgement: &Judgement, accuracy: f64) -> String {
    let reached = reached_words(
        judgement.accuracy_reached && !judgement.has_numerical_failure,
        &judgement.missed,
    );
    format!(
        "Solved {} field problems (each untouched and touched) and {} for thresholds in {}; {} numbers were \
         known from another rule. Accuracy asked {} %, half of it where two values are compared: {reached}.",
        judgement.field_problems,
        judgement.threshold_problems,
        duration(judgement.seconds),
        judgement.shared,
        significant(100.0 * accuracy, 2)
    )
}
