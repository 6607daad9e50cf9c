//! Fits over the places of a spread: which parameters matter, where to solve, how good the fit is.

use super::ToleranceError;
use super::field_model::FieldModel;
use super::surrogate::{Observation, Quadratic};
use super::worst::Response;
use crate::sensitivity::{PanelFamily, PlaceModel, Solved, Way};
use crate::touch::{PAD_NUMBERS, PadTouch, Tally, WorkLimits};
use rayon::prelude::*;

/// Parameters that do less than this share of what the strongest one does to every output stay
/// linear.
const NEGLIGIBLE: f64 = 0.02;
/// Equations per coefficient of a fit.
const EQUATIONS_PER_TERM: f64 = 2.0;
/// Places, among the parameters, that are solved to test a fit and not used by it.
const HELD_OUT: usize = 6;
/// A fit is good enough when its error at those places is at most this share of the spread.
const GOOD_ENOUGH: f64 = 0.05;
/// Rounds of more solves.
const MOST_ROUNDS: usize = 3;

/// Quality of a fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurrogateQuality {
    /// Field problems the fit stands on, all places together.
    pub solves: usize,
    /// Field problems it was tested at and that it does not know.
    pub held_out: usize,
    /// Root mean square of its error there over the standard deviation of the output, the worst of all.
    pub share_of_spread: f64,
    /// Largest relative error of a base or shift there.
    pub largest_error: f64,
    /// Parameters with squares and products; the others are linear.
    pub active: usize,
}

impl SurrogateQuality {
    /// Whether the error is small beside the spread.
    pub fn is_good(&self) -> bool {
        self.share_of_spread <= GOOD_ENOUGH
    }
}

/// The fits of all places.
#[derive(Clone, Debug)]
pub(super) struct Surrogate {
    /// Parameters with squares and products: index, middle and half width of their reach.
    active: Vec<(usize, f64, f64)>,
    /// Nominal values of all parameters.
    nominal: Vec<f64>,
    fits: Vec<[Fit; PAD_NUMBERS]>,
    pub quality: SurrogateQuality,
}

#[derive(Clone, Debug)]
struct Fit {
    is_logarithmic: bool,
    quadratic: Quadratic,
    /// Slopes of the parameters that stay linear, in the scale of the fit.
    linear: Vec<(usize, f64)>,
}

impl FieldModel {
    /// Fits quadratics over the reach of all parameters that spread, with more solves until the error at
    /// places it does not know is small beside the spread.
    pub fn surrogate(
        &self,
        family: &PanelFamily,
        seed: u64,
        limits: &WorkLimits<'_>,
    ) -> Result<Surrogate, ToleranceError> {
        let active = self.active(family);
        let followed = active
            .iter()
            .filter(|(index, ..)| self.ways[*index] == Way::Derivative)
            .count();
        let equations = EQUATIONS_PER_TERM * Quadratic::terms(active.len()) as f64;
        let mut wanted = (equations / (1 + followed) as f64).ceil() as usize;
        let mut solved: Vec<Vec<Solved>> = self
            .places
            .iter()
            .map(|p| vec![p.solved(family, &active)])
            .collect();
        let held_out = self.design(
            family,
            &active,
            0..held_out_count(&active),
            seed,
            false,
            limits,
        )?;
        let first = held_out_count(&active);
        let mut done = 0;
        let mut surrogate = None;
        for _ in 0..MOST_ROUNDS {
            if !active.is_empty() {
                let places = first + done..first + wanted;
                let more = self.design(family, &active, places, seed, true, limits)?;
                for (all, more) in solved.iter_mut().zip(more) {
                    all.extend(more);
                }
            }
            done = wanted;
            let fitted = self.fitted(&active, &solved, &held_out, family);
            let is_good = fitted.quality.is_good();
            surrogate = Some(fitted);
            if is_good || active.is_empty() {
                break;
            }
            wanted *= 2;
        }
        surrogate.ok_or(ToleranceError::NoPair)
    }

