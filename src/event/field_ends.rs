//! A touch with the field's inputs at the ends of their tolerances.

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
}

/// Whether anything of the field has a tolerance.
pub(crate) fn field_varies(family: &PanelFamily) -> bool {
    let mut all = family.parameters.iter();
    all.any(|parameter| parameter.changes_field && parameter.spread.is_some())
}

impl FieldEnds {
    /// Solves a place with derivatives, then both ends. `known` is what the pad shows of it at nominal values;
    /// `counts` makes counts of what a pad shows. An end that is no panel is carried on from the derivatives,
    /// in the logarithm.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn solve(
        family: &PanelFamily,
        place: &TouchPlace,
        pad: usize,
        known: PadTouch,
        counts: &dyn Fn(&PadTouch) -> f64,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, TouchError> {
        let mut found = Self {
            nominal: known,
            ends: [known; 2],
            moved: [Vec::new(), Vec::new()],
            problems: 0,
            accuracy_reached: true,
        };
        let wanted = |parameter: &crate::sensitivity::Parameter| parameter.spread.is_some();
        let model = PlaceModel::new(family, place, pad, Some(known), &wanted, limits);
        let mut model = match model {
            Ok(model) => model,
            Err(PlaceError::NotInModel) => return Ok(found),
            Err(PlaceError::Touch(error)) => return Err(error),
            Err(PlaceError::Scenario(error)) => return Err(TouchError::Panel(error)),
        };
        found.accuracy_reached = model.accuracy_reached();
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
            *end = match model.solved_again(family, moved, limits) {
                Ok(touch) => touch,
                Err(PlaceError::Touch(TouchError::Lowering(_)) | PlaceError::Scenario(_)) => {
                    let by: Vec<(usize, f64)> = moved
                        .iter()
                        .map(|&(index, value)| (index, value - family.parameters[index].value))
                        .collect();
                    model.carried(&by)
                }
                Err(PlaceError::NotInModel) => known,
                Err(PlaceError::Touch(error)) => return Err(error),
            };
        }
        found.problems = model.problems;
        Ok(found)
    }

    /// The panel of one end.
    ///
    /// # Errors
    /// An impossible panel.
    pub fn panel(&self, family: &PanelFamily, end: usize) -> Result<Panel, ScenarioError> {
        family.panel(&self.moved[end])
    }
}
