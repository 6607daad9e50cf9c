//! Ctrl-C: ends the program at once, unless a command has asked to end in good order. Such a command ends
//! in good order on a request to terminate as well: job schedulers announce the end of their patience so.

use super::Exit;
use std::sync::atomic::{AtomicBool, Ordering};

/// A command polls [`asked`] and ends by itself.
static IN_GOOD_ORDER: AtomicBool = AtomicBool::new(false);
/// The person has asked once.
static ASKED: AtomicBool = AtomicBool::new(false);

/// Installs the handler. Without one an interrupt still ends the program, only without its exit code.
pub(super) fn install() {
    let _ = ctrlc::set_handler(|| {
        let first = !ASKED.swap(true, Ordering::Relaxed);
        if !(first && IN_GOOD_ORDER.load(Ordering::Relaxed)) {
            std::process::exit(Exit::Interrupted as i32);
        }
    });
}

/// From now on the first interrupt only sets the flag [`asked`] returns; the second one ends the program.
pub(super) fn end_in_good_order() {
    IN_GOOD_ORDER.store(true, Ordering::Relaxed);
    #[cfg(unix)]
    obey_termination();
}

/// A request to terminate counts as an interrupt; repeated, it says no more than before. Without a handler
/// it still ends the program, only at once.
#[cfg(unix)]
fn obey_termination() {
    let signals = signal_hook::iterator::Signals::new([signal_hook::consts::SIGTERM]);
    if let Ok(mut signals) = signals {
        std::thread::spawn(move || {
            for _ in signals.forever() {
                ASKED.store(true, Ordering::Relaxed);
            }
        });
    }
}

/// Whether there was an interrupt.
pub(super) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
