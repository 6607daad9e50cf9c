//! Rates to what no grid line carries: panels beside the nominal one are solved, many values of a kind together
//! where they hardly move what the pad shows.

use super::PanelFamily;
use super::pad_rates::PadRates;
use super::parameter::Parameter;
use super::place::{PlaceError, PlaceModel};
use super::rates::{AllRates, STEP, case};
use crate::input::catalogue::varied;
use crate::panel::lowering::Lowered;
use crate::touch::{PAD_NUMBERS, PadTouch, WorkLimits};
use padfield_engine::grid::has_lines_of;
use rayon::prelude::*;

/// Step between panels whose lines are not the same: what two grids err by apart counts five times less than at
/// [`STEP`], and what a power law leaves of so much is still small.
const WIDE_STEP: f64 = 0.05;
/// Values of one kind that are first moved together: fewer are solved one by one with as little.
const FEWEST_TOGETHER: usize = 4;
/// Values stand still when all of a kind together move no number of the pad by more than this share of the accuracy
/// asked for, or of [`LEAST_ACCURACY`]. Each moves a base less than all of them do, because a base grows with every
/// conductor.
const STILL_SHARE: f64 = 0.1;
const LEAST_ACCURACY: f64 = 0.05;

/// A value, and what every pad shows at it.
type Side = (f64, Vec<Option<PadTouch>>);
/// The rates to a parameter, by index.
pub(super) type Found = (usize, AllRates);

/// Who solves beside a place.
pub(super) struct Beside<'a> {
    pub model: &'a PlaceModel,
    pub family: &'a PanelFamily,
    pub limits: &'a WorkLimits<'a>,
    /// Whether there is memory for several at once.
    pub side_by_side: bool,
    /// Hears of every parameter whose rates are known.
    pub done: &'a (dyn Fn() + Sync),
}

