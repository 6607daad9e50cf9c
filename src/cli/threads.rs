//! Threads that a person asks for: started once all together and ended again, because a thread that the system
//! refuses in the middle of the work would end the program.

use super::Failure;
use super::input::bad_input;
use std::sync::mpsc::channel;
use std::thread::{Builder, scope};

/// Every worker has a thread of its own and one for the loops of the engine.
const OF_A_WORKER: usize = 2;

/// Refuses more workers than the system starts threads for.
pub(super) fn try_workers(workers: usize) -> Result<(), Failure> {
    scope(|scope| {
        let mut held = Vec::new();
        for started in 0..OF_A_WORKER * workers {
            let (hold, held_here) = channel::<()>();
            let thread = Builder::new().spawn_scoped(scope, move || held_here.recv());
            if let Err(error) = thread {
                return Err(bad_input(format!(
                    "{workers} at once need {} threads, and the system starts {started} ({error}); ask for fewer \
                     with --threads",
                    OF_A_WORKER * workers
                )));
            }
            held.push(hold);
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn threads_that_start_end_again() {
        assert_eq!(try_workers(3), Ok(()));
    }
}
