//! Progress of a sweep: a bar on a terminal, a line now and then elsewhere.

use super::interrupt;
use super::writer::{is_terminal, progress_target, say};
use crate::rounding::duration;
use crate::sweep::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::time::{Duration, Instant};

/// Time between two lines where there is no terminal.
const BETWEEN_LINES: Duration = Duration::from_secs(10);

/// Shows how far a study is.
pub(super) struct SweepProgress {
    study: String,
    bar: Option<ProgressBar>,
    start: Instant,
    recorded_before: Option<u64>,
    last_line: Option<Instant>,
    told_of_interrupt: bool,
}

impl SweepProgress {
    pub fn new(study: &str) -> Self {
        let bar = is_terminal().then(|| {
            let bar = ProgressBar::with_draw_target(None, progress_target());
            let style = "{prefix} {wide_bar} {pos}/{len} points, {per_sec}, {eta} left {msg}";
            if let Ok(style) = ProgressStyle::with_template(style) {
                bar.set_style(style);
            }
            bar.set_prefix(study.to_owned());
            bar
        });
        Self {
            study: study.to_owned(),
            bar,
            start: Instant::now(),
            recorded_before: None,
            last_line: None,
            told_of_interrupt: false,
        }
    }

    pub fn show(&mut self, progress: &Progress) {
        let first = self.recorded_before.is_none();
        let before = *self.recorded_before.get_or_insert(progress.recorded);
        if interrupt::asked() && !self.told_of_interrupt {
            self.told_of_interrupt = true;
            self.say("interrupted: points in hand have a second more, the rest is solved next time; once more to end at once");
        }
        if let Some(bar) = &self.bar {
            bar.set_length(progress.points);
            bar.set_position(progress.recorded);
            if first {
                // Points of earlier runs are no measure of the speed.
                bar.reset_eta();
            }
            if progress.makes_models {
                bar.set_message("(making reduced models)");
            } else if progress.failed > 0 {
                bar.set_message(format!("({} failed)", progress.failed));
            }
            return;
        }
        let due = self
            .last_line
            .is_none_or(|at| at.elapsed() >= BETWEEN_LINES);
        if due || progress.recorded == progress.points {
            self.last_line = Some(Instant::now());
            say(&self.line(progress, before));
        }
    }

    fn line(&self, progress: &Progress, before: u64) -> String {
        let Progress {
            points,
            recorded,
            makes_models,
            ..
        } = *progress;
        let mut line = format!("{}: {recorded} of {points} points", self.study);
        if makes_models {
            line += ", making reduced models";
        }
        let seconds = self.start.elapsed().as_secs_f64();
        let fresh = recorded - before;
        if fresh > 0 && seconds > 0.0 {
            let rate = fresh as f64 / seconds;
            line += &format!(", {rate:.3} points/s");
            if recorded < points {
                line += &format!(", {} left", duration((points - recorded) as f64 / rate));
            }
        }
        if progress.failed > 0 {
            line += &format!(", {} failed", progress.failed);
        }
        line
    }

    /// One line of its own.
    pub fn say(&self, text: &str) {
        match &self.bar {
            Some(bar) => bar.println(text),
            None => say(text),
        }
    }
}

impl Drop for SweepProgress {
    fn drop(&mut self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
