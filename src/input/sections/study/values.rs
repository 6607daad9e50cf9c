//! The values of one path of a study: lists and exact decimal ranges.

use super::super::common::*;
use super::{Checks, Scale, VaryEntry, samples_only};
use crate::input::quantity::reading;

use crate::study::{Coordinate, MOST_POINTS, Spread, Values, Variable};
use rust_decimal::Decimal;

/// Largest magnitude and most decimals of a number in a study: with them, steps stay exact.
const LARGEST: i64 = 1_000_000_000;
const MOST_DECIMALS: u32 = 12;

/// A plain number and its unit.
#[derive(Clone, Debug, PartialEq)]
struct Plain {
    number: Decimal,
    unit: String,
}

/// Checks one entry of `vary`; `at` is its place.
pub(crate) fn variable(
    at: &[Step],
    vary: &VaryEntry,
    is_sample: bool,
    checks: &Checks<'_>,
) -> Result<Variable, Finding> {
    let (path, integer) = (checks.path)(&vary.path)
        .map_err(|(message, hint)| Finding::at(with_step(at, "path"), message, hint))?;
    let variable = match &vary.values {
        Some(values) => list(at, path, vary, values, checks)?,
        None => range(at, path, vary, is_sample, checks)?,
    };
    if integer {
        whole_numbers(at, &variable)?;
    }
    Ok(variable)
}

fn check(checks: &Checks<'_>, path: &str, text: &str, at: Vec<Step>) -> Result<(), Finding> {
    (checks.value)(path, text).map_err(|(message, hint)| Finding::at(at, message, hint))
}

fn list(
    at: &[Step],
    path: &str,
    vary: &VaryEntry,
    values: &[PlainValue],
    checks: &Checks<'_>,
) -> Result<Variable, Finding> {
    let range_keys = [
        ("from", vary.from.is_some()),
        ("to", vary.to.is_some()),
        ("step", vary.step.is_some()),
        ("points", vary.points.is_some()),
        ("scale", vary.scale.is_some()),
    ];
    if let Some((key, _)) = range_keys.into_iter().find(|(_, given)| *given) {
        return Err(Finding::at_key(
            with_step(at, key),
            format!("there are both \"values\" and \"{key}\""),
            "write either a list of values or a range",
        ));
    }
    if values.is_empty() {
        return Err(Finding::at(
            with_step(at, "values"),
            "the list is empty",
            "write at least one value, such as \"4 mm\"",
        ));
    }
    let texts: Vec<String> = values.iter().map(PlainValue::text).collect();
    for (index, text) in texts.iter().enumerate() {
        let place = with_step(&with_step(at, "values"), index);
        check(checks, path, text, place)?;
    }
    // All numbers: one unit for the axis of a chart. Anything else stays as it was written.
    let plain: Option<Vec<Plain>> = texts.iter().map(|text| plain(text)).collect();
    let common = plain.and_then(in_one_unit);
    Ok(match common {
        Some((numbers, unit)) => Variable {
            path: path.to_owned(),
            unit,
            values: Values::Numbers(numbers),
        },
        None => Variable {
            path: path.to_owned(),
            unit: String::new(),
            values: Values::Words(texts),
        },
    })
}

fn range(
    at: &[Step],
    path: &str,
    vary: &VaryEntry,
    is_sample: bool,
    checks: &Checks<'_>,
) -> Result<Variable, Finding> {
    let end = |key: &str, given: &Option<PlainValue>| -> Result<Plain, Finding> {
        let Some(value) = given else {
            return Err(Finding::at(
                at.to_vec(),
                format!("\"{path}\" has neither values nor \"{key}\""),
                "write values = [\"2 mm\", \"4 mm\"], or from, to and step",
            ));
        };
        let text = value.text();
        check(checks, path, &text, with_step(at, key))?;
        plain(&text).ok_or_else(|| {
            Finding::at(
                with_step(at, key),
                format!("\"{text}\" is not a plain number with its unit"),
                "a range goes from one number to another, such as \"2 mm\"; list anything else",
            )
        })
    };
    let (from, to) = (end("from", &vary.from)?, end("to", &vary.to)?);
    let scale = vary.scale.map_or(Scale::Linear, |word| word.0);
    let (numbers, unit, spread) = match (&vary.step, vary.points) {
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                with_step(at, "points"),
                "there are both \"step\" and \"points\"",
                "write one of them",
            ));
        }
        (Some(_), None) => {
            if scale == Scale::Logarithmic {
                return Err(Finding::at(
                    with_step(at, "scale"),
                    "a logarithmic range has no constant step",
                    "write points = 9 instead of the step",
                ));
            }
            let step = end("step", &vary.step)?;
            let (numbers, unit) = common(at, [from, to, step])?;
            (numbers[..2].to_vec(), unit, Spread::Step(numbers[2]))
        }
        (None, Some(points)) => {
            let (numbers, unit) = common(at, [from, to])?;
            let spread = match scale {
                Scale::Linear => Spread::Linear(points.0),
                Scale::Logarithmic => Spread::Logarithmic(points.0),
            };
            (numbers, unit, spread)
        }
        (None, None) => {
            let logarithmic = scale == Scale::Logarithmic;
            let (numbers, unit) = common(at, [from, to])?;
            (numbers, unit, Spread::Anywhere { logarithmic })
        }
    };
    let variable = Variable {
        path: path.to_owned(),
        unit,
        values: Values::Range {
            from: numbers[0],
            to: numbers[1],
            spread,
        },
    };
    if samples_only(&variable.values) && !is_sample {
        return Err(Finding::at(
            at.to_vec(),
            format!("nothing says how many values \"{path}\" takes"),
            "add step = \"1 mm\" or points = 9, or combine = \"sample\"",
        ));
    }
    check_range(at, &variable, [numbers[0], numbers[1]], spread)?;
    Ok(variable)
}