impl Beside<'_> {
    /// Rates to all of these, and how many field problems that took.
    pub fn rates(&self, indices: &[usize]) -> Result<(Vec<Found>, usize), PlaceError> {
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for &index in indices {
            let same = |group: &&mut Vec<usize>| self.is_alike(group[0], index);
            match groups.iter_mut().find(same) {
                Some(group) => group.push(index),
                None => groups.push(vec![index]),
            }
        }
        self.each(groups.iter().map(Vec::as_slice).collect())
    }

    /// Whether two values are the same key of one kind of section, and neither has a tolerance of its own.
    fn is_alike(&self, one: usize, other: usize) -> bool {
        let key = |index: usize| {
            let Parameter { path, spread, .. } = &self.family.parameters[index];
            varied(path).filter(|_| spread.is_none())
        };
        match (key(one), key(other)) {
            (Some(one), Some(other)) => std::ptr::eq(one, other),
            _ => false,
        }
    }

    fn each(&self, groups: Vec<&[usize]>) -> Result<(Vec<Found>, usize), PlaceError> {
        let of_group = |group: &[usize]| self.of_group(group);
        let found: Vec<(Vec<Found>, usize)> = match self.side_by_side {
            true => groups
                .into_par_iter()
                .map(of_group)
                .collect::<Result<_, _>>()?,
            false => groups.into_iter().map(of_group).collect::<Result<_, _>>()?,
        };
        let problems = found.iter().map(|one| one.1).sum();
        Ok((found.into_iter().flat_map(|one| one.0).collect(), problems))
    }

    /// Values of one kind: together, then each half of them, until they are few.
    fn of_group(&self, group: &[usize]) -> Result<(Vec<Found>, usize), PlaceError> {
        if group.len() < FEWEST_TOGETHER {
            let mut all = (Vec::new(), 0);
            for &index in group {
                let (rates, problems) = self.difference(index)?;
                all.0.push((index, rates));
                all.1 += problems;
                (self.done)();
            }
            return Ok(all);
        }
        if self.is_still(group)? {
            let rates = |&index: &usize| (index, self.still());
            group.iter().for_each(|_| (self.done)());
            return Ok((group.iter().map(rates).collect(), 1));
        }
        let (first, second) = group.split_at(group.len() / 2);
        let (found, problems) = self.each(vec![first, second])?;
        Ok((found, problems + 1))
    }

    /// Whether all of them together hardly move what the pad shows; not where there is no such panel.
    fn is_still(&self, group: &[usize]) -> Result<bool, PlaceError> {
        let moved: Vec<(usize, f64)> = group
            .iter()
            .map(|&index| (index, self.value(index) * (1.0 + WIDE_STEP)))
            .collect();
        let shown = match self.model.beside(self.family, &moved, self.limits) {
            Ok(shown) => shown,
            Err(error) if error.is_no_panel() => return Ok(false),
            Err(error) => return Err(error),
        };
        let most = STILL_SHARE * self.limits.settings.accuracy.min(LEAST_ACCURACY);
        let is_near = |(here, there): (f64, f64)| (there - here).abs() <= most * here.abs();
        let numbers = |touch: &PadTouch| touch.numbers();
        let watched = self.model.watched(&shown);
        Ok(watched.is_some_and(|(here, there)| {
            let both = numbers(&here).into_iter().zip(numbers(&there));
            both.into_iter().all(is_near)
        }))
    }

    fn still(&self) -> AllRates {
        let none = |one: &Option<_>| one.as_ref().map(|_| [0.0; PAD_NUMBERS]);
        self.model.all.iter().map(none).collect()
    }

    fn value(&self, index: usize) -> f64 {
        self.family.parameters[index].value
    }

    /// Rates of the powers through two panels: this one and one beside it on the same lines, else one to either side,
    /// so that what parted lines change of the grid is in both; this one and one beside it again where the other side
    /// is impossible.
    fn difference(&self, index: usize) -> Result<(AllRates, usize), PlaceError> {
        let here = &self.model.touch().lowered().case;
        let value = self.value(index);
        let at = |step: f64| {
            let to = value + step * value.abs();
            let panel = case(self.family, self.model.place(), &[(index, to)]);
            panel.map(|panel| (to, panel))
        };
        let on_same_lines = [STEP, -STEP].into_iter().find_map(|step| {
            let beside = at(step).ok()?;
            has_lines_of(&beside.1.case, here).then_some(beside.0)
        });
        let mut ends: Vec<f64> = match on_same_lines {
            Some(to) => vec![to],
            None => [-WIDE_STEP, WIDE_STEP]
                .into_iter()
                .filter_map(|step| possible(at(step)).transpose())
                .collect::<Result<_, _>>()?,
        };
        // At the edge of what is possible the curve may bend: the nearer panel on the one side.
        if let ([to], None) = (&mut ends[..], on_same_lines) {
            *to = value + STEP * (*to - value) / WIDE_STEP;
        }
        let mut sides = ends
            .iter()
            .map(|&to| {
                Ok((
                    to,
                    self.model
                        .beside(self.family, &[(index, to)], self.limits)?,
                ))
            })
            .collect::<Result<Vec<Side>, PlaceError>>()?;
        if sides.len() < 2 {
            let nominal = self.model.all.iter();
            let nominal = nominal.map(|one| one.as_ref().map(|one| one.nominal));
            sides.push((value, nominal.collect()));
        }
        let [(from, low), (to, high)] = &sides[..] else {
            return Err(at(WIDE_STEP).err().unwrap_or(PlaceError::NotInModel));
        };
        let all = self.model.all.iter().zip(low.iter().zip(high));
        let through =
            |(one, (low, high)): (&Option<PadRates>, (&Option<PadTouch>, &Option<PadTouch>))| {
                let ends = [(*from, (*low)?), (*to, (*high)?)];
                Some(one.as_ref()?.rates_through(value, ends))
            };
        Ok((all.map(through).collect(), ends.len()))
    }
}

/// The value, where there is a panel with it.
fn possible(side: Result<(f64, Lowered), PlaceError>) -> Result<Option<f64>, PlaceError> {
    match side {
        Ok((to, _)) => Ok(Some(to)),
        Err(error) if error.is_no_panel() => Ok(None),
        Err(error) => Err(error),
    }
}
