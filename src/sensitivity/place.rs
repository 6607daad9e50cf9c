//! A place solved with the rates of what one of its pads shows, and the same place on other members of the
//! family.

use super::beside::{Beside, Found};
use super::pad_rates::{Moved, PadRates};
use super::parameter::{PanelFamily, Parameter};
use super::rates::{AllRates, STEP, case};
use super::touch::DifferentiatedTouch;
use crate::input::ScenarioError;
use crate::touch::{PAD_NUMBERS, PadTouch, Tally, TouchError, TouchPlace, WorkLimits, sharing};
use padfield_engine::field::{FieldError, Printed, Settings};
use padfield_engine::grid::line_coordinates;
use rayon::prelude::*;

/// How the rates of a parameter were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From the solution that is there.
    Derivative,
    /// From panels beside it, solved for the purpose.
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

impl PlaceError {
    /// Whether the values make no panel.
    pub(super) fn is_no_panel(&self) -> bool {
        matches!(
            self,
            Self::Scenario(_) | Self::Touch(TouchError::Lowering(_))
        )
    }
}

/// A place solved, with the rates of what its pads show; one of them is watched.
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
    /// What every pad shows in this solution, by panel index; none for pads that are not in the model.
    pub all: Vec<Option<PadRates>>,
    /// How the rates of every parameter were found.
    pub ways: Vec<Way>,
    /// Nominal values of all parameters.
    values: Vec<f64>,
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

/// Whether a parameter gets rates.
fn is_asked(parameter: &Parameter, wanted: &dyn Fn(&Parameter) -> bool) -> bool {
    parameter.changes_field && parameter.value != 0.0 && wanted(parameter)
}

/// Whether anything lies elsewhere along the first two axes where a parameter has another value, or cannot be
/// told.
fn moves_along_face(family: &PanelFamily, place: &TouchPlace, index: usize) -> bool {
    let value = family.parameters[index].value;
    let along_face = |by: f64| {
        let lowered = case(family, place, &[(index, value + by)]).ok()?;
        let [x, y, _] = line_coordinates(&lowered.case);
        Some([x, y])
    };
    let [less, more] = [-STEP, STEP].map(|step| along_face(step * value.abs()));
    less.is_none() || less != more
}

/// What every pad shows, by panel index.
type Shown = Vec<Option<PadTouch>>;

fn shown(touch: &DifferentiatedTouch, pad: usize) -> Result<(Shown, PadTouch), PlaceError> {
    let all = touch.pads()?;
    let own = all[pad].ok_or(PlaceError::NotInModel)?;
    Ok((all, own))
}

