//! The sections of a panel file, each in one place: the keys a person may write with what the guide says
//! of them, what they mean together, the defaults of what is not written.
//!
//! Serde reads the structs and schemars describes them: schema, dotted paths and the guide's list of keys
//! follow. Values are checked in file order and the first thing wrong is reported. Defaults are filled in
//! here, and only here; each is marked.

mod areas;
mod circuit;
mod climate;
mod common;
mod connection;
mod copper;
mod counts;
mod discharge;
mod films;
mod fingers;
mod guards;
mod keyed;
mod layers;
mod pads;
mod scan;
mod slots;
mod stray;
pub mod study;
mod surroundings;
pub mod tolerance;
mod traces;
pub mod variation;
mod window;

pub use areas::{AREAS, OF_A_HATCH, SOLID};
pub use guards::{GUARD, STATES as GUARD_STATES};
pub use keyed::Keyed;

use crate::panel::lowering::{FINGER, GROUND};
use crate::panel::{Application, CopperModel, Environment, IdleState, Model, Pad, Panel};
use areas::{GroundEntry, ShieldEntry};
use circuit::CircuitEntry;
use climate::ClimateEntry;
use common::*;
use copper::BoardEntry;
use discharge::DischargeEntry;
use films::FilmEntry;
use fingers::FingerEntry;
use guards::GuardEntry;
use indexmap::IndexMap;
use layers::sheet::Sheet;
use layers::{LayerEntry, MaterialEntry};
use pads::PadsEntry;
use scan::{BatteryEntry, ScanEntry};
use slots::SlotEntry;
use std::collections::HashMap;
use std::sync::LazyLock;
use stray::StrayEntry;
use study::StudyEntry;
use surroundings::{BezelEntry, ObjectEntry};
use tolerance::ToleranceEntry;
use traces::TraceEntry;
use window::{SupplyEntry, WindowEntry};

const DEFAULT_WALL_DISTANCE: Length = Length::from_mm(160.0);

words!(for IdleState as "IdleState":
    "grounded" => Grounded, "floating" => Floating, "driven" => Driven);
words!(for Model as "Model":
    "volume" => Volume, "axisymmetric" => Axisymmetric, "section" => Section);
words!(for CopperModel as "CopperModel": "sheet" => Sheet, "thick" => Thick);
words!(for Application as "Application":
    "mains" => Mains, "appliance" => Appliance, "machinery" => Machinery, "medical" => Medical,
    "emergency stop" => EmergencyStop, "vehicle" => Vehicle,
    "explosive atmosphere" => ExplosiveAtmosphere, "public" => Public);

