//! Numbers as they are printed: significant digits, errors rounded up. The one place where a computed number
//! becomes text for people: what is not a number is a dash, and nothing is "-0.0".

/// Printed where there is no finite number.
const NO_NUMBER: &str = "-";

/// A number with so many significant digits.
///
/// ```
/// assert_eq!(padfield::rounding::significant(0.012_345, 3), "0.0123");
/// ```
pub fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
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

/// A number with so many decimals; rounded to nothing it has no sign.
///
/// ```
/// use padfield::rounding::fixed;
///
/// assert_eq!(fixed(2.345, 1), "2.3");
/// assert_eq!(fixed(-0.04, 1), "0.0");
/// ```
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
    let text = format!("{value:.decimals$}");
    match is_zero(&text) {
        true => text.trim_start_matches('-').to_owned(),
        false => text,
    }
}

/// The same with a plus sign where there is no minus; nothing has neither.
///
/// ```
/// use padfield::rounding::signed;
///
/// assert_eq!(signed(2.345, 1), "+2.3");
/// assert_eq!(signed(-0.04, 1), "0.0");
/// ```
pub fn signed(value: f64, decimals: usize) -> String {
    with_sign(fixed(value, decimals))
}

fn with_sign(text: String) -> String {
    let number = text.split(' ').next().unwrap_or("");
    match number.starts_with('-') || is_zero(number) {
        true => text,
        false => format!("+{text}"),
    }
}

/// Whether a printed number has no digit but zeros.
fn is_zero(text: &str) -> bool {
    !text.contains(|c| ('1'..='9').contains(&c))
}

/// Counts that are no part of a value with an error: to half a percent, no finer than a tenth.
///
/// ```
/// use padfield::rounding::counts;
///
/// assert_eq!(counts(160.4), "160");
/// assert_eq!(counts(5.94), "5.9");
/// ```
pub fn counts(value: f64) -> String {
    fixed(value, if value.abs() >= 100.0 { 0 } else { 1 })
}

/// Counts with their numerical error, where they have one.
///
/// ```
/// use padfield::rounding::counts_with_error;
///
/// assert_eq!(counts_with_error(59.31, 1.4), "59 ± 2");
/// assert_eq!(counts_with_error(59.31, 0.0), "59.3");
/// ```
pub fn counts_with_error(value: f64, error: f64) -> String {
    match error > 0.0 && error.is_finite() {
        true => rounded_with_error(value, error),
        false => counts(value),
    }
}

/// A number with the noun it counts, which is singular at 1: "1 count", "1.4 counts". `shown` is the number
/// as it is printed, the noun its plural with an s.
///
/// ```
/// use padfield::rounding::of;
///
/// assert_eq!(of("1", "counts rms"), "1 count rms");
/// assert_eq!(of("1.0", "counts"), "1.0 counts");
/// ```
pub fn of(shown: &str, nouns: &str) -> String {
    let (noun, rest) = nouns.split_once(' ').unwrap_or((nouns, ""));
    let noun = match shown {
        "1" => noun.strip_suffix('s').unwrap_or(noun),
        _ => noun,
    };
    format!("{shown} {noun} {rest}").trim_end().to_owned()
}

/// One significant digit, never less than the error itself.
pub fn rounded_up(error: f64) -> String {
    rounded_up_to(error, 1)
}

/// So many significant digits, never less than the error itself.
///
/// ```
/// assert_eq!(padfield::rounding::rounded_up_to(2.04, 2), "2.1");
/// ```
pub fn rounded_up_to(error: f64, digits: i32) -> String {
    if error <= 0.0 || !error.is_finite() {
        return significant(error, digits);
    }
    let unit = 10f64.powi(error.log10().floor() as i32 - (digits - 1));
    // The small step back keeps 0.3 from becoming 0.4 by its last bit.
    significant((error / unit - 1e-9).ceil() * unit, digits)
}

/// Most significant digits of a value whose error is smaller than that.
const MOST_DIGITS: i32 = 6;

