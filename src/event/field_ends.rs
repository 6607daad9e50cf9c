//! A touch with the field's inputs at the ends of their tolerances.

use super::corners::{Corners, Shown};
use crate::input::ScenarioError;
use crate::panel::Panel;
use crate::sensitivity::{Moved, PanelFamily, PlaceError, PlaceModel};
use crate::touch::{PadTouch, TouchError, TouchPlace, WorkLimits};
use padfield_engine::field::Printed;

/// What a pad shows of a touch at nominal values, and with every input of the field at the end of its
/// tolerance that gives fewest and most counts.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldEnds {
    pub nominal: PadTouch,
    /// Fewest counts, most counts.
    pub ends: [PadTouch; 2],
    /// Parameters of the family, by index, and their values at both ends \[SI\].
    pub moved: [Vec<(usize, f64)>; 2],
    /// What all pads show at these and other corners.
    pub corners: Corners,
    /// Field problems solved.
    pub problems: usize,
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

/// Whether anything of the field has a tolerance.
pub(crate) fn field_varies(family: &PanelFamily) -> bool {
    let mut all = family.parameters.iter();
    all.any(|parameter| parameter.changes_field && parameter.spread.is_some())
}

impl FieldEnds {
    /// Solves a place with derivatives, and again where the ends are far: where the derivatives, as powers of the
    /// inputs, move base or shift of the pad by more than `FAR`, the farther end is solved; the other one
    /// follows with the same quadratic term, and is solved too where that is more than `CURVED`. `known` is what
    /// the pad shows at nominal values, where that was solved before; `counts` makes counts of what a pad shows. Where
    /// `only` says so the corners know of some pads, that one among them, and not of all.
    /// An end that is no panel keeps what the derivatives make of it. None for a pad that is not in the model.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn solve(
        family: &PanelFamily,
        place: &TouchPlace,
        (pad, only): (usize, Option<&[usize]>),
        known: Option<PadTouch>,
        counts: &dyn Fn(&PadTouch) -> f64,
        limits: &WorkLimits<'_>,
    ) -> Result<Option<Self>, TouchError> {
        let own = |shown: &Shown| shown[pad].map_or(0.0, |touch| counts(&touch));
        Self::solve_for(family, place, (pad, only), known, &own, limits)
    }

    /// The same with the ends of a value of what some pads show, such as their total.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn solve_for(
        family: &PanelFamily,
        place: &TouchPlace,
        (pad, only): (usize, Option<&[usize]>),
        known: Option<PadTouch>,
        value: &dyn Fn(&Shown) -> f64,
        limits: &WorkLimits<'_>,
    ) -> Result<Option<Self>, TouchError> {
        let wanted = |parameter: &crate::sensitivity::Parameter| parameter.spread.is_some();
        let model = PlaceModel::new(family, place, (pad, only), known, &wanted, limits);
        let mut model = match model {
            Ok(model) => model,
            Err(PlaceError::NotInModel) => return Ok(None),
            Err(PlaceError::Touch(error)) => return Err(error),
            Err(PlaceError::Scenario(error)) => return Err(TouchError::Panel(error)),
        };
        let mut corners = Corners::new(family, &model);
        let own = corners.nominal()[pad].unwrap_or(model.nominal);
        let known = model.nominal;
        let watched = |shown: &Shown| {
            let shown = shown[pad].unwrap_or(own);
            known.scaled_like(&own, &shown)
        };
        let moved = corners.towards(value);
        let way = |corner: &Vec<Moved>, corners: &Corners| {
            distance(&known, &watched(&corners.at(corner)))
        };
        let ways = [0, 1].map(|end| way(&moved[end], &corners));
        let order = if ways[1] > ways[0] { [1, 0] } else { [0, 1] };
        for end in order {
            let is_far = way(&moved[end], &corners) > FAR;
            let is_told = end == order[1] && ways[order[0]] > FAR;
            if !is_far || (is_told && corners.largest_missed(pad) <= CURVED) {
                continue;
            }
            let values = values(&moved[end]);
            match model.solved_again(family, &values, limits) {
                Ok(shown) => corners.learn(&moved[end], &shown),
                Err(
                    PlaceError::Touch(TouchError::Lowering(_))
                    | PlaceError::Scenario(_)
                    | PlaceError::NotInModel,
                ) => {}
                Err(PlaceError::Touch(error)) => return Err(error),
            }
        }
        Ok(Some(Self {
            nominal: known,
            ends: [0, 1].map(|end| watched(&corners.at(&moved[end]))),
            moved: moved.map(|corner| values(&corner)),
            corners,
            problems: model.problems,
            accuracy_reached: model.accuracy_reached(),
            missed: model.missed().to_vec(),
        }))
    }

    /// The panel of one end.
    ///
    /// # Errors
    /// An impossible panel.
    pub fn panel(&self, family: &PanelFamily, end: usize) -> Result<Panel, ScenarioError> {
        family.panel(&self.moved[end])
    }
}

/// Relative change of a base or a shift beyond which what derivatives make of it is solved again: a power law
/// leaves about half its square times a curvature of order one, well inside a usual error bar.
pub const FAR: f64 = 0.05;

/// Share of base or shift that powers miss at one end, beyond which the other end is solved as well: what is left
/// of a smaller one is of third order.
pub const CURVED: f64 = 0.01;

fn values(corner: &[Moved]) -> Vec<(usize, f64)> {
    corner.iter().map(|one| (one.index, one.to)).collect()
}

/// The larger relative change of base and shift, as logarithm.
fn distance(nominal: &PadTouch, end: &PadTouch) -> f64 {
    let pairs = [
        (nominal.base, end.base),
        (nominal.earthed_shift, end.earthed_shift),
    ];
    pairs
        .into_iter()
        .map(|(from, to)| (to / from).ln().abs())
        .fold(0.0, f64::max)
}
