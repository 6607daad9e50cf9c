//! What surroundings do to the untouched pads: base capacitance from dry to wet, with and without an
//! object that moves, with and without a hand on a frame.
//!
//! No finger is there, but a body may be: the hand that holds a frame (`state = "held"`) or takes hold of
//! one. It hangs on a return path like any finger, so every change is solved once and seen under any
//! ([`SolvedChange::seen`]): `solve` asks for the path of its finger, `window` for those of every supply.

use super::judge::{JudgedPaths, printed_changes};
use super::limits::{TouchError, WorkLimits};
use super::pad_touch::{PROBES, PadTouch};
use super::seen::{body_role, idle_role, part_role};
use super::tally::Tally;
use crate::panel::lowering::{FINGER, LoweredPart, LoweringOptions, lower};
use crate::panel::{Connection, Panel, ReturnPath};
use padfield_engine::capacitance::{
    AlgebraError, Estimate, Role, measure, measure_change, measure_shift,
};
use padfield_engine::case::Case;
use padfield_engine::field::{
    Accuracy, Bounded, FieldAnswer, Judge, Printed, Settings, Shift, join_printed,
};

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

/// What changes, and who sees it.
#[derive(Clone, Debug)]
struct Change {
    kind: Surrounding,
    name: String,
    /// Names and panel indices of the pads that are conductors of the case.
    pads: Vec<String>,
    indices: Vec<usize>,
    parts: Vec<LoweredPart>,
    idle: Role,
}

impl Change {
    fn solved(self, answer: &FieldAnswer) -> SolvedChange {
        SolvedChange {
            change: self,
            with: answer.with.clone(),
            shift: answer.shift.clone(),
            accuracy: answer.accuracy.clone(),
        }
    }
}

/// Matrices of one change, kept so that any return path of the body can be put to them.
#[derive(Clone, Debug)]
pub struct SolvedChange {
    change: Change,
    with: Bounded,
    /// Without what arrives; nothing where the change is one of connection.
    shift: Option<Shift>,
    /// Accuracy asked for and reached.
    pub accuracy: Accuracy,
}

