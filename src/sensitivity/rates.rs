//! Rates of what all pads show of a solved touch to one parameter.

use super::parameter::PanelFamily;
use super::place::PlaceError;
use super::touch::{DifferentiatedTouch, lowered};
use crate::panel::lowering::Lowered;
use crate::touch::{PAD_NUMBERS, PadTouch, TouchError, TouchPlace};
use padfield_engine::field::Settings;

/// Step of a numerical derivative of an output, as a share of a value: small against curvature, large
/// against rounding.
const SMALL: f64 = 1e-4;
/// Step of a rate of grid lines and of differences of panels that are solved again on the same lines.
pub(super) const STEP: f64 = 0.01;

/// Rates of the numbers of every pad, by panel index; none for pads that are not in the model.
pub(super) type AllRates = Vec<Option<[f64; PAD_NUMBERS]>>;

/// From what all pads show at both ends of a step.
fn slopes([low, high]: &[Vec<Option<PadTouch>>; 2], span: f64) -> AllRates {
    let both = low.iter().zip(high);
    both.map(|(low, high)| {
        let (low, high) = ((*low)?.numbers(), (*high)?.numbers());
        Some(std::array::from_fn(|number| {
            (high[number] - low[number]) / span
        }))
    })
    .collect()
}

impl DifferentiatedTouch {
    /// Rates per unit of a parameter, around the values `moved`; none when the grid lines do not carry it.
    pub(super) fn rates_at(
        &self,
        family: &PanelFamily,
        place: &TouchPlace,
        moved: &[(usize, f64)],
        index: usize,
    ) -> Result<Option<AllRates>, PlaceError> {
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
        let [low, high] = [low, high].map(|end| end * SMALL / STEP);
        let sides = [
            self.moved_pads(&followed, low, &at(low)?)?,
            self.moved_pads(&followed, high, &at(high)?)?,
        ];
        Ok(Some(slopes(&sides, high - low)))
    }
}

/// The field problem of a place with some parameters at other values.
pub(super) fn case(
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
    match (at(-step), at(step)) {
        (Ok(less), Ok(more)) => Ok([(-step, less), (step, more)]),
        (Ok(less), Err(error)) if error.is_no_panel() => Ok([(-step, less), (0.0, at(0.0)?)]),
        (Err(error), Ok(more)) if error.is_no_panel() => Ok([(0.0, at(0.0)?), (step, more)]),
        (Err(error), _) | (_, Err(error)) => Err(error),
    }
}
