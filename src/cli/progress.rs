//! What is going on: a line on the terminal for anything longer than a second, and where messages go to a file, a
//! line every ten seconds.

use super::writer;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Silence before the line appears.
const PATIENCE: Duration = Duration::from_secs(1);
/// Time between two lines where stderr is no terminal.
const BETWEEN_LINES: Duration = Duration::from_secs(10);
/// Time between two steps of the turning mark.
const TICK: Duration = Duration::from_millis(120);

/// The line; it disappears when this is dropped.
pub struct Progress {
    line: ProgressBar,
    done: Option<Sender<()>>,
}

impl Progress {
    /// Starts counting the time.
    pub fn start() -> Self {
        let line = hidden_line();
        let (done, waiting) = channel();
        let shown = line.clone();
        std::thread::spawn(move || match writer::is_terminal() {
            true => {
                if waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                    shown.set_draw_target(writer::progress_target());
                    shown.enable_steady_tick(TICK);
                }
            }
            false => tell_now_and_then(&waiting, BETWEEN_LINES, &shown, &mut writer::say),
        });
        Self {
            line,
            done: Some(done),
        }
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

/// Says what goes on until the other end of the channel is dropped.
fn tell_now_and_then(
    waiting: &Receiver<()>,
    between: Duration,
    line: &ProgressBar,
    say: &mut dyn FnMut(&str),
) {
    let start = Instant::now();
    while waiting.recv_timeout(between) == Err(RecvTimeoutError::Timeout) {
        let text = line.message();
        say(format!("after {} s: {text}", start.elapsed().as_secs()).trim_end_matches([':', ' ']));
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
    fn where_there_is_no_terminal_a_line_comes_now_and_then_and_none_after_the_end() {
        let line = hidden_line();
        line.set_message("2 of 8 touches solved");
        let (done, waiting) = channel();
        let mut done = Some(done);
        let mut said = Vec::new();
        tell_now_and_then(&waiting, Duration::from_millis(1), &line, &mut |text| {
            said.push(text.to_owned());
            if said.len() == 3 {
                done = None;
            }
        });
        assert_eq!(said, vec!["after 0 s: 2 of 8 touches solved"; 3]);
    }

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
