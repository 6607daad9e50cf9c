//! Reading "4.0 mm ± 0.2 mm": numbers, units, tolerances and pairs out of one string.
//!
//! Plain functions over text; the types that use them are in [`super`]. The same grammar for the JSON Schema
//! is in `pattern.rs`, and a test holds the two together.

pub use super::measure::Measure;
use super::measure::UNITS;
use super::suggestion::suggestion;
use padfield_engine::units::Toleranced;

/// Longest quantity string \[characters\]. With exponents of two digits it keeps every number finite.
pub const MAX_CHARACTERS: usize = 64;

/// Why a quantity could not be read.
#[derive(Clone, Debug, PartialEq)]
pub struct Misread {
    pub message: String,
    /// What to write instead.
    pub hint: String,
}

impl Misread {
    pub(crate) fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hint: hint.into(),
        }
    }
}

/// A number and its unit as text, cut from the front of a string.
pub(super) struct Piece<'t> {
    pub number: &'t str,
    pub unit: &'t str,
    pub rest: &'t str,
}

impl Piece<'_> {
    fn value(&self) -> f64 {
        self.number
            .parse()
            .expect("the number grammar is a subset of what f64 reads")
    }
}

/// Cuts a number (sign allowed if `signed`) and the unit after it off the front.
pub(super) fn take_piece(text: &str, signed: bool) -> Result<Piece<'_>, Misread> {
    let text = text.trim_start_matches(' ');
    let end = number_end(text, signed).ok_or_else(|| {
        let found = if text.trim().is_empty() {
            "there is no number".to_owned()
        } else {
            format!("\"{}\" does not start with a number", text.trim())
        };
        Misread::new(found, "write a number and its unit, such as \"4 mm\"")
    })?;
    let (number, rest) = text.split_at(end);
    if let Some(digits) = number.split(['e', 'E']).nth(1)
        && digits.trim_start_matches(['+', '-']).len() > 2
    {
        return Err(Misread::new(
            format!("{number} is out of range"),
            "an exponent has at most two digits",
        ));
    }
    let after = rest.trim_start_matches(' ');
    let length = unit_end(after);
    let (unit, rest) = if length == 0 {
        ("", rest)
    } else {
        after.split_at(length)
    };
    Ok(Piece { number, unit, rest })
}

/// Number and unit of a text that holds nothing else.
pub(crate) fn number_and_unit(text: &str) -> Option<(f64, String)> {
    let piece = take_piece(text, true).ok()?;
    let is_all = piece.rest.trim().is_empty();
    is_all.then(|| (piece.value(), piece.unit.to_owned()))
}

fn number_end(text: &str, signed: bool) -> Option<usize> {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count()
    };
    let mut end = usize::from(signed && matches!(bytes.first(), Some(b'+' | b'-')));
    let whole = digits(end);
    end += whole;
    if bytes.get(end) == Some(&b'.') {
        let fraction = digits(end + 1);
        if whole + fraction == 0 {
            return None;
        }
        end += 1 + fraction;
    } else if whole == 0 {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits((end + 1 + sign).min(bytes.len()));
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    Some(end)
}

/// Letters, % and the degree sign; a slash only between letters (pF/cm, but not +0.3/-0.1 mm).
/// The x of "15 mm x 15 mm" is a unit of its own here and is cut off before.
fn unit_end(text: &str) -> usize {
    let mut characters = text.char_indices().peekable();
    let mut end = 0;
    while let Some((at, character)) = characters.next() {
        let next_is_letter = characters.peek().is_some_and(|(_, c)| c.is_alphabetic());
        let belongs = character.is_alphabetic()
            || matches!(character, '%' | '\u{b0}')
            || (character == '/' && end > 0 && next_is_letter);
        if !belongs {
            break;
        }
        end = at + character.len_utf8();
    }
    end
}

/// Factor of a unit to the base unit of `measure`, or why it is none.
fn factor(piece: &Piece<'_>, measure: Measure) -> Result<f64, Misread> {
    let Piece { number, unit, .. } = piece;
    if unit.is_empty() {
        if measure == Measure::Number {
            return Ok(1.0);
        }
        let usual = measure.usual_unit();
        return Err(Misread::new(
            format!("{number} has no unit"),
            format!("did you mean \"{number} {usual}\"?"),
        ));
    }
    match UNITS.iter().find(|known| known.0 == *unit) {
        Some((_, found, factor)) if *found == measure => Ok(*factor),
        Some((_, found, _)) => Err(wrong_kind(&format!("{number} {unit}"), *found, measure)),
        None => Err(unknown_unit(piece, measure)),
    }
}

