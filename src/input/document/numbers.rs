//! How values of a panel file spread, and the file with some of its numbers moved.

use super::{Document, Override, ScenarioError};
use crate::input::catalogue::{Known, known};
use crate::input::quantity::measure::{Measure, UNITS};
use crate::input::quantity::reading::number_and_unit;
use crate::input::sections::tolerance::{Lookup, variation};
use crate::spread::Variation;
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
            let text = self.known_value_at(&path)?;
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
        let lookup = Lookup {
            path: &|path| self.full_path(path),
            fixed: &|path| match known(path)? {
                Known::Fixed(fixed) => Some(fixed.reason),
                Known::Varied(_) => None,
            },
            measure: &|path| self.measure_at(path),
        };
        let mut found: Vec<Variation> = Vec::new();
        for (name, entry) in &file.tolerance {
            let variation =
                variation(name, entry, &found, &lookup).map_err(|finding| self.placed(finding))?;
            found.push(variation);
        }
        Ok(found)
    }

    /// Unit of the values at a path, as a factor to SI with its kind; none when nothing is written.
    fn measure_at(&self, path: &str) -> Option<Measure> {
        let first = self.movable(path).into_iter().next()?;
        let known = UNITS.iter().find(|known| known.0 == first.unit);
        known.map(|known| known.1)
    }
}
