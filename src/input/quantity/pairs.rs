//! Two lengths in one string, and the parts of a text that have dotted paths of their own.

use super::measure::Measure;
use super::pattern;
use super::reading::{Misread, read_one, split_tolerance, take_piece, within_length};
use super::{FileQuantity, file_quantity};
use padfield_engine::units::Length;
use std::borrow::Cow;

macro_rules! length_pair {
    ($(#[$doc:meta])* $name:ident, $expected:literal, $parts:expr, $separators:expr, $pattern:literal, $one_is_enough:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub [Length; 2]);

        impl FileQuantity for $name {
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::Length;
            const PARTS: &'static [&'static str] = &$parts;
            fn name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn pattern() -> String {
                pattern::pair($pattern, $one_is_enough, Self::MEASURE)
            }
            fn read(text: &str) -> Result<Self, Misread> {
                read_pair(text, &$separators, $one_is_enough, Self::MEASURE)
                    .map(|pair| Self(pair.map(Length::from_metres)))
            }
        }
        file_quantity!($name);
    };
}

length_pair!(
    /// Width by height: `"15 mm x 12 mm"`, `"15 x 12 mm"`; one value makes a square.
    Size, "a size such as \"15 mm x 12 mm\"", ["width", "height"], SIZE_SEPARATORS, "[x×]", true
);
length_pair!(
    /// Distances along x and y: `"8 mm"` for both, `"8 mm, 6 mm"` for each.
    Spacing, "a distance such as \"8 mm\" (or \"8 mm, 6 mm\" for x and y)", ["x", "y"], [','], ",", true
);
length_pair!(
    /// Point x, y: `"0 mm, 4 mm"`.
    Position, "a point x, y such as \"0 mm, 4 mm\"", ["x", "y"], [','], ",", false
);

const SIZE_SEPARATORS: [char; 2] = ['x', '×'];

/// `text` with one of its parts (see [`FileQuantity::PARTS`]) replaced by `part_text`; `text` is
/// `None` when the key is not written, and then the other part is zero.
pub fn with_part(text: Option<&str>, part: &str, part_text: &str) -> String {
    let pair = |separators: &[char], joint: &str, index: usize| {
        let mut both = split_pair(text.unwrap_or("0 mm"), separators, Measure::Length);
        both[index] = part_text.to_owned();
        both.join(joint)
    };
    match part {
        "width" => pair(&SIZE_SEPARATORS, " x ", 0),
        "height" => pair(&SIZE_SEPARATORS, " x ", 1),
        "x" => pair(&[','], ", ", 0),
        "y" => pair(&[','], ", ", 1),
        "nominal" => match text.map(split_tolerance) {
            Some((_, Some(tolerance))) => format!("{part_text} {tolerance}"),
            _ => part_text.to_owned(),
        },
        "tolerance" => {
            let (nominal, _) = split_tolerance(text.unwrap_or_default());
            match part_text.trim_start().starts_with(['±', '+']) {
                true => format!("{nominal} {part_text}"),
                false => format!("{nominal} ± {part_text}"),
            }
        }
        _ => part_text.to_owned(),
    }
}

/// The text of one part; the tolerance is empty when there is none.
pub fn part_of(text: &str, part: &str) -> String {
    let pair = |separators: &[char], index: usize| {
        split_pair(text, separators, Measure::Length)[index].clone()
    };
    match part {
        "width" => pair(&SIZE_SEPARATORS, 0),
        "height" => pair(&SIZE_SEPARATORS, 1),
        "x" => pair(&[','], 0),
        "y" => pair(&[','], 1),
        "nominal" => split_tolerance(text).0,
        "tolerance" => split_tolerance(text).1.unwrap_or_default(),
        _ => text.to_owned(),
    }
}

/// Two texts of a pair; the first borrows the unit of the second when it has none. One value alone
/// stands for both.
fn split_pair(text: &str, separators: &[char], measure: Measure) -> [String; 2] {
    match text.split_once(separators) {
        None => [text, text].map(|t| t.trim_matches(' ').to_owned()),
        Some((first, second)) => {
            let (first, second) = (first.trim_matches(' '), second.trim_matches(' '));
            let unit = |t: &str| {
                take_piece(t, true)
                    .ok()
                    .filter(|p| p.rest.trim_matches(' ').is_empty())
                    .map(|p| p.unit.to_owned())
            };
            match (unit(first), unit(second)) {
                (Some(none), Some(shared)) if none.is_empty() && measure != Measure::Number => [
                    format!("{first} {shared}").trim().to_owned(),
                    second.to_owned(),
                ],
                _ => [first.to_owned(), second.to_owned()],
            }
        }
    }
}

/// Two values in base units; `one_is_enough` lets a single value stand for both.
fn read_pair(
    text: &str,
    separators: &[char],
    one_is_enough: bool,
    measure: Measure,
) -> Result<[f64; 2], Misread> {
    within_length(text)?;
    if !one_is_enough && !text.contains(separators) {
        return Err(Misread::new(
            format!("\"{text}\" is one value where two are needed"),
            "write x and y as \"4 mm, 0 mm\"",
        ));
    }
    let [first, second] = split_pair(text, separators, measure);
    Ok([read_one(&first, measure)?, read_one(&second, measure)?])
}
