//! An end that is asked for from outside.
//!
//! Takes a flag that somebody sets; says whether it is set; never fails. What is left in the middle for it may be
//! anything: whoever asked for the work looks at the flag again before anything is made of it.

use std::sync::atomic::{AtomicBool, Ordering};

/// A flag that says when a solve is to be left in the middle; looked at in every loop that may take a second.
#[derive(Clone, Copy, Debug, Default)]
pub struct Stop(Option<&'static AtomicBool>);

impl Stop {
    /// Nobody asks.
    pub const NEVER: Self = Self(None);

    /// Asked for once the flag is set.
    pub const fn when(flag: &'static AtomicBool) -> Self {
        Self(Some(flag))
    }

    /// Whether the end was asked for.
    pub fn asked(self) -> bool {
        self.0.is_some_and(|flag| flag.load(Ordering::Relaxed))
    }
}

/// Who may stop a solve is no part of what is solved.
impl PartialEq for Stop {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for Stop {}
