//! Copper areas, solid or hatched: `[ground.NAME]`, `[shield.NAME]`.

use super::common::*;
use super::connection::ConnectionKind;
use super::copper::{Polygons, corners, inside_board};
use crate::panel::metal::rectangle;
use crate::panel::outline::{Rectangle, are_closer};

use crate::panel::{Connection, Fill, GroundArea, Hatch, Layer, Pad, SHEET_REMEDY};

/// One `[ground.NAME]`: a copper area at 0 V.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GroundEntry {
    /// Copper layer the area is on.
    pub layer: String,
    /// How the area is filled; default solid.
    pub fill: Option<Word<FillKind>>,
    /// Width of the lines of a hatch.
    pub line: Option<One<Length>>,
    /// From middle to middle of neighbouring lines of a hatch.
    pub pitch: Option<One<Length>>,
    /// Angle of the lines of a hatch, 0 or 45 deg; default 0 deg.
    pub angle: Option<One<Angle>>,
    /// A hatch enters the field as a "sheet" that leaks as one cell of it does (default), or with all
    /// its "lines", for small areas.
    #[serde(rename = "treat_as")]
    pub drawn: Option<Word<Drawn>>,
    /// Width by height; default the whole board.
    pub outline: Option<Size>,
    /// Middle of the area; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Distance kept to pads on the same layer; needed if there are any.
    pub clearance: Option<One<Length>>,
}

/// One `[shield.NAME]`: a copper area that is driven with the measured pad, or left open.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShieldEntry {
    /// Copper layer the area is on.
    pub layer: String,
    /// Its potential over that of the measured pad; default 1.
    pub gain: Option<One<Number>>,
    /// "driven" (default), "floating" or "grounded".
    pub state: Option<Word<ConnectionKind>>,
    /// How the area is filled; default solid.
    pub fill: Option<Word<FillKind>>,
    /// Width of the lines of a hatch.
    pub line: Option<One<Length>>,
    /// From middle to middle of neighbouring lines of a hatch.
    pub pitch: Option<One<Length>>,
    /// Angle of the lines of a hatch, 0 or 45 deg; default 0 deg.
    pub angle: Option<One<Angle>>,
    /// A hatch enters the field as a "sheet" (default) or with all its "lines".
    #[serde(rename = "treat_as")]
    pub drawn: Option<Word<Drawn>>,
    /// Width by height; default the whole board.
    pub outline: Option<Size>,
    /// Middle of the area; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Distance kept to pads on the same layer; needed if there are any.
    pub clearance: Option<One<Length>>,
}

/// What of `[ground]` can be varied.
pub const GROUND_ROWS: Rows = Rows {
    varied: &[
        // A leak has a depth, no lines of its own.
        solved("line", Measure::Length, [0.05, 5.0], DOUBTED),
        solved("pitch", Measure::Length, [0.2, 20.0], DOUBTED),
        edge("outline", [1.0, 1000.0], SPREAD),
        place("centre"),
        edge("clearance", [0.1, 20.0], TURNED),
    ],
    fixed: &[choice(&["angle"], "lines run at 0 or at 45 degrees")],
};

/// What of `[shield]` can be varied.
pub const SHIELD_ROWS: Rows = Rows {
    varied: &[
        solved("gain", Measure::Number, [0.0, 1.2], DOUBTED),
        solved("line", Measure::Length, [0.05, 5.0], DOUBTED),
        solved("pitch", Measure::Length, [0.2, 20.0], DOUBTED),
        edge("outline", [1.0, 1000.0], SPREAD),
        place("centre"),
        edge("clearance", [0.1, 20.0], TURNED),
    ],
    fixed: &[choice(&["angle"], "lines run at 0 or at 45 degrees")],
};

impl ShieldEntry {
    /// The keys it shares with a ground area.
    pub fn area(&self) -> GroundEntry {
        GroundEntry {
            layer: self.layer.clone(),
            fill: self.fill,
            line: self.line,
            pitch: self.pitch,
            angle: self.angle,
            drawn: self.drawn,
            outline: self.outline,
            centre: self.centre,
            clearance: self.clearance,
        }
    }
}

