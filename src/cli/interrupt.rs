//! Ctrl-C, and a request to terminate: both end the program at once with the same exit code, unless a command
//! has asked to end in good order, because it has something to show by then. Job schedulers announce the end of
//! their patience by such a request.

use super::Exit;
use std::sync::atomic::{AtomicBool, Ordering};

/// A command polls [`asked`] and ends by itself.
static IN_GOOD_ORDER: AtomicBool = AtomicBool::new(false);
/// The person has asked once.
static ASKED: AtomicBool = AtomicBool::new(false);

/// Installs the handlers. Without them a signal still ends the program, only without its exit code.
pub(super) fn install() {
    let _ = ctrlc::set_handler(|| {
        let first = !ASKED.swap(true, Ordering::Relaxed);
        if !(first && IN_GOOD_ORDER.load(Ordering::Relaxed)) {
            end();
        }
    });
    #[cfg(unix)]
    {
        obey_termination();
        // A file that has reached its largest size is an error of writing, as a full disk is.
        let seen = std::sync::Arc::new(AtomicBool::new(false));
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, seen);
    }
}

/// From now on the first signal only sets the flag [`asked`] returns; a second interrupt ends the program.
pub(super) fn end_in_good_order() {
    IN_GOOD_ORDER.store(true, Ordering::Relaxed);
}

/// A request to terminate counts as an interrupt; repeated, it says no more than before.
#[cfg(unix)]
fn obey_termination() {
    let signals = signal_hook::iterator::Signals::new([signal_hook::consts::SIGTERM]);
    if let Ok(mut signals) = signals {
        std::thread::spawn(move || {
            for _ in signals.forever() {
                ASKED.store(true, Ordering::Relaxed);
                if !IN_GOOD_ORDER.load(Ordering::Relaxed) {
                    end();
                }
            }
        });
    }
}

fn end() {
    std::process::exit(Exit::Interrupted as i32);
}

/// Whether there was a signal.
pub(super) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