/// A whole panel file.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelFile {
    /// One line for people.
    pub title: Option<String>,
    /// Revision of the board: on the first page of the note.
    pub revision: Option<String>,
    /// State of the pads that are not measured; default grounded.
    pub idle: Option<Word<IdleState>>,
    /// How the panel becomes a field problem; default volume.
    pub model: Option<Word<Model>>,
    /// How copper enters the field problem; default sheet.
    pub copper_model: Option<Word<CopperModel>>,
    /// Distance from the panel to the outer, open wall; default 160 mm.
    pub wall_distance: Option<One<Length>>,
    /// Layers from the touched face to the back.
    pub layer: Vec<Keyed<LayerEntry>>,
    /// Materials of this panel, by name; they come before the built-in ones.
    #[serde(default)]
    pub material: IndexMap<String, MaterialEntry>,
    /// Size of board and overlay.
    pub board: Option<BoardEntry>,
    /// Pads by group name: one pad, a row or a grid.
    pub pads: IndexMap<String, Keyed<PadsEntry>>,
    /// Ground areas by name.
    #[serde(default)]
    pub ground: IndexMap<String, Keyed<GroundEntry>>,
    /// Copper areas that are driven with the measured pad, by name.
    #[serde(default)]
    pub shield: IndexMap<String, Keyed<ShieldEntry>>,
    /// Guard traces between and around pads, by name.
    #[serde(default)]
    pub guard: IndexMap<String, GuardEntry>,
    /// Traces that are part of the field, by name.
    #[serde(default)]
    pub trace: IndexMap<String, TraceEntry>,
    /// Metal frames on the touched face, by name.
    #[serde(default)]
    pub bezel: IndexMap<String, BezelEntry>,
    /// Metal near the panel, by name.
    #[serde(default)]
    pub object: IndexMap<String, ObjectEntry>,
    /// Slots cut into dielectric layers, by name.
    #[serde(default)]
    pub slot: IndexMap<String, SlotEntry>,
    /// Wet films and drops on the touched face, by name.
    #[serde(default)]
    pub film: IndexMap<String, FilmEntry>,
    /// Fingers by name; default one adult finger.
    #[serde(default)]
    pub finger: IndexMap<String, FingerEntry>,
    /// Capacitance in parallel with the field part.
    pub stray: Option<StrayEntry>,
    /// What the panel is part of: which cautions are printed.
    pub application: Option<Vec<Word<Application>>>,
    /// Ways the device is powered, by name.
    #[serde(default)]
    pub supply: IndexMap<String, SupplyEntry>,
    /// Users, supplies and demands of the threshold.
    pub window: Option<WindowEntry>,
    /// Temperature, moisture and how fast they change.
    pub climate: Option<ClimateEntry>,
    /// Which discharge the overlay shall stand.
    pub discharge: Option<DischargeEntry>,
    /// The measuring circuit; default a resistor oscillator.
    pub circuit: Option<Keyed<CircuitEntry>>,
    /// How the pads are scanned.
    pub scan: Option<Keyed<ScanEntry>>,
    /// What feeds the panel when it is not the mains.
    pub battery: Option<Keyed<BatteryEntry>>,
    /// Studies by name: what `sweep` varies.
    #[serde(default)]
    pub study: IndexMap<String, Keyed<StudyEntry>>,
    /// How values spread from unit to unit, by name: what `tolerance` asks for.
    #[serde(default)]
    pub tolerance: IndexMap<String, ToleranceEntry>,
}

/// What at the top of the file can be varied.
pub const TOP_ROWS: Rows = Rows {
    varied: &[edge("wall_distance", [20.0, 1000.0], NONE)],
    fixed: &[],
};

/// What can be varied in each section, in the order of the file.
const ROWS: [(&str, Rows); 22] = [
    ("", TOP_ROWS),
    ("layer", layers::ROWS),
    ("material", layers::MATERIAL_ROWS),
    ("board", copper::BOARD_ROWS),
    ("pads", pads::ROWS),
    ("ground", areas::GROUND_ROWS),
    ("shield", areas::SHIELD_ROWS),
    ("guard", guards::ROWS),
    ("trace", traces::ROWS),
    ("bezel", surroundings::BEZEL_ROWS),
    ("object", surroundings::OBJECT_ROWS),
    ("slot", slots::ROWS),
    ("film", films::ROWS),
    ("finger", fingers::ROWS),
    ("stray", stray::ROWS),
    ("supply", window::SUPPLY_ROWS),
    ("window", window::ROWS),
    ("climate", climate::ROWS),
    ("discharge", discharge::ROWS),
    ("circuit", circuit::ROWS),
    ("scan", scan::SCAN_ROWS),
    ("battery", scan::BATTERY_ROWS),
];

/// Every value that can be varied.
pub static VARIED: LazyLock<Vec<Varied>> = LazyLock::new(|| {
    let rows = |(section, rows): (&'static str, Rows)| {
        let varied = rows.varied.iter();
        varied.map(move |row| Varied { section, ..*row })
    };
    ROWS.into_iter().flat_map(rows).collect()
});

/// Every number that nothing varies.
pub static FIXED: LazyLock<Vec<Fixed>> = LazyLock::new(|| {
    let rows = |(section, rows): (&'static str, Rows)| {
        let fixed = rows.fixed.iter();
        fixed.map(move |row| Fixed { section, ..*row })
    };
    ROWS.into_iter().flat_map(rows).collect()
});