fn wrong_kind(text: &str, found: Measure, expected: Measure) -> Misread {
    let (found, wanted) = (found.described(), expected.described());
    Misread::new(
        format!("\"{text}\" is {found}, not {wanted}"),
        such_as(expected),
    )
}

fn such_as(measure: Measure) -> String {
    match measure {
        Measure::Number => "write a plain number such as \"2.8\"".to_owned(),
        _ => {
            let (what, unit) = (measure.described(), measure.usual_unit());
            format!("write {what} such as \"4 {unit}\"")
        }
    }
}

fn unknown_unit(piece: &Piece<'_>, measure: Measure) -> Misread {
    let Piece { number, unit, rest } = piece;
    if measure == Measure::Number {
        return Misread::new(
            format!("\"{number} {unit}\" should have no unit"),
            such_as(measure),
        );
    }
    let known = measure.units().filter(|u| u.is_ascii());
    let known = known.collect::<Vec<_>>().join(", ");
    let hint = match suggestion(number, unit, rest, measure) {
        Some(meant) => format!("did you mean \"{meant}\"? known units: {known}"),
        None => format!("known units: {known}"),
    };
    Misread::new(
        format!("\"{unit}\" is not a unit of {}", measure.described()),
        hint,
    )
}

pub(crate) fn within_length(text: &str) -> Result<(), Misread> {
    if text.chars().count() > MAX_CHARACTERS {
        return Err(Misread::new(
            format!("a quantity has at most {MAX_CHARACTERS} characters"),
            "write a number and its unit, such as \"4 mm\"",
        ));
    }
    Ok(())
}

/// What a unit measures; no unit is a plain number.
pub fn measure_of(unit: &str) -> Option<Measure> {
    if unit.is_empty() {
        return Some(Measure::Number);
    }
    UNITS.iter().find(|known| known.0 == unit).map(|u| u.1)
}

/// Number and unit of a text that is nothing but one number with a known unit, or without any.
pub fn split_plain(text: &str) -> Option<(&str, &str)> {
    let piece = take_piece(text, true).ok()?;
    let alone = piece.rest.trim_matches(' ').is_empty() && measure_of(piece.unit).is_some();
    alone.then_some((piece.number, piece.unit))
}

/// One value without tolerance, in base units.
pub fn read_one(text: &str, measure: Measure) -> Result<f64, Misread> {
    within_length(text)?;
    let piece = take_piece(text, true)?;
    let value = piece.value() * factor(&piece, measure)?;
    let rest = piece.rest.trim_matches(' ');
    if rest.is_empty() {
        return Ok(value);
    }
    let nominal = text[..text.len() - piece.rest.len()].trim();
    Err(if rest.starts_with(['±', '+']) {
        Misread::new(
            "this value takes no tolerance",
            format!("write \"{nominal}\""),
        )
    } else {
        Misread::new(
            format!("\"{rest}\" is left over after \"{nominal}\""),
            format!("write \"{nominal}\""),
        )
    })
}

/// One value with an optional tolerance, in base units.
pub fn read_toleranced(text: &str, measure: Measure) -> Result<Toleranced<f64>, Misread> {
    within_length(text)?;
    let piece = take_piece(text, true)?;
    let tolerance = piece.rest.trim_matches(' ');
    // "4k7": the unit is what is wrong, not the tolerance.
    if piece.rest.starts_with(|c: char| c.is_ascii_digit()) {
        factor(&piece, measure)?;
    }
    if tolerance.is_empty() {
        let nominal = piece.value() * factor(&piece, measure)?;
        return Ok(Toleranced::exact(nominal));
    }
    let (minus, plus) = read_tolerance(tolerance, &piece, measure)?;
    // "4.0 ± 0.2 mm": the nominal value shares the unit of its tolerance.
    let shared = Piece {
        number: piece.number,
        unit: if piece.unit.is_empty() && minus.unit != "%" {
            minus.unit
        } else {
            piece.unit
        },
        rest: "",
    };
    let nominal = shared.value() * factor(&shared, measure)?;
    let span = |part: &Piece<'_>| match part.unit {
        "%" => Ok(nominal.abs() * part.value() / 100.0),
        _ => Ok::<f64, Misread>(part.value() * factor(part, measure)?),
    };
    Ok(Toleranced {
        nominal,
        least: nominal - span(&minus)?,
        most: nominal + span(&plus)?,
    })
}

fn symmetric_sign(text: &str) -> Option<&str> {
    ["±", "+/-", "+-"]
        .iter()
        .find_map(|sign| text.strip_prefix(sign))
}

