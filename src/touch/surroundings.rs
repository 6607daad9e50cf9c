//! What surroundings do to the untouched pads: base capacitance from dry to wet, with and without an
//! object that moves, with and without a hand on a frame.

use super::limits::TouchError;
use super::seen::{idle_role, part_role};
use crate::capacitance::{Estimate, Role, measure, measure_shift};
use crate::case::Case;
use crate::field::{self, Bounded, FieldAnswer, Settings};
use crate::panel::lowering::{FINGER, LoweredPart, LoweringOptions, lower};
use crate::panel::{Connection, Panel};

/// What changes around the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surrounding {
    /// A wet film appears on the dry face.
    Film,
    /// An object that moves arrives.
    Object,
    /// A hand takes hold of a frame that nothing holds.
    Bezel,
}

impl Surrounding {
    /// What happens, for tables and records; the name follows.
    pub fn words(self) -> &'static str {
        match self {
            Self::Film => "wet film",
            Self::Object => "object arrives",
            Self::Bezel => "hand on the frame",
        }
    }
}

/// Base change of every pad when one of its surroundings changes.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseChange {
    /// What changes.
    pub kind: Surrounding,
    /// Name of the film, object or frame.
    pub name: String,
    /// Panel indices of the pads that are asked: all but the segments of grounded sliders.
    pub pads: Vec<usize>,
    /// Field parts of those pads before \[F\].
    pub before: Vec<Estimate>,
    /// After minus before \[F\].
    pub changes: Vec<Estimate>,
}

/// Solves every change of the panel's surroundings on its own on the untouched face, without finger: each
/// wet film alone on the dry face, each object that moves, each floating frame that a hand may hold.
///
/// What appears is left out on the same grid, so that what both states share cancels. A film of dielectric
/// is solved wet and with its water replaced by air, a frame once with two states of one matrix; the
/// errors of both are added up.
///
/// # Errors
/// See [`TouchError`].
pub fn base_changes(
    panel: &Panel,
    settings: &Settings,
    stop: &(dyn Fn() -> bool + Sync),
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Vec<BaseChange>, TouchError> {
    let films = panel
        .films
        .iter()
        .map(|film| (Surrounding::Film, &film.name));
    let moving = panel.objects.iter().filter(|object| object.moves);
    let objects = moving.map(|object| (Surrounding::Object, &object.name));
    let open = panel
        .bezels
        .iter()
        .filter(|bezel| bezel.connection == Connection::Floating);
    let bezels = open.map(|bezel| (Surrounding::Bezel, &bezel.name));
    let mut changes = Vec::new();
    for (kind, name) in films.chain(objects).chain(bezels) {
        if stop() {
            return Err(TouchError::Interrupted);
        }
        let settings = settings.clone();
        let Some(bench) = Bench::new(panel, kind, name, settings)? else {
            continue;
        };
        let tell = |text: &str| progress(&format!("{name}: {text}"));
        changes.push(match kind {
            Surrounding::Film if bench.is_dielectric() => bench.replaced_by_air(&tell)?,
            Surrounding::Film | Surrounding::Object => bench.left_out(&tell)?,
            Surrounding::Bezel => bench.held(&tell)?,
        });
    }
    Ok(changes)
}

/// The untouched panel with what changes.
struct Bench<'p> {
    kind: Surrounding,
    name: &'p str,
    /// Names and panel indices of the pads that are conductors of the case.
    pads: Vec<String>,
    indices: Vec<usize>,
    case: Case,
    parts: Vec<LoweredPart>,
    driven: Vec<String>,
    idle: Role,
    settings: Settings,
}

impl<'p> Bench<'p> {
    fn new(
        panel: &Panel,
        kind: Surrounding,
        name: &'p str,
        settings: Settings,
    ) -> Result<Option<Self>, TouchError> {
        let mut alone = panel.clone();
        alone
            .films
            .retain(|film| kind == Surrounding::Film && film.name == name);
        // The finger only marks where the outer wall is: it is taken away again.
        let single = panel.pads.iter().find(|pad| !panel.is_segment(pad));
        let first = single.or(panel.pads.first()).map(|pad| &pad.name);
        let (Some(first), Some(finger)) = (first, panel.fingers.first()) else {
            return Ok(None);
        };
        let mut finger = finger.clone();
        finger.glove = None;
        let lowered = lower(&alone, first, &finger, LoweringOptions::default())?;
        let driven = lowered.driven();
        let mut case = lowered.case;
        case.conductors.retain(|conductor| conductor.name != FINGER);
        Ok(Some(Self {
            kind,
            name,
            indices: (0..panel.pads.len())
                .filter(|&index| lowered.pads.contains(&panel.pads[index].name))
                .collect(),
            pads: lowered.pads,
            case,
            parts: lowered.parts,
            driven,
            idle: idle_role(panel.idle.value),
            settings,
        }))
    }

