//! What the work on touches may cost, who solves their fields and who hears of it.

use crate::panel::lowering::LoweringError;
use padfield_engine::capacitance::AlgebraError;
use padfield_engine::case::Case;
use padfield_engine::field::{self, FieldAnswer, FieldError, Settings};

/// Who hears one line of text now and then, from several threads.
pub type Progress<'a> = dyn Fn(&str) + Sync + 'a;

/// Whoever supplies solved fields: a case, what to leave out for the second state if there is one, settings, who
/// hears of it. It is asked from several threads at once. The built-in engine is [`field::solve`].
pub type Solver<'a> = dyn Fn(&Case, Option<&str>, &Settings, &Progress<'_>) -> Result<FieldAnswer, FieldError>
    + Sync
    + 'a;

/// Why touches could not be solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TouchError {
    /// The panel does not fit the model.
    #[error(transparent)]
    Lowering(#[from] LoweringError),
    /// The field engine gave no answer.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// A conductor that shall float has no capacitance.
    #[error(transparent)]
    Algebra(#[from] AlgebraError),
    /// Values at the ends of their tolerances make an impossible panel.
    #[error(transparent)]
    Panel(Box<crate::input::ScenarioError>),
    /// Asked to stop.
    #[error("interrupted")]
    Interrupted,
}

impl TouchError {
    /// Whether somebody asked for the end.
    pub fn is_interrupted(&self) -> bool {
        matches!(
            self,
            Self::Interrupted | Self::Field(FieldError::Interrupted)
        )
    }

    /// What the field engine said, if it was that.
    pub fn field(&self) -> Option<&FieldError> {
        match self {
            Self::Field(error) => Some(error),
            _ => None,
        }
    }
}

/// What the work may cost, who solves the fields, and who hears of it.
pub struct WorkLimits<'a> {
    /// Settings of the field engine; `drive` is chosen here, and the memory cap is shared by the touches
    /// that are solved at once.
    pub settings: Settings,
    /// Who solves the fields; [`field::solve`] unless somebody has them already or changes the cases.
    pub solver: &'a Solver<'a>,
    /// Asked before every field problem.
    pub stop: &'a (dyn Fn() -> bool + Sync),
    /// Hears one line of text now and then, from several threads.
    pub progress: &'a (dyn Fn(&str) + Sync),
}

impl WorkLimits<'static> {
    /// The built-in engine under these settings, silent and never stopped.
    pub fn of(settings: Settings) -> Self {
        Self {
            settings,
            solver: &field::solve,
            stop: &|| false,
            progress: &|_| {},
        }
    }
}

impl WorkLimits<'_> {
    /// Has a field problem solved under its own settings; who hears of it is told what is solved.
    ///
    /// # Errors
    /// See [`FieldError`].
    pub fn solve(
        &self,
        what: &str,
        case: &Case,
        without: Option<&str>,
        settings: &Settings,
    ) -> Result<FieldAnswer, FieldError> {
        let tell = |text: &str| (self.progress)(&format!("{what}: {text}"));
        (self.solver)(case, without, settings, &tell)
    }

    /// The same for panels much like one that was solved: their touches start where its did.
    pub fn starting_at(&self, fineness: Option<f64>) -> Self {
        self.under(Settings {
            start_fineness: fineness.or(self.settings.start_fineness),
            ..self.settings.clone()
        })
    }

    /// The same with somebody else who hears of it.
    pub fn heard_by<'b>(&'b self, progress: &'b Progress<'b>) -> WorkLimits<'b> {
        WorkLimits {
            progress,
            ..self.under(self.settings.clone())
        }
    }

    /// The same under other settings.
    pub fn under(&self, settings: Settings) -> Self {
        Self {
            settings,
            solver: self.solver,
            stop: self.stop,
            progress: self.progress,
        }
    }
}
