//! Ctrl-C, and a request to terminate: both end the program at once with the same exit code, unless a command
//! has asked to end in good order, because it has something to show by then. Job schedulers announce the end of
//! their patience by such a request.

use super::{Exit, cache, writer};
use padfield_engine::field::Stop;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// A command polls [`asked`] and ends by itself.
static IN_GOOD_ORDER: AtomicBool = AtomicBool::new(false);
/// The person has asked once.
static ASKED: AtomicBool = AtomicBool::new(false);

/// Solves in hand are to be left: they have had their time.
static LEAVE: AtomicBool = AtomicBool::new(false);
/// The command knows something that the person would lose.
static KNOWS: AtomicBool = AtomicBool::new(false);
/// What a solve in hand may still take after a signal, of the two seconds in which the program ends.
const GRACE: Duration = Duration::from_secs(1);
/// What a command without anything to show may take after that for a step that heeds no signal.
const PATIENCE: Duration = Duration::from_millis(700);
/// What the last words may take.
const TELLING: Duration = Duration::from_millis(200);

/// Installs the handlers. Without them a signal still ends the program, only without its exit code.
#[cfg(unix)]
pub(super) fn install() {
    use signal_hook::consts::{SIGINT, SIGTERM, SIGXFSZ};

    if let Ok(mut signals) = signal_hook::iterator::Signals::new([SIGINT, SIGTERM]) {
        std::thread::spawn(move || {
            for signal in signals.forever() {
                // A request to terminate, repeated, says no more than before.
                heed(signal == SIGINT);
            }
        });
    }
    // A file that has reached its largest size is an error of writing, as a full disk is.
    let seen = std::sync::Arc::new(AtomicBool::new(false));
    let _ = signal_hook::flag::register(SIGXFSZ, seen);
}

/// Installs the handler.
#[cfg(not(unix))]
pub(super) fn install() {
    let _ = ctrlc::set_handler(|| heed(true));
}

/// What a signal does: the first one asks, where a command ends by itself; another one ends it if it is `urgent`.
fn heed(urgent: bool) {
    let is_first = !ASKED.swap(true, Ordering::Relaxed);
    match IN_GOOD_ORDER.load(Ordering::Relaxed) && (is_first || !urgent) {
        true => leave_soon(),
        false => end(),
    }
}

/// From now on the first signal only sets the flag [`asked`] returns; a second interrupt ends the program.
pub(super) fn end_in_good_order() {
    IN_GOOD_ORDER.store(true, Ordering::Relaxed);
}

fn leave_soon() {
    std::thread::spawn(|| {
        std::thread::sleep(GRACE);
        LEAVE.store(true, Ordering::Relaxed);
        std::thread::sleep(PATIENCE);
        if !KNOWS.load(Ordering::Relaxed) {
            end();
        }
    });
}

/// From now on a command that ends in good order is given the time to show what it knows.
pub(super) fn something_is_known() {
    KNOWS.store(true, Ordering::Relaxed);
}

/// For the solves of a command that ends in good order: asked for a moment after the signal.
pub(super) fn of_solves() -> Stop {
    Stop::when(&LEAVE)
}

/// For the solves of a command that shows what it knows at once: asked for with the signal.
pub(super) fn of_solves_left_at_once() -> Stop {
    Stop::when(&ASKED)
}

fn end() -> ! {
    // Whoever does not take messages must not keep the program.
    let told = std::thread::spawn(|| {
        if let Some(words) = cache::words_of_interrupted() {
            writer::say(&format!("interrupted: {words}"));
        }
    });
    let start = Instant::now();
    while !told.is_finished() && start.elapsed() < TELLING {
        std::thread::sleep(Duration::from_millis(1));
    }
    end_with(Exit::Interrupted)
}

/// Ends the program at once, from any thread.
pub(super) fn end_with(exit: Exit) -> ! {
    std::process::exit(exit as i32)
}

/// Whether there was a signal.
pub(super) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}
