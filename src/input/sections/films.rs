//! Wet films on the touched face: shape, place, and what keeps them apart.

use super::common::*;
use super::layers::sheet::Sheet;
use crate::panel::{Film, FilmBound, FilmShape};

words!(for FilmBound as "FilmBound":
    "dielectric" => Dielectric, "floating" => Floating, "earthed" => Earthed);

/// One `[film.NAME]`: a wet film or a drop on the touched face.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FilmEntry {
    /// Width by height of a rectangular film.
    pub size: Option<Size>,
    /// Diameter of a round drop.
    pub diameter: Option<One<Length>>,
    /// Middle of the film; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Thickness of the water.
    pub thickness: One<Length>,
    /// Dielectric and floating bound the truth of a film that is connected to nothing; earthed stands
    /// for one that reaches a grounded frame.
    #[serde(rename = "treat_as")]
    pub bound: Word<FilmBound>,
    /// Conductivity of the water: tells how far the film conducts.
    pub conductivity: Option<One<Conductivity>>,
}

/// What of `[film]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("size", [1.0, 500.0], SPREAD),
        edge("diameter", [0.5, 500.0], SPREAD),
        place("centre"),
        edge("thickness", [0.01, 10.0], SPREAD),
    ],
    fixed: &[still(
        &["conductivity"],
        "it tells how far a film conducts; what the field takes it for is said beside it",
    )],
};

pub(crate) fn films(file: &PanelFile, touched: &Sheet) -> Result<Vec<Film>, Finding> {
    let mut films: Vec<Film> = Vec::new();
    for (name, entry) in &file.film {
        let film = film(file, name, entry, touched)?;
        if let Some(other) = films.iter().find(|other| overlap(other, &film)) {
            let key = if entry.centre.is_some() {
                "centre"
            } else {
                size_key(entry)
            };
            return Err(Finding::at(
                steps!["film", name, key],
                format!("films \"{}\" and \"{name}\" run together", other.name),
                "move them apart or draw them as one film",
            ));
        }
        films.push(film);
    }
    Ok(films)
}

fn size_key(entry: &FilmEntry) -> &'static str {
    if entry.size.is_some() {
        "size"
    } else {
        "diameter"
    }
}

/// Films would run together; a square around a drop counts.
fn overlap(a: &Film, b: &Film) -> bool {
    let (half_a, half_b) = (a.half_extent_m(), b.half_extent_m());
    (0..2).all(|axis| {
        let apart = (a.centre[axis].metres() - b.centre[axis].metres()).abs();
        apart <= half_a[axis] + half_b[axis] + TOUCHING_M
    })
}

fn film(file: &PanelFile, name: &str, entry: &FilmEntry, touched: &Sheet) -> Result<Film, Finding> {
    let at = |key: &str| steps!["film", name, key];
    let shape = match (entry.size, entry.diameter) {
        (Some(size), None) => FilmShape::Rectangle {
            width: positive(at("size"), size.0[0], "the film's width")?,
            height: positive(at("size"), size.0[1], "the film's height")?,
        },
        (None, Some(diameter)) => FilmShape::Disc {
            diameter: positive(at("diameter"), diameter.0, "the drop's diameter")?,
        },
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("diameter"),
                format!("film \"{name}\" has a size and a diameter"),
                "write size for a rectangle or diameter for a drop",
            ));
        }
        (None, None) => {
            return Err(Finding::at(
                steps!["film", name],
                format!("film \"{name}\" has no size"),
                "add size = \"40 mm x 20 mm\" or diameter = \"6 mm\"",
            ));
        }
    };
    let centre = centre(|| at("centre"), entry.centre)?;
    let film = Film {
        name: name.to_owned(),
        shape,
        centre,
        thickness: positive(at("thickness"), entry.thickness.0, "the film's thickness")?,
        bound: entry.bound.0,
        conductivity: entry.conductivity.map(|given| given.0),
    };
    let half = film.half_extent_m();
    let at_m = film.centre.map(Length::metres);
    let edge = |side: f64| [0, 1].map(|axis| at_m[axis] + side * half[axis]);
    if !touched.holds([edge(-1.0), edge(1.0)]) {
        return Err(Finding::at(
            at(size_key(entry)),
            format!("film \"{name}\" reaches outside {}", touched.words("board")),
            "make it smaller or the board larger",
        ));
    }
    if let Some(conductivity) = film.conductivity
        && !(conductivity.siemens_per_metre() > 0.0 && conductivity.siemens_per_metre() <= 100.0)
    {
        return Err(Finding::at(
            at("conductivity"),
            "a conductivity of this size makes no sense here",
            "write more than 0 S/m and at most 100 S/m; tap water has about 0.05 S/m",
        ));
    }
    needs_volume(file, "film", name)?;
    Ok(film)
}