impl PanelFile {
    /// The names of everything beside layers and pads, section by section.
    fn named(&self) -> [(&'static str, Vec<&String>); 10] {
        [
            ("ground", self.ground.keys().collect()),
            ("shield", self.shield.keys().collect()),
            ("guard", self.guard.keys().collect()),
            ("trace", self.trace.keys().collect()),
            ("bezel", self.bezel.keys().collect()),
            ("object", self.object.keys().collect()),
            ("slot", self.slot.keys().collect()),
            ("film", self.film.keys().collect()),
            ("finger", self.finger.keys().collect()),
            ("supply", self.supply.keys().collect()),
        ]
    }
}

/// Checks a typed file and fills in its defaults.
pub fn trust(file: &PanelFile) -> Result<Panel, Finding> {
    counts::sections(file)?;
    let layers = layers::layers(file)?;
    let pads::Pads {
        pads,
        groups,
        sliders,
    } = pads::pads(file, &layers)?;
    counts::touches(file, &pads)?;
    let copper::Copper {
        board,
        grounds,
        guards,
        traces,
    } = copper::copper(file, &layers, &pads, &groups)?;
    let pads = traces::not_drawn(pads, &traces);
    layers::sheet::pads_covered(&layers, &pads, board.value)?;
    let touched = Sheet::of(&layers, 0, board.value);
    let slots = slots::slots(file, &layers, &groups, board.value)?;
    let films = films::films(file, &touched)?;
    let bezels = surroundings::bezels(file, &touched)?;
    let objects = surroundings::objects(file)?;
    let fingers = fingers::fingers(file, &pads, &touched)?;
    let usage = window::usage(file, &fingers)?;
    conductor_names(file, &pads)?;
    Ok(Panel {
        title: file
            .title
            .clone()
            .unwrap_or_else(|| "untitled panel".to_owned()),
        revision: revision(file),
        board,
        layers,
        pads,
        groups,
        sliders,
        grounds,
        guards,
        traces,
        bezels,
        objects,
        slots,
        films,
        fingers,
        idle: sourced(file.idle.map(|word| word.0), IdleState::Grounded),
        stray: stray::stray(file)?,
        electronics: circuit::electronics(file)?,
        model: sourced(file.model.map(|word| word.0), Model::Volume),
        copper: sourced(file.copper_model.map(|word| word.0), CopperModel::Sheet),
        wall_distance: sourced(
            if_positive(steps!["wall_distance"], file.wall_distance, "wall distance")?,
            DEFAULT_WALL_DISTANCE,
        ),
        usage,
        environment: environment(file)?,
    })
}

fn environment(file: &PanelFile) -> Result<Environment, Finding> {
    Ok(Environment {
        layers: layers::properties::properties(file)?,
        climate: climate::climate(file.climate.as_ref())?,
        discharge: discharge::discharge(file.discharge.as_ref())?,
    })
}

/// A revision of blanks is none.
fn revision(file: &PanelFile) -> Option<String> {
    let revision = file.revision.as_deref()?.trim();
    (!revision.is_empty()).then(|| revision.to_owned())
}

/// Every conductor needs a name of its own: pads, fingers, ground areas and guards share one table of
/// results. A group's name is not a conductor's unless it is the name of its only pad.
fn conductor_names(file: &PanelFile, pads: &[Pad]) -> Result<(), Finding> {
    let mut taken: HashMap<&str, &str> = HashMap::new();
    for pad in pads {
        taken.insert(&pad.name, "pad");
    }
    for (section, names) in file.named() {
        for name in names {
            // The trace of a pad is a part of its conductor; slots and supplies do not conduct.
            let is_of_pad = section == "trace" && file.trace[name.as_str()].pad.is_some();
            if is_of_pad || matches!(section, "slot" | "supply") {
                continue;
            }
            let is_reserved = name == GROUND || name == FINGER;
            if is_reserved && !matches!(section, "ground" | "finger") {
                return Err(Finding::at_key(
                    steps![section, name],
                    match section {
                        "object" => format!("an object may not be called \"{name}\""),
                        _ => format!("a {section} may not be called \"{name}\""),
                    },
                    "the name stands for that conductor itself: choose another",
                ));
            }
            if let Some(other) = taken.insert(name, section) {
                return Err(Finding::at_key(
                    steps![section, name],
                    format!("the name \"{name}\" is already that of a {other}"),
                    "give everything that conducts a name of its own",
                ));
            }
        }
    }
    Ok(())
}
