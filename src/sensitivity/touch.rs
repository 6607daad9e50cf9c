//! One touch with the derivatives of its matrices.

use super::change::{CaseChange, NotFollowed};
use crate::panel::lowering::{Lowered, LoweringError};
use crate::panel::{IdleState, Panel};
use crate::touch::{
    PadTouch, SolvedTouch, TouchError, TouchPlace, WorkLimits, pad_touches, prepared,
};
use ndarray::Array2;
use padfield_engine::field::{FieldAnswer, Settings};
use std::sync::Arc;

/// A solved touch with what its matrices do when the case moves.
#[derive(Clone, Debug)]
pub struct DifferentiatedTouch {
    pad_names: Vec<String>,
    idle: IdleState,
    lowered: Lowered,
    answer: FieldAnswer,
    settings: Settings,
    only: Option<Vec<usize>>,
}

/// A value's effect on the field problem of a touch: rates of both matrices per unit of the value, and
/// what the panel at either side changes around them.
#[derive(Clone, Debug)]
pub struct Followed {
    with: Array2<f64>,
    without: Array2<f64>,
}

impl Followed {
    /// Rate of every entry of the matrix with the finger and of the one without it \[F per unit\]: exact
    /// derivatives of the mean of the engine's two networks ([`FieldAnswer::by_permittivity`] adds up to
    /// it), estimates of those of the reported values.
    #[cfg(feature = "rooms")]
    pub fn rates(&self) -> [&Array2<f64>; 2] {
        [&self.with, &self.without]
    }
}

impl DifferentiatedTouch {
    /// Solves a place; the settings say whether with derivatives.
    ///
    /// # Errors
    /// See [`TouchError`].
    #[cfg(feature = "rooms")]
    pub fn solve(
        panel: &Panel,
        place: &TouchPlace,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, TouchError> {
        Self::solve_for(panel, place, None, limits)
    }

    /// The same for what some pads show; where the others are at 0 V they need no drive.
    ///
    /// # Errors
    /// See [`TouchError`].
    pub fn solve_for(
        panel: &Panel,
        place: &TouchPlace,
        only: Option<&[usize]>,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, TouchError> {
        let (lowered, settings) = prepared(panel, place, only, &limits.settings)?;
        let finger = Some(crate::panel::lowering::FINGER);
        let answer = limits.solve(&lowered.case.id, &lowered.case, finger, &settings)?;
        Ok(Self {
            pad_names: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
            idle: panel.idle.value,
            lowered,
            answer,
            settings,
            only: only.map(<[usize]>::to_vec),
        })
    }

    /// The answer of the field engine.
    pub fn answer(&self) -> &FieldAnswer {
        &self.answer
    }

    /// The pads whose numbers are wanted, of this touch and its neighbours; all without.
    pub fn only(&self) -> Option<&[usize]> {
        self.only.as_deref()
    }

    /// The cap it was solved under \[bytes\].
    pub fn memory_cap_bytes(&self) -> u64 {
        self.settings.memory_cap_bytes
    }

    /// Settings for neighbours of this touch: its grid stretched, its fineness, one round.
    pub fn neighbour_settings(&self) -> Settings {
        Settings {
            accuracy: f64::MAX,
            start_fineness: Some(self.answer.grid.fineness),
            family: Some(Arc::new(self.lowered.case.clone())),
            derivatives: false,
            ..self.settings.clone()
        }
    }

    /// What a change from `less` to `more`, `span` apart with this touch in the middle, does to the
    /// matrices, without a solve.
    ///
    /// # Errors
    /// [`NotFollowed`].
    ///
    /// # Panics
    /// When the touch was solved without derivatives.
    pub fn follow(
        &self,
        less: &Lowered,
        more: &Lowered,
        span: f64,
    ) -> Result<Followed, NotFollowed> {
        let change = CaseChange::between(&less.case, &self.lowered.case, &more.case, span)?;
        let answer = &self.answer;
        let derivatives = [&answer.derivatives, &answer.derivatives_without];
        let [with, without] = derivatives.map(|derivatives| {
            let derivatives = derivatives.as_ref().expect("solved with derivatives");
            change.derivative(derivatives, &answer.grid.mirrors)
        });
        Ok(Followed { with, without })
    }

    /// The touch as it is.
    #[cfg(feature = "rooms")]
    pub fn seen(
        &self,
        return_path: crate::panel::ReturnPath,
    ) -> Result<crate::touch::SeenTouch, TouchError> {
        self.seen_of(&self.answer, &self.lowered, return_path)
    }

    #[cfg(feature = "rooms")]
    fn seen_of(
        &self,
        answer: &FieldAnswer,
        lowered: &Lowered,
        return_path: crate::panel::ReturnPath,
    ) -> Result<crate::touch::SeenTouch, TouchError> {
        let touch = SolvedTouch::new(
            answer,
            lowered.effective_lengths,
            &lowered.parts,
            &lowered.case.dielectrics,
        );
        Ok(touch.seen(&self.pad_names, self.idle, return_path)?)
    }

    /// What a pad shows; none for a pad that is not in the model.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    #[cfg(feature = "rooms")]
    pub fn pad(&self, pad: usize) -> Result<Option<PadTouch>, TouchError> {
        Ok(self.pads()?[pad])
    }

    /// What every pad shows, by panel index.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn pads(&self) -> Result<Vec<Option<PadTouch>>, TouchError> {
        self.pads_of(&self.answer, &self.lowered)
    }

    /// The same after the matrices have moved by `by` units, on the panel `lowered` comes from.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    #[cfg(feature = "rooms")]
    pub fn moved_pad(
        &self,
        followed: &Followed,
        by: f64,
        lowered: &Lowered,
        pad: usize,
    ) -> Result<Option<PadTouch>, TouchError> {
        Ok(self.moved_pads(followed, by, lowered)?[pad])
    }

    /// The same for every pad.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn moved_pads(
        &self,
        followed: &Followed,
        by: f64,
        lowered: &Lowered,
    ) -> Result<Vec<Option<PadTouch>>, TouchError> {
        let mut moved = self.answer.clone();
        moved.with.move_by(by, &followed.with);
        if let Some(shift) = &mut moved.shift {
            shift.without.move_by(by, &followed.without);
            let rows = |name: &String| self.answer.with.conductors.iter().position(|c| c == name);
            let kept: Vec<usize> = shift.without.conductors.iter().filter_map(rows).collect();
            for (a, &i) in kept.iter().enumerate() {
                for (b, &j) in kept.iter().enumerate() {
                    let change = followed.with[[i, j]] - followed.without[[a, b]];
                    shift.shift[[a, b]] += by * change;
                }
            }
        }
        self.pads_of(&moved, lowered)
    }

    fn pads_of(
        &self,
        answer: &FieldAnswer,
        lowered: &Lowered,
    ) -> Result<Vec<Option<PadTouch>>, TouchError> {
        let touch = SolvedTouch::new(
            answer,
            lowered.effective_lengths,
            &lowered.parts,
            &lowered.case.dielectrics,
        );
        Ok(pad_touches(&|path| {
            touch.seen(&self.pad_names, self.idle, path)
        })?)
    }

    /// Its field problem.
    pub fn lowered(&self) -> &Lowered {
        &self.lowered
    }
}

/// The field problem of a place on a changed panel.
///
/// # Errors
/// The panel does not fit its model.
pub fn lowered(
    panel: &Panel,
    place: &TouchPlace,
    settings: &Settings,
) -> Result<Lowered, LoweringError> {
    prepared(panel, place, None, settings).map(|(lowered, _)| lowered)
}
