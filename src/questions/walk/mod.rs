//! A finger that walks across the panel, and over its face: counts of every pad at every place.
//!
//! Takes a panel, fingers, a supply and a line or a raster of places; gives the counts of all pads at
//! each ([`Walk`], [`TouchMap`]); fails when a place cannot be solved. One field problem per place
//! answers for all pads and for any supply; places that are mirror images of each other are solved once.
//! Between solved places nothing is known: curves join them by straight lines, maps interpolate what each pad shows.

mod between;
mod checks;
mod picture;
mod places;
mod record;
mod report;
mod slide;
mod slide_picture;
mod so_far;
mod zones;

pub use picture::{AMBIGUOUS_RATIO, assumption, map_picture, walk_picture};
pub use record::{SlideRecord, SlidesRecord, WalkRecord};
pub use report::{report, slide_report};
pub use slide::{Slide, SlidePlace, Stroke, segments, slide, slide_along, stroke};
pub use slide_picture::slide_pictures;
pub use so_far::{map_so_far, slides_so_far, walk_so_far};
pub use zones::{Stretch, acting, ambiguous, at_least};

use crate::event::{path_on, touched};
use crate::panel::{Finger, Model, Panel, Supply};
use crate::touch::{TouchError, TouchOptions, TouchPlace, Touches, WorkLimits, solve_touches_as};
use padfield_engine::field::Printed;
use padfield_engine::units::{Capacitance, Length};
use std::ops::Range;

/// Direction of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Along x, from left to right.
    Across,
    /// Along y, upwards.
    Vertical,
}

impl Direction {
    /// Names of the coordinate along the walk and of the other one.
    pub fn names(self) -> [&'static str; 2] {
        match self {
            Self::Across => ["x", "y"],
            Self::Vertical => ["y", "x"],
        }
    }

    /// 0 for x, 1 for y.
    pub fn axis(self) -> usize {
        match self {
            Self::Across => 0,
            Self::Vertical => 1,
        }
    }
}

/// A count shift with its estimated numerical error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceCounts {
    /// \[counts\] towards a touch.
    pub value: f64,
    /// Estimated numerical error \[counts\].
    pub error: f64,
}

/// What a map is solved for: it shows the strongest pad of every place.
fn of_strongest() -> TouchOptions<'static> {
    TouchOptions {
        of_strongest: true,
        ..TouchOptions::default()
    }
}

/// The same where it is known what a finger on a pad shows, which the rest of the map is read beside.
fn read_beside(
    panel: &Panel,
    supply: &Supply,
    on_pad: &Touches,
) -> Result<TouchOptions<'static>, TouchError> {
    let mut most = 0.0;
    for index in 0..on_pad.len() {
        let seen = on_pad.seen(index, path_on(panel, Some(supply)))?;
        let shifts = seen.shifts.iter().flatten();
        most = shifts.fold(most, |most: f64, shift| most.max(shift.value.abs()));
    }
    Ok(TouchOptions {
        beside: Capacitance::from_farads(most),
        ..of_strongest()
    })
}

/// Of the places of a map the one that is nearest to the middle of a pad, of one that is no segment if there is one.
fn on_pad(panel: &Panel, asked: &[TouchPlace]) -> Vec<TouchPlace> {
    let off = |place: &TouchPlace| {
        let [x, y] = place.finger.offset.map(Length::metres);
        x.hypot(y)
    };
    let is_segment = |place: &TouchPlace| panel.is_segment(&panel.pads[place.pad]);
    let order = |a: &&TouchPlace, b: &&TouchPlace| {
        let kinds = is_segment(a).cmp(&is_segment(b));
        kinds.then(off(a).total_cmp(&off(b)))
    };
    asked.iter().min_by(order).into_iter().cloned().collect()
}

/// What the pads make of one finger along a walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// The finger.
    pub finger: String,
    /// By pad, then by place; none where the pad is not in the model.
    pub counts: Vec<Vec<Option<PlaceCounts>>>,
}

impl Curve {
    /// Place, by its number, and counts where a pad has most of them; none for a pad that is in no model.
    pub fn peak(&self, pad: usize) -> Option<(usize, PlaceCounts)> {
        self.counts[pad]
            .iter()
            .enumerate()
            .filter_map(|(place, counts)| Some((place, (*counts)?)))
            .max_by(|a, b| a.1.value.total_cmp(&b.1.value))
    }
}

/// A walk along a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Direction of the line.
    pub direction: Direction,
    /// The other coordinate, the same for all places.
    pub fixed: Length,
    /// Places of the contact's middle along the line, ascending.
    pub places: Vec<Length>,
    /// One curve per finger.
    pub curves: Vec<Curve>,
    /// What the numbers took and whether they can be trusted.
    pub work: Work,
}

/// A raster over the face.
#[derive(Clone, Debug, PartialEq)]
pub struct TouchMap {
    /// The finger.
    pub finger: String,
    /// Columns, ascending.
    pub x: Vec<Length>,
    /// Rows, ascending.
    pub y: Vec<Length>,
    /// By pad, then row by row.
    pub counts: Vec<Vec<Option<PlaceCounts>>>,
    /// What the numbers took and whether they can be trusted.
    pub work: Work,
}

/// Field problems behind an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Places asked for.
    pub places: usize,
    /// Field problems solved for them.
    pub field_problems: usize,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
}

/// Who walks when nobody says: of users and fingers without a glove those of the smallest and of the largest
/// contact.
pub fn usual_fingers(panel: &Panel) -> Vec<Finger> {
    let known = panel.usage.users.value.iter().chain(&panel.fingers);
    let mut bare: Vec<&Finger> = known.filter(|finger| finger.glove.is_none()).collect();
    bare.sort_by(|a, b| a.contact.metres().total_cmp(&b.contact.metres()));
    let ends = bare.first().into_iter().chain(bare.last());
    let mut fingers: Vec<Finger> = ends.map(|finger| (*finger).clone()).collect();
    fingers.dedup_by(|a, b| a.name == b.name);
    fingers
}

