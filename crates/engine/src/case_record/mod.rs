//! Raw case record: one field problem as JSON or TOML text, lengths in millimetres.
//!
//! Takes the text of a record; gives a checked [`Case`] in metres; fails with line, column, what was
//! expected and the nearest valid word. The format is told by the first character: `{` opens JSON,
//! anything else is read as TOML.
//!
//! | key | meaning |
//! |---|---|
//! | `id`, `title` | short name, one line for people (both optional) |
//! | `kind` | `"planar"` (x, y; result per metre), `"axisymmetric"` (r, z) or `"volume"` |
//! | `box` | outer wall `[x0,x1,y0,y1]`, `[r0,r1,z0,z1]` or `[x0,x1,y0,y1,z0,z1]` |
//! | `wall` | `"grounded"` (default), `"insulated"` or `"open"`: one word for all faces, or a table with one word or `[low, high]` per axis |
//! | `background_eps_r` | relative permittivity where nothing is painted, 1 when absent |
//! | `dielectrics` | list of `{name, eps_r, rect}` or `{name, eps_r, box}`, painted in order; with `comes_with` one comes and goes with the conductor of that name, as a glove with the finger in it |
//! | `conductors` | list of `{name, rects}` or `{name, boxes, cylinders}`; equal bounds make a sheet |
//!
//! A cylinder is `[xc, yc, radius, z0, z1]` about a vertical axis; equal heights make a disc.
//! `length_unit` may be given and must be `"mm"`; `outer_boundary`, `result`, `how`, `note` and
//! `source` describe where a record came from and are not read.
//!
//! ```
//! use padfield_engine::case::{Kind, Wall};
//!
//! let case = padfield_engine::case_record::parse(r#"
//!     id = "strip"
//!     kind = "planar"
//!     box = [0, 4, 0, 2]
//!     wall = { x = "open", y = ["grounded", "open"] }
//!     [[dielectrics]]
//!     name = "board"
//!     eps_r = 4.4
//!     rect = [0, 4, 0, 1]
//!     [[conductors]]
//!     name = "strip"
//!     rects = [[1.5, 2.5, 1, 1]]
//! "#).unwrap();
//! assert_eq!(case.kind, Kind::Planar);
//! assert_eq!(case.domain.high_m[0], 4e-3);
//! assert_eq!(case.walls[1], [Wall::Grounded, Wall::Open]);
//!
//! let error = padfield_engine::case_record::parse("{\"kind\": \"plane\"}").unwrap_err();
//! assert_eq!(error.line(), Some(1));
//! assert!(error.to_string().contains("did you mean `planar`?"));
//! ```

mod typed;

use std::fmt;

use crate::case::{Case, Conductor, Dielectric, Extent, Kind, RoundBody, Solid, Wall};
use crate::hidden::{HIDDEN_REMEDY, Hidden, hidden_in_table};
use crate::units::Length;
use typed::{Bounds, DielectricRecord, Record, WallRecord};

/// Why a record is not a field problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordError {
    place: Option<Place>,
    message: String,
    hint: Option<String>,
}

/// Position in the text, both counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place {
    line: usize,
    column: usize,
}

impl RecordError {
    /// Line of the fault, counted from 1, where it is known.
    pub fn line(&self) -> Option<usize> {
        self.place.map(|place| place.line)
    }

    /// Column of the fault, counted from 1, where it is known.
    pub fn column(&self) -> Option<usize> {
        self.place.map(|place| place.column)
    }
}

impl fmt::Display for RecordError {
    /// `line:column: message; hint`, ready to follow a file name and a colon.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = self.place {
            write!(formatter, "{}:{}: ", place.line, place.column)?;
        } else {
            formatter.write_str(" ")?;
        }
        formatter.write_str(&self.message)?;
        if let Some(hint) = &self.hint {
            write!(formatter, "; {hint}")?;
        }
        Ok(())
    }
}

impl std::error::Error for RecordError {}

