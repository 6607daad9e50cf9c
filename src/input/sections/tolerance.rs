//! How values spread from unit to unit: `[tolerance.NAME]`.

use super::common::*;
use super::study::FullPath;
use crate::input::quantity::measure::UNITS;
use crate::input::quantity::reading::number_and_unit;
use crate::spread::{Shape, Variation};

words!(
    /// How a value is distributed over its tolerance; the deviations of a normal one are a key of their own.
    SpreadKind as "Spread":
        "rectangular" => Rectangular, "triangular" => Triangular, "normal" => Normal
);

/// One `[tolerance.NAME]`: values that spread from unit to unit by one draw.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceEntry {
    /// Dotted paths of the values that move together; one with a minus before it moves the other way.
    pub of: Vec<String>,
    /// Tolerance both ways, in the unit of the values or in percent.
    pub within: Option<String>,
    /// Tolerance upwards.
    pub plus: Option<String>,
    /// Tolerance downwards.
    pub minus: Option<String>,
    /// Distribution; default rectangular.
    pub shape: Option<Word<SpreadKind>>,
    /// Standard deviations in the tolerance of a normal distribution; default 2.
    pub deviations: Option<One<Number>>,
    /// Another tolerance that goes with this one.
    pub with: Option<String>,
    /// Correlation with it, -1 to 1.
    pub correlation: Option<One<Number>>,
}

/// The section of the tolerances.
pub const TOLERANCE: &str = "tolerance";

/// Standard deviations in the tolerance of a normal distribution: coverage of 95 % (JCGM 100:2008,
/// table G.1, from memory).
const DEVIATIONS: f64 = 2.0;
/// A normal distribution needs at least so many, at most so many deviations in its tolerance.
const DEVIATIONS_RANGE: [f64; 2] = [0.5, 6.0];

/// What a tolerance asks the document it belongs to.
pub struct Lookup<'c> {
    /// A path in full, and whether its value is a whole number.
    pub path: &'c dyn Fn(&str) -> FullPath<'c>,
    /// Why nothing varies a value.
    pub fixed: &'c dyn Fn(&str) -> Option<&'static str>,
    /// What the value at a path measures; none when nothing is written.
    pub measure: &'c dyn Fn(&str) -> Option<Measure>,
}

/// Checks a tolerance; `before` are those before it in the file.
pub fn variation(
    name: &str,
    entry: &ToleranceEntry,
    before: &[Variation],
    lookup: &Lookup<'_>,
) -> Result<Variation, Finding> {
    let at = |key: &str| steps![TOLERANCE, name, key];
    if entry.of.is_empty() {
        return Err(Finding::at(
            at("of"),
            "no value is named",
            "write of = [\"pads.keys.size\"]",
        ));
    }
    let mut moves = Vec::new();
    let mut unit = None;
    for (index, text) in entry.of.iter().enumerate() {
        let steps = steps![TOLERANCE, name, "of", index];
        let (path, factor) = match text.trim().strip_prefix('-') {
            Some(path) => (path.trim(), -1.0),
            None => (text.trim(), 1.0),
        };
        let (full, integer) = (lookup.path)(path)
            .map_err(|(message, hint)| Finding::at(steps.clone(), message, hint))?;
        if integer {
            return Err(Finding::at(
                steps,
                format!("{full} is a whole number and has no tolerance"),
                "name a length, a permittivity or a value of the circuit",
            ));
        }
        if let Some(reason) = (lookup.fixed)(full) {
            return Err(Finding::at(
                steps,
                format!("{full} has no tolerance: {reason}"),
                "name a length, a permittivity or a value of the circuit",
            ));
        }
        let measures = (lookup.measure)(full);
        if index == 0 {
            unit = measures;
        } else if measures != unit {
            return Err(Finding::at(
                steps,
                format!("{full} is measured in another unit than the first value"),
                "give it a section of its own",
            ));
        }
        moves.push((full.to_owned(), factor));
    }
    if let Some((path, _)) = moves.iter().find(|(path, _)| {
        let others = before.iter().flat_map(|other| &other.moves);
        others.clone().any(|(other, _)| other == path)
    }) {
        return Err(Finding::at(
            at("of"),
            format!("{path} has two tolerances"),
            "keep one of them",
        ));
    }
    let (least, most, is_relative) = ends(name, entry, unit)?;
    Ok(Variation {
        name: name.to_owned(),
        moves,
        least,
        most,
        is_relative,
        shape: shape(name, entry)?,
        with: with(name, entry, before)?,
    })
}

