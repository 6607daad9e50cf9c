//! A touch with the field's inputs at the ends of their tolerances.

use crate::field::Printed;
use crate::panel::Panel;
use crate::scenario::ScenarioError;
use crate::sensitivity::{PanelFamily, PlaceError, PlaceModel};
use crate::touch::{PadTouch, TouchError, TouchPlace, WorkLimits};

/// What a pad shows of a touch at nominal values, and with every input of the field at the end of its
/// tolerance that gives fewest and most counts.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldEnds {
    /// At nominal values.
    pub nominal: PadTouch,
    /// Fewest counts, most counts.
    pub ends: [PadTouch; 2],
    /// Parameters of the family, by index, and their values at both ends \[SI\].
    pub moved: [Vec<(usize, f64)>; 2],
    /// Field problems solved.
    pub problems: usize,
    /// Whether the accuracy was reached.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
}

/// Whether anything of the field has a tolerance.
pub(crate) fn field_varies(family: &PanelFamily) -> bool {
    let mut all = family.parameters.iter();
    all.any(|parameter| parameter.changes_field && parameter.spread.is_some())
}

impl FieldEnds {
    /// Solves a place with derivatives, and again at both ends where they are far: where the derivatives, as
    /// powers of the inputs, move base or shift by more than 5 %. `known` is what the pad shows at nominal
    /// values, where that was solved before; `counts` makes counts of what a pad shows. An end that is no panel
    /// keeps what the derivatives make of it. None for a pad that is not in the model.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn solve(
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        known: Option<PadTouch>,
        counts: &dyn Fn(&PadTouch) -> f64,
        limits: &WorkLimits<'_>,
    ) -> Result<Option<Self>, TouchError> {
        let wanted = |parameter: &crate::sensitivity::Parameter| parameter.spread.is_some();
        let model = PlaceModel::new(family, place, pad, known, &wanted, limits);
        let mut model = match model {
            Ok(model) => model,
            Err(PlaceError::NotInModel) => return Ok(None),
            Err(PlaceError::Touch(error)) => return Err(error),
            Err(PlaceError::Scenario(error)) => return Err(TouchError::Panel(error)),
        };
        let mut found = Self {
            nominal: model.nominal,
            ends: [model.nominal; 2],
            moved: [Vec::new(), Vec::new()],
            problems: 0,
            accuracy_reached: model.accuracy_reached(),
            missed: model.missed().to_vec(),
        };
        for (index, parameter) in family.parameters.iter().enumerate() {
            let Some(spread) = parameter.spread.filter(|_| parameter.changes_field) else {
                continue;
            };
            let [less, more] = [spread.least, spread.most]
                .map(|end| counts(&model.moved(index, 1e-3 * (end - parameter.value))));
            let ends = match more >= less {
                true => [spread.least, spread.most],
                false => [spread.most, spread.least],
            };
            for (moved, end) in found.moved.iter_mut().zip(ends) {
                moved.push((index, end));
            }
        }
        for (end, moved) in found.ends.iter_mut().zip(&found.moved) {
            let by: Vec<(usize, f64)> = moved
                .iter()
                .map(|&(index, value)| (index, value - family.parameters[index].value))
                .collect();
            *end = model.carried(&by);
            if !is_far(&model.nominal, end) {
                continue;
            }
            *end = match model.solved_again(family, moved, limits) {
                Ok(touch) => touch,
                Err(PlaceError::Touch(TouchError::Lowering(_)) | PlaceError::Scenario(_)) => *end,
                Err(PlaceError::NotInModel) => model.nominal,
                Err(PlaceError::Touch(error)) => return Err(error),
            };
        }
        found.problems = model.problems;
        Ok(Some(found))
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

fn is_far(nominal: &PadTouch, end: &PadTouch) -> bool {
    let pairs = [
        (nominal.base, end.base),
        (nominal.earthed_shift, end.earthed_shift),
    ];
    pairs
        .into_iter()
        .any(|(from, to)| (to / from).ln().abs() > FAR)
}