    fn is_dielectric(&self) -> bool {
        self.parts.iter().all(|part| part.name != self.name)
    }

    fn solve(
        &self,
        case: &Case,
        without: Option<&str>,
        more: &Settings,
        progress: &(dyn Fn(&str) + Sync),
    ) -> Result<FieldAnswer, TouchError> {
        let mut drive = self.driven.clone();
        // What changes may be at 0 V and have no row otherwise.
        drive.extend(
            without
                .filter(|name| !self.driven.iter().any(|d| d == name))
                .map(str::to_owned),
        );
        let settings = Settings {
            drive: Some(drive),
            ..more.clone()
        };
        Ok(field::solve(case, without, &settings, progress)?)
    }

    /// Roles while `measured` is measured; `held` takes the place of what changes.
    fn roles(&self, conductors: &[String], measured: &str, held: Option<Role>) -> Vec<Role> {
        let role = |name: &String| match self.parts.iter().find(|part| &part.name == name) {
            _ if name == measured => Role::Measured,
            Some(part) if part.name == self.name && held.is_some() => held.unwrap_or(self.idle),
            Some(part) => part_role(part, false, Role::Grounded),
            None => self.idle,
        };
        conductors.iter().map(role).collect()
    }

    fn change(&self, before: Vec<Estimate>, changes: Vec<Estimate>) -> BaseChange {
        BaseChange {
            kind: self.kind,
            name: self.name.to_owned(),
            pads: self.indices.clone(),
            before,
            changes,
        }
    }

    fn replaced_by_air(&self, tell: &(dyn Fn(&str) + Sync)) -> Result<BaseChange, TouchError> {
        let wet = self.solve(&self.case, None, &self.settings, tell)?;
        let mut dry_case = self.case.clone();
        let background = dry_case.background_relative_permittivity;
        let waters = dry_case.dielectrics.iter_mut();
        for water in waters.filter(|dielectric| dielectric.name == self.name) {
            water.relative_permittivity = background;
        }
        let same_grid = Settings {
            start_fineness: Some(wet.grid.fineness),
            ..self.settings.clone()
        };
        let dry = self.solve(&dry_case, None, &same_grid, tell)?;
        let base = |matrix: &Bounded, pad: &str| {
            measure(matrix, &self.roles(&matrix.conductors, pad, None)).map(|base| base.estimate)
        };
        let mut before = Vec::new();
        let mut changes = Vec::new();
        for pad in &self.pads {
            let (dry, wet) = (base(&dry.with, pad)?, base(&wet.with, pad)?);
            before.push(dry);
            changes.push(difference(wet, dry));
        }
        Ok(self.change(before, changes))
    }

    fn left_out(&self, tell: &(dyn Fn(&str) + Sync)) -> Result<BaseChange, TouchError> {
        let answer = self.solve(&self.case, Some(self.name), &self.settings, tell)?;
        let FieldAnswer { with, shift, .. } = answer;
        let mut before = Vec::new();
        let mut changes = Vec::new();
        if let Some(shift) = &shift {
            for pad in &self.pads {
                let with_roles = self.roles(&with.conductors, pad, None);
                let without_roles = self.roles(&shift.without.conductors, pad, None);
                before.push(measure(&shift.without, &without_roles)?.estimate);
                changes.push(measure_shift(&with, shift, &with_roles, &without_roles)?);
            }
        }
        Ok(self.change(before, changes))
    }

    /// Held by an earthed hand after it floated.
    fn held(&self, tell: &(dyn Fn(&str) + Sync)) -> Result<BaseChange, TouchError> {
        let FieldAnswer { with, .. } = self.solve(&self.case, None, &self.settings, tell)?;
        let mut before = Vec::new();
        let mut changes = Vec::new();
        for pad in &self.pads {
            let base = |held: Option<Role>| {
                measure(&with, &self.roles(&with.conductors, pad, held)).map(|base| base.estimate)
            };
            let (floating, held) = (base(None)?, base(Some(Role::Grounded))?);
            before.push(floating);
            changes.push(difference(held, floating));
        }
        Ok(self.change(before, changes))
    }
}

fn difference(after: Estimate, before: Estimate) -> Estimate {
    Estimate {
        value: after.value - before.value,
        error: after.error + before.error,
    }
}
