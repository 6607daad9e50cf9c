//! What a comparison tells: measured values beside computed ones, two revisions pad by pad.

use super::revision::PadDecision;
use super::{Correlation, Explanation, HEALTHY, Row};
use crate::questions::against::{
    BASE_CHANGE_LIMIT, COUNT_CHANGE_LIMIT, Compared, Comparison, PadComparison, VERDICT_SOURCE,
};
use crate::report::{Block, Report, Table};
use crate::rounding::{
    fixed, percent_with_error, rounded_with_error, signed, significant, window_ratio,
};

/// Measured values beside the computed ones, and what explains the difference. The errors are those of bases and of
/// touches as they were measured.
pub fn correlation_report(found: &Correlation, errors: [f64; 2]) -> Report {
    let mut report = Report::default();
    report.say(Block::verdict(verdict(found)));
    report.say(rows(found));
    if !found.not_computed.is_empty() {
        let all = found.not_computed.iter();
        let names: Vec<String> = all
            .map(|one| format!("{} of \"{}\"", one.quantity.words(), one.pad))
            .collect();
        report.say(Block::paragraph(format!(
            "Not computed, so left out: {}.",
            names.join("; ")
        )));
    }
    if !found.explanations.is_empty() {
        report.say(explanations(found));
    }
    report.say(Block::paragraph(format!(
        "Deviation: measured minus computed over both errors, that of the measurement ({} % of a base, {} % of \
         a touch) and the numerical one. Explains: a larger misfit would come by chance in more than 5 % of all \
         cases if that assumption alone were wrong. A healthy model is within {:.0} % on bases and {:.0} % on \
         touches ({VERDICT_SOURCE}).",
        significant(100.0 * errors[0], 2),
        significant(100.0 * errors[1], 2),
        100.0 * HEALTHY[0],
        100.0 * HEALTHY[1],
    )));
    report
}

fn verdict(found: &Correlation) -> String {
    if found.rows.is_empty() {
        return "Nothing that was measured is computed by this panel file.".to_owned();
    }
    if found.agrees() {
        return "The measured values agree with the panel file as it stands, within the errors."
            .to_owned();
    }
    let enough: Vec<&Explanation> = found.enough().collect();
    match enough.as_slice() {
        [] => "No single assumption explains the measured values.".to_owned(),
        [one] => format!(
            "One assumption explains them: {}, {} instead of {}.",
            one.words,
            with_unit(one, one.value, one.uncertainty),
            assumed(one)
        ),
        several => {
            let words: Vec<String> = several
                .iter()
                .map(|one| {
                    let value = with_unit(one, one.value, one.uncertainty);
                    let mark = match tolerance(one) {
                        "no" => format!(", outside the tolerance of {}", assumed(one)),
                        _ => String::new(),
                    };
                    format!("{} ({value}{mark})", one.words)
                })
                .collect();
            format!(
                "These values cannot tell apart which single assumption is wrong: {}. {}",
                words.join("; "),
                more(found)
            )
        }
    }
}

/// What would tell them apart.
fn more(found: &Correlation) -> &'static str {
    match found
        .rows
        .iter()
        .any(|row| row.measured.quantity.is_of_touch())
    {
        true => "Values of more pads, or a smaller error of the touches, would tell more.",
        false => {
            "Measured touches would tell more: a gap or a permittivity moves touches, stray capacitance mostly \
             bases."
        }
    }
}

fn with_unit(one: &Explanation, value: f64, uncertainty: f64) -> String {
    format!(
        "{} {}",
        rounded_with_error(value, uncertainty),
        one.assumption.unit
    )
    .trim_end()
    .to_owned()
}

/// Whether the value is one that the panel file allows; a gap has no tolerance there.
fn tolerance(one: &Explanation) -> &'static str {
    match (one.assumption.is_added(), one.is_within_tolerance()) {
        (true, _) => "-",
        (_, true) => "yes",
        (_, false) => "no",
    }
}

fn assumed(one: &Explanation) -> String {
    let [nominal, least, most] = one.assumed.map(|value| significant(value, 3));
    match least == most {
        true => nominal,
        false => format!("{nominal} ({least} to {most})"),
    }
}

fn yes_or_no(is: bool) -> String {
    if is { "yes" } else { "no" }.to_owned()
}

