//! Questions to a panel file from the command line: a range of one value, a condition on a quantity.

use super::Document;
use super::error::ScenarioError;
use crate::input::catalogue::refused as refused_by_catalogue;
use crate::input::place::Finding;
use crate::input::place::{Step, steps};
use crate::input::quantity::PlainValue;
use crate::input::quantity::reading::split_plain;
use crate::input::sections::study::VaryEntry;
use crate::input::sections::study::{Checks, Refusal, quantity, value_of, variable};
use crate::panel::Panel;
use crate::study::{Condition, Relation, Spread, Values, Variable};
use rust_decimal::Decimal;
use std::ops::Range;

const VARY: &str = "--vary";
const UNTIL: &str = "--until";

/// A range whose ends have a larger ratio is spread at equal ratios.
const LINEAR_UP_TO_RATIO: i64 = 10;

impl Document {
    /// A value that varies over a range, from the text of `--vary`: `pads.keys.gap=1mm..20mm`. Beyond
    /// a ratio of ten the range is logarithmic.
    ///
    /// # Errors
    /// No such path, no range, values that cannot stand there whatever the others are.
    pub fn range(&self, text: &str) -> Result<Variable, ScenarioError> {
        let refused = |span: Range<usize>, (message, hint): Refusal| {
            ScenarioError::in_argument(VARY, text, span, message, hint)
        };
        let form = "write PATH=FROM..TO, such as pads.keys.gap=1mm..20mm";
        let whole = |message: &str| refused(0..text.len(), (message.to_owned(), form.to_owned()));
        let Some((path, ends)) = text.split_once('=') else {
            return Err(whole("the range has no equals sign"));
        };
        let Some((from, to)) = ends.split_once("..") else {
            return Err(whole("there are no two dots between two values"));
        };
        let path_span = trimmed(text, 0..path.len());
        let at = path.len() + 1;
        let from_span = trimmed(text, at..at + from.len());
        let to_span = trimmed(text, at + from.len() + 2..text.len());
        if from_span.is_empty() || to_span.is_empty() {
            return Err(whole("the range lacks an end"));
        }
        let (path, to) = (path.trim(), to.trim());
        let (full, integer) = self
            .full_path(path)
            .map_err(|refusal| refused(path_span.clone(), refusal))?;
        if let Some(refusal) = refused_by_catalogue(full) {
            return Err(refused(path_span, refusal));
        }
        if integer {
            let hint = "try its values one by one with --set, or in a study";
            return Err(refused(
                path_span,
                (format!("\"{full}\" takes whole numbers only"), hint.into()),
            ));
        }
        let entry = VaryEntry {
            path: path.to_owned(),
            values: None,
            from: Some(PlainValue::Text(with_unit_of(from.trim(), to))),
            to: Some(PlainValue::Text(to.to_owned())),
            step: None,
            points: None,
            scale: None,
        };
        let checks = Checks {
            path: &|path| self.full_path(path),
            value: &|path, value| self.check_value(path, value),
        };
        let mut found = variable(&[], &entry, true, &checks).map_err(|finding| {
            let span = match finding.steps.last() {
                Some(Step::Key(key)) if key == "from" => from_span.clone(),
                Some(Step::Key(key)) if key == "to" => to_span.clone(),
                _ => 0..text.len(),
            };
            refused(span, (finding.message, in_this_form(finding.hint)))
        })?;
        if let Values::Range { from, to, spread } = &mut found.values {
            if from == to {
                return Err(whole("the range has no length"));
            }
            let logarithmic =
                *from > Decimal::ZERO && *to > *from * Decimal::from(LINEAR_UP_TO_RATIO);
            *spread = Spread::Anywhere { logarithmic };
        }
        Ok(found)
    }

    /// A condition on a quantity of `panel`, from the text of `--until`: `neighbour ratio <= 20 %`.
    ///
    /// # Errors
    /// No such quantity or pad, no sign of comparison, a value that is not in a unit of the quantity.
    pub fn condition(&self, text: &str, panel: &Panel) -> Result<Condition, ScenarioError> {
        let refused = |span: Range<usize>, (message, hint): Refusal| {
            ScenarioError::in_argument(UNTIL, text, span, message, hint)
        };
        // The earliest sign; of several at one place the longest, which is listed first.
        let found = Relation::SIGNS
            .into_iter()
            .filter_map(|(sign, relation)| Some((text.find(sign)?, sign, relation)))
            .min_by_key(|(at, ..)| *at);
        let Some((at, sign, relation)) = found else {
            let hint = "write QUANTITY <= VALUE (or >=, =), such as \"neighbour ratio <= 20 %\"";
            return Err(refused(
                0..text.len(),
                ("nothing is compared here".to_owned(), hint.to_owned()),
            ));
        };
        let words = trimmed(text, 0..at);
        let value = trimmed(text, at + sign.len()..text.len());
        let quantity = quantity(steps![UNTIL], &text[words.clone()], panel)
            .map_err(|Finding { message, hint, .. }| refused(words.clone(), (message, hint)))?;
        if quantity.kind.is_of_neighbour() && panel.pads.len() < 2 {
            let message = "the panel has no second pad to be a neighbour";
            let hint = "ask for the touch shift or the base capacitance";
            return Err(refused(words, (message.to_owned(), hint.to_owned())));
        }
        let number = value_of(quantity.kind, &text[value.clone()])
            .map_err(|refusal| refused(value, refusal))?;
        Ok(Condition {
            quantity,
            relation,
            value: twelve_digits(number),
        })
    }
}

/// The part of the range without the blanks around it.
fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let part = &text[range.clone()];
    let start = range.start + (part.len() - part.trim_start().len());
    start..start + part.trim().len()
}

/// `1` as `1 mm` when the other end is `20 mm`.
fn with_unit_of(from: &str, to: &str) -> String {
    match (split_plain(from), split_plain(to)) {
        (Some((_, "")), Some((_, unit))) if !unit.is_empty() => format!("{from} {unit}"),
        _ => from.to_owned(),
    }
}

/// Hints of the panel file's form in that of the command line.
fn in_this_form(hint: String) -> String {
    if let Some(ends) = hint.strip_prefix("write from = \"")
        && let Some((low, high)) = ends.split_once("\", to = \"")
    {
        return format!("write {low}..{}", high.trim_end_matches('"'));
    }
    hint
}

/// Takes away what the factor between units has added to the last bits.
fn twelve_digits(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