/// Reads one record, JSON or TOML, into a checked case.
///
/// # Errors
/// Syntax, unknown keys, wrong kinds of value, numbers that are not finite or not ordered, bodies
/// outside the outer wall, doubled names, a record without conductors.
pub fn parse(text: &str) -> Result<Case, RecordError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if let Some(error) = hidden(text) {
        return Err(error);
    }
    let record: Record = if text.trim_start().starts_with('{') {
        serde_json::from_str(text).map_err(|error| json_error(&error))?
    } else {
        toml::from_str(text).map_err(|error| toml_error(text, &error))?
    };
    Checker { text, record }.case()
}

/// The error of a text with characters that nobody sees; a text that cannot be parsed has none here.
fn hidden(text: &str) -> Option<RecordError> {
    let (at, hidden) = if text.trim_start().starts_with('{') {
        let hidden = hidden_in_json(&serde_json::from_str(text).ok()?)?;
        // It stands there itself, or as an escape.
        let escape = format!("\\u{:04x}", hidden.character as u32);
        let at = text
            .find(hidden.character)
            .or_else(|| text.to_ascii_lowercase().find(&escape));
        (at, hidden)
    } else {
        let root = toml::de::DeTable::parse(text).ok()?;
        let (span, hidden) = hidden_in_table(text, root.get_ref())?;
        (Some(span.start), hidden)
    };
    Some(RecordError {
        place: at.map(|at| place_of(text, at)),
        message: hidden.to_string(),
        hint: Some(HIDDEN_REMEDY.to_owned()),
    })
}

fn hidden_in_json(value: &serde_json::Value) -> Option<Hidden> {
    use serde_json::Value;
    match value {
        Value::String(text) => Hidden::first_in(text).map(|(_, hidden)| hidden),
        Value::Array(list) => list.iter().find_map(hidden_in_json),
        Value::Object(map) => map.iter().find_map(|(key, value)| {
            let in_key = Hidden::first_in(key).map(|(_, hidden)| hidden);
            in_key.or_else(|| hidden_in_json(value))
        }),
        _ => None,
    }
}

fn json_error(error: &serde_json::Error) -> RecordError {
    let text = error.to_string();
    let message = text.split(" at line ").next().unwrap_or(&text);
    RecordError {
        place: (error.line() > 0).then(|| Place {
            line: error.line(),
            column: error.column().max(1),
        }),
        hint: nearest_hint(message),
        message: message.to_owned(),
    }
}

fn toml_error(text: &str, error: &toml::de::Error) -> RecordError {
    let message = error.message().trim().replace('\n', ", ");
    RecordError {
        place: error.span().map(|span| place_of(text, span.start)),
        hint: nearest_hint(&message),
        message,
    }
}

/// Line and column of a byte offset.
fn place_of(text: &str, offset: usize) -> Place {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
    Place {
        line: before.matches('\n').count() + 1,
        column: before[line_start..].chars().count() + 1,
    }
}