words!(
    /// How a copper area is filled; the measures of a hatch are keys of their own.
    FillKind as "Fill": "solid" => Solid, "hatch" => Hatch
);
words!(
    /// How a hatch enters the field: as a sheet that leaks, or with every line.
    Drawn as "Drawn": "sheet" => Sheet, "lines" => Lines
);

/// The sections of copper areas.
pub const AREAS: [&str; 2] = ["ground", "shield"];
/// The word for an area without a hatch.
pub const SOLID: &str = "solid";
/// Keys that only a hatch has.
pub const OF_A_HATCH: [&str; 4] = ["line", "pitch", "angle", "treat_as"];

/// What areas lie under and beside.
pub struct Under<'p> {
    pub layers: &'p [Layer],
    pub pads: &'p [Pad],
    pub placed: &'p [Polygons],
    pub board: [Length; 2],
}

impl Under<'_> {
    /// One area; `hatch_key` is a key of it that only a hatch has.
    pub fn area(
        &self,
        (section, name): (&str, &str),
        entry: &GroundEntry,
        hatch_key: Option<&str>,
        drawing: &mut Drawing,
    ) -> Result<GroundArea, Finding> {
        let Under { layers, board, .. } = *self;
        let at = |key: &str| steps![section, name, key];
        let layer = copper_layer(at("layer"), &entry.layer, layers)?;
        let size = match entry.outline {
            None => board,
            Some(given) => positive_size(
                || at("outline"),
                given,
                ["the area's width", "the area's height"],
            )?,
        };
        let centre = centre(|| at("centre"), entry.centre)?;
        let bounds = rectangle(size, centre);
        if !inside_board(bounds, board) {
            let key = if entry.outline.is_some() {
                "outline"
            } else {
                "centre"
            };
            let [width, height] = board.map(show_mm);
            return Err(Finding::at(
                at(key),
                format!("{section} \"{name}\" reaches outside the board ({width} x {height})"),
                "make it smaller or the board larger",
            ));
        }
        let copper = (layer, bounds);
        let clearance = self.clearance((section, name), entry, copper)?;
        let area = GroundArea {
            name: name.to_owned(),
            layer,
            size,
            centre,
            clearance,
            fill: fill((section, name), entry, hatch_key)?,
            connection: Connection::Grounded,
        };
        drawing.add((section, name), &area)?;
        Ok(area)
    }

    /// What an area on a layer keeps from the pads there.
    fn clearance(
        &self,
        (section, name): (&str, &str),
        entry: &GroundEntry,
        (layer, bounds): (usize, Rectangle),
    ) -> Result<Length, Finding> {
        let at = |key: &str| steps![section, name, key];
        let touched = self
            .pads
            .iter()
            .zip(self.placed)
            .filter(|(pad, _)| pad.layer == layer)
            .find(|(_, polygons)| are_closer(&corners(bounds), polygons, TOUCHING_M))
            .map(|(pad, _)| pad);
        let clearance = match (entry.clearance, touched) {
            (Some(given), _) => not_negative(at("clearance"), given.0, "the clearance")?,
            (None, None) => Length::default(),
            (None, Some(pad)) => {
                return Err(Finding::at(
                    steps![section, name],
                    format!(
                        "{section} \"{name}\" covers pad \"{}\": they are shorted",
                        pad.name
                    ),
                    "add clearance = \"1 mm\", the distance it keeps to pads",
                ));
            }
        };
        if let Some(pad) = touched
            && clearance.metres() < TOUCHING_M
        {
            return Err(Finding::at(
                at("clearance"),
                format!(
                    "without clearance {section} \"{name}\" and pad \"{}\" are shorted",
                    pad.name
                ),
                "write more than 0 mm",
            ));
        }
        Ok(clearance)
    }
}

/// Widest mesh that is plausible.
const LARGEST_PITCH: Length = Length::from_mm(50.0);

