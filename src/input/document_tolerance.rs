//! How values of a panel file spread, and the file with some of its numbers moved.

use super::catalogue::{Known, known};
use super::document::Document;
use super::error::{Finding, ScenarioError};
use super::keys::{Step, TOLERANCE, steps};
use super::measure::UNITS;
use super::overrides::Override;
use super::reading::number_and_unit;
use super::typed_tolerance::ToleranceEntry;
use super::words::{SpreadKind, listed, nearest};
use crate::spread::{Shape, Variation};

/// Standard deviations in the tolerance of a normal distribution: coverage of 95 % (JCGM 100:2008,
/// table G.1, from memory).
const DEVIATIONS: f64 = 2.0;
/// A normal distribution needs at least so many, at most so many deviations in its tolerance.
const DEVIATIONS_RANGE: [f64; 2] = [0.5, 6.0];

/// A number of the file that can be moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Movable {
    /// Dotted path of the number itself: `layer.overlay.thickness.nominal`.
    pub path: String,
    /// The number in its unit.
    pub value: f64,
    /// Its unit; empty for plain numbers.
    pub unit: String,
    /// Unit in SI.
    pub factor: f64,
}

impl Movable {
    /// The number in SI.
    pub fn si(&self) -> f64 {
        self.value * self.factor
    }

    /// The override that sets it to a value in SI.
    pub fn set_to(&self, si: f64) -> Override {
        // Twelve digits: a femtometre in millimetres.
        let text = format!("{:.12}", si / self.factor);
        let text = text.trim_end_matches('0').trim_end_matches('.');
        Override {
            path: self.path.clone(),
            value: format!("{text} {}", self.unit).trim_end().to_owned(),
        }
    }
}

/// Parts of quantities of several numbers.
const PARTS: [&[&str]; 4] = [&[], &["nominal"], &["width", "height"], &["x", "y"]];

impl Document {
    /// The numbers at a path: one, or two of a size; none where the file has nothing that is a number.
    pub fn movable(&self, path: &str) -> Vec<Movable> {
        let read = |path: String| {
            let text = self.value_at(&path).ok()??;
            let (value, unit) = number_and_unit(&text)?;
            let factor = match unit.as_str() {
                "" => 1.0,
                unit => UNITS.iter().find(|known| known.0 == unit)?.2,
            };
            Some(Movable {
                path,
                value,
                unit,
                factor,
            })
        };
        for parts in PARTS {
            let paths: Vec<String> = match parts {
                [] => vec![path.to_owned()],
                parts => parts.iter().map(|part| format!("{path}.{part}")).collect(),
            };
            let all: Option<Vec<Movable>> = paths.into_iter().map(read).collect();
            if let Some(all) = all {
                return all;
            }
        }
        Vec::new()
    }

    /// The numbers at a path, those of a list one after the other.
    pub fn numbers_at(&self, path: &str) -> Vec<Movable> {
        let own = self.movable(path);
        if !own.is_empty() {
            return own;
        }
        let items = self.paths().filter(|other| {
            let item = other
                .strip_prefix(path)
                .and_then(|rest| rest.strip_prefix('.'));
            item.is_some_and(|item| !item.contains('.'))
        });
        items.flat_map(|item| self.movable(item)).collect()
    }

    /// Dotted paths of values as a whole, without those of their parts and items.
    pub fn value_paths(&self) -> Vec<String> {
        let mut last = String::new();
        let mut found = Vec::new();
        for path in self.paths() {
            let is_part = path
                .strip_prefix(&last)
                .is_some_and(|rest| rest.starts_with('.'));
            if found.is_empty() || !is_part {
                last = path.to_owned();
                found.push(path.to_owned());
            }
        }
        found
    }

    /// The tolerances of the file, `[tolerance.NAME]`, in file order.
    ///
    /// # Errors
    /// Whatever is wrong first, at its place.
    pub fn variations(&self) -> Result<Vec<Variation>, ScenarioError> {
        let file = self.typed(&[])?;
        let mut found: Vec<Variation> = Vec::new();
        for (name, entry) in &file.tolerance {
            let variation = self
                .variation(name, entry, &found)
                .map_err(|finding| self.placed(finding))?;
            found.push(variation);
        }
        Ok(found)
    }

    fn variation(
        &self,
        name: &str,
        entry: &ToleranceEntry,
        before: &[Variation],
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
            let (full, integer) = self
                .full_path(path)
                .map_err(|(message, hint)| Finding::at(steps.clone(), message, hint))?;
            if integer {
                return Err(Finding::at(
                    steps,
                    format!("{full} is a whole number and has no tolerance"),
                    "name a length, a permittivity or a value of the circuit",
                ));
            }
            if let Some(Known::Fixed(fixed)) = known(full) {
                return Err(Finding::at(
                    steps,
                    format!("{full} has no tolerance: {}", fixed.reason),
                    "name a length, a permittivity or a value of the circuit",
                ));
            }
            let measures = self.measure_at(full);
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
        let (least, most, is_relative) = self.ends(name, entry, unit)?;
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

    /// Unit of the values at a path, as a factor to SI with its kind; none when nothing is written.
    fn measure_at(&self, path: &str) -> Option<super::measure::Measure> {
        let first = self.movable(path).into_iter().next()?;
        let known = UNITS.iter().find(|known| known.0 == first.unit);
        known.map(|known| known.1)
    }

    fn ends(
        &self,
        name: &str,
        entry: &ToleranceEntry,
        measure: Option<super::measure::Measure>,
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
}

/// Size of one end, and whether it is a share.
fn end(
    steps: Vec<Step>,
    text: &str,
    measure: Option<super::measure::Measure>,
) -> Result<(f64, bool), Finding> {
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
