//! Discharge: does the overlay stand the voltages of IEC 61000-4-2, and how far must copper stay from its
//! edge, from slots and from holes?
//!
//! Takes a panel with the strengths of its layers; gives a [`Discharge`]: every [`DischargePath`] with the
//! voltage it holds as an interval, what each [`Level`] needs, a verdict where the panel asks for a level;
//! fails when the copper cannot be placed. No field is solved. An estimate, never a calculation of safety
//! insulation.
//!
//! - **Puncture**: voltage = field x thickness; the field falls with the thickness of a solid as
//!   `E(t) = E_ref (t_ref/t)^n`, n between [`EXPONENT`] ends. A sheet thinner than the one that was tested
//!   is not credited with more at the careful end. Layers in series: see [`series_hold`].
//! - **Surface and seam**: a spark runs along 1 mm of surface for every 1 kV (creeping) to 3 kV (through
//!   air): [`CREEP_V_PER_M`], [`AIR_V_PER_M`].
//!
//! ```
//! use padfield::questions::discharge::{Strength, least_thickness};
//! use padfield_engine::units::{Length, Voltage};
//!
//! // Float glass, 13 kV/mm: 15 kV needs 1.2 mm.
//! let glass = Strength::exact(13e6, Length::from_mm(3.2));
//! let needed = least_thickness(&glass, Voltage::from_volts(15e3));
//! assert!((needed.mm() - 1.154).abs() < 1e-3);
//! ```

mod checks;
mod paths;
mod picture;
mod record;
mod report;
mod strength;

pub use paths::{DischargePath, PathKind};
pub use picture::picture;
pub use record::DischargeRecord;
pub use report::report;
pub use strength::{
    ASSUMED_STRENGTH_THICKNESS, EXPONENT, SeriesLayer, Strength, least_thickness, series_hold,
};

use crate::cautions::cautions;
use crate::panel::lowering::LoweringError;
use crate::panel::{Demand, DischargeKind, DischargeLevel, Edge, Panel};
use padfield_engine::units::{Capacitance, Length, Voltage};

/// Field at which a discharge creeps along a surface \[V/m\]: 1 kV/mm, common practice, no source.
pub const CREEP_V_PER_M: f64 = 1e6;
/// Field at which air breaks down between even surfaces \[V/m\]: 3 kV/mm, from memory.
pub const AIR_V_PER_M: f64 = 3e6;
/// Capacitor of the discharge network: IEC 61000-4-2, secondary text read.
pub const NETWORK_CAPACITANCE: Capacitance = Capacitance::from_pf(150.0);

/// A test level with what it needs of this panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// 1 to 4.
    pub number: u32,
    /// How the discharge is brought.
    pub kind: DischargeKind,
    /// Voltage of the test.
    pub voltage: Voltage,
    /// Energy in the capacitor of the network \[J\].
    pub energy_joules: f64,
    /// Least thickness of the layer that holds most, alone, with margin 1 and with the margin wanted; none
    /// when no strength is known.
    pub thickness: Option<[Length; 2]>,
    /// Distance from an open seam to copper at 3 and at 1 kV/mm.
    pub distance: [Length; 2],
}

/// Voltages of the levels 1 to 4 in kV, contact and air: IEC 61000-4-2 as listed by two test
/// laboratories; the standard itself was not read.
pub const LEVELS_KV: [[f64; 2]; 4] = [[2.0, 2.0], [4.0, 4.0], [6.0, 8.0], [8.0, 15.0]];

/// What becomes of a path at the level that is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Even the careful end is above what is asked.
    Holds,
    /// What is asked lies within the interval: a test decides.
    Open,
    /// Even the hopeful end is below the voltage of the test.
    Fails,
}

impl Verdict {
    pub fn word(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::Open => "open",
            Self::Fails => "fails",
        }
    }
}

/// The estimate for a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Discharge {
    pub demand: Demand,
    /// Ways of a discharge to the copper.
    pub paths: Vec<DischargePath>,
    /// All levels, air before contact.
    pub levels: Vec<Level>,
    /// The layer that the least thickness is meant for.
    pub main_layer: Option<String>,
    pub assumptions: Vec<String>,
    /// What they do not decide.
    pub cautions: Vec<String>,
}

impl Discharge {
    /// Verdict on a path at the level asked for; none when no level is asked, or the path is told only for
    /// information.
    pub fn verdict(&self, path: &DischargePath) -> Option<Verdict> {
        let level = self.demand.level.filter(|_| path.is_judged)?;
        // What creeps along a surface is careful enough by itself.
        let margin = match path.kind {
            PathKind::Puncture => self.demand.margin.value,
            PathKind::Surface => 1.0,
        };
        let [least, most] = path.holds.map(Voltage::volts);
        let asked = level.voltage.volts();
        Some(if least >= margin * asked {
            Verdict::Holds
        } else if most < asked {
            Verdict::Fails
        } else {
            Verdict::Open
        })
    }

