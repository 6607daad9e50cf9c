//! What a command tells when it is interrupted: what it knows by then, and that the next run goes on from there.

use super::{Exit, Failure, cache, interrupt};
use crate::touch::Remembered;
use padfield_engine::field::Settings;

/// Settings of a command that tells what it knows: it leaves its solves with the signal, and finds again what it has
/// solved.
pub(super) fn telling(settings: Settings) -> Settings {
    interrupt::end_in_good_order();
    Settings {
        stop: interrupt::of_solves_left_at_once(),
        keeper: settings.keeper.or_else(|| Some(Remembered::before(None))),
        ..settings
    }
}

/// The same failure; one that was asked for, with what is known by then.
pub(super) fn with_so_far<E>(
    failure: Failure,
    so_far: impl FnOnce() -> Result<String, E>,
) -> Failure {
    match failure.exit {
        Exit::Interrupted => {
            interrupted(&so_far().unwrap_or_else(|_| "nothing is solved yet".to_owned()))
        }
        _ => failure,
    }
}

/// An end that was asked for, with what is known by then.
pub(super) fn interrupted(known: &str) -> Failure {
    interrupt::something_is_known();
    let kept = cache::words_of_interrupted().map_or_else(String::new, |words| format!("\n{words}"));
    Failure {
        message: format!("interrupted: {known}{kept}"),
        exit: Exit::Interrupted,
    }
}
