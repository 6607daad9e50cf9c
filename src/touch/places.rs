//! Many touches at once: mirror images found, the rest solved side by side.

use super::mirrors::{PanelMirror, panel_mirrors};
use super::seen::{SeenTouch, SolvedTouch};
use crate::capacitance::AlgebraError;
use crate::field::{self, FieldError, Settings};
use crate::panel::lowering::{FINGER, Lowered, LoweringError, LoweringOptions, lower};
use crate::panel::{Finger, Panel, ReturnPath};
use rayon::prelude::*;
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Places closer than this \[m\] are the same.
const SAME_PLACE_M: f64 = 1e-9;

/// A finger on the panel.
#[derive(Clone, Debug, PartialEq)]
pub struct TouchPlace {
    /// The finger; its offset counts from the pad's centre, its own return path is not used.
    pub finger: Finger,
    /// Panel index of the pad it is aimed at, or of the nearest one.
    pub pad: usize,
}

/// Why touches could not be solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TouchError {
    /// The panel does not fit the model.
    #[error(transparent)]
    Lowering(#[from] LoweringError),
    /// The field engine gave no answer.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// A conductor that shall float has no capacitance.
    #[error(transparent)]
    Algebra(#[from] AlgebraError),
    /// Asked to stop.
    #[error("interrupted")]
    Interrupted,
}

/// A solved place.
#[derive(Clone, Debug)]
pub struct PlacedTouch {
    /// Index of its field problem.
    problem: usize,
    /// Symmetry that turns the solved place into this one.
    mirror: Option<PanelMirror>,
}

/// Solved places, each as its mirror image or itself.
#[derive(Clone, Debug)]
pub struct Touches {
    pad_names: Vec<String>,
    panel_idle: crate::panel::IdleState,
    problems: Vec<SolvedTouch>,
    placed: Vec<PlacedTouch>,
    /// Largest estimated relative error of a base or shift that counts.
    pub accuracy_estimated: f64,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// Cells of the largest grid.
    pub cells: usize,
    /// Fineness the touches started at: a good start for panels much like this one.
    pub fineness: Option<f64>,
    /// What was simplified on the way, one line each.
    pub simplifications: Vec<String>,
}

impl WorkLimits<'_> {
    /// The same for panels much like one that was solved: their touches start where its did.
    pub fn starting_at(&self, fineness: Option<f64>) -> Self {
        Self {
            settings: Settings {
                start_fineness: fineness.or(self.settings.start_fineness),
                ..self.settings.clone()
            },
            stop: self.stop,
            progress: self.progress,
        }
    }
}

/// What the work may cost, and who hears of it.
pub struct WorkLimits<'a> {
    /// Settings of the field engine; `drive` is chosen here, and the memory cap is shared by the touches
    /// that are solved at once.
    pub settings: Settings,
    /// Asked before every field problem.
    pub stop: &'a (dyn Fn() -> bool + Sync),
    /// Hears one line of text now and then, from several threads.
    pub progress: &'a (dyn Fn(&str) + Sync),
}

impl Touches {
    /// Field problems solved, each untouched and touched.
    pub fn problems(&self) -> usize {
        self.problems.len()
    }

    /// Number of places.
    pub fn len(&self) -> usize {
        self.placed.len()
    }

    /// Whether there are no places.
    pub fn is_empty(&self) -> bool {
        self.placed.is_empty()
    }

    /// Place number `index` as the pads see it under a return path.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn seen(&self, index: usize, return_path: ReturnPath) -> Result<SeenTouch, AlgebraError> {
        let placed = &self.placed[index];
        let solved = &self.problems[placed.problem];
        let seen = solved.seen(&self.pad_names, self.panel_idle, return_path)?;
        Ok(match &placed.mirror {
            Some(mirror) => seen.mirrored(&mirror.images),
            None => seen,
        })
    }
}