/// Walks every finger along a line through the middle of a pad.
///
/// # Errors
/// See [`TouchError`].
pub fn walk(
    panel: &Panel,
    fingers: &[Finger],
    supply: &Supply,
    through: usize,
    direction: Direction,
    limits: &WorkLimits<'_>,
) -> Result<Walk, TouchError> {
    let axis = direction.axis();
    let fixed = panel.pads[through].centre[1 - axis];
    let places = places::along(panel, axis);
    let asked = walked(panel, fingers, through, direction);
    let Counted {
        by_pad: counts,
        work,
        ..
    } = counts(panel, supply, &asked, TouchOptions::default(), limits)?;
    let curves = fingers
        .iter()
        .enumerate()
        .map(|(index, finger)| {
            let own = index * places.len()..(index + 1) * places.len();
            Curve {
                finger: finger.name.clone(),
                counts: counts.iter().map(|pad| pad[own.clone()].to_vec()).collect(),
            }
        })
        .collect();
    Ok(Walk {
        direction,
        fixed,
        places,
        curves,
        work,
    })
}

/// Every finger at every place along a line through the middle of a pad, finger by finger.
fn walked(
    panel: &Panel,
    fingers: &[Finger],
    through: usize,
    direction: Direction,
) -> Vec<TouchPlace> {
    let axis = direction.axis();
    let fixed = panel.pads[through].centre[1 - axis];
    let along = places::along(panel, axis);
    let point = |&at: &Length| match direction {
        Direction::Across => [at, fixed],
        Direction::Vertical => [fixed, at],
    };
    let each = fingers.iter().flat_map(|finger| {
        let points = along.iter().map(point);
        points.map(move |at| places::touch(panel, finger, at))
    });
    each.collect()
}

/// Puts a finger on a raster over all pads; none where the model has no face: in a cut every place along y is the
/// same, and a map would say that a finger beside a pad is on it.
///
/// # Errors
/// See [`TouchError`].
pub fn touch_map(
    panel: &Panel,
    finger: &Finger,
    supply: &Supply,
    limits: &WorkLimits<'_>,
) -> Result<Option<TouchMap>, TouchError> {
    let Some(([x, y], asked)) = rastered(panel, finger, limits.settings.accuracy) else {
        return Ok(None);
    };
    let first = solve_touches_as(panel, &on_pad(panel, &asked), of_strongest(), limits)?;
    let Counted {
        by_pad: counts,
        work,
        ..
    } = counts(
        panel,
        supply,
        &asked,
        read_beside(panel, supply, &first)?,
        limits,
    )?;
    Ok(Some(TouchMap {
        finger: finger.name.clone(),
        x,
        y,
        counts,
        work,
    }))
}

/// The raster of a map and the finger at every place of it, row by row; none where the model has no face.
fn rastered(
    panel: &Panel,
    finger: &Finger,
    accuracy: f64,
) -> Option<([Vec<Length>; 2], Vec<TouchPlace>)> {
    if panel.model.value != Model::Volume {
        return None;
    }
    let [x, y] = places::raster(panel, finger, accuracy);
    let points = y.iter().flat_map(|&y| x.iter().map(move |&x| [x, y]));
    let asked = points.map(|at| places::touch(panel, finger, at)).collect();
    Some(([x, y], asked))
}

/// Counts of every pad at every place.
struct Counted {
    /// By pad, then by place.
    by_pad: Vec<Vec<Option<PlaceCounts>>>,
    /// Nominal base at the pin of every pad, untouched; none where the pad is not in the model.
    bases: Vec<Option<Capacitance>>,
    work: Work,
}

fn counts(
    panel: &Panel,
    supply: &Supply,
    asked: &[TouchPlace],
    options: TouchOptions<'_>,
    limits: &WorkLimits<'_>,
) -> Result<Counted, TouchError> {
    let touches = solve_touches_as(panel, asked, options, limits)?;
    counted(panel, supply, &touches, 0..asked.len())
}

/// Counts of every pad at a range of solved places.
fn counted(
    panel: &Panel,
    supply: &Supply,
    touches: &Touches,
    asked: Range<usize>,
) -> Result<Counted, TouchError> {
    let path = path_on(panel, Some(supply));
    let circuit = &panel.electronics.circuit;
    let mut by_pad = vec![Vec::with_capacity(asked.len()); panel.pads.len()];
    let mut bases = vec![None; panel.pads.len()];
    for index in asked.clone() {
        let seen = touches.seen(index, path)?;
        let shown = touches.pads(index)?;
        for (pad, counts) in by_pad.iter_mut().enumerate() {
            let known = shown[pad].zip(seen.bases[pad]).zip(seen.shifts[pad]);
            counts.push(known.map(|((touch, base), shift)| {
                let [base, base_error, shift, shift_error] = [
                    base.estimate.value,
                    base.estimate.error,
                    shift.value,
                    shift.error,
                ]
                .map(Capacitance::from_farads);
                let at_pin = panel.stray.of(&panel.pads[pad]).at_pin(base).nominal;
                bases[pad] = Some(at_pin);
                PlaceCounts {
                    value: touched(panel, pad, Some(supply), &touch).mean,
                    error: circuit.count_error(at_pin, shift, base_error, shift_error),
                }
            }));
        }
    }
    let work = Work {
        places: asked.len(),
        field_problems: touches.problems(),
        accuracy_reached: touches.accuracy_reached,
        missed: touches.missed.clone(),
    };
    Ok(Counted {
        by_pad,
        bases,
        work,
    })
}
