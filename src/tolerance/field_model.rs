//! Places solved with the rates of what their pad shows.

use super::ToleranceError;
use super::watch::Watch;
use crate::field::Settings;
use crate::panel::lowering::Lowered;
use crate::sensitivity::{DifferentiatedTouch, PadTouch, PanelFamily, lowered};
use crate::touch::{TouchError, TouchPlace, WorkLimits};
use rayon::prelude::*;

/// Step of a numerical derivative of an output, as a share of a value: small against curvature, large
/// against rounding.
const SMALL: f64 = 1e-4;
/// Step of a rate of grid lines and of differences of panels that are solved again.
const STEP: f64 = 0.01;

/// How the rates of a parameter were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From the solution that is there.
    Derivative,
    /// From two more solves.
    Difference,
    /// Without the field: circuit and return path only.
    Circuit,
}

/// A place solved, with the rates of what its pad shows.
#[derive(Clone, Debug)]
pub(super) struct PlaceModel {
    place: TouchPlace,
    touch: DifferentiatedTouch,
    /// At nominal values.
    pub nominal: PadTouch,
    /// Rates of the four numbers per unit of every parameter, SI; zero for those beside the field.
    pub rates: Vec<[f64; 4]>,
}

/// All places.
#[derive(Clone, Debug)]
pub(super) struct FieldModel {
    pub places: Vec<PlaceModel>,
    /// How the rates of each parameter were found.
    pub ways: Vec<Way>,
    pub field_problems: usize,
    pub cells: usize,
    pub accuracy_reached: bool,
}

fn pad_touch(touch: &DifferentiatedTouch, pad: usize) -> Result<PadTouch, ToleranceError> {
    touch.pad(pad)?.ok_or(ToleranceError::NotInModel)
}

impl FieldModel {
    /// Solves every place once with derivatives; parameters that the grid lines do not carry are solved
    /// to either side.
    pub fn new(
        family: &PanelFamily,
        watch: &Watch,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, ToleranceError> {
        let settings = Settings {
            derivatives: true,
            memory_cap_bytes: limits.settings.memory_cap_bytes
                / rayon::current_num_threads() as u64,
            ..limits.settings.clone()
        };
        let solved: Vec<(PlaceModel, Vec<bool>, usize)> = watch
            .places
            .par_iter()
            .map(|place| PlaceModel::new(family, place, watch.pad, &settings, limits))
            .collect::<Result<_, _>>()?;
        let ways = (0..family.parameters.len())
            .map(|index| match family.parameters[index].changes_field {
                false => Way::Circuit,
                true if solved.iter().all(|(_, followed, _)| followed[index]) => Way::Derivative,
                true => Way::Difference,
            })
            .collect();
        Ok(Self {
            field_problems: solved.iter().map(|(_, _, problems)| problems).sum(),
            cells: solved
                .iter()
                .map(|(model, ..)| model.touch.answer().grid.cells)
                .max()
                .unwrap_or(0),
            accuracy_reached: solved
                .iter()
                .all(|(model, ..)| model.touch.answer().accuracy.reached),
            places: solved.into_iter().map(|(model, ..)| model).collect(),
            ways,
        })
    }

    /// What the pad shows at nominal values.
    pub fn nominal(&self) -> Vec<PadTouch> {
        self.places.iter().map(|place| place.nominal).collect()
    }

    /// What the pad shows with one parameter moved, to first order.
    pub fn moved(&self, index: usize, by: f64) -> Vec<PadTouch> {
        let each = self.places.iter().map(|place| {
            let mut numbers = place.nominal.numbers();
            for (number, rate) in numbers.iter_mut().zip(place.rates[index]) {
                *number += by * rate;
            }
            PadTouch::from_numbers(numbers)
        });
        each.collect()
    }
}

/// A place on a panel with other parameters.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    /// The active parameters, scaled to -1 to 1.
    pub at: Vec<f64>,
    pub touch: PadTouch,
    /// Slopes of the four numbers to the scaled parameters, where they are known.
    pub slopes: Vec<Option<[f64; 4]>>,
}

