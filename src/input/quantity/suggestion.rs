//! What somebody may have meant by a unit that is not known, at the same magnitude.
//!
//! A suggestion is the typed value in a known unit: `180k` of a resistance is `180 kohm`, `4k7` is
//! `4.7 kohm`, `4.7 u` of a capacitance is `4700 nF`. What could mean two magnitudes gets none.

use super::measure::{Measure, UNITS};

/// Prefixes with their power of ten.
const PREFIXES: [(&str, i32); 11] = [
    ("f", -15),
    ("p", -12),
    ("n", -9),
    ("u", -6),
    ("\u{b5}", -6),
    ("\u{3bc}", -6),
    ("m", -3),
    ("c", -2),
    ("k", 3),
    ("K", 3),
    ("M", 6),
];

/// Words in lower case for a unit of a measure, with the unit they stand for.
const ALIASES: &[(&str, Measure, &str)] = &[
    ("", Measure::Capacitance, "F"),
    ("f", Measure::Capacitance, "F"),
    ("farad", Measure::Capacitance, "F"),
    ("", Measure::Resistance, "ohm"),
    ("r", Measure::Resistance, "ohm"),
    ("ohm", Measure::Resistance, "ohm"),
    ("ohms", Measure::Resistance, "ohm"),
    ("", Measure::Time, "s"),
    ("s", Measure::Time, "s"),
    ("sec", Measure::Time, "s"),
    ("", Measure::Voltage, "V"),
    ("v", Measure::Voltage, "V"),
    ("volt", Measure::Voltage, "V"),
    ("volts", Measure::Voltage, "V"),
    ("", Measure::Frequency, "Hz"),
    ("hz", Measure::Frequency, "Hz"),
    ("hertz", Measure::Frequency, "Hz"),
    ("", Measure::Current, "A"),
    ("a", Measure::Current, "A"),
    ("amp", Measure::Current, "A"),
    ("amps", Measure::Current, "A"),
    ("", Measure::Length, "m"),
    ("m", Measure::Length, "m"),
    ("meter", Measure::Length, "m"),
    ("metre", Measure::Length, "m"),
    ("ah", Measure::Charge, "Ah"),
];

/// Other words for a unit as a whole.
const WORDS: &[(&str, Measure, &str)] = &[
    ("inch", Measure::Length, "in"),
    ("inches", Measure::Length, "in"),
    ("mils", Measure::Length, "mil"),
    ("thou", Measure::Length, "mil"),
    ("micron", Measure::Length, "um"),
    ("microns", Measure::Length, "um"),
    ("meg", Measure::Resistance, "Mohm"),
    ("count", Measure::Counts, "counts"),
    ("c", Measure::Temperature, "degC"),
    ("percent", Measure::Share, "%"),
];

/// The typed number with its unknown unit as a value of the measure, if only one can be meant. `after` is
/// what follows directly: the digits of `4k7`.
pub(crate) fn suggestion(
    number: &str,
    unit: &str,
    after: &str,
    measure: Measure,
) -> Option<String> {
    let number = &joined(number, unit, after)?;
    let lower = unit.to_lowercase();
    let word = WORDS
        .iter()
        .find(|(word, of, _)| *of == measure && *word == lower);
    if let Some((_, _, known)) = word {
        return Some(format!("{number} {known}"));
    }
    if let Some((exponent, base)) = prefixed(unit, measure) {
        return in_known_unit(number, exponent, base, measure);
    }
    // A slip of the finger behind the same first letter, which carries the magnitude.
    let first = unit.chars().next()?;
    let alike = |known: &&str| known.starts_with(first) && known.is_ascii();
    let distance = |known: &&str| strsim::damerau_levenshtein(&lower, &known.to_lowercase());
    let nearest = measure.units().filter(alike).min_by_key(distance)?;
    (unit.len() > 1 && distance(&nearest) <= 1 + unit.len() / 4)
        .then(|| format!("{number} {nearest}"))
}

/// The number, with the digits behind its unit for `4k7`; none when they make no number.
fn joined(number: &str, unit: &str, after: &str) -> Option<String> {
    let digits: String = after.chars().take_while(char::is_ascii_digit).collect();
    if digits.is_empty() {
        return Some(number.to_owned());
    }
    let is_whole = number.chars().all(|c| c.is_ascii_digit());
    (is_whole && unit.chars().count() == 1 && digits.len() == after.trim_end().len())
        .then(|| format!("{number}.{digits}"))
}

/// Power of ten and base unit of a prefix before (or without) a base unit, in any case but that of the
/// prefix: m and M differ by nine orders.
fn prefixed(unit: &str, measure: Measure) -> Option<(i32, &'static str)> {
    let base = |rest: &str| {
        let rest = rest.to_lowercase();
        let mut all = ALIASES.iter();
        let found = all.find(|(word, of, _)| *of == measure && *word == rest);
        found.map(|(_, _, base)| *base)
    };
    let whole = base(unit)
        .filter(|_| !unit.is_empty())
        .map(|base| (0, base));
    let split = PREFIXES.iter().find_map(|(prefix, exponent)| {
        let rest = unit.strip_prefix(prefix)?;
        Some((*exponent, base(rest)?))
    });
    match (whole, split) {
        // "M" of a length, "F" of a capacitance: a unit in the wrong case, or a prefix alone?
        (Some(_), Some(_)) => None,
        // "MM" is the caps lock, not a million metres.
        (None, Some((6, _))) if measure == Measure::Length => None,
        (found, None) | (None, found) => found,
    }
}