/// For messages of the form "unknown ... `typed`, expected one of `a`, `b`": the valid word that
/// resembles the typed one most.
fn nearest_hint(message: &str) -> Option<String> {
    if !message.starts_with("unknown ") {
        return None;
    }
    let mut quoted = message.split('`').skip(1).step_by(2);
    let typed = quoted.next()?.to_lowercase();
    let (word, likeness) = quoted
        .map(|word| (word, strsim::normalized_damerau_levenshtein(&typed, word)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (likeness >= 0.4).then(|| format!("did you mean `{word}`?"))
}

/// The record together with its text, so that faults that concern several keys find a place too.
struct Checker<'a> {
    text: &'a str,
    record: Record,
}

impl Checker<'_> {
    fn case(mut self) -> Result<Case, RecordError> {
        let kind = self.record.kind.0;
        let domain = self.extent("box", "", "outer wall", &self.record.domain)?;
        self.check_domain(kind, &domain)?;
        let dielectrics = self.dielectrics(&domain)?;
        let conductors = self.conductors(&domain)?;
        let walls = self.walls(&domain)?;
        let id = self.record.id.take().unwrap_or_else(|| "case".to_owned());
        Ok(Case {
            title: self.record.title.take().unwrap_or_else(|| id.clone()),
            id,
            kind,
            domain,
            walls,
            background_relative_permittivity: self
                .record
                .background_eps_r
                .map_or(1.0, |permittivity| permittivity.0),
            dielectrics,
            screens: Vec::new(),
            conductors,
        })
    }

    fn check_domain(&self, kind: Kind, domain: &Extent) -> Result<(), RecordError> {
        if let Some(unit) = &self.record.length_unit
            && unit != "mm"
        {
            return Err(self.fault(
                "length_unit",
                "",
                format!(
                    "length_unit is `{unit}`, expected `mm`: lengths of a record are in millimetres"
                ),
            ));
        }
        for (axis, name) in axis_names(kind).iter().enumerate() {
            if domain.low_m[axis] >= domain.high_m[axis] {
                return Err(self.fault(
                    "box",
                    "",
                    format!("the outer wall has no width along {name}"),
                ));
            }
        }
        if kind == Kind::Axisymmetric && domain.low_m[0] < 0.0 {
            return Err(self.fault(
                "box",
                "",
                "the outer wall starts at a negative radius, expected r0 >= 0 (r = 0 is the axis)"
                    .to_owned(),
            ));
        }
        Ok(())
    }

    fn dielectrics(&self, domain: &Extent) -> Result<Vec<Dielectric>, RecordError> {
        let section = "dielectrics";
        let mut dielectrics: Vec<Dielectric> = Vec::new();
        for item in &self.record.dielectrics {
            if dielectrics.iter().any(|other| other.name == item.name) {
                return Err(self.doubled(section, &item.name));
            }
            let bounds: &dyn Bounds = match (self.volume(), &item.rect, &item.block) {
                (false, Some(rect), None) => rect,
                (true, None, Some(block)) => block,
                (volume, _, _) => {
                    let (wanted, other) = if volume {
                        ("box", "rect")
                    } else {
                        ("rect", "box")
                    };
                    return Err(self.fault(
                        section,
                        &item.name,
                        format!(
                            "dielectric `{}` of a {} case needs `{wanted}` and no `{other}`",
                            item.name,
                            self.kind_word()
                        ),
                    ));
                }
            };
            let what = format!("dielectric `{}`", item.name);
            let extent = self.extent(section, &item.name, &what, bounds)?;
            self.check_inside(section, &item.name, &what, &extent, domain)?;
            self.check_comes_with(item)?;
            dielectrics.push(Dielectric {
                name: item.name.clone(),
                relative_permittivity: item.eps_r.0,
                extent,
                comes_with: item.comes_with.clone(),
            });
        }
        Ok(dielectrics)
    }

    /// What a dielectric comes and goes with is a conductor of the record.
    fn check_comes_with(&self, item: &DielectricRecord) -> Result<(), RecordError> {
        let names: Vec<&str> = self
            .record
            .conductors
            .iter()
            .map(|conductor| conductor.name.as_str())
            .collect();
        match &item.comes_with {
            Some(with) if !names.contains(&with.as_str()) => Err(self.fault(
                "dielectrics",
                &item.name,
                format!(
                    "dielectric `{}` comes with `{with}`, which is no conductor, expected one of {}",
                    item.name,
                    names.join(", ")
                ),
            )),
            _ => Ok(()),
        }
    }

    fn conductors(&self, domain: &Extent) -> Result<Vec<Conductor>, RecordError> {
        let section = "conductors";
        let mut conductors: Vec<Conductor> = Vec::new();
        for item in &self.record.conductors {
            let fault = |message: String| Err(self.fault(section, &item.name, message));
            let what = format!("conductor `{}`", item.name);
            if conductors.iter().any(|other| other.name == item.name) {
                return Err(self.doubled(section, &item.name));
            }
            if self.volume() && !item.rects.is_empty() {
                return fault(format!(
                    "{what} of a volume case has `rects`, expected `boxes` or `cylinders`"
                ));
            }
            let bodies = item.boxes.len() + item.cylinders.len();
            if !self.volume() && bodies > 0 {
                return fault(format!(
                    "{what} of a {} case has `boxes` or `cylinders`, expected `rects`",
                    self.kind_word()
                ));
            }
            let blocks = item.rects.iter().map(|rect| rect as &dyn Bounds);
            let blocks = blocks.chain(item.boxes.iter().map(|block| block as &dyn Bounds));
            let mut solids = Vec::new();
            for bounds in blocks {
                let extent = self.extent(section, &item.name, &what, bounds)?;
                self.check_inside(section, &item.name, &what, &extent, domain)?;
                self.check_area(&item.name, &what, &extent)?;
                solids.push(Solid::Block(extent));
            }
            for cylinder in &item.cylinders {
                let [x, y, radius, bottom, top] = cylinder.0.map(|mm| Length::from_mm(mm).metres());
                let extent = Extent {
                    low_m: [x - radius, y - radius, bottom],
                    high_m: [x + radius, y + radius, top],
                };
                self.check_inside(section, &item.name, &what, &extent, domain)?;
                solids.push(Solid::Round(RoundBody {
                    centre_m: [x, y],
                    contact_radius_m: radius,
                    dome_radius_m: radius,
                    bottom_m: bottom,
                    top_m: top,
                }));
            }
            if solids.is_empty() {
                return fault(format!(
                    "{what} has no pieces, expected {}",
                    self.piece_words()
                ));
            }
            conductors.push(Conductor {
                name: item.name.clone(),
                solids,
            });
        }
        if conductors.is_empty() {
            return Err(self.fault(
                section,
                "",
                "a case needs at least one conductor".to_owned(),
            ));
        }
        Ok(conductors)
    }

    /// A point in the plane or a line in space has no capacitance of its own.
    fn check_area(&self, name: &str, what: &str, extent: &Extent) -> Result<(), RecordError> {
        let dimensions = self.record.kind.0.dimensions();
        let wide = (0..dimensions)
            .filter(|&axis| extent.high_m[axis] > extent.low_m[axis])
            .count();
        let on_axis = self.record.kind.0 == Kind::Axisymmetric && extent.high_m[0] <= 0.0;
        if wide + 1 < dimensions || on_axis {
            let shape = if dimensions == 3 || on_axis {
                "line"
            } else {
                "point"
            };
            return Err(self.fault(
                "conductors",
                name,
                format!("{what} has a piece without area (a {shape}): only one axis may have equal bounds"),
            ));
        }
        Ok(())
    }

    fn walls(&self, domain: &Extent) -> Result<[[Wall; 2]; 3], RecordError> {
        let kind = self.record.kind.0;
        let names = axis_names(kind);
        let mut walls = [[Wall::Grounded; 2]; 3];
        match &self.record.wall {
            None => {}
            Some(WallRecord::All(wall)) => walls = [[*wall; 2]; 3],
            Some(WallRecord::PerAxis(axes)) => {
                for (name, pair) in axes {
                    let Some(axis) = names.iter().position(|known| known == name) else {
                        let mut fault = self.fault(
                            "wall",
                            name,
                            format!(
                                "unknown axis `{name}` of a {} case, expected {}",
                                self.kind_word(),
                                word_list(names)
                            ),
                        );
                        fault.hint = nearest_hint(&fault.message);
                        return Err(fault);
                    };
                    walls[axis] = *pair;
                }
            }
        }
        if kind == Kind::Axisymmetric && domain.low_m[0] == 0.0 {
            walls[0][0] = Wall::Insulated;
        }
        if kind != Kind::Volume {
            walls[2] = [Wall::Insulated; 2];
        }
        Ok(walls)
    }

    fn extent(
        &self,
        section: &str,
        name: &str,
        what: &str,
        bounds: &dyn Bounds,
    ) -> Result<Extent, RecordError> {
        let numbers = bounds.numbers();
        let dimensions = self.record.kind.0.dimensions();
        if numbers.len() != 2 * dimensions {
            return Err(self.fault(
                section,
                name,
                format!(
                    "{what} of a {} case has {} numbers, expected {}",
                    self.kind_word(),
                    numbers.len(),
                    2 * dimensions
                ),
            ));
        }
        let mut extent = Extent {
            low_m: [0.0; 3],
            high_m: [0.0; 3],
        };
        for (axis, pair) in numbers.chunks_exact(2).enumerate() {
            extent.low_m[axis] = Length::from_mm(pair[0]).metres();
            extent.high_m[axis] = Length::from_mm(pair[1]).metres();
        }
        Ok(extent)
    }

    fn check_inside(
        &self,
        section: &str,
        name: &str,
        what: &str,
        extent: &Extent,
        domain: &Extent,
    ) -> Result<(), RecordError> {
        for (axis, axis_name) in axis_names(self.record.kind.0).iter().enumerate() {
            let inside = extent.low_m[axis] >= domain.low_m[axis]
                && extent.high_m[axis] <= domain.high_m[axis];
            if !inside {
                let mm = |metres: f64| Length::from_metres(metres).mm();
                return Err(self.fault(
                    section,
                    name,
                    format!(
                        "{what} spans {axis_name} = {} to {} mm, expected within the outer wall, {} to {} mm",
                        mm(extent.low_m[axis]),
                        mm(extent.high_m[axis]),
                        mm(domain.low_m[axis]),
                        mm(domain.high_m[axis])
                    ),
                ));
            }
        }
        Ok(())
    }

    fn volume(&self) -> bool {
        self.record.kind.0 == Kind::Volume
    }

    fn kind_word(&self) -> &'static str {
        kind_word(self.record.kind.0)
    }

    fn piece_words(&self) -> &'static str {
        if self.volume() {
            "`boxes` or `cylinders`"
        } else {
            "`rects`"
        }
    }

    fn doubled(&self, section: &str, name: &str) -> RecordError {
        RecordError {
            place: self
                .place(section, name, 1)
                .or_else(|| self.place(section, name, 0)),
            message: format!(
                "the name `{name}` occurs twice in `{section}`, expected different names"
            ),
            hint: None,
        }
    }

    fn fault(&self, section: &str, name: &str, message: String) -> RecordError {
        RecordError {
            place: self.place(section, name, 0),
            message,
            hint: None,
        }
    }

    /// Where `name` stands in quotes (or as a key) after the word `section`; the section itself for
    /// an empty or unfound name. The deserialisers keep no places of sound values, so this looks
    /// again in the text.
    fn place(&self, section: &str, name: &str, occurrence: usize) -> Option<Place> {
        let start = self.text.find(section)?;
        let found = (!name.is_empty())
            .then(|| {
                let tail = &self.text[start..];
                let mut hits = tail.match_indices(name).filter(|(at, hit)| {
                    let before = tail[..*at].chars().next_back();
                    let after = tail[at + hit.len()..].chars().next();
                    let quote = |c: Option<char>| matches!(c, Some('"' | '\''));
                    quote(before) && quote(after)
                });
                hits.nth(occurrence).map(|(at, _)| start + at)
            })
            .flatten();
        Some(place_of(self.text, found.unwrap_or(start)))
    }
}

/// Axis names as written in records, in the order of the first axes of a case.
pub fn axis_names(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Planar => &["x", "y"],
        Kind::Axisymmetric => &["r", "z"],
        Kind::Volume => &["x", "y", "z"],
    }
}

/// The word for a kind in records and answers.
pub fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Planar => "planar",
        Kind::Axisymmetric => "axisymmetric",
        Kind::Volume => "volume",
    }
}

/// Words in backticks for a message.
fn word_list(words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    words.join(", ")
}

#[cfg(test)]
mod tests;