    /// Parameters of the field that spread and do something.
    fn active(&self, family: &PanelFamily) -> Vec<(usize, f64, f64)> {
        let varying: Vec<(usize, f64, f64)> = family
            .parameters
            .iter()
            .enumerate()
            .filter(|(_, parameter)| parameter.changes_field)
            .filter_map(|(index, parameter)| {
                let [least, most] = parameter.spread?.reach();
                Some((index, 0.5 * (least + most), 0.5 * (most - least)))
            })
            .filter(|(_, _, half)| *half > 0.0)
            .collect();
        let effect = |index: usize, half: f64, place: &PlaceModel, number: usize| {
            (half * place.rates[index][number] / place.nominal.numbers()[number]).abs()
        };
        // Base and shift decide; what passes through the finger follows them.
        let outputs: Vec<(&PlaceModel, usize)> = self
            .places
            .iter()
            .flat_map(|place| [(place, 0), (place, 1)])
            .collect();
        let largest: Vec<f64> = outputs
            .iter()
            .map(|(place, number)| {
                let each = varying.iter();
                each.map(|(index, _, half)| effect(*index, *half, place, *number))
                    .fold(0.0, f64::max)
            })
            .collect();
        varying
            .into_iter()
            .filter(|(index, _, half)| {
                let mut pairs = outputs.iter().zip(&largest);
                pairs.any(|((place, number), largest)| {
                    effect(*index, *half, place, *number) > NEGLIGIBLE * largest
                })
            })
            .collect()
    }

    /// Solves places among the parameters, numbered by a low-discrepancy sequence.
    #[allow(clippy::too_many_arguments)]
    fn design(
        &self,
        family: &PanelFamily,
        active: &[(usize, f64, f64)],
        numbers: std::ops::Range<usize>,
        seed: u64,
        with_slopes: bool,
        limits: &WorkLimits<'_>,
    ) -> Result<Vec<Vec<Solved>>, ToleranceError> {
        let tasks: Vec<(usize, usize)> = (0..self.places.len())
            .flat_map(|place| numbers.clone().map(move |number| (place, number)))
            .collect();
        let tally = Tally::new(tasks.len(), "panels of the spread solved", limits.progress);
        let tell = |text: &str| tally.tell(text);
        let limits = limits.heard_by(&tell);
        let solved: Vec<Solved> = tasks
            .par_iter()
            .map(|&(place, number)| {
                let at: Vec<f64> = (0..active.len())
                    .map(|dimension| {
                        let share =
                            sobol_burley::sample(number as u32, dimension as u32, seed as u32);
                        2.0 * f64::from(share) - 1.0
                    })
                    .collect();
                let solved =
                    self.places[place].solve_at(family, active, &at, with_slopes, &limits)?;
                tally.add();
                Ok(solved)
            })
            .collect::<Result<_, ToleranceError>>()?;
        let per_place = numbers.len();
        Ok(match per_place {
            0 => vec![Vec::new(); self.places.len()],
            _ => solved.chunks(per_place).map(<[Solved]>::to_vec).collect(),
        })
    }

    fn fitted(
        &self,
        active: &[(usize, f64, f64)],
        solved: &[Vec<Solved>],
        held_out: &[Vec<Solved>],
        family: &PanelFamily,
    ) -> Surrogate {
        let places = self.places.iter().zip(solved);
        let fits = places
            .map(|(place, solved)| {
                std::array::from_fn(|number| Fit::of(place, number, solved, active, family))
            })
            .collect();
        let mut surrogate = Surrogate {
            active: active.to_vec(),
            nominal: family.parameters.iter().map(|p| p.value).collect(),
            fits,
            quality: SurrogateQuality {
                solves: solved.iter().map(Vec::len).sum(),
                held_out: held_out.iter().map(Vec::len).sum(),
                share_of_spread: 0.0,
                largest_error: 0.0,
                active: active.len(),
            },
        };
        for (place, known) in held_out.iter().enumerate() {
            for (number, fit) in surrogate.fits[place][..2].iter().enumerate() {
                surrogate.quality.test(fit, number, &solved[place], known);
            }
        }
        surrogate
    }
}

