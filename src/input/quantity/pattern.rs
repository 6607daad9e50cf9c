//! The grammar of [`super::reading`] as regular expressions for the JSON Schema; a test holds the two together.

use super::measure::Measure;

const UNSIGNED: &str = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?";

/// Unanchored pattern of one value.
fn one_pattern(measure: Measure) -> String {
    match measure {
        Measure::Number => format!("[+-]?{UNSIGNED}"),
        _ => format!("[+-]?{UNSIGNED} *{}", measure.unit_pattern()),
    }
}

/// Pattern of one value without tolerance.
pub fn one(measure: Measure) -> String {
    format!("^ *{} *$", one_pattern(measure))
}

/// Pattern of one value with an optional tolerance.
pub fn toleranced(measure: Measure) -> String {
    let one = one_pattern(measure);
    let tolerance = |last: &str, other: &str| {
        format!(
            r"(?:(?:±|\+/-|\+-) *{UNSIGNED}{last}|\+ *{UNSIGNED}{other} */? *[-−] *{UNSIGNED}{last})"
        )
    };
    if measure == Measure::Number {
        let percent = tolerance("(?: *%)?", "(?: *%)?");
        return format!("^ *{one}(?: *{percent})? *$");
    }
    let unit = measure.unit_pattern();
    let own = tolerance(&format!(" *(?:{unit}|%)"), &format!("(?: *(?:{unit}|%))?"));
    // A tolerance in % is a share of the value and has no unit to lend.
    let lent: Vec<&str> = measure.units().filter(|unit| *unit != "%").collect();
    let lent = lent.join("|");
    let shared = tolerance(&format!(" *(?:{lent})"), &format!("(?: *(?:{unit}|%))?"));
    format!("^ *(?:{one}(?: *{own})?|[+-]?{UNSIGNED} *{shared}) *$")
}

/// Pattern of a pair; the first value may leave its unit to the second.
pub fn pair(separator: &str, one_is_enough: bool, measure: Measure) -> String {
    let one = one_pattern(measure);
    let unit = measure.unit_pattern();
    let first = format!("[+-]?{UNSIGNED}(?: *{unit})?");
    let pair = format!("{first} *{separator} *{one}");
    if one_is_enough {
        format!("^ *(?:{pair}|{one}) *$")
    } else {
        format!("^ *{pair} *$")
    }
}

/// Pattern of one share of a whole, or of two.
pub fn fractions(two: bool) -> String {
    let one = format!("(?:{UNSIGNED} *%|{UNSIGNED} */ *{UNSIGNED})");
    match two {
        true => format!("^ *{one} *, *{one} *$"),
        false => format!("^ *{one} *$"),
    }
}
