//! Values as a note shows them: few digits, the unit in the heading of the column.

use crate::panel::Origin;
pub(super) use crate::rounding::counts;
use crate::rounding::significant;
use padfield_engine::units::{Capacitance, Length, Toleranced};

/// Digits of base capacitances.
pub(super) const BASE_DIGITS: i32 = 3;
/// Digits of shifts, shares and ratios.
pub(super) const SHIFT_DIGITS: i32 = 2;

/// Remark of a table that nothing was computed for.
pub(super) const TYPED_IN: &str = "As the panel file says it.";

/// At most three decimals, no zeros at the end.
pub(super) fn decimal(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

/// A length in mm, without the unit.
pub(super) fn mm(length: Length) -> String {
    decimal(length.mm())
}

/// `3.8 to 4.2`; `-` without tolerance.
pub(super) fn range_of<Q: Copy>(value: &Toleranced<Q>, show: impl Fn(Q) -> String) -> String {
    let ends = [value.least, value.most].map(show);
    match ends[0] == ends[1] {
        true => "-".to_owned(),
        false => ends.join(" to "),
    }
}

/// A capacitance in pF with two digits.
pub(super) fn pf(capacitance: Capacitance) -> String {
    significant(capacitance.pf(), SHIFT_DIGITS)
}

/// Where a value comes from.
pub(super) fn mark(origin: Origin) -> String {
    match origin {
        Origin::Given => "given",
        Origin::Default => "default",
    }
    .to_owned()
}

/// An argument as a shell takes it.
pub(crate) fn quoted(argument: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "_-./=%".contains(c);
    match !argument.is_empty() && argument.chars().all(is_plain) {
        true => argument.to_owned(),
        false => format!("'{}'", argument.replace('\'', r"'\''")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_short() {
        assert_eq!(decimal(4.0), "4");
        assert_eq!(decimal(-0.000_1), "0");
        assert_eq!(decimal(0.125), "0.125");
    }

    #[test]
    fn arguments_are_one_word_of_a_shell() {
        assert_eq!(quoted("scenarios/fern.toml"), "scenarios/fern.toml");
        assert_eq!(quoted("a b; rm 'x'"), r"'a b; rm '\''x'\'''");
        assert_eq!(quoted(""), "''");
    }
}