fn ends(
    name: &str,
    entry: &ToleranceEntry,
    measure: Option<Measure>,
) -> Result<(f64, f64, bool), Finding> {
    let at = |key: &str| steps![TOLERANCE, name, key];
    let read = |key: &str, text: &Option<String>| -> Result<Option<(f64, bool)>, Finding> {
        let Some(text) = text else { return Ok(None) };
        end(at(key), text, measure).map(Some)
    };
    let within = read("within", &entry.within)?;
    let (plus, minus) = (read("plus", &entry.plus)?, read("minus", &entry.minus)?);
    match (within, plus, minus) {
        (Some((both, relative)), None, None) => Ok((-both, both, relative)),
        (None, None, None) => Err(Finding::at(
            steps![TOLERANCE, name],
            format!("tolerance \"{name}\" has no size"),
            "write within = \"0.05 mm\", or plus and minus",
        )),
        (Some(_), ..) => Err(Finding::at_key(
            at("within"),
            "\"within\" says both ways already",
            "write either within, or plus and minus",
        )),
        (None, plus, minus) => {
            let is_relative = plus.or(minus).is_some_and(|(_, relative)| relative);
            let differ = |end: Option<(f64, bool)>| end.is_some_and(|e| e.1 != is_relative);
            if differ(plus) || differ(minus) {
                return Err(Finding::at(
                    at("minus"),
                    "one end is in percent, the other is not",
                    "write both in the same unit",
                ));
            }
            let size = |end: Option<(f64, bool)>| end.map_or(0.0, |(size, _)| size);
            Ok((-size(minus), size(plus), is_relative))
        }
    }
}

/// Size of one end, and whether it is a share.
fn end(steps: Vec<Step>, text: &str, measure: Option<Measure>) -> Result<(f64, bool), Finding> {
    let usual = measure.map_or("", |measure| measure.usual_unit());
    let hint = format!("write a size such as \"0.1 {usual}\" or \"5 %\"").replace(" \"", "\"");
    let refused = |message: String| Finding::at(steps.clone(), message, hint.clone());
    let Some((value, unit)) = number_and_unit(text) else {
        return Err(refused(format!("\"{text}\" is no number with its unit")));
    };
    if value < 0.0 {
        return Err(refused("the size of a tolerance has no sign".to_owned()));
    }
    if unit == "%" || unit == "ppm" {
        let factor = if unit == "%" { 0.01 } else { 1e-6 };
        if value * factor >= 1.0 {
            return Err(refused(format!("{text} would reach zero")));
        }
        return Ok((value * factor, true));
    }
    let known = UNITS.iter().find(|known| known.0 == unit);
    match (known, unit.as_str(), measure) {
        (Some(known), _, Some(measure)) if known.1 == measure => Ok((value * known.2, false)),
        (_, "", None) => Ok((value, false)),
        (Some(known), _, None) => Ok((value * known.2, false)),
        _ => Err(refused(format!(
            "\"{text}\" is not in the unit of the value"
        ))),
    }
}

fn shape(name: &str, entry: &ToleranceEntry) -> Result<Shape, Finding> {
    let kind = entry.shape.map_or(SpreadKind::Rectangular, |word| word.0);
    let at = || steps![TOLERANCE, name, "deviations"];
    let given = entry.deviations.map(|number| number.0);
    match (kind, given) {
        (SpreadKind::Normal, given) => {
            let deviations = given.unwrap_or(DEVIATIONS);
            let [least, most] = DEVIATIONS_RANGE;
            if !(least..=most).contains(&deviations) {
                return Err(Finding::at(
                    at(),
                    format!("a tolerance of {deviations} standard deviations is out of range"),
                    format!("write {least} to {most}"),
                ));
            }
            Ok(Shape::Normal { deviations })
        }
        (_, Some(_)) => Err(Finding::at_key(
            at(),
            "only a normal distribution has \"deviations\"",
            "write shape = \"normal\" as well, or leave it out",
        )),
        (SpreadKind::Triangular, None) => Ok(Shape::Triangular),
        (SpreadKind::Rectangular, None) => Ok(Shape::Rectangular),
    }
}

fn with(
    name: &str,
    entry: &ToleranceEntry,
    before: &[Variation],
) -> Result<Option<(String, f64)>, Finding> {
    let at = |key: &str| steps![TOLERANCE, name, key];
    let (other, correlation) = match (&entry.with, entry.correlation) {
        (None, None) => return Ok(None),
        (Some(other), Some(correlation)) => (other, correlation.0),
        (Some(_), None) => {
            return Err(Finding::at_key(
                at("with"),
                "nothing says how strongly the two go together",
                "add correlation = 0.8",
            ));
        }
        (None, Some(_)) => {
            return Err(Finding::at_key(
                at("correlation"),
                "nothing says what it is correlated with",
                "add with = \"NAME\" of another tolerance",
            ));
        }
    };
    if !(-1.0..=1.0).contains(&correlation) {
        return Err(Finding::at(
            at("correlation"),
            format!("a correlation of {correlation} is out of range"),
            "write -1 to 1",
        ));
    }
    let known = || before.iter().map(|variation| variation.name.as_str());
    if !known().any(|known| known == other) {
        let hint = match nearest(other, known()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None if before.is_empty() => "name a tolerance that comes before this one".to_owned(),
            None => format!("tolerances before this one: {}", listed(known())),
        };
        return Err(Finding::at(
            at("with"),
            format!("there is no tolerance \"{other}\" before this one"),
            hint,
        ));
    }
    Ok(Some((other.clone(), correlation)))
}