impl PlaceModel {
    fn new(
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        settings: &Settings,
        limits: &WorkLimits<'_>,
    ) -> Result<(Self, Vec<bool>, usize), ToleranceError> {
        if (limits.stop)() {
            return Err(TouchError::Interrupted.into());
        }
        let touch = DifferentiatedTouch::solve(&family.panel, place, settings, &|_| {})?;
        let mut model = Self {
            place: place.clone(),
            nominal: pad_touch(&touch, pad)?,
            touch,
            rates: vec![[0.0; 4]; family.parameters.len()],
        };
        let mut followed = vec![true; family.parameters.len()];
        let mut problems = 1;
        for index in 0..family.parameters.len() {
            let parameter = &family.parameters[index];
            if !parameter.changes_field || parameter.value == 0.0 {
                continue;
            }
            let values = [(index, parameter.value)];
            match model.touch.rate_at(family, place, pad, &values, index)? {
                Some(rates) => model.rates[index] = rates,
                None => {
                    followed[index] = false;
                    if (limits.stop)() {
                        return Err(TouchError::Interrupted.into());
                    }
                    problems += 2;
                    model.rates[index] = model.difference(family, pad, index)?;
                }
            }
        }
        (limits.progress)("a place and its derivatives solved");
        Ok((model, followed, problems))
    }

    /// Rates by solving to either side.
    fn difference(
        &self,
        family: &PanelFamily,
        pad: usize,
        index: usize,
    ) -> Result<[f64; 4], ToleranceError> {
        let value = family.parameters[index].value;
        let sides = ends(STEP * value.abs(), |by| {
            case(family, &self.place, &[(index, value + by)])
        })?;
        let mut numbers = [[0.0; 4]; 2];
        for (end, (by, _)) in numbers.iter_mut().zip(&sides) {
            let moved = [(index, value + by)];
            let touch = self.solve(family, &moved, false)?;
            *end = pad_touch(&touch, pad)?.numbers();
        }
        let span = sides[1].0 - sides[0].0;
        Ok([0, 1, 2, 3].map(|number| (numbers[1][number] - numbers[0][number]) / span))
    }

    fn solve(
        &self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        derivatives: bool,
    ) -> Result<DifferentiatedTouch, ToleranceError> {
        let panel = family.panel(moved)?;
        let place = TouchPlace {
            finger: family.finger(&self.place.finger, moved),
            pad: self.place.pad,
        };
        let settings = Settings {
            derivatives,
            ..self.touch.neighbour_settings()
        };
        Ok(DifferentiatedTouch::solve(
            &panel,
            &place,
            &settings,
            &|_| {},
        )?)
    }

    /// This place at nominal values as a point of the fit.
    pub fn solved(&self, family: &PanelFamily, active: &[(usize, f64, f64)]) -> Solved {
        let nominal = |index: usize| family.parameters[index].value;
        Solved {
            at: active
                .iter()
                .map(|(index, middle, half)| (nominal(*index) - middle) / half)
                .collect(),
            touch: self.nominal,
            slopes: active
                .iter()
                .map(|(index, _, half)| Some(self.rates[*index].map(|rate| rate * half)))
                .collect(),
        }
    }