impl PlaceModel {
    /// Solves a place once with derivatives to the parameters that are wanted; those that the grid lines do
    /// not carry are solved beside it. It watches one pad, and knows of `only` some others or of all. `known` is
    /// what the pad shows where that was solved before.
    ///
    /// # Errors
    /// See [`PlaceError`].
    pub fn new(
        family: &PanelFamily,
        place: &TouchPlace,
        (pad, only): (usize, Option<&[usize]>),
        known: Option<PadTouch>,
        wanted: &(dyn Fn(&Parameter) -> bool + Sync),
        limits: &WorkLimits<'_>,
    ) -> Result<Self, PlaceError> {
        asked_to_stop(limits)?;
        let asked: Vec<usize> = (0..family.parameters.len())
            .filter(|&index| is_asked(&family.parameters[index], wanted))
            .collect();
        // The place itself, then whatever its solution does not tell.
        let tally = Tally::new(
            asked.len() + 1,
            "solves for derivatives done",
            limits.progress,
        );
        let tell = |text: &str| tally.tell(text);
        let limits = &limits.heard_by(&tell);
        let shared = sharing(&limits.settings);
        // On a grid that is shared by places, lines do not carry what moves along the face.
        let is_followed = |index: usize, parameter: &Parameter| {
            !is_asked(parameter, wanted) || !moves_along_face(family, place, index)
        };
        let mut all = family.parameters.iter().enumerate();
        let roaming = shared
            .roaming
            .filter(|_| all.all(|(index, one)| is_followed(index, one)));
        let settings = Settings {
            roaming,
            derivatives: true,
            memory_cap_bytes: limits.settings.memory_cap_bytes
                / rayon::current_num_threads() as u64,
            ..limits.settings.clone()
        };
        let solve = |settings: &Settings| {
            let limits = limits.under(settings.clone());
            DifferentiatedTouch::solve_for(&family.panel, place, only, &limits)
        };
        // What does not fit into a share of the memory has all of it.
        let touch = match solve(&settings) {
            Err(TouchError::Field(FieldError::TooLarge { .. } | FieldError::NoMemory { .. })) => {
                solve(&Settings {
                    memory_cap_bytes: limits.settings.memory_cap_bytes,
                    ..settings.clone()
                })?
            }
            found => found?,
        };
        tally.add();
        let (all, own) = shown(&touch, pad)?;
        let still = |nominal: PadTouch| PadRates {
            nominal,
            rates: vec![[0.0; PAD_NUMBERS]; family.parameters.len()],
        };
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
            all: all.into_iter().map(|one| one.map(still)).collect(),
            values: family.parameters.iter().map(|p| p.value).collect(),
            ways: family.parameters.iter().map(way).collect(),
            problems: 1,
        };
        let followed = |&index: &usize| -> Result<Option<Found>, PlaceError> {
            let values = [(index, family.parameters[index].value)];
            let rates = model.touch.rates_at(family, place, &values, index)?;
            Ok(rates.map(|rates| (index, rates)).inspect(|_| tally.add()))
        };
        let followed: Vec<Option<Found>> =
            asked.par_iter().map(followed).collect::<Result<_, _>>()?;
        let others: Vec<usize> = asked
            .iter()
            .zip(&followed)
            .filter_map(|(&index, found)| found.is_none().then_some(index))
            .collect();
        let beside = Beside {
            model: &model,
            family,
            limits,
            // Where the touch found room in a share of the memory.
            side_by_side: model.touch.memory_cap_bytes() == settings.memory_cap_bytes,
            done: &|| tally.add(),
        };
        let (found, problems) = beside.rates(&others)?;
        model.problems += problems;
        for (index, rates) in followed.into_iter().flatten() {
            model.learn(index, Way::Derivative, rates)?;
        }
        for (index, rates) in found {
            model.learn(index, Way::Difference, rates)?;
        }
        Ok(model)
    }

    /// Cells of its grid.
    pub fn cells(&self) -> usize {
        self.touch.answer().grid.cells
    }

    pub fn accuracy_reached(&self) -> bool {
        self.touch.answer().accuracy.reached
    }

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

    /// What every pad shows with some parameters at other values, solved again; to be compared with
    /// [`PlaceModel::all`].
    ///
    /// # Errors
    /// See [`PlaceError`]; an impossible panel among them.
    pub fn solved_again(
        &mut self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        limits: &WorkLimits<'_>,
    ) -> Result<Vec<Option<PadTouch>>, PlaceError> {
        asked_to_stop(limits)?;
        self.problems += 1;
        let touch = self.solve(family, moved, false, limits)?;
        Ok(shown(&touch, self.pad)?.0)
    }

    /// What the pad shows with some parameters at other values, as [`PadRates::carried`] has it.
    pub fn carried(&self, moved: &[(usize, f64)]) -> PadTouch {
        let moved: Vec<Moved> = moved
            .iter()
            .map(|&(index, to)| Moved {
                index,
                from: self.values[index],
                to,
            })
            .collect();
        let own = PadRates {
            nominal: self.nominal,
            rates: self.rates.clone(),
        };
        own.carried(&moved)
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

    /// What every pad shows with some parameters at other values, solved beside this place on its lines.
    pub(super) fn beside(
        &self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        limits: &WorkLimits<'_>,
    ) -> Result<Shown, PlaceError> {
        asked_to_stop(limits)?;
        Ok(shown(&self.solve(family, moved, false, limits)?, self.pad)?.0)
    }

    /// What the watched pad shows here, and there.
    pub(super) fn watched(&self, there: &[Option<PadTouch>]) -> Option<(PadTouch, PadTouch)> {
        Some((self.all[self.pad].as_ref()?.nominal, there[self.pad]?))
    }

    pub(super) fn place(&self) -> &TouchPlace {
        &self.place
    }

    pub(super) fn touch(&self) -> &DifferentiatedTouch {
        &self.touch
    }

    /// Takes over the rates to a parameter.
    fn learn(&mut self, index: usize, way: Way, rates: AllRates) -> Result<(), PlaceError> {
        self.ways[index] = way;
        self.rates[index] = self.anchored_rates(rates[self.pad].ok_or(PlaceError::NotInModel)?);
        for (one, rates) in self.all.iter_mut().zip(rates) {
            if let (Some(one), Some(rates)) = (one, rates) {
                one.rates[index] = rates;
            }
        }
        Ok(())
    }

    fn solve(
        &self,
        family: &PanelFamily,
        moved: &[(usize, f64)],
        derivatives: bool,
        limits: &WorkLimits<'_>,
    ) -> Result<DifferentiatedTouch, PlaceError> {
        let panel = family.panel(moved)?;
        let place = TouchPlace {
            finger: family.finger(&self.place.finger, moved),
            pad: self.place.pad,
        };
        let limits = limits.under(Settings {
            derivatives,
            ..self.touch.neighbour_settings()
        });
        let only = self.touch.only();
        Ok(DifferentiatedTouch::solve_for(
            &panel, &place, only, &limits,
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
        let touch = self.solve(family, &moved, with_slopes, limits)?;
        let place = TouchPlace {
            finger: family.finger(&self.place.finger, &moved),
            pad: self.place.pad,
        };
        let mut slopes = Vec::with_capacity(active.len());
        for (index, _, half) in active {
            let is_followed = with_slopes && self.ways[*index] == Way::Derivative;
            let rates = match is_followed {
                true => touch.rates_at(family, &place, &moved, *index)?,
                false => None,
            };
            let own = rates.and_then(|rates| rates[self.pad]);
            let anchored = own.map(|rates| self.anchored_rates(rates));
            slopes.push(anchored.map(|rates| rates.map(|rate| rate * half)));
        }
        Ok(Solved {
            at: at.to_vec(),
            touch: self.anchored(shown(&touch, self.pad)?.1),
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