/// Solves the field of every place once; both the pads and the finger are driven in turn, so that any
/// return path can be asked for afterwards.
///
/// # Errors
/// The first [`TouchError`] in the order of the places.
pub fn solve_touches(
    panel: &Panel,
    places: &[TouchPlace],
    limits: &WorkLimits<'_>,
) -> Result<Touches, TouchError> {
    let mirrors = panel_mirrors(panel)?;
    let mut by_key: HashMap<Key, usize> = HashMap::new();
    let mut wanted: Vec<TouchPlace> = Vec::new();
    let placed: Vec<PlacedTouch> = places
        .iter()
        .map(|place| {
            let (key, mirror) = canonical(panel, place, &mirrors);
            let problem = *by_key.entry(key).or_insert_with(|| {
                wanted.push(match &mirror {
                    Some(mirror) => mirrored_place(place, mirror),
                    None => place.clone(),
                });
                wanted.len() - 1
            });
            PlacedTouch { problem, mirror }
        })
        .collect();
    let done = AtomicUsize::new(0);
    let solve = |place: &TouchPlace, fineness: Option<f64>| {
        let answer = solve_one(panel, place, limits, fineness);
        let count = done.fetch_add(1, Ordering::Relaxed) + 1;
        (limits.progress)(&format!("{count} of {} touches solved", wanted.len()));
        answer
    };
    // Unless it is known, the first place finds out which fineness the panel needs; the others start
    // there, which saves most of them their rounds on coarser grids.
    let known = limits.settings.start_fineness;
    let alone = usize::from(known.is_none());
    let (first, others) = wanted.split_at(alone.min(wanted.len()));
    let mut answers: Vec<Result<Answered, TouchError>> =
        first.iter().map(|place| solve(place, None)).collect();
    let fineness = match answers.first() {
        Some(Ok(first)) => Some(first.fineness),
        _ => known,
    };
    answers.par_extend(others.par_iter().map(|place| solve(place, fineness)));
    let mut touches = Touches {
        pad_names: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        panel_idle: panel.idle.value,
        problems: Vec::with_capacity(answers.len()),
        placed,
        accuracy_estimated: 0.0,
        accuracy_reached: true,
        cells: 0,
        fineness,
        simplifications: Vec::new(),
    };
    for answer in answers {
        let answer = answer?;
        touches.problems.push(answer.touch);
        touches.accuracy_estimated = touches.accuracy_estimated.max(answer.accuracy_estimated);
        touches.accuracy_reached &= answer.accuracy_reached;
        touches.cells = touches.cells.max(answer.cells);
        for text in answer.simplifications {
            if !touches.simplifications.contains(&text) {
                touches.simplifications.push(text);
            }
        }
    }
    Ok(touches)
}

struct Answered {
    touch: SolvedTouch,
    fineness: f64,
    accuracy_estimated: f64,
    accuracy_reached: bool,
    cells: usize,
    simplifications: Vec<String>,
}

/// The field problem of a place, and settings that drive pads, parts and finger.
///
/// # Errors
/// The panel does not fit its model.
pub fn prepared(
    panel: &Panel,
    place: &TouchPlace,
    settings: &Settings,
) -> Result<(Lowered, Settings), LoweringError> {
    let name = &panel.pads[place.pad].name;
    let lowered = lower(panel, name, &place.finger, LoweringOptions::default())?;
    let mut drive = lowered.driven();
    drive.push(FINGER.to_owned());
    let settings = Settings {
        drive: Some(drive),
        ..settings.clone()
    };
    Ok((lowered, settings))
}

fn solve_one(
    panel: &Panel,
    place: &TouchPlace,
    limits: &WorkLimits<'_>,
    start_fineness: Option<f64>,
) -> Result<Answered, TouchError> {
    if (limits.stop)() {
        return Err(TouchError::Interrupted);
    }
    let (lowered, mut settings) = prepared(panel, place, &limits.settings)?;
    // So many touches may be in hand at once.
    settings.memory_cap_bytes /= rayon::current_num_threads() as u64;
    settings.start_fineness = start_fineness.or(settings.start_fineness);
    let answer = field::solve(&lowered.case, Some(FINGER), &settings, &|_| {})?;
    Ok(Answered {
        touch: SolvedTouch::new(
            &answer,
            lowered.effective_lengths,
            &lowered.parts,
            &lowered.case.dielectrics,
        ),
        fineness: answer.grid.fineness,
        accuracy_estimated: answer.accuracy.estimated,
        accuracy_reached: answer.accuracy.reached,
        cells: answer.grid.cells,
        simplifications: lowered.simplifications,
    })
}

/// A finger's shape, the pad's layer, and its place in steps of [`SAME_PLACE_M`].
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Key {
    place: [i64; 2],
    pad: usize,
    shape: [u64; 6],
}

fn key(panel: &Panel, place: &TouchPlace) -> Key {
    let pad = &panel.pads[place.pad];
    let finger = &place.finger;
    let at = [0, 1].map(|axis| (pad.centre[axis] + finger.offset[axis]).metres());
    let (glove, permittivity) = finger.glove.map_or((0.0, 1.0), |glove| {
        (glove.thickness.metres(), glove.permittivity.relative())
    });
    Key {
        place: at.map(|metres| (metres / SAME_PLACE_M).round() as i64),
        pad: place.pad,
        shape: [
            finger.contact.metres(),
            finger.dome.metres(),
            finger.length.value.metres(),
            glove,
            permittivity,
            finger.distance.metres(),
        ]
        .map(f64::to_bits),
    }
}

/// The smallest key among a place and its images, and the symmetry that leads from it back to the
/// place: every symmetry here is its own inverse.
fn canonical(
    panel: &Panel,
    place: &TouchPlace,
    mirrors: &[PanelMirror],
) -> (Key, Option<PanelMirror>) {
    let mut best = (key(panel, place), None);
    for mirror in mirrors {
        let image = key(panel, &mirrored_place(place, mirror));
        if image < best.0 {
            best = (image, Some(mirror.clone()));
        }
    }
    best
}

fn mirrored_place(place: &TouchPlace, mirror: &PanelMirror) -> TouchPlace {
    let signs = mirror.mirror.signs();
    let mut image = place.clone();
    for axis in 0..2 {
        image.finger.offset[axis] = place.finger.offset[axis] * signs[axis];
    }
    image.pad = mirror.images[place.pad];
    image
}
