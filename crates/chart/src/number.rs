//! Numbers as they are printed on charts: plain digits, a true minus sign, thin spaces between
//! thousands, powers of ten only where digits would not be read.

/// Thin space that does not break.
const THIN: char = '\u{202f}';

/// Smallest magnitude printed with plain digits.
const SMALLEST_PLAIN: f64 = 1e-5;
/// Magnitude from which powers of ten are used.
const LARGEST_PLAIN: f64 = 1e7;

/// `value` rounded to `significant` digits, trailing zeros dropped: 0.25, 1 200, 3×10⁹.
pub fn plain(value: f64, significant: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return "–".to_owned();
    }
    let rounded = format!("{value:.*e}", significant.max(1) - 1);
    let (mantissa, exponent) = rounded.split_once('e').unwrap_or((rounded.as_str(), "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if (SMALLEST_PLAIN..LARGEST_PLAIN).contains(&value.abs()) {
        let decimals = (significant as i32 - 1 - exponent).max(0) as usize;
        // The rounded decimal string, not the binary value, decides the digits.
        let value = rounded.parse().unwrap_or(value);
        return trimmed(&fixed(value, decimals));
    }
    let mantissa = trimmed(&mantissa.replace('-', "−"));
    let power: String = exponent.to_string().chars().map(raised).collect();
    if mantissa == "1" || mantissa == "−1" {
        format!("{}10{power}", mantissa.trim_end_matches('1'))
    } else {
        format!("{mantissa}×10{power}")
    }
}

/// `value` with a fixed number of decimals, thousands grouped from five digits on.
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    let digits = format!("{:.*}", decimals, value.abs());
    let negative = value < 0.0 && digits.bytes().any(|b| (b'1'..=b'9').contains(&b));
    let (whole, fraction) = match digits.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (digits.as_str(), None),
    };
    let mut text = String::new();
    if negative {
        text.push('−');
    }
    for (place, digit) in whole.chars().enumerate() {
        let behind = whole.len() - place;
        if place > 0 && whole.len() > 4 && behind.is_multiple_of(3) {
            text.push(THIN);
        }
        text.push(digit);
    }
    if let Some(fraction) = fraction {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// A tick of an axis whose ticks are `step` apart: all ticks get the same number of decimals.
pub(crate) fn tick(value: f64, step: f64) -> String {
    let largest = value.abs().max(step);
    if !(SMALLEST_PLAIN..LARGEST_PLAIN).contains(&largest) || step < 1e-9 {
        return plain(value, 6);
    }
    // A step of 0.05 needs two decimals; the small addition keeps 0.1 from asking for two.
    let decimals = (-(step.log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize;
    fixed(value, decimals)
}

/// A value and its interval with as many decimals as the interval deserves: 6.31 (6.12 to 6.50).
pub(crate) fn with_interval(value: f64, low: f64, high: f64, unit: &str) -> String {
    let half_width = (high - low).abs() / 2.0;
    if half_width == 0.0 || !half_width.is_finite() {
        return with_unit(&plain(value, 4), unit);
    }
    if [value, low, high].iter().any(|v| v.abs() >= LARGEST_PLAIN) {
        let [value, low, high] = [value, low, high].map(|v| plain(v, 4));
        return format!("{} ({low} to {high})", with_unit(&value, unit));
    }
    let decimals = (1.0 - half_width.log10().floor()).clamp(0.0, 6.0) as usize;
    format!(
        "{} ({} to {})",
        with_unit(&fixed(value, decimals), unit),
        fixed(low, decimals),
        fixed(high, decimals)
    )
}

/// Number and unit, a space between them; the plain number when the unit is empty.
pub(crate) fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() {
        number.to_owned()
    } else {
        format!("{number} {unit}")
    }
}

fn trimmed(digits: &str) -> String {
    if digits.contains('.') {
        digits
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    } else {
        digits.to_owned()
    }
}

fn raised(c: char) -> char {
    match c {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        digit @ '0'..='9' => {
            char::from_u32(0x2070 + u32::from(digit) - u32::from('0')).unwrap_or('⁰')
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_numbers() {
        assert_eq!(plain(0.25, 6), "0.25");
        assert_eq!(plain(20.0, 6), "20");
        assert_eq!(plain(-1.5, 3), "−1.5");
        assert_eq!(plain(1234.0, 6), "1234");
        assert_eq!(plain(123_456.0, 6), "123\u{202f}456");
        assert_eq!(plain(0.1 + 0.2, 6), "0.3");
        assert_eq!(plain(3.0e9, 3), "3×10⁹");
        assert_eq!(plain(1.0e-7, 3), "10⁻⁷");
        assert_eq!(plain(-0.0, 3), "0");
        assert_eq!(plain(f64::NAN, 3), "–");
    }

    #[test]
    fn ticks_of_one_axis_share_their_decimals() {
        assert_eq!(tick(0.5, 0.5), "0.5");
        assert_eq!(tick(1.0, 0.5), "1.0");
        assert_eq!(tick(0.1, 0.1), "0.1");
        assert_eq!(tick(0.15, 0.05), "0.15");
        assert_eq!(tick(20.0, 10.0), "20");
        assert_eq!(tick(-0.0, 0.1), "0.0");
        assert_eq!(tick(2.0e8, 1.0e8), "2×10⁸");
    }

    #[test]
    fn an_interval_decides_the_decimals() {
        assert_eq!(
            with_interval(6.3123, 6.1, 6.5, "mm"),
            "6.31 mm (6.10 to 6.50)"
        );
        assert_eq!(with_interval(120.4, 100.0, 140.0, ""), "120 (100 to 140)");
        assert_eq!(with_interval(2.0, 2.0, 2.0, "mm"), "2 mm");
    }
}
