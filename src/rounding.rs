//! Numbers as they are printed: significant digits, errors rounded up.

/// A number with so many significant digits.
///
/// ```
/// assert_eq!(padfield::rounding::significant(0.012_345, 3), "0.0123");
/// ```
pub fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor();
    if !(-7.0..12.0).contains(&magnitude) {
        return format!("{value:.*e}", (digits - 1) as usize);
    }
    let decimals = (digits - 1 - magnitude as i32).max(0);
    format!("{value:.*}", decimals as usize)
}

/// One significant digit, never less than the error itself.
pub fn rounded_up(error: f64) -> String {
    if error <= 0.0 || !error.is_finite() {
        return significant(error, 1);
    }
    let unit = 10f64.powi(error.log10().floor() as i32);
    // The small step back keeps 0.3 from becoming 0.4 by its last bit.
    significant((error / unit - 1e-9).ceil() * unit, 1)
}

/// `0.64 ± 0.005`: the value with so many digits; its bar also covers what rounding took off.
pub fn rounded_with_error(value: f64, error: f64, digits: i32) -> String {
    let shown = significant(value, digits);
    let rounding = shown
        .parse()
        .map_or(0.0, |shown: f64| (value - shown).abs());
    format!("{shown} ± {}", rounded_up(error + rounding))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_their_digits() {
        assert_eq!(significant(436.780_368, 6), "436.780");
        assert_eq!(significant(-0.003_526_2, 3), "-0.00353");
        assert_eq!(significant(0.0, 6), "0");
        assert_eq!(significant(1.5e-20, 2), "1.5e-20");
        assert_eq!(significant(f64::NAN, 2), "NaN");
        assert_eq!(significant(f64::INFINITY, 2), "inf");
    }

    #[test]
    fn errors_are_rounded_up() {
        assert_eq!(rounded_up(0.0021), "0.003");
        assert_eq!(rounded_up(0.003), "0.003");
        assert_eq!(rounded_up(0.95), "1");
        assert_eq!(rounded_up(0.0), "0");
        assert_eq!(rounded_up(12.0), "20");
    }
}
