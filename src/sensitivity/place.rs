//! A place solved with the rates of what one of its pads shows, and the same place on other members of the
//! family.

use super::parameter::{PanelFamily, Parameter};
use super::touch::{DifferentiatedTouch, lowered};
use crate::field::{FieldError, Printed, Settings};
use crate::panel::lowering::Lowered;
use crate::scenario::ScenarioError;
use crate::touch::{PAD_NUMBERS, PadTouch, TouchError, TouchPlace, WorkLimits};

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

/// Why a place has no rates.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlaceError {
    /// A value makes an impossible panel.
    #[error(transparent)]
    Scenario(#[from] Box<ScenarioError>),
    /// The touch could not be solved.
    #[error(transparent)]
    Touch(#[from] TouchError),
    /// The pad is no conductor of the model.
    #[error("the pad is not in the model: use model volume")]
    NotInModel,
}

impl From<ScenarioError> for PlaceError {
    fn from(error: ScenarioError) -> Self {
        Self::Scenario(Box::new(error))
    }
}

/// A place solved, with the rates of what one pad shows.
#[derive(Clone, Debug)]
pub struct PlaceModel {
    place: TouchPlace,
    pad: usize,
    touch: DifferentiatedTouch,
    /// As this solution has it.
    own: PadTouch,
    /// At nominal values, as whoever asks knows it: what is solved here counts relative to this solution.
    pub nominal: PadTouch,
    /// Rates of the numbers of `nominal` per unit of every parameter, SI; zero for those that were not
    /// asked for and those beside the field.
    pub rates: Vec<[f64; PAD_NUMBERS]>,
    /// How the rates of every parameter were found.
    pub ways: Vec<Way>,
    /// Field problems solved so far.
    pub problems: usize,
}

/// A place on a panel with other parameters.
#[derive(Clone, Debug)]
pub struct Solved {
    /// The active parameters, scaled to -1 to 1.
    pub at: Vec<f64>,
    /// What the pad shows.
    pub touch: PadTouch,
    /// Slopes of its numbers to the scaled parameters, where they are known.
    pub slopes: Vec<Option<[f64; PAD_NUMBERS]>>,
}

fn pad_touch(touch: &DifferentiatedTouch, pad: usize) -> Result<PadTouch, PlaceError> {
    touch.pad(pad)?.ok_or(PlaceError::NotInModel)
}

impl PlaceModel {
    /// Solves a place once with derivatives to the parameters that are wanted; those that the grid lines do
    /// not carry are solved to either side. `known` is what the pad shows where that was solved before.
    ///
    /// # Errors
    /// See [`PlaceError`].
    pub fn new(
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        known: Option<PadTouch>,
        wanted: &dyn Fn(&Parameter) -> bool,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, PlaceError> {
        asked_to_stop(limits)?;
        let settings = Settings {
            derivatives: true,
            memory_cap_bytes: limits.settings.memory_cap_bytes
                / rayon::current_num_threads() as u64,
            ..limits.settings.clone()
        };
        let solve = |settings: &Settings| {
            DifferentiatedTouch::solve(&family.panel, place, settings, &|_| {})
        };
        // What does not fit into a share of the memory has all of it.
        let touch = match solve(&settings) {
            Err(TouchError::Field(FieldError::TooLarge { .. })) => solve(&Settings {
                memory_cap_bytes: limits.settings.memory_cap_bytes,
                ..settings.clone()
            })?,
            found => found?,
        };
        let own = pad_touch(&touch, pad)?;
        let way = |parameter: &Parameter| match parameter.changes_field {
            true => Way::Derivative,
            false => Way::Circuit,
        };
        let mut model = Self {
            place: place.clone(),
            pad,
            own,
            nominal: known.unwrap_or(own),
            touch,
            rates: vec![[0.0; PAD_NUMBERS]; family.parameters.len()],
            ways: family.parameters.iter().map(way).collect(),
            problems: 1,
        };
        for (index, parameter) in family.parameters.iter().enumerate() {
            if !parameter.changes_field || parameter.value == 0.0 || !wanted(parameter) {
                continue;
            }
            let values = [(index, parameter.value)];
            let own_rates = match model.touch.rate_at(family, place, pad, &values, index)? {
                Some(rates) => rates,
                None => {
                    asked_to_stop(limits)?;
                    model.ways[index] = Way::Difference;
                    model.problems += 2;
                    model.difference(family, index)?
                }
            };
            model.rates[index] = model.anchored_rates(own_rates);
        }
        (limits.progress)("a place and its derivatives solved");
        Ok(model)
    }

    /// Cells of its grid.
    pub fn cells(&self) -> usize {
        self.touch.answer().grid.cells
    }

    /// Whether the accuracy was reached.
    pub fn accuracy_reached(&self) -> bool {
        self.touch.answer().accuracy.reached
    }

    /// What missed it.
    pub fn missed(&self) -> &[Printed] {
        &self.touch.answer().accuracy.missed
    }

    /// What the pad shows with one parameter moved, to first order.
    pub fn moved(&self, index: usize, by: f64) -> PadTouch {
        let mut numbers = self.nominal.numbers();
        for (number, rate) in numbers.iter_mut().zip(self.rates[index]) {
            *number += by * rate;
        }
        PadTouch::from_numbers(numbers)
    }

    /// What the pad shows with some parameters at other values, solved again.
    ///
    /// # Errors
    /// See [`PlaceError`]; an impossible panel among them.
    pub fn solved_again(
        &mut self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        limits: &WorkLimits<'_>,
    ) -> Result<PadTouch, PlaceError> {
        asked_to_stop(limits)?;
        self.problems += 1;
        let touch = self.solve(family, moved, false)?;
        Ok(self.anchored(pad_touch(&touch, self.pad)?))
    }

    /// What the pad shows with some parameters moved by so much, each number a power of every parameter through
    /// its value and slope: of one sign however far they move.
    pub fn carried(&self, moved: &[(usize, f64)]) -> PadTouch {
        let nominal = self.nominal.numbers();
        PadTouch::from_numbers(std::array::from_fn(|number| {
            let before = nominal[number];
            if before == 0.0 {
                return 0.0;
            }
            let each = moved
                .iter()
                .map(|(index, by)| self.rates[*index][number] * by / before);
            before * each.sum::<f64>().exp()
        }))
    }

    fn anchored(&self, touch: PadTouch) -> PadTouch {
        self.nominal.scaled_like(&self.own, &touch)
    }

    fn anchored_rates(&self, rates: [f64; PAD_NUMBERS]) -> [f64; PAD_NUMBERS] {
        let (own, nominal) = (self.own.numbers(), self.nominal.numbers());
        std::array::from_fn(|number| {
            let ratio = nominal[number] / own[number];
            match ratio.is_finite() && ratio > 0.0 {
                true => rates[number] * ratio,
                false => rates[number],
            }
        })
    }

    /// Rates by solving to either side.
    fn difference(
        &self,
        family: &PanelFamily,
        index: usize,
    ) -> Result<[f64; PAD_NUMBERS], PlaceError> {
        let value = family.parameters[index].value;
        let sides = ends(STEP * value.abs(), |by| {
            case(family, &self.place, &[(index, value + by)])
        })?;
        let mut numbers = [[0.0; PAD_NUMBERS]; 2];
        for (end, (by, _)) in numbers.iter_mut().zip(&sides) {
            let moved = [(index, value + by)];
            let touch = self.solve(family, &moved, false)?;
            *end = pad_touch(&touch, self.pad)?.numbers();
        }
        let span = sides[1].0 - sides[0].0;
        Ok(std::array::from_fn(|number| {
            (numbers[1][number] - numbers[0][number]) / span
        }))
    }

    fn solve(
        &self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        derivatives: bool,
    ) -> Result<DifferentiatedTouch, PlaceError> {
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

    /// This place on a member of the family, at scaled values of the active parameters; with slopes to those
    /// that the grid lines carry when `with_slopes`.
    ///
    /// # Errors
    /// See [`PlaceError`].
    pub fn solve_at(
        &self,
        family: &PanelFamily,
        active: &[(usize, f64, f64)],
        at: &[f64],
        with_slopes: bool,
        limits: &WorkLimits<'_>,
    ) -> Result<Solved, PlaceError> {
        asked_to_stop(limits)?;
        let moved: Vec<(usize, f64)> = active
            .iter()
            .zip(at)
            .map(|((index, middle, half), z)| (*index, middle + half * z))
            .collect();
        let touch = self.solve(family, &moved, with_slopes)?;
        let place = TouchPlace {
            finger: family.finger(&self.place.finger, &moved),
            pad: self.place.pad,
        };
        let mut slopes = Vec::with_capacity(active.len());
        for (index, _, half) in active {
            let is_followed = with_slopes && self.ways[*index] == Way::Derivative;
            let rates = match is_followed {
                true => touch.rate_at(family, &place, self.pad, &moved, *index)?,
                false => None,
            };
            let anchored = rates.map(|rates| self.anchored_rates(rates));
            slopes.push(anchored.map(|rates| rates.map(|rate| rate * half)));
        }
        Ok(Solved {
            at: at.to_vec(),
            touch: self.anchored(pad_touch(&touch, self.pad)?),
            slopes,
        })
    }
}

fn asked_to_stop(limits: &WorkLimits<'_>) -> Result<(), PlaceError> {
    match (limits.stop)() {
        true => Err(TouchError::Interrupted.into()),
        false => Ok(()),
    }
}

/// Rates of a solved touch to one parameter.
trait Rates {
    /// Rates of the numbers per unit of a parameter, around the values `moved`; none when the grid
    /// lines do not carry it.
    fn rate_at(
        &self,
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        moved: &[(usize, f64)],
        index: usize,
    ) -> Result<Option<[f64; PAD_NUMBERS]>, PlaceError>;
}

impl Rates for DifferentiatedTouch {
    fn rate_at(
        &self,
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        moved: &[(usize, f64)],
        index: usize,
    ) -> Result<Option<[f64; PAD_NUMBERS]>, PlaceError> {
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
        let mut numbers = [[0.0; PAD_NUMBERS]; 2];
        for (end, by) in numbers.iter_mut().zip(small) {
            let touch = self.moved_pad(&followed, by, &at(by)?, pad)?;
            *end = touch.ok_or(PlaceError::NotInModel)?.numbers();
        }
        let span = small[1] - small[0];
        Ok(Some(std::array::from_fn(|number| {
            (numbers[1][number] - numbers[0][number]) / span
        })))
    }
}

/// The field problem of a place with some parameters at other values.
fn case(
    family: &PanelFamily,
    place: &TouchPlace,
    moved: &[(usize, f64)],
) -> Result<Lowered, PlaceError> {
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
    at: impl Fn(f64) -> Result<Lowered, PlaceError>,
) -> Result<[(f64, Lowered); 2], PlaceError> {
    let is_no_panel = |error: &PlaceError| {
        matches!(
            error,
            PlaceError::Scenario(_) | PlaceError::Touch(TouchError::Lowering(_))
        )
    };
    match (at(-step), at(step)) {
        (Ok(less), Ok(more)) => Ok([(-step, less), (step, more)]),
        (Ok(less), Err(error)) if is_no_panel(&error) => Ok([(-step, less), (0.0, at(0.0)?)]),
        (Err(error), Ok(more)) if is_no_panel(&error) => Ok([(0.0, at(0.0)?), (step, more)]),
        (Err(error), _) | (_, Err(error)) => Err(error),
    }
}