fn fill(
    (section, name): (&str, &str),
    entry: &GroundEntry,
    hatch_key: Option<&str>,
) -> Result<Fill, Finding> {
    let at = |key: &str| steps![section, name, key];
    let is_hatched = entry.fill.is_some_and(|word| word.0 == FillKind::Hatch);
    if !is_hatched {
        return match hatch_key {
            Some(key) => Err(Finding::at_key(
                at(key),
                format!("a solid area has no \"{key}\""),
                "add fill = \"hatch\"",
            )),
            None => Ok(Fill::Solid),
        };
    }
    let missing = |key: &str| {
        Finding::at(
            at("fill"),
            format!("the hatch of {section} \"{name}\" has no \"{key}\""),
            "a hatch is described by line and pitch, such as line = \"0.2 mm\", pitch = \"2 mm\"",
        )
    };
    let line = entry.line.ok_or_else(|| missing("line"))?;
    let pitch = entry.pitch.ok_or_else(|| missing("pitch"))?;
    let line = positive(at("line"), line.0, "the line width")?;
    let pitch = positive(at("pitch"), pitch.0, "the pitch")?;
    if line >= pitch {
        return Err(Finding::at(
            at("line"),
            format!(
                "lines of {} leave nothing open at a pitch of {}",
                show_mm(line),
                show_mm(pitch)
            ),
            "write less than the pitch, or fill = \"solid\"",
        ));
    }
    if pitch > LARGEST_PITCH {
        return Err(Finding::at(
            at("pitch"),
            "the pitch is out of range",
            format!("write at most {}", show_mm(LARGEST_PITCH)),
        ));
    }
    let degrees = entry.angle.map_or(0.0, |angle| angle.0);
    let is_diagonal = match degrees.rem_euclid(90.0) {
        0.0 => false,
        45.0 => true,
        _ => {
            return Err(Finding::at(
                at("angle"),
                format!("lines at {degrees} degrees are not known here"),
                "write \"0 deg\" or \"45 deg\"",
            ));
        }
    };
    Ok(Fill::Hatch(Hatch {
        line,
        pitch,
        is_diagonal,
        is_drawn: entry.drawn.is_some_and(|word| word.0 == Drawn::Lines),
    }))
}

/// Most lines of all drawn hatches of a panel: with a thousand along either side of a board the field
/// needs about a hundred gigabytes.
const MOST_LINES: f64 = 2000.0;
/// Most cells in the plane that they ask for, of the same size.
const MOST_CELLS: f64 = 4e6;

/// The hatches drawn so far.
#[derive(Default)]
pub(crate) struct Drawing {
    lines: f64,
    cells: f64,
}

impl Drawing {
    /// Counts an area; one that is solid or a sheet asks for nothing.
    pub fn add(&mut self, (section, name): (&str, &str), area: &GroundArea) -> Result<(), Finding> {
        let Fill::Hatch(hatch) = area.fill else {
            return Ok(());
        };
        if !hatch.is_drawn {
            return Ok(());
        }
        let size_m = area.size.map(|side| side.metres());
        let beside = hatch.lines_beside_the_middle(size_m);
        self.lines += beside.iter().map(|lines| 2.0 * lines + 1.0).sum::<f64>();
        self.cells = self.cells.max(hatch.least_cells(size_m));
        if self.lines > MOST_LINES {
            return Err(Finding::at(
                steps![section, name, "pitch"],
                format!(
                    "at a pitch of {} hatches are drawn with {:.0} lines, {MOST_LINES} at most",
                    show_mm(hatch.pitch),
                    self.lines
                ),
                format!("{SHEET_REMEDY}, or a larger pitch"),
            ));
        }
        if self.cells > MOST_CELLS {
            return Err(Finding::at(
                steps![section, name, "line"],
                format!(
                    "drawing lines of {} takes {:.0} cells in the plane, {MOST_CELLS} at most",
                    show_mm(hatch.line),
                    self.cells
                ),
                format!("{SHEET_REMEDY}, or a larger line width"),
            ));
        }
        Ok(())
    }
}