fn rows(found: &Correlation) -> Table {
    let mut table = Table::new(
        format!(
            "Measured beside computed; misfit {}, by chance larger in {:.1} % of all cases",
            significant(found.misfit, 3),
            100.0 * found.chance
        ),
        &[
            "pad",
            "of",
            "measured",
            "computed",
            "ratio",
            "deviation",
            "healthy",
        ],
        2,
    );
    for row in &found.rows {
        let Row { measured, .. } = row;
        let ratio = measured.value / row.computed;
        let healthy = HEALTHY[usize::from(measured.quantity.is_of_touch())];
        table.row(vec![
            measured.pad.clone(),
            measured.quantity.words().to_owned(),
            significant(measured.value, 4),
            rounded_with_error(row.computed, row.numerical_error),
            significant(ratio, 3),
            signed(row.deviation(), 1),
            yes_or_no((ratio - 1.0).abs() <= healthy),
        ]);
    }
    table
}

fn explanations(found: &Correlation) -> Table {
    let mut table = Table::new(
        "What explains the difference",
        &[
            "one assumption wrong",
            "panel file",
            "fits best",
            "misfit",
            "chance, %",
            "explains",
            "in tolerance",
        ],
        1,
    );
    for one in &found.explanations {
        table.row(vec![
            one.words.clone(),
            assumed(one),
            match one.uncertainty.is_finite() {
                true => with_unit(one, one.value, one.uncertainty),
                false => "no influence".to_owned(),
            },
            significant(one.misfit, 3),
            fixed(100.0 * one.chance, 1),
            yes_or_no(one.is_enough()),
            tolerance(one).to_owned(),
        ]);
    }
    table
}

/// Both revisions, pad by pad; none without a variant.
pub fn revision_report(
    comparison: &Comparison,
    decided: &[PadDecision],
    has_window: bool,
) -> Report {
    let mut report = Report::default();
    let Some(variant) = comparison.variants.first() else {
        return report;
    };
    let changes = variant.changes.join("; ");
    report.say(Block::paragraph(format!(
        "B: {} ({changes})",
        variant.response.title
    )));
    let mut table = Table::new(
        format!("Touched by \"{}\"", comparison.as_written.finger),
        &[
            "pad",
            "base at pin A, pF",
            "B, pF",
            "change, %",
            "count shift A",
            "B",
            "change, %",
            "W of B",
            "decision",
        ],
        1,
    );
    for (pad, one) in variant.pads.iter().zip(decided) {
        let mut row = vec![pad.pad.clone()];
        row.extend(quantity_cells(pad, Compared::BaseAtPin));
        row.extend(quantity_cells(pad, Compared::CountShift));
        row.push(one.window_ratio.map_or("-".to_owned(), window_ratio));
        row.push(one.decision.words().to_owned());
        table.row(row);
    }
    report.say(table);
    for (names, side) in [
        (&variant.only_as_written, "A"),
        (&variant.only_in_variant, "B"),
    ] {
        if !names.is_empty() {
            report.say(Block::paragraph(format!(
                "Only in {side}: {}.",
                names.join(", ")
            )));
        }
    }
    let window = match has_window {
        true => "reject: no threshold separates true and false events on B (W at most 1)",
        false => "the window of B was not decided, so no pad is rejected",
    };
    report.say(Block::paragraph(format!(
        "keep: base at the pin within {:.0} % and count shift within {:.0} % ({VERDICT_SOURCE}); retune: not within \
         both; {window}; cannot tell: an error bar holds a limit, a smaller --accuracy may tell.",
        100.0 * BASE_CHANGE_LIMIT,
        100.0 * COUNT_CHANGE_LIMIT
    )));
    report
}

fn quantity_cells(pad: &PadComparison, quantity: Compared) -> [String; 3] {
    let Some(found) = pad.differences.iter().find(|one| one.quantity == quantity) else {
        return ["-".to_owned(), "-".to_owned(), "-".to_owned()];
    };
    let change = found.relative().map_or("-".to_owned(), |change| {
        percent_with_error(change.value, change.error)
    });
    [
        rounded_with_error(found.as_written.value, found.as_written.error),
        rounded_with_error(found.variant.value, found.variant.error),
        change,
    ]
}