fn check_range(
    at: &[Step],
    variable: &Variable,
    [from, to]: [Decimal; 2],
    spread: Spread,
) -> Result<(), Finding> {
    if from > to {
        let [low, high] = [to, from].map(|end| variable.text(&Coordinate::Number(end)));
        return Err(Finding::at(
            with_step(at, "from"),
            "the range starts above its end",
            format!("write from = \"{low}\", to = \"{high}\""),
        ));
    }
    let is_logarithmic = matches!(
        spread,
        Spread::Logarithmic(_) | Spread::Anywhere { logarithmic: true }
    );
    if is_logarithmic && from <= Decimal::ZERO {
        return Err(Finding::at(
            with_step(at, "from"),
            "a logarithmic range cannot start at zero or below",
            "start above zero, or write scale = \"linear\"",
        ));
    }
    match spread {
        Spread::Step(step) if step <= Decimal::ZERO => Err(Finding::at(
            with_step(at, "step"),
            "the step leads nowhere",
            "write a step above zero",
        )),
        Spread::Linear(points) | Spread::Logarithmic(points)
            if points < 2 || u64::from(points) > MOST_POINTS =>
        {
            Err(Finding::at(
                with_step(at, "points"),
                format!("a range cannot have {points} points"),
                format!("write 2 to {MOST_POINTS}, both ends included"),
            ))
        }
        _ => Ok(()),
    }
}

/// Numbers that can be counted: `pads.keys.columns`.
fn whole_numbers(at: &[Step], variable: &Variable) -> Result<(), Finding> {
    let broken = |number: &Decimal| !number.fract().is_zero();
    let refused = |key: &str| {
        Finding::at(
            with_step(at, key),
            format!("\"{}\" takes whole numbers only", variable.path),
            "write whole numbers with a whole step",
        )
    };
    match &variable.values {
        Values::Words(_) => Ok(()),
        Values::Numbers(numbers) if numbers.iter().any(broken) => Err(refused("values")),
        Values::Numbers(_) => Ok(()),
        Values::Range { from, to, spread } => {
            if broken(from) || broken(to) {
                return Err(refused("from"));
            }
            match spread {
                Spread::Step(step) if broken(step) => Err(refused("step")),
                Spread::Step(_) => Ok(()),
                _ => Err(Finding::at(
                    at.to_vec(),
                    format!("\"{}\" takes whole numbers only", variable.path),
                    "write a list of values, or a step",
                )),
            }
        }
    }
}

/// A number, exactly as written, and its unit; none for anything else, and beyond what stays exact.
fn plain(text: &str) -> Option<Plain> {
    let (number, unit) = reading::split_plain(text)?;
    let number = number.trim_start_matches('+');
    let number = if number.contains(['e', 'E']) {
        Decimal::from_scientific(number).ok()?
    } else {
        number.trim_end_matches('.').parse().ok()?
    }
    .normalize();
    let exact = number.abs() <= Decimal::from(LARGEST) && number.scale() <= MOST_DECIMALS;
    exact.then(|| Plain {
        number,
        unit: unit.to_owned(),
    })
}

fn common<const N: usize>(
    at: &[Step],
    values: [Plain; N],
) -> Result<(Vec<Decimal>, String), Finding> {
    in_one_unit(values.to_vec()).ok_or_else(|| {
        Finding::at(
            at.to_vec(),
            "the units of this range do not convert exactly",
            "write from, to and step in one unit",
        )
    })
}

