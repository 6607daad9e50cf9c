//! Rounds that somebody keeps, so that no grid is solved twice.
//!
//! A round is one grid of a case. What it gives depends on the case, the fineness and what is asked for, and on
//! neither the accuracy nor who judges it: a question at another accuracy walks over the rounds of an earlier one.

use super::answer::{Accuracy, FieldAnswer, FieldError, Settings};
use super::room::Load;
use crate::case::Case;
use std::fmt;
use std::sync::Arc;

/// Who keeps rounds, asked from several threads at once. A round is told by a text that is the same for the same
/// bits only; what is not sure to be a kept answer, whole and of this engine, is none.
pub trait Rounds: Send + Sync {
    /// The answer of a round that is kept.
    fn known(&self, round: &str) -> Option<FieldAnswer>;
    /// Keeps the answer of a round, or does not.
    fn keep(&self, round: &str, answer: &FieldAnswer);
}

/// A keeper of rounds in [`Settings`].
#[derive(Clone)]
pub struct Keeper(Arc<dyn Rounds>);

impl Keeper {
    /// This keeper.
    pub fn new(rounds: Arc<dyn Rounds>) -> Self {
        Self(rounds)
    }
}

impl Rounds for Keeper {
    fn known(&self, round: &str) -> Option<FieldAnswer> {
        self.0.known(round)
    }

    fn keep(&self, round: &str, answer: &FieldAnswer) {
        self.0.keep(round, answer);
    }
}

impl fmt::Debug for Keeper {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("Keeper")
    }
}

impl PartialEq for Keeper {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// The kept rounds of one case.
pub(super) struct Kept<'s> {
    rounds: &'s dyn Rounds,
    /// All but the fineness.
    text: String,
    /// The same with derivatives, where none are asked for.
    fuller: Option<String>,
    asked: f64,
}

impl<'s> Kept<'s> {
    /// None where nobody keeps rounds, and for potentials: they are large, and what starts from others has their
    /// bits.
    pub fn of(case: &Case, without: Option<&str>, settings: &'s Settings) -> Option<Self> {
        let Keeper(rounds) = settings.keeper.as_ref()?;
        if settings.keep_potentials || settings.first_guess.is_some() {
            return None;
        }
        // A reference whose own grid would not fit the memory gives no pattern.
        let family = settings
            .family
            .as_deref()
            .map(|family| (problem(family), settings.memory_cap_bytes));
        let Settings {
            use_symmetry,
            drive,
            derivatives,
            apart,
            ..
        } = settings;
        let roaming = settings.roaming(without);
        let roaming = roaming.map(|roaming| (roaming.region, roaming.seen_share));
        let problem = problem(case);
        let text = |derivatives: bool| {
            let asked = (use_symmetry, drive, derivatives, without, apart);
            format!("{problem} {asked:?} {family:?} {roaming:?}")
        };
        Some(Self {
            rounds: rounds.as_ref(),
            text: text(*derivatives),
            fuller: (!derivatives).then(|| text(true)),
            asked: settings.accuracy,
        })
    }

    /// The answer of a round, where that is kept, under the same cap of memory as if it were solved.
    pub fn known(&self, fineness: f64, load: &Load<'_>) -> Option<Result<FieldAnswer, FieldError>> {
        let own = self.rounds.known(&round(&self.text, fineness));
        let mut answer = own.or_else(|| {
            let fuller = round(self.fuller.as_ref()?, fineness);
            let mut answer = self.rounds.known(&fuller)?;
            answer.derivatives = None;
            answer.derivatives_without = None;
            Some(answer)
        })?;
        let mut nodes = [1.0; 3];
        for (nodes, cells) in nodes.iter_mut().zip(&answer.grid.shape) {
            *nodes = *cells as f64 + 1.0;
        }
        answer.accuracy = Accuracy::of_entries(answer.accuracy.of_entries, self.asked);
        Some(load.is_within_cap(nodes).map(|()| answer))
    }

    pub fn keep(&self, fineness: f64, answer: &FieldAnswer) {
        self.rounds.keep(&round(&self.text, fineness), answer);
    }
}

fn round(text: &str, fineness: f64) -> String {
    format!("{text} {fineness:?}")
}

/// All of a case that its fields depend on. Numbers stand in the fewest digits that tell their bits apart.
pub(super) fn problem(case: &Case) -> String {
    let Case {
        id: _,
        title: _,
        kind,
        domain,
        walls,
        background_relative_permittivity,
        dielectrics,
        conductors,
        screens,
    } = case;
    format!(
        "{kind:?} {domain:?} {walls:?} {background_relative_permittivity:?} {dielectrics:?} {conductors:?} {screens:?}"
    )
}