    /// Whether every judged path holds; true when nothing is asked.
    pub fn holds(&self) -> bool {
        let verdicts = self.paths.iter().filter_map(|path| self.verdict(path));
        verdicts
            .into_iter()
            .all(|verdict| verdict == Verdict::Holds)
    }
}

/// Estimates every path of a discharge.
///
/// # Errors
/// The panel's copper cannot be placed.
pub fn discharge(panel: &Panel) -> Result<Discharge, LoweringError> {
    let (paths, main) = paths::paths(panel)?;
    let demand = panel.environment.discharge;
    let margin = demand.margin.value;
    let needs = |voltage: Voltage| {
        let (_, strength) = main.as_ref()?;
        Some([1.0, margin].map(|margin| least_thickness(strength, voltage * margin)))
    };
    let level = |number: usize, kind: DischargeKind, kilovolts: f64| {
        let voltage = Voltage::from_volts(1e3 * kilovolts);
        Level {
            number: number as u32 + 1,
            kind,
            voltage,
            energy_joules: 0.5 * NETWORK_CAPACITANCE.farads() * voltage.volts().powi(2),
            thickness: needs(voltage),
            distance: [AIR_V_PER_M, CREEP_V_PER_M]
                .map(|field| Length::from_metres(voltage.volts() / field)),
        }
    };
    let all = || LEVELS_KV.iter().enumerate();
    let air = all().map(|(number, [_, air])| level(number, DischargeKind::Air, *air));
    let contact =
        all().map(|(number, [contact, _])| level(number, DischargeKind::Contact, *contact));
    Ok(Discharge {
        demand,
        paths,
        levels: air.chain(contact).collect(),
        main_layer: main.map(|(name, _)| name),
        assumptions: assumptions(panel),
        cautions: std::iter::once(ESTIMATE.to_owned())
            .chain(cautions(panel))
            .collect(),
    })
}

/// Said on every output.
pub const ESTIMATE: &str = "An estimate, not a calculation of safety insulation: creepage, clearance and \
     solid insulation belong to a competent person (IEC 60664-1, IEC 60335-1, IEC 62368-1, IEC 61010-1 \
     as they apply). The test house decides whether a panel stands a discharge.";

fn assumptions(panel: &Panel) -> Vec<String> {
    let [low, high] = EXPONENT;
    let mut lines = vec![
        format!(
            "Puncture: E(t) = E (t_ref/t)^n, n {low} to {high} (from memory); t_ref {:.1} mm where nobody says \
             at which thickness a strength was measured (1/8 inch, from memory); a thinner sheet is not \
             credited with more at the lower end. Layer tolerances at their ends.",
            ASSUMED_STRENGTH_THICKNESS.mm()
        ),
        "Layers in series share a surge by thickness over permittivity; the one beyond its strength breaks, \
         and the others must hold it all. A layer without a figure holds nothing. Voids, sharp edges, \
         repeated discharges and ageing lower what is held."
            .to_owned(),
        "Seam, slot, hole: 1 kV/mm creeping (common practice, no source) to 3 kV/mm through air (from \
         memory), counted in the plane from the opening, or from the farthest edge of the layers before the \
         copper, to the copper; the way down is not counted."
            .to_owned(),
        "Levels of IEC 61000-4-2 as listed by two test laboratories, network 150 pF and 330 ohm; each \
         product standard chooses its level. Air discharge is for insulating surfaces, contact discharge \
         for bare metal."
            .to_owned(),
        "After a discharge the touched face stays charged and shifts the reading: the baseline has to be \
         checked again."
            .to_owned(),
    ];
    let sealed = panel.environment.discharge.sealed;
    let sealed = Edge::ALL.into_iter().zip(sealed);
    let sealed: Vec<&str> = sealed
        .filter(|(_, is_sealed)| *is_sealed)
        .map(|(edge, _)| edge.word())
        .collect();
    if !sealed.is_empty() {
        lines.push(format!(
            "Edges sealed by the panel file ({}): whether a seal stands a discharge depends on its material, its \
             bond and its age. It is not computed; the laboratory decides.",
            sealed.join(", ")
        ));
    }
    for bezel in &panel.bezels {
        lines.push(format!(
            "A discharge to the frame \"{}\" goes where the frame is connected: not computed.",
            bezel.name
        ));
    }
    lines
}

/// The level as text: `air 8 kV`.
pub fn level_text(level: &DischargeLevel) -> String {
    let kilovolts = level.voltage.volts() / 1e3;
    format!("{} {kilovolts} kV", level.kind.word())
}
