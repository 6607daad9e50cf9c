//! What `compare` tells people.

use crate::questions::against::{
    BASE_CHANGE_LIMIT, COUNT_CHANGE_LIMIT, Compared, Comparison, PadComparison, VERDICT_SOURCE,
};
use crate::questions::compare::revision::PadDecision;
use crate::questions::compare::{Correlation, Explanation, HEALTHY, Row};
use crate::report::terminal::{table, wrap, wrap_indented};
use crate::rounding::{
    fixed, percent_with_error, rounded_with_error, signed, significant, window_ratio,
};

/// Measured values beside the computed ones, and what explains the difference.
pub(super) fn correlation_text(title: &str, found: &Correlation, errors: [f64; 2]) -> String {
    let mut parts = vec![wrap(title), wrap(&verdict(found))];
    parts.push(rows_text(found));
    if !found.not_computed.is_empty() {
        let all = found.not_computed.iter();
        let names: Vec<String> = all
            .map(|one| format!("{} of \"{}\"", one.quantity.words(), one.pad))
            .collect();
        parts.push(wrap(&format!(
            "Not computed, so left out: {}.",
            names.join("; ")
        )));
    }
    if !found.explanations.is_empty() {
        parts.push(explanations_text(found));
    }
    parts.push(wrap(&format!(
        "Deviation: measured minus computed over both errors, that of the measurement ({} % of a base, {} % of \
         a touch) and the numerical one. Explains: a larger misfit would come by chance in more than 5 % of all \
         cases if that assumption alone were wrong. A healthy model is within {:.0} % on bases and {:.0} % on \
         touches ({VERDICT_SOURCE}).",
        significant(100.0 * errors[0], 2),
        significant(100.0 * errors[1], 2),
        100.0 * HEALTHY[0],
        100.0 * HEALTHY[1],
    )));
    parts.join("\n\n") + "\n"
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

fn rows_text(found: &Correlation) -> String {
    let ratio = |row: &Row| row.measured.value / row.computed;
    let rows = found
        .rows
        .iter()
        .map(|row| {
            let healthy = HEALTHY[usize::from(row.measured.quantity.is_of_touch())];
            vec![
                row.measured.pad.clone(),
                row.measured.quantity.words().to_owned(),
                significant(row.measured.value, 4),
                rounded_with_error(row.computed, row.numerical_error),
                significant(ratio(row), 3),
                signed(row.deviation(), 1),
                if (ratio(row) - 1.0).abs() <= healthy {
                    "yes"
                } else {
                    "no"
                }
                .to_owned(),
            ]
        })
        .collect();
    let header = [
        "pad",
        "of",
        "measured",
        "computed",
        "ratio",
        "deviation",
        "healthy",
    ];
    format!(
        "Measured beside computed; misfit {}, by chance larger in {:.1} % of all cases\n{}",
        significant(found.misfit, 3),
        100.0 * found.chance,
        table(&header, 2, rows)
    )
}

fn explanations_text(found: &Correlation) -> String {
    let rows = found
        .explanations
        .iter()
        .map(|one| {
            vec![
                one.words.clone(),
                assumed(one),
                match one.uncertainty.is_finite() {
                    true => with_unit(one, one.value, one.uncertainty),
                    false => "no influence".to_owned(),
                },
                significant(one.misfit, 3),
                fixed(100.0 * one.chance, 1),
                if one.is_enough() { "yes" } else { "no" }.to_owned(),
                tolerance(one).to_owned(),
            ]
        })
        .collect();
    let header = [
        "one assumption wrong",
        "panel file",
        "fits best",
        "misfit",
        "chance, %",
        "explains",
        "in tolerance",
    ];
    format!("What explains the difference\n{}", table(&header, 1, rows))
}

/// Both revisions, pad by pad.
pub(super) fn revision_text(
    comparison: &Comparison,
    decided: &[PadDecision],
    has_window: bool,
) -> String {
    let Some(variant) = comparison.variants.first() else {
        return String::new();
    };
    let mut parts = vec![
        wrap(&format!("A: {}", comparison.as_written.title)),
        wrap(&format!(
            "B: {} ({})",
            variant.response.title,
            variant.changes.join("; ")
        )),
    ];
    let rows = variant
        .pads
        .iter()
        .zip(decided)
        .map(|(pad, one)| {
            let mut row = vec![pad.pad.clone()];
            row.extend(quantity_cells(pad, Compared::BaseAtPin));
            row.extend(quantity_cells(pad, Compared::CountShift));
            row.push(one.window_ratio.map_or("-".to_owned(), window_ratio));
            row.push(one.decision.words().to_owned());
            row
        })
        .collect();
    let header = [
        "pad",
        "base at pin A, pF",
        "B, pF",
        "change, %",
        "count shift A",
        "B",
        "change, %",
        "W of B",
        "decision",
    ];
    parts.push(format!(
        "Touched by \"{}\"\n{}",
        comparison.as_written.finger,
        table(&header, 1, rows)
    ));
    for (names, side) in [
        (&variant.only_as_written, "A"),
        (&variant.only_in_variant, "B"),
    ] {
        if !names.is_empty() {
            parts.push(wrap(&format!("Only in {side}: {}.", names.join(", "))));
        }
    }
    let window = match has_window {
        true => "reject: no threshold separates true and false events on B (W at most 1)",
        false => "the window of B was not decided, so no pad is rejected",
    };
    parts.push(wrap_indented(
        &format!(
            "keep: base at the pin within {:.0} % and count shift within {:.0} % ({VERDICT_SOURCE}); retune: not within \
             both; {window}; cannot tell: an error bar holds a limit, a smaller --accuracy may tell.",
            100.0 * BASE_CHANGE_LIMIT,
            100.0 * COUNT_CHANGE_LIMIT
        ),
        "",
        "  ",
    ));
    parts.join("\n\n") + "\n"
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
