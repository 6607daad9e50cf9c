//! Ctrl-C: ends the program at once, unless a command has asked to end in good order.

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
}

/// Whether there was an interrupt.
pub(super) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
