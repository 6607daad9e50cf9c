//! A line on the terminal that tells what is going on, for anything longer than a second.

use super::writer;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Silence before the line appears.
const PATIENCE: Duration = Duration::from_secs(1);
/// Time between two steps of the turning mark.
const TICK: Duration = Duration::from_millis(120);

/// The line; it disappears when this is dropped. Nothing is shown when stderr is no terminal.
pub struct Progress {
    line: ProgressBar,
    done: Option<Sender<()>>,
}

impl Progress {
    /// Starts counting the time.
    pub fn start() -> Self {
        let line = hidden_line();
        let done = writer::is_terminal().then(|| {
            let (done, waiting) = channel();
            let line = line.clone();
            std::thread::spawn(move || {
                if waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                    line.set_draw_target(writer::progress_target());
                    line.enable_steady_tick(TICK);
                }
            });
            done
        });
        Self { line, done }
    }

    /// The line itself, for whoever has to clear it away.
    pub fn line(&self) -> ProgressBar {
        self.line.clone()
    }

    /// What is going on, in one line; may be called from several threads.
    pub fn report(&self, text: &str) {
        self.line.set_message(text.to_owned());
    }
}

/// A turning mark and what goes on, cut at the width of the terminal.
fn hidden_line() -> ProgressBar {
    let line = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    match ProgressStyle::with_template("{spinner} {wide_msg}") {
        Ok(style) => line.with_style(style),
        Err(_) => line,
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        // Closing the channel ends the waiting thread if the line has not appeared yet.
        self.done = None;
        self.line.finish_and_clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use indicatif::InMemoryTerm;

    #[test]
    fn the_line_says_what_is_going_on_and_fits_the_terminal() {
        let terminal = InMemoryTerm::new(4, 30);
        let line = hidden_line();
        line.set_draw_target(ProgressDrawTarget::term_like(Box::new(terminal.clone())));
        line.set_message("window: 3 of 71 touches solved, and more than the width holds");
        line.tick();
        let shown = terminal.contents();
        assert!(shown.contains("window: 3 of 71"), "{shown:?}");
        assert_eq!(shown.lines().count(), 1, "{shown:?}");
    }
}
