//! The places of a spread, solved with the rates of what their pad shows.

use super::ToleranceError;
use super::watch::Watch;
use super::worst::Response;
use crate::sensitivity::{PanelFamily, PlaceModel, Way};
use crate::touch::{PadTouch, Tally, WorkLimits};
use padfield_engine::field::{Printed, joined_printed};
use rayon::prelude::*;

/// All places.
#[derive(Clone, Debug)]
pub(super) struct FieldModel {
    pub places: Vec<PlaceModel>,
    /// How the rates of each parameter were found.
    pub ways: Vec<Way>,
    pub field_problems: usize,
    pub cells: usize,
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
    /// Nominal values of all parameters.
    values: Vec<f64>,
}

impl FieldModel {
    /// Solves every place once with derivatives; parameters that the grid lines do not carry are solved
    /// beside their values.
    pub fn new(
        family: &PanelFamily,
        watch: &Watch,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, ToleranceError> {
        let tally = Tally::new(
            watch.places.len(),
            "places with derivatives solved",
            limits.progress,
        );
        let tell = |text: &str| tally.tell(text);
        let limits = limits.heard_by(&tell);
        let places: Vec<PlaceModel> = watch
            .places
            .par_iter()
            .zip(&watch.known)
            .map(|(place, known)| {
                let watched = (watch.pad, Some(&[watch.pad][..]));
                PlaceModel::new(family, place, watched, Some(*known), &|_| true, &limits)
                    .inspect(|_| tally.add())
            })
            .collect::<Result<_, _>>()?;
        let ways = (0..family.parameters.len())
            .map(|index| {
                let ways = || places.iter().map(|place| place.ways[index]);
                let differs = ways().any(|way| way == Way::Difference);
                if differs {
                    Way::Difference
                } else {
                    places
                        .first()
                        .map_or(Way::Circuit, |place| place.ways[index])
                }
            })
            .collect();
        Ok(Self {
            field_problems: places.iter().map(|place| place.problems).sum(),
            cells: places.iter().map(PlaceModel::cells).max().unwrap_or(0),
            accuracy_reached: places.iter().all(PlaceModel::accuracy_reached),
            missed: joined_printed(places.iter().map(PlaceModel::missed)),
            values: family.parameters.iter().map(|p| p.value).collect(),
            places,
            ways,
        })
    }

    /// What the pad shows with one parameter moved, to first order.
    pub fn moved(&self, index: usize, by: f64) -> Vec<PadTouch> {
        self.places
            .iter()
            .map(|place| place.moved(index, by))
            .collect()
    }
}

impl Response for FieldModel {
    /// Powers of the parameters through the nominal values and slopes.
    fn touches(&self, values: &[f64]) -> Vec<PadTouch> {
        let moved: Vec<(usize, f64)> = (0..values.len())
            .filter(|&index| values[index] != self.values[index])
            .map(|index| (index, values[index]))
            .collect();
        self.places
            .iter()
            .map(|place| place.carried(&moved))
            .collect()
    }
}
