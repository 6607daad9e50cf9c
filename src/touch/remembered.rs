//! Rounds remembered while a command runs, in front of whoever keeps them for longer.

use padfield_engine::field::{FieldAnswer, Keeper, Rounds};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Rounds in memory.
pub struct Remembered {
    longer: Option<Keeper>,
    rounds: Mutex<HashMap<String, FieldAnswer>>,
}

impl Remembered {
    /// A keeper that remembers, and passes on to one that keeps for longer.
    pub fn before(longer: Option<Keeper>) -> Keeper {
        Keeper::new(Arc::new(Self {
            longer,
            rounds: Mutex::default(),
        }))
    }

    fn rounds(&self) -> MutexGuard<'_, HashMap<String, FieldAnswer>> {
        self.rounds.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Rounds for Remembered {
    fn known(&self, round: &str) -> Option<FieldAnswer> {
        let known = self.rounds().get(round).cloned();
        known.or_else(|| self.longer.as_ref()?.known(round))
    }

    fn keep(&self, round: &str, answer: &FieldAnswer) {
        self.rounds().insert(round.to_owned(), answer.clone());
        if let Some(longer) = &self.longer {
            longer.keep(round, answer);
        }
    }
}
