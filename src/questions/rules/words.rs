//! Numbers as the reasons say them.

use crate::questions::find::Sample;
use crate::rounding::{fixed, rounded_with_error, signed_with_error};

/// Most decimals of a printed value.
const MOST_DECIMALS: i32 = 9;

/// `12.34 ± 0.05`: by the one rule for values with an error ([`crate::rounding`]); the value alone where it has none.
pub fn figure(sample: Sample) -> String {
    let Sample { value, error } = sample;
    match error > 0.0 && error.is_finite() {
        true => rounded_with_error(value, error),
        false => number(value),
    }
}

/// The same with a plus sign where there is no minus.
pub fn signed_figure(sample: Sample) -> String {
    let Sample { value, error } = sample;
    match error > 0.0 && error.is_finite() {
        true => signed_with_error(value, error),
        false if value > 0.0 => format!("+{}", number(value)),
        false => number(value),
    }
}

/// Four significant digits without trailing zeros.
pub fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return "-".to_owned();
    }
    let decimals = (3 - value.abs().log10().floor() as i32).clamp(0, MOST_DECIMALS) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// What a rule says: its value ends where its range does.
pub fn said(value: f64, within: f64) -> String {
    let within = number(within);
    let decimals = within.split_once('.').map_or(0, |(_, after)| after.len());
    format!("{} ± {within}", fixed(value, decimals))
}

/// A number with its unit, if it has one.
pub fn with_unit(number: &str, unit: &str) -> String {
    format!("{number} {unit}").trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_show_what_their_errors_leave_of_them() {
        let text = |value, error| figure(Sample { value, error });
        assert_eq!(text(12.345, 0.031), "12.35 ± 0.04");
        assert_eq!(text(0.7612, 0.0141), "0.76 ± 0.02");
        assert_eq!(text(1234.5, 30.0), "1230 ± 40");
        assert_eq!(text(-18.04, 0.4), "-18.0 ± 0.5");
        assert_eq!(text(5.0, 0.0), "5");
        assert_eq!(text(-0.2, 3.0), "0 ± 4");
        let signed = |value, error| signed_figure(Sample { value, error });
        assert_eq!(signed(12.345, 0.031), "+12.35 ± 0.04");
        assert_eq!(signed(-9.27, 1.81), "-9 ± 3");
        assert_eq!(signed(-0.2, 3.0), "0 ± 4");
        assert_eq!(signed(0.2, 3.0), "0 ± 4");
        assert_eq!(number(-0.0), "0");
        assert_eq!(number(f64::NAN), "-");
        assert_eq!(number(6.350_01), "6.35");
        assert_eq!(number(12.7), "12.7");
        assert_eq!(number(0.000_123_46), "0.0001235");
        assert_eq!(number(20_000.0), "20000");
        assert_eq!(with_unit("2.8", ""), "2.8");
        assert_eq!(said(-1.0, 0.2), "-1.0 ± 0.2");
    }
}