fn held_out_count(active: &[(usize, f64, f64)]) -> usize {
    if active.is_empty() { 0 } else { HELD_OUT }
}

fn deviation(values: impl Iterator<Item = f64>) -> f64 {
    let values: Vec<f64> = values.collect();
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    (squares / (count - 1.0).max(1.0)).sqrt()
}

impl SurrogateQuality {
    /// Takes in what a fit of a number says of places it does not know.
    fn test(&mut self, fit: &Fit, number: usize, solved: &[Solved], known: &[Solved]) {
        let values = known.iter().map(|one| one.touch.numbers()[number]);
        let guessed = known.iter().map(|one| fit.at_scaled(&one.at));
        let errors: Vec<f64> = values.clone().zip(guessed).map(|(v, g)| g - v).collect();
        let all = solved.iter().chain(known);
        let spread = deviation(all.map(|one| one.touch.numbers()[number]));
        let root = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len().max(1) as f64).sqrt();
        if spread > 0.0 {
            self.share_of_spread = self.share_of_spread.max(root / spread);
        }
        for (error, value) in errors.iter().zip(values) {
            self.largest_error = self.largest_error.max((error / value).abs());
        }
    }
}

impl Fit {
    /// Of one number of what the pad shows at a place.
    fn of(
        place: &PlaceModel,
        number: usize,
        solved: &[Solved],
        active: &[(usize, f64, f64)],
        family: &PanelFamily,
    ) -> Self {
        let value = |one: &Solved| one.touch.numbers()[number];
        let is_logarithmic = solved.iter().all(|one| value(one) > 0.0);
        let scaled = |value: f64, slope: f64| match is_logarithmic {
            true => slope / value,
            false => slope,
        };
        let observations: Vec<Observation> = solved
            .iter()
            .map(|one| Observation {
                at: one.at.clone(),
                value: match is_logarithmic {
                    true => value(one).ln(),
                    false => value(one),
                },
                slopes: one
                    .slopes
                    .iter()
                    .map(|slopes| slopes.map(|s| scaled(value(one), s[number])))
                    .collect(),
            })
            .collect();
        let is_active = |index: usize| active.iter().any(|(other, ..)| *other == index);
        let spreads =
            (0..family.parameters.len()).filter(|index| family.parameters[*index].spread.is_some());
        let nominal = place.nominal.numbers()[number];
        Self {
            is_logarithmic,
            quadratic: Quadratic::fit(active.len(), &observations),
            linear: spreads
                .filter(|index| !is_active(*index))
                .map(|index| (index, scaled(nominal, place.rates[index][number])))
                .filter(|(_, slope)| *slope != 0.0)
                .collect(),
        }
    }

    fn at_scaled(&self, scaled: &[f64]) -> f64 {
        let value = self.quadratic.at(scaled);
        if self.is_logarithmic {
            value.exp()
        } else {
            value
        }
    }
}

impl Response for Surrogate {
    fn touches(&self, values: &[f64]) -> Vec<PadTouch> {
        let scaled: Vec<f64> = self
            .active
            .iter()
            .map(|(index, middle, half)| (values[*index] - middle) / half)
            .collect();
        self.fits
            .iter()
            .map(|fits| {
                PadTouch::from_numbers(std::array::from_fn(|number| {
                    let fit = &fits[number];
                    let linear: f64 = fit
                        .linear
                        .iter()
                        .map(|(index, slope)| slope * (values[*index] - self.nominal[*index]))
                        .sum();
                    let value = fit.quadratic.at(&scaled) + linear;
                    if fit.is_logarithmic {
                        value.exp()
                    } else {
                        value
                    }
                }))
            })
            .collect()
    }
}