/// The numbers in the unit they share or, when they have several, in the usual one.
fn in_one_unit(values: Vec<Plain>) -> Option<(Vec<Decimal>, String)> {
    let first = values.first()?.unit.clone();
    if values.iter().all(|value| value.unit == first) {
        return Some((values.iter().map(|v| v.number).collect(), first));
    }
    let usual = reading::measure_of(&first)?.usual_unit();
    let numbers = values.iter().map(|value| {
        let converted = value.number * usual_per_unit(&value.unit)?;
        (converted.scale() <= MOST_DECIMALS + 4).then(|| converted.normalize())
    });
    Some((numbers.collect::<Option<_>>()?, usual.to_owned()))
}

/// How many of the usual unit of its measure one unit is, where that is a finite decimal.
fn usual_per_unit(unit: &str) -> Option<Decimal> {
    let (digits, scale) = match unit {
        "mm" | "pF" | "pF/cm" | "deg" | "\u{b0}" => (1, 0),
        "kohm" | "k\u{3a9}" | "k\u{2126}" | "ms" | "V" | "MHz" | "uA" | "\u{b5}A" | "\u{3bc}A"
        | "mAh" | "counts" | "%" => (1, 0),
        "ohm" | "\u{3a9}" | "\u{2126}" | "us" | "\u{b5}s" | "\u{3bc}s" | "mV" | "kHz" | "nA" => {
            (1, 3)
        }
        "Mohm" | "M\u{3a9}" | "M\u{2126}" | "s" | "mA" | "Ah" => (1000, 0),
        "ns" | "uV" | "\u{b5}V" | "\u{3bc}V" | "Hz" => (1, 6),
        "A" => (1_000_000, 0),
        "ppm" => (1, 4),
        "um" | "\u{b5}m" | "\u{3bc}m" | "fF" => (1, 3),
        "cm" | "pF/mm" => (10, 0),
        "m" | "nF" => (1000, 0),
        "in" => (254, 1),
        "mil" => (254, 4),
        "pF/m" => (1, 2),
        _ => return None,
    };
    Some(Decimal::new(digits, scale))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::quantity::measure::Measure;

    fn numbers(texts: &[&str]) -> Option<(Vec<String>, String)> {
        let plain: Option<Vec<Plain>> = texts.iter().map(|text| plain(text)).collect();
        let (numbers, unit) = in_one_unit(plain?)?;
        Some((numbers.iter().map(Decimal::to_string).collect(), unit))
    }

    #[test]
    fn units_are_shared_exactly_or_not_at_all() {
        let shared = |texts: &[&str], numbers_: &[&str], unit: &str| {
            let expected = numbers_.iter().map(|n| (*n).to_owned()).collect();
            assert_eq!(numbers(texts), Some((expected, unit.to_owned())));
        };
        shared(&["2 mm", "4.50 mm"], &["2", "4.5"], "mm");
        shared(&["0.25 in", "1 in"], &["0.25", "1"], "in");
        shared(
            &["0.5 in", "35 um", "1 cm", "3 mil"],
            &["12.7", "0.035", "10", "0.0762"],
            "mm",
        );
        shared(&["1e-3 nF", "5fF"], &["1", "0.005"], "pF");
        shared(&["2.8", "3"], &["2.8", "3"], "");
        assert_eq!(numbers(&["1 pF/in", "1 pF/cm"]), None, "1/2.54 has no end");
        assert_eq!(numbers(&["4 mm ± 0.2 mm"]), None);
        assert_eq!(numbers(&["15 mm x 12 mm"]), None);
        assert_eq!(numbers(&["acrylic"]), None);
        assert_eq!(numbers(&["1e-20 mm"]), None, "beyond what stays exact");
    }

    #[test]
    fn decimal_factors_agree_with_the_units_of_the_file() {
        for unit in [
            "mm", "um", "cm", "m", "in", "mil", "pF", "fF", "nF", "pF/cm", "pF/m", "pF/mm", "deg",
            "ohm", "kohm", "Mohm", "s", "ms", "us", "ns", "V", "mV", "uV", "Hz", "kHz", "MHz", "A",
            "mA", "uA", "nA", "mAh", "Ah", "counts", "%", "ppm",
        ] {
            let measure = reading::measure_of(unit).expect("a unit of the file");
            let read = |unit: &str| reading::read_one(&format!("1 {unit}"), measure).unwrap();
            let factor: f64 = usual_per_unit(unit).unwrap().to_string().parse().unwrap();
            let expected = read(unit) / read(measure.usual_unit());
            assert!((factor / expected - 1.0).abs() < 1e-12, "{unit}");
        }
        assert_eq!(reading::measure_of("mn"), None);
        assert_eq!(reading::measure_of("deg"), Some(Measure::Angle));
    }
}
