//! Solved fields that are kept for whoever asks for the same ones again.

use super::limits::{Progress, Solver};
use padfield_engine::case::Case;
use padfield_engine::field::{FieldAnswer, FieldError, Settings};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// A field problem: the case, what to leave out for the second state if there is one, settings.
#[derive(PartialEq)]
struct Problem {
    case: Case,
    without: Option<String>,
    settings: Settings,
}

/// Answers of a [`Solver`], so that several questions about one panel solve no field twice. An answer is given
/// again only for a case and settings that are the same to the last bit, so it has the bits that solving again
/// would give.
pub struct KeptFields<'a> {
    solver: &'a Solver<'a>,
    answers: Mutex<Vec<(Problem, Arc<FieldAnswer>)>>,
}

impl<'a> KeptFields<'a> {
    /// Nothing kept yet.
    pub fn of(solver: &'a Solver<'a>) -> Self {
        Self {
            solver,
            answers: Mutex::new(Vec::new()),
        }
    }

    /// A [`Solver`]: the kept answer, or one that is solved and kept. Answers with potentials are large and not
    /// kept; failures, an interruption for one, are not kept either.
    ///
    /// # Errors
    /// See [`FieldError`].
    pub fn solve(
        &self,
        case: &Case,
        without: Option<&str>,
        settings: &Settings,
        progress: &Progress<'_>,
    ) -> Result<FieldAnswer, FieldError> {
        if settings.keep_potentials || settings.first_guess.is_some() {
            return (self.solver)(case, without, settings, progress);
        }
        // An answer is the same in how many turns it was found, and whoever keeps its rounds.
        let asked = Settings {
            rounds: None,
            keeper: None,
            ..settings.clone()
        };
        let is_this = |problem: &Problem| {
            problem.without.as_deref() == without
                && problem.settings == asked
                && problem.case == *case
        };
        let known = self
            .answers()
            .iter()
            .find(|(problem, _)| is_this(problem))
            .map(|(_, answer)| Arc::clone(answer));
        if let Some(answer) = known {
            return Ok(FieldAnswer::clone(&answer));
        }
        // Not under the lock: others solve meanwhile.
        let answer = (self.solver)(case, without, settings, progress)?;
        let problem = Problem {
            case: case.clone(),
            without: without.map(str::to_owned),
            settings: asked,
        };
        self.answers().push((problem, Arc::new(answer.clone())));
        Ok(answer)
    }

    fn answers(&self) -> MutexGuard<'_, Vec<(Problem, Arc<FieldAnswer>)>> {
        // A list that is only ever added to is whole whatever happened to another thread.
        self.answers.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
