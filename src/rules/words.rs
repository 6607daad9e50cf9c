//! Numbers as the reasons say them.

use crate::find::Sample;

/// Most decimals of a printed value.
const MOST_DECIMALS: i32 = 9;

/// `12.34 ± 0.05`: the error rounded up to one digit, two when it starts with a one, the value as far as
/// it reaches.
pub fn figure(sample: Sample) -> String {
    let Sample { value, error } = sample;
    if !(error > 0.0 && error.is_finite()) {
        return number(value);
    }
    let magnitude = error.log10().floor();
    let leading = error / 10f64.powf(magnitude);
    let decimals = (if leading < 2.0 { 1 } else { 0 } - magnitude as i32).clamp(0, MOST_DECIMALS);
    let step = 10f64.powi(-decimals);
    let error = (error / step - 1e-9).ceil() * step;
    let decimals = decimals as usize;
    let value = format!("{value:.decimals$}");
    // Rounded to nothing it has no sign.
    let value = match is_zero(&value) {
        true => value.trim_start_matches('-'),
        false => value.as_str(),
    };
    format!("{value} ± {error:.decimals$}")
}

/// The same with a plus sign where there is no minus.
pub fn signed_figure(sample: Sample) -> String {
    let text = figure(sample);
    let value = text.split(' ').next().unwrap_or("");
    match value.starts_with('-') || is_zero(value) {
        true => text,
        false => format!("+{text}"),
    }
}

/// Whether a printed number has no digit but zeros.
fn is_zero(text: &str) -> bool {
    !text.contains(|c| ('1'..='9').contains(&c))
}

/// Four significant digits without trailing zeros.
pub fn number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let decimals = (3 - value.abs().log10().floor() as i32).clamp(0, MOST_DECIMALS) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
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
        assert_eq!(text(0.7612, 0.0141), "0.761 ± 0.015");
        assert_eq!(text(1234.5, 30.0), "1234 ± 30");
        assert_eq!(text(-18.04, 0.4), "-18.0 ± 0.4");
        assert_eq!(text(5.0, 0.0), "5");
        assert_eq!(text(-0.2, 3.0), "0 ± 3");
        let signed = |value, error| signed_figure(Sample { value, error });
        assert_eq!(signed(12.345, 0.031), "+12.35 ± 0.04");
        assert_eq!(signed(-9.27, 1.81), "-9.3 ± 1.9");
        assert_eq!(signed(-0.2, 3.0), "0 ± 3");
        assert_eq!(signed(0.2, 3.0), "0 ± 3");
        assert_eq!(number(6.350_01), "6.35");
        assert_eq!(number(12.7), "12.7");
        assert_eq!(number(0.000_123_46), "0.0001235");
        assert_eq!(number(20_000.0), "20000");
        assert_eq!(with_unit("2.8", ""), "2.8");
    }
}