/// Solves every change of the panel's surroundings on its own on the untouched face, without finger: each
/// wet film alone on the dry face, each object that moves, each floating frame that a hand may hold.
///
/// What appears is left out on the same grid, so that what both states share cancels. A frame that is
/// taken hold of is solved once with two states of one matrix.
///
/// # Errors
/// See [`TouchError`].
pub fn solve_changes(
    panel: &Panel,
    limits: &WorkLimits<'_>,
) -> Result<Vec<SolvedChange>, TouchError> {
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
    let all: Vec<_> = films.chain(objects).chain(bezels).collect();
    let tally = Tally::new(
        all.len(),
        "changes around the panel solved",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = limits.heard_by(&tell);
    let mut changes = Vec::new();
    for (kind, name) in all {
        if (limits.stop)() {
            return Err(TouchError::Interrupted);
        }
        let Some(bench) = Bench::new(panel, kind, name)? else {
            continue;
        };
        changes.push(bench.solve(&limits)?);
        tally.add();
    }
    Ok(changes)
}

impl SolvedChange {
    /// The change as every pad sees it, under any return path of the body.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn steps(&self) -> Result<Vec<PadTouch>, AlgebraError> {
        let [earthed, open, probed] = PROBES.map(|path| self.seen(path));
        let (earthed, open, probed) = (earthed?, open?, probed?);
        let each = earthed.changes.iter().enumerate().map(|(pad, change)| {
            PadTouch::told(
                earthed.before[pad].value,
                [
                    change.value,
                    open.changes[pad].value,
                    probed.changes[pad].value,
                ],
                None,
            )
        });
        Ok(each.collect())
    }

    /// The change as the pads see it while the body of the user, where a frame is held, returns to 0 V by
    /// `return_path`.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn seen(&self, return_path: ReturnPath) -> Result<BaseChange, AlgebraError> {
        let body = body_role(return_path, 1.0);
        let mut before = Vec::new();
        let mut changes = Vec::new();
        for pad in &self.change.pads {
            let with_roles = self.roles(&self.with.conductors, pad, body);
            match &self.shift {
                Some(shift) => {
                    let without_roles = self.roles(&shift.without.conductors, pad, body);
                    before.push(measure(&shift.without, &without_roles)?.estimate);
                    changes.push(measure_shift(
                        &self.with,
                        shift,
                        &with_roles,
                        &without_roles,
                    )?);
                }
                None => {
                    let names = self.with.conductors.iter();
                    let held: Vec<Role> = names
                        .zip(&with_roles)
                        .map(|(name, &role)| {
                            if *name == self.change.name {
                                body
                            } else {
                                role
                            }
                        })
                        .collect();
                    before.push(measure(&self.with, &with_roles)?.estimate);
                    changes.push(measure_change(&self.with, &with_roles, &held)?);
                }
            }
        }
        Ok(BaseChange {
            kind: self.change.kind,
            name: self.change.name.clone(),
            pads: self.change.indices.clone(),
            before,
            changes,
        })
    }

    /// Roles while `measured` is measured.
    fn roles(&self, conductors: &[String], measured: &str, body: Role) -> Vec<Role> {
        let role = |name: &String| match self.change.parts.iter().find(|part| &part.name == name) {
            _ if name == measured => Role::Measured,
            Some(part) => part_role(part, false, body),
            None => self.change.idle,
        };
        conductors.iter().map(role).collect()
    }

    /// What is printed of it under these return paths.
    fn printed(&self, paths: &[ReturnPath]) -> Vec<Printed> {
        let bare = Self {
            with: self.with.without_outlines(),
            shift: self.shift.as_ref().map(Shift::without_outlines),
            ..self.clone()
        };
        let mut printed = Vec::new();
        for &path in paths {
            // What has no capacitance fails where it is evaluated.
            if let [Ok(whole), Ok(rest)] = [self, &bare].map(|one| one.seen(path)) {
                let names = &self.change.pads;
                join_printed(&mut printed, printed_changes(names, &whole, &rest));
            }
        }
        printed
    }
}

/// The untouched panel with what changes.
struct Bench {
    change: Change,
    case: Case,
    driven: Vec<String>,
    /// Return paths of the body under which the accuracy is judged.
    paths: Vec<ReturnPath>,
}

impl Bench {
    fn new(panel: &Panel, kind: Surrounding, name: &str) -> Result<Option<Self>, TouchError> {
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
        let mut paths = JudgedPaths::OfSupplies.of(panel, &[]);
        if !paths.contains(&finger.return_path) {
            paths.push(finger.return_path);
        }
        let mut finger = finger.clone();
        finger.glove = None;
        let lowered = lower(&alone, first, &finger, LoweringOptions::default())?;
        let driven = lowered.driven();
        Ok(Some(Self {
            change: Change {
                kind,
                name: name.to_owned(),
                indices: (0..panel.pads.len())
                    .filter(|&index| lowered.pads.contains(&panel.pads[index].name))
                    .collect(),
                pads: lowered.pads,
                parts: lowered.parts,
                idle: idle_role(panel.idle.value),
            },
            case: lowered.case.without(FINGER),
            driven,
            paths,
        }))
    }

    fn solve(self, limits: &WorkLimits<'_>) -> Result<SolvedChange, TouchError> {
        let Self {
            change,
            case,
            driven: mut drive,
            paths,
        } = self;
        let name = &change.name;
        let without = (change.kind != Surrounding::Bezel).then_some(name.as_str());
        // What changes may be at 0 V and have no row otherwise.
        let is_conductor = case.conductors.iter().any(|c| c.name == *name);
        if is_conductor && !drive.contains(name) {
            drive.push(name.clone());
        }
        let seen = change.clone();
        let judge = move |answer: &FieldAnswer| seen.clone().solved(answer).printed(&paths);
        let settings = Settings {
            drive: Some(drive),
            judge: Some(Judge::new(judge)),
            ..limits.settings.clone()
        };
        let answer = limits.solve(name, &case, without, &settings)?;
        Ok(change.solved(&answer))
    }
}