/// `0.641 ± 0.004`, the one rule for a value with an error: the error has one significant digit, rounded
/// up and with what rounding the value took off; the value ends at the same decimal place.
///
/// ```
/// use padfield::rounding::rounded_with_error;
///
/// assert_eq!(rounded_with_error(0.6412, 0.0031), "0.641 ± 0.004");
/// assert_eq!(rounded_with_error(1234.5, 30.0), "1230 ± 40");
/// ```
pub fn rounded_with_error(value: f64, error: f64) -> String {
    if !value.is_finite() {
        return NO_NUMBER.to_owned();
    }
    if !error.is_finite() {
        return format!("{} ± unknown", significant(value, MOST_DIGITS));
    }
    if error <= 0.0 {
        return format!("{} ± 0", significant(value, MOST_DIGITS));
    }
    let place_of = |number: f64| number.log10().floor() as i32;
    // More digits than these would say nothing about a design.
    let least = match value == 0.0 {
        true => i32::MIN,
        false => place_of(value.abs()) - MOST_DIGITS + 1,
    };
    let bar_at = |place: i32| {
        let unit = 10f64.powi(place);
        let rounded = (value / unit).round() * unit;
        // The small step back keeps 0.3 from becoming 0.4 by its last bit.
        let bar = ((error + (value - rounded).abs()) / unit - 1e-9).ceil() * unit;
        (rounded, bar)
    };
    let mut place = place_of(error).max(least);
    let (mut rounded, mut bar) = bar_at(place);
    // 0.0095 has become 0.01: one place less.
    if place_of(bar * (1.0 + 1e-9)) > place {
        place += 1;
        (rounded, bar) = bar_at(place);
    }
    if !(-7..12).contains(&place) {
        // The value ends at the place of its error here too.
        let digits = (place_of(rounded.abs().max(bar) * (1.0 + 1e-9)) - place).max(0) as usize;
        return match rounded == 0.0 {
            true => format!("0 ± {bar:.0e}"),
            false => format!("{rounded:.digits$e} ± {bar:.0e}"),
        };
    }
    let decimals = (-place).max(0) as usize;
    // Zero has no sign.
    let rounded = if rounded == 0.0 { 0.0 } else { rounded };
    format!("{rounded:.decimals$} ± {bar:.decimals$}")
}

/// [`rounded_with_error`] of a change: with a plus sign where there is no minus; nothing has neither.
///
/// ```
/// use padfield::rounding::signed_with_error;
///
/// assert_eq!(signed_with_error(12.345, 0.031), "+12.35 ± 0.04");
/// assert_eq!(signed_with_error(-0.2, 3.0), "0 ± 4");
/// ```
pub fn signed_with_error(value: f64, error: f64) -> String {
    with_sign(rounded_with_error(value, error))
}

/// A window ratio with two digits; endless where nothing false is seen.
///
/// ```
/// use padfield::rounding::window_ratio;
///
/// assert_eq!(window_ratio(1.234), "1.2");
/// assert_eq!(window_ratio(f64::INFINITY), "endless");
/// ```
pub fn window_ratio(value: f64) -> String {
    match value.is_infinite() {
        true => "endless".to_owned(),
        false => significant(value, 2),
    }
}

/// A share with its error, in percent.
///
/// ```
/// assert_eq!(padfield::rounding::percent_with_error(0.0612, 0.0007), "6.12 ± 0.07");
/// ```
pub fn percent_with_error(share: f64, error: f64) -> String {
    rounded_with_error(100.0 * share, 100.0 * error)
}

/// A part of a whole in percent with so many digits, or a dash where the whole is nothing.
///
/// ```
/// use padfield::rounding::percent_of;
///
/// assert_eq!(percent_of(0.05, 2.0, 2), "2.5");
/// assert_eq!(percent_of(0.0, 0.0, 2), "-");
/// ```
pub fn percent_of(part: f64, whole: f64, digits: i32) -> String {
    let share = 100.0 * part / whole;
    match share.is_finite() {
        true => significant(share, digits),
        false => "-".to_owned(),
    }
}

/// Seconds as a person says them.
pub fn duration(seconds: f64) -> String {
    match seconds {
        s if s < 0.9995 => format!("{} ms", significant(1e3 * s, 3)),
        s if s < 120.0 => format!("{} s", significant(s, 3)),
        s if s < 7200.0 => format!("{:.0} min", s / 60.0),
        s if s < 172_800.0 => format!("{:.1} h", s / 3600.0),
        s => format!("{:.1} days", s / 86_400.0),
    }
}

