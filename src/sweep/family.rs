//! What the points of a study share: one grid pattern, where its refinement starts, first guesses.
//!
//! All of it follows from the study alone, never from what has been solved so far or by whom: a point
//! has the same bits in a run that was interrupted twenty times.

use super::solve::{Job, Means};
use crate::panel::Panel;
use crate::response::{Response, ResponseError, respond_with};
use crate::touch::Progress;
use padfield_engine::case::Case;
use padfield_engine::field::{self, FieldAnswer, FieldError, Potentials, Settings};
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// What a solved point hands to its neighbours.
pub(super) struct Guess {
    potentials: Arc<Potentials>,
    /// Fineness that reached the accuracy: neighbours start there, where the potentials fit.
    fineness: f64,
}

/// First guesses by the name of the field problem: the touched pad.
pub(super) type Guesses = HashMap<String, Guess>;

/// Where refinement starts beyond what the reference needed, so that most points need one round: it
/// aims at the accuracy over this factor.
const HEADROOM: f64 = 1.25;

struct Reference {
    case: Arc<Case>,
    fineness: f64,
}

/// The grids of a study: those of the point in the middle of every variable.
#[derive(Default)]
pub(super) struct Family {
    references: HashMap<String, Reference>,
}

impl Family {
    /// Solves the middle of a study. A study whose middle has no answer gives a family without
    /// members: every point gets a grid of its own.
    pub fn of(job: &Job<'_>, means: Means) -> Self {
        let middle = job.study.plan().middle();
        let Ok(panel) = job.prepare(&middle, "").panel else {
            return Self::default();
        };
        let references = Mutex::new(HashMap::new());
        let accuracy = job.study.accuracy;
        let solver = |case: &Case, without: Option<&str>, settings: &Settings, _: &Progress<'_>| {
            let answer = field::solve(case, without, settings, &|_| {})?;
            let short = (HEADROOM * answer.accuracy.of_entries / accuracy).sqrt();
            let reference = Reference {
                case: Arc::new(case.clone()),
                fineness: answer.grid.fineness * short.max(1.0),
            };
            let mut references = references.lock().expect("no panic while it is held");
            references.insert(case.id.clone(), reference);
            Ok(answer)
        };
        let request = job.request(&panel, means);
        match respond_with(&request, &solver) {
            Ok(_) => Self {
                references: references.into_inner().expect("no panic while it was held"),
            },
            Err(_) => Self::default(),
        }
    }

    /// Fineness at which a touch of the middle is accurate enough.
    pub fn fineness(&self, touch: &str) -> Option<f64> {
        self.references
            .get(touch)
            .map(|reference| reference.fineness)
    }

    /// The field problem of a touch of the middle.
    pub fn reference(&self, touch: &str) -> Option<&Case> {
        self.references.get(touch).map(|reference| &*reference.case)
    }

    /// Solves a panel of the family from first guesses; gives its own potentials beside the response.
    pub fn respond(
        &self,
        job: &Job<'_>,
        panel: &Panel,
        means: Means,
        guesses: &Guesses,
    ) -> Result<(Response, Guesses), ResponseError> {
        let found = Mutex::new(Guesses::new());
        let solver = |case: &Case, without: Option<&str>, settings: &Settings, _: &Progress<'_>| {
            let mut answer = self.solve(case, without, settings, guesses)?;
            if let Some(potentials) = answer.potentials.take() {
                let guess = Guess {
                    potentials,
                    fineness: answer.grid.fineness,
                };
                let mut found = found.lock().expect("no panic while it is held");
                found.insert(case.id.clone(), guess);
            }
            Ok(answer)
        };
        let response = respond_with(&job.request(panel, means), &solver)?;
        let found = found.into_inner().expect("no panic while it was held");
        Ok((response, found))
    }

    fn solve(
        &self,
        case: &Case,
        without: Option<&str>,
        settings: &Settings,
        guesses: &Guesses,
    ) -> Result<FieldAnswer, FieldError> {
        let reference = self.references.get(&case.id);
        let guess = guesses.get(&case.id);
        let fineness = guess.map(|guess| guess.fineness);
        let settings = Settings {
            family: reference.map(|r| r.case.clone()),
            start_fineness: fineness.or(reference.map(|r| r.fineness)),
            first_guess: guess.map(|guess| guess.potentials.clone()),
            keep_potentials: true,
            ..settings.clone()
        };
        field::solve(case, without, &settings, &|_| {})
    }
}