/// Lower and upper tolerance of "± 0.2 mm", "+0.3 -0.1 mm", "+0.3/-0.1 mm", "± 10 %".
fn read_tolerance<'t>(
    text: &'t str,
    nominal: &Piece<'_>,
    measure: Measure,
) -> Result<(Piece<'t>, Piece<'t>), Misread> {
    let nothing_left = |piece: &Piece<'_>| match piece.rest.trim_matches(' ') {
        "" => Ok(()),
        rest => Err(Misread::new(
            format!("\"{rest}\" is left over after the tolerance"),
            "write a tolerance as \"± 0.2 mm\", \"± 10 %\" or \"+0.3 -0.1 mm\"",
        )),
    };
    let needs_unit = |piece: &Piece<'_>| {
        if !piece.unit.is_empty() || measure == Measure::Number {
            return Ok(());
        }
        let unit = match nominal.unit {
            "" => measure.usual_unit(),
            given => given,
        };
        Err(Misread::new(
            format!("the tolerance {} has no unit", piece.number),
            format!("did you mean \"{} {unit}\"?", piece.number),
        ))
    };
    if let Some(rest) = symmetric_sign(text) {
        let both = take_piece(rest, false)?;
        nothing_left(&both)?;
        needs_unit(&both)?;
        let again = Piece { ..both };
        return Ok((both, again));
    }
    let form = || {
        Misread::new(
            format!("\"{text}\" is not a tolerance"),
            "write a tolerance as \"± 0.2 mm\", \"± 10 %\" or \"+0.3 -0.1 mm\"",
        )
    };
    let plus = take_piece(text.strip_prefix('+').ok_or_else(form)?, false)?;
    let rest = plus.rest.trim_matches(' ');
    let rest = rest.strip_prefix('/').unwrap_or(rest).trim_matches(' ');
    let rest = rest.strip_prefix(['-', '\u{2212}']).ok_or_else(form)?;
    let minus = take_piece(rest, false)?;
    nothing_left(&minus)?;
    needs_unit(&minus)?;
    let plus = Piece {
        unit: if plus.unit.is_empty() {
            minus.unit
        } else {
            plus.unit
        },
        ..plus
    };
    Ok((minus, plus))
}

/// A share of a whole: `"1/3"` or `"33 %"`, cut from a longer text at its ends.
fn read_fraction(text: &str) -> Result<f64, Misread> {
    let form = || {
        Misread::new(
            format!("\"{}\" is not a share of the supply", text.trim()),
            "write a share such as \"1/3\" or \"30 %\"",
        )
    };
    let piece = take_piece(text, false).map_err(|_| form())?;
    let rest = piece.rest.trim_matches(' ');
    match (piece.unit, rest.strip_prefix('/')) {
        ("%", None) if rest.is_empty() => Ok(piece.value() / 100.0),
        ("", Some(below)) => {
            let below = take_piece(below, false).map_err(|_| form())?;
            let alone = below.unit.is_empty() && below.rest.trim_matches(' ').is_empty();
            alone
                .then(|| piece.value() / below.value())
                .ok_or_else(form)
        }
        _ => Err(form()),
    }
}

/// One share of a whole.
pub fn read_one_fraction(text: &str) -> Result<f64, Misread> {
    within_length(text)?;
    read_fraction(text)
}

/// Two shares of a whole: `"1/3, 2/3"`.
pub fn read_two_fractions(text: &str) -> Result<[f64; 2], Misread> {
    within_length(text)?;
    match text.split_once(',') {
        Some((low, high)) => Ok([read_fraction(low)?, read_fraction(high)?]),
        None => Err(Misread::new(
            format!("\"{text}\" is one value where two are needed"),
            "write the lower and the upper one as \"1/3, 2/3\"",
        )),
    }
}

/// The nominal value and the tolerance as text (`None`: no tolerance), each with its own unit.
pub fn split_tolerance(text: &str) -> (String, Option<String>) {
    let Ok(piece) = take_piece(text, true) else {
        return (text.to_owned(), None);
    };
    let tolerance = piece.rest.trim_matches(' ');
    if tolerance.is_empty() {
        return (text.trim().to_owned(), None);
    }
    let last_unit = tolerance
        .rsplit(|c: char| c.is_ascii_digit() || c == ' ' || c == '.')
        .next()
        .unwrap_or("");
    let unit = match piece.unit {
        "" if last_unit != "%" => last_unit,
        unit => unit,
    };
    let nominal = format!("{} {unit}", piece.number);
    (nominal.trim().to_owned(), Some(tolerance.to_owned()))
}