    pub fn solve_at(
        &self,
        family: &PanelFamily,
        pad: usize,
        active: &[(usize, f64, f64)],
        at: &[f64],
        slopes_of: Option<&[Way]>,
        limits: &WorkLimits<'_>,
    ) -> Result<Solved, ToleranceError> {
        if (limits.stop)() {
            return Err(TouchError::Interrupted.into());
        }
        let moved: Vec<(usize, f64)> = active
            .iter()
            .zip(at)
            .map(|((index, middle, half), z)| (*index, middle + half * z))
            .collect();
        let touch = self.solve(family, &moved, slopes_of.is_some())?;
        let place = TouchPlace {
            finger: family.finger(&self.place.finger, &moved),
            pad: self.place.pad,
        };
        let mut slopes = Vec::with_capacity(active.len());
        for (index, _, half) in active {
            let is_followed = slopes_of.is_some_and(|ways| ways[*index] == Way::Derivative);
            let rates = match is_followed {
                true => touch.rate_at(family, &place, pad, &moved, *index)?,
                false => None,
            };
            slopes.push(rates.map(|rates| rates.map(|rate| rate * half)));
        }
        Ok(Solved {
            at: at.to_vec(),
            touch: pad_touch(&touch, pad)?,
            slopes,
        })
    }
}

/// Rates of a solved touch to one parameter.
trait Rates {
    /// Rates of the four numbers per unit of a parameter, around the values `moved`; none when the grid
    /// lines do not carry it.
    fn rate_at(
        &self,
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        moved: &[(usize, f64)],
        index: usize,
    ) -> Result<Option<[f64; 4]>, ToleranceError>;
}

impl Rates for DifferentiatedTouch {
    fn rate_at(
        &self,
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        moved: &[(usize, f64)],
        index: usize,
    ) -> Result<Option<[f64; 4]>, ToleranceError> {
        let parameter = &family.parameters[index];
        if !parameter.may_be_followed() {
            return Ok(None);
        }
        let at = |by: f64| {
            let moved: Vec<(usize, f64)> = moved
                .iter()
                .map(|&(other, value)| (other, if other == index { value + by } else { value }))
                .collect();
            case(family, place, &moved)
        };
        let step = STEP * parameter.value.abs();
        let [(low, less), (high, more)] = ends(step, at)?;
        let Ok(followed) = self.follow(&less, &more, high - low) else {
            return Ok(None);
        };
        // The same sides, a step that is small for what the circuit makes of it.
        let small = [low, high].map(|end| end * SMALL / STEP);
        let mut numbers = [[0.0; 4]; 2];
        for (end, by) in numbers.iter_mut().zip(small) {
            let touch = self.moved_pad(&followed, by, &at(by)?, pad)?;
            *end = touch.ok_or(ToleranceError::NotInModel)?.numbers();
        }
        let span = small[1] - small[0];
        Ok(Some([0, 1, 2, 3].map(|number| {
            (numbers[1][number] - numbers[0][number]) / span
        })))
    }
}

/// The field problem of a place with some parameters at other values.
fn case(
    family: &PanelFamily,
    place: &TouchPlace,
    moved: &[(usize, f64)],
) -> Result<Lowered, ToleranceError> {
    let panel = family.panel(moved)?;
    let place = TouchPlace {
        finger: family.finger(&place.finger, moved),
        pad: place.pad,
    };
    Ok(lowered(&panel, &place, &Settings::default()).map_err(TouchError::from)?)
}

/// Both ends of a step to either side; to one side where the other is no panel, as for a frame that
/// reaches to the edge of the overlay.
fn ends(
    step: f64,
    at: impl Fn(f64) -> Result<Lowered, ToleranceError>,
) -> Result<[(f64, Lowered); 2], ToleranceError> {
    let is_no_panel = |error: &ToleranceError| {
        matches!(
            error,
            ToleranceError::Scenario(_) | ToleranceError::Touch(TouchError::Lowering(_))
        )
    };
    match (at(-step), at(step)) {
        (Ok(less), Ok(more)) => Ok([(-step, less), (step, more)]),
        (Ok(less), Err(error)) if is_no_panel(&error) => Ok([(-step, less), (0.0, at(0.0)?)]),
        (Err(error), Ok(more)) if is_no_panel(&error) => Ok([(0.0, at(0.0)?), (step, more)]),
        (Err(error), _) | (_, Err(error)) => Err(error),
    }
}
