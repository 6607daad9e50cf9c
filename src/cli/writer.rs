//! Everything the program prints goes through here: answers on stdout, messages and progress on stderr.
//!
//! A message that cannot be printed is dropped: a full disk behind a log must not end the work it is about.
//! Of answers that cannot be printed the first failure is kept, and the command goes on to its files; how it
//! ends is decided afterwards.

use super::Exit;
use indicatif::{ProgressBar, ProgressDrawTarget};
use std::io::{self, ErrorKind, IsTerminal, Write};

/// Prints a line on stderr, if anybody is there to take it.
pub(super) fn say(text: &str) {
    // One write, so that lines of several threads stay whole.
    let _ = io::stderr().write_all(format!("{text}\n").as_bytes());
}

/// The same of text that is there already, for whoever has no memory to make one of.
pub(super) fn say_bytes(text: &[u8]) {
    let _ = io::stderr().write_all(text);
}

/// Whether messages go to a terminal.
pub(super) fn is_terminal() -> bool {
    io::stderr().is_terminal()
}

/// Where progress is drawn; failures of drawing are dropped there as well.
pub(super) fn progress_target() -> ProgressDrawTarget {
    ProgressDrawTarget::stderr()
}

/// Prints what the argument parser has to say: a usage error on stderr, help and version on stdout.
pub(super) fn tell_usage(error: &clap::Error) -> Exit {
    let is_colored = match error.use_stderr() {
        true => is_terminal(),
        false => io::stdout().is_terminal(),
    } && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        && std::env::var_os("TERM").is_none_or(|value| value != "dumb");
    let rendered = error.render();
    let text = match is_colored {
        true => rendered.ansi().to_string(),
        false => rendered.to_string(),
    };
    if error.use_stderr() {
        say(text.trim_end());
        return Exit::BadInput;
    }
    let mut answers = Answers::new(None);
    let _ = answers.write_all(text.as_bytes());
    answers.end(Exit::Success)
}

/// What a command prints on stdout, at once. Writing never fails here: see [`Answers::end`].
pub(super) struct Answers {
    /// The line of progress, which makes room for the first answer.
    line: Option<ProgressBar>,
    failure: Option<io::Error>,
}

impl Answers {
    pub fn new(line: Option<ProgressBar>) -> Self {
        Self {
            line,
            failure: None,
        }
    }

    fn attempt(&mut self, print: impl FnOnce(&mut io::StdoutLock<'_>) -> io::Result<()>) {
        if let Some(line) = self.line.take() {
            line.finish_and_clear();
        }
        if self.failure.is_none() {
            self.failure = print(&mut io::stdout().lock()).err();
        }
    }

    /// The exit code of a command that would end with `exit`, now that all is printed.
    pub fn end(mut self, exit: Exit) -> Exit {
        let _ = self.flush();
        match self.failure {
            None => exit,
            // The reader has seen enough.
            Some(error) if error.kind() == ErrorKind::BrokenPipe => exit,
            Some(error) => {
                say(&format!("cannot print the result: {error}"));
                Exit::Internal
            }
        }
    }
}

impl Write for Answers {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.attempt(|stdout| stdout.write_all(bytes));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.attempt(|stdout| stdout.flush());
        Ok(())
    }
}