/// The value in the known unit of that power of ten, else in the nearest, with the point moved.
fn in_known_unit(number: &str, exponent: i32, base: &str, measure: Measure) -> Option<String> {
    let all = UNITS
        .iter()
        .filter(|(unit, of, _)| *of == measure && unit.is_ascii());
    let powers = all.filter_map(|(unit, ..)| {
        let prefix = unit.strip_suffix(base)?;
        let power = match prefix {
            "" => 0,
            _ => PREFIXES.iter().find(|(known, _)| *known == prefix)?.1,
        };
        Some((power, *unit))
    });
    let (power, unit) = powers.min_by_key(|(power, _)| (power - exponent).abs())?;
    let number = moved(number, exponent - power)?;
    Some(format!("{number} {unit}"))
}

/// The decimal number times a power of ten, exactly.
fn moved(number: &str, power: i32) -> Option<String> {
    if power == 0 {
        return Some(number.to_owned());
    }
    if number.contains(['e', 'E']) {
        return None;
    }
    let (sign, digits) = match number.strip_prefix(['-', '+']) {
        Some(rest) => (&number[..1], rest),
        None => ("", number),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let all = format!("{whole}{fraction}");
    let point = whole.len() as i32 + power;
    let moved = if point <= 0 {
        format!("0.{}{all}", "0".repeat(point.unsigned_abs() as usize))
    } else if point as usize >= all.len() {
        format!("{all}{}", "0".repeat(point as usize - all.len()))
    } else {
        format!("{}.{}", &all[..point as usize], &all[point as usize..])
    };
    let moved = match moved.contains('.') {
        true => moved.trim_end_matches('0').trim_end_matches('.'),
        false => &moved,
    };
    let moved = moved.trim_start_matches('0');
    let moved = match moved {
        "" => "0".to_owned(),
        m if m.starts_with('.') => format!("0{m}"),
        m => m.to_owned(),
    };
    Some(format!("{sign}{moved}"))
}

#[cfg(test)]
mod tests {
    use super::super::reading::read_one;
    use super::*;
    use proptest::prelude::*;

    fn told(text: &str, measure: Measure) -> Option<String> {
        let hint = read_one(text, measure).expect_err("it is not read").hint;
        let rest = hint.strip_prefix("did you mean \"")?;
        rest.split_once('"').map(|(value, _)| value.to_owned())
    }

    #[test]
    fn what_people_type_is_told_at_its_magnitude() {
        use Measure::*;
        for (text, measure, expected) in [
            ("180k", Resistance, Some("180 kohm")),
            ("180K", Resistance, Some("180 kohm")),
            ("4k7", Resistance, Some("4.7 kohm")),
            ("1M", Resistance, Some("1 Mohm")),
            ("180R", Resistance, Some("180 ohm")),
            ("180 mohm", Resistance, Some("0.18 ohm")),
            ("2 meg", Resistance, Some("2 Mohm")),
            ("10p", Capacitance, Some("10 pF")),
            ("4.7 u", Capacitance, Some("4700 nF")),
            ("4.7 uF", Capacitance, Some("4700 nF")),
            ("1 pf", Capacitance, Some("1 pF")),
            ("3 mmm", Length, Some("3 mm")),
            ("3 inch", Length, Some("3 in")),
            ("16M", Frequency, Some("16 MHz")),
            ("16 mhz", Frequency, Some("0.016 Hz")),
            ("3.3 v", Voltage, Some("3.3 V")),
            ("10u", Current, Some("10 uA")),
            ("3 MM", Length, None),
            ("330 K", Temperature, None),
            ("4k7k", Resistance, None),
        ] {
            assert_eq!(told(text, measure).as_deref(), expected, "{text}");
        }
    }

    proptest! {
        #[test]
        fn a_suggestion_never_changes_a_magnitude(
            (whole, fraction) in (0_u32..100_000, 0_u32..100),
            prefix in 0..PREFIXES.len() + 1,
            alias in 0..ALIASES.len(),
            is_upper in any::<bool>(),
        ) {
            let (prefix, exponent) = PREFIXES.get(prefix).copied().unwrap_or(("", 0));
            let (word, measure, base) = ALIASES[alias];
            let word = if is_upper { word.to_uppercase() } else { word.to_owned() };
            let unit = format!("{prefix}{word}");
            prop_assume!(!unit.is_empty());
            let text = format!("{whole}.{fraction:02} {unit}");
            // A prefix alone may be a unit itself: m, in the table.
            prop_assume!(read_one(&text, measure).is_err());
            if let Some(told) = told(&text, measure) {
                let factor = UNITS.iter().find(|u| u.0 == base).map_or(1.0, |u| u.2);
                let number: f64 = format!("{whole}.{fraction:02}").parse().expect("a number");
                let typed = number * 10_f64.powi(exponent) * factor;
                let read = read_one(&told, measure).expect("a suggestion is read");
                prop_assert!((read - typed).abs() <= 1e-9 * typed.abs(), "{} told for {}", told, text);
            }
        }
    }
}