/// A probability or a rate.
///
/// ```
/// assert_eq!(padfield::rounding::rate(0.0), "less than 1e-12");
/// ```
pub fn rate(value: f64) -> String {
    if value < 1e-12 {
        "less than 1e-12".to_owned()
    } else if value < 0.01 {
        format!("{value:.1e}")
    } else {
        significant(value, 2)
    }
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
        assert_eq!(significant(f64::NAN, 2), "-");
        assert_eq!(significant(f64::INFINITY, 2), "-");
        assert_eq!(significant(-0.0, 2), "0");
        assert_eq!(fixed(f64::NAN, 2), "-");
        assert_eq!(signed(-0.0, 1), "0.0");
        assert_eq!(signed(f64::NAN, 1), "-");
        assert_eq!(counts(-0.01), "0.0");
        assert_eq!(counts(f64::NEG_INFINITY), "-");
        assert_eq!(percent_of(1.0, 0.0, 2), "-");
    }

    #[test]
    fn a_value_ends_where_its_error_does() {
        for (value, error, shown) in [
            (0.6412, 0.0031, "0.641 ± 0.004"),
            // 1.33 ± 0.04 would end at 1.37, short of 1.3349 + 0.04.
            (1.3349, 0.04, "1.33 ± 0.05"),
            (12.345, 0.031, "12.35 ± 0.04"),
            (1234.5, 30.0, "1230 ± 40"),
            (0.018, 0.0096, "0.02 ± 0.02"),
            (12.345, 0.0, "12.3450 ± 0"),
            (0.0, 0.002, "0.000 ± 0.002"),
            (-0.0001, 0.002, "0.000 ± 0.003"),
            (5.0, 1e-9, "5.00000 ± 0.00001"),
            (2.0, 300.0, "0 ± 400"),
            (f64::NAN, 1.0, "-"),
            (3.0, f64::INFINITY, "3.00000 ± unknown"),
            (3.0, f64::NAN, "3.00000 ± unknown"),
            (-0.0, 0.0, "0 ± 0"),
            (2.4e-7, 1.6e-8, "2.4e-7 ± 2e-8"),
            (2.71e-8, 2.1e-9, "2.7e-8 ± 3e-9"),
            (0.0, 2e-9, "0 ± 2e-9"),
        ] {
            assert_eq!(rounded_with_error(value, error), shown, "{value}, {error}");
        }
    }

    #[test]
    fn a_shown_interval_holds_the_whole_of_the_real_one() {
        for step in 0..2000 {
            let value = 0.37 * (f64::from(step) * 0.7).sin() * 10f64.powi(step % 9 - 4);
            let error = 0.011 * f64::from(1 + step % 97) * 10f64.powi(step % 7 - 4);
            let text = rounded_with_error(value, error);
            let ends: Vec<f64> = text
                .split(" ± ")
                .map(|number| number.parse().expect("a number"))
                .collect();
            let slack = 1e-6 * ends[1];
            assert!(
                ends[0] - ends[1] <= value - error + slack,
                "{value} {error}: {text}"
            );
            assert!(
                ends[0] + ends[1] >= value + error - slack,
                "{value} {error}: {text}"
            );
        }
    }

    #[test]
    fn errors_are_rounded_up() {
        assert_eq!(rounded_up(0.0021), "0.003");
        assert_eq!(rounded_up(0.003), "0.003");
        assert_eq!(rounded_up(0.95), "1");
        assert_eq!(rounded_up(0.0), "0");
        assert_eq!(rounded_up(12.0), "20");
    }

    #[test]
    fn durations_have_the_unit_that_reads_best() {
        assert_eq!(duration(0.0123), "12.3 ms");
        assert_eq!(duration(100.0), "100 s");
        assert_eq!(duration(3000.0), "50 min");
        assert_eq!(duration(36_000.0), "10.0 h");
        assert_eq!(duration(864_000.0), "10.0 days");
    }
}
