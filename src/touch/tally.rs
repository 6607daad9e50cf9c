//! How much of what takes long is done, and how long the rest takes: what goes with everything else that is told.

use super::limits::Progress;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// So many of something, done one by one, from several threads.
pub struct Tally<'a> {
    of: usize,
    /// What they are, and that they are done.
    what: &'static str,
    progress: &'a Progress<'a>,
    done: AtomicUsize,
    start: Instant,
}

impl<'a> Tally<'a> {
    /// None of so many is done.
    pub fn new(of: usize, what: &'static str, progress: &'a Progress<'a>) -> Self {
        let tally = Self {
            of,
            what,
            progress,
            done: AtomicUsize::new(0),
            start: Instant::now(),
        };
        if of > 0 {
            progress(&tally.words(0));
        }
        tally
    }

    /// One more is done.
    pub fn add(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        (self.progress)(&self.words(done));
    }

    /// What goes on meanwhile.
    pub fn tell(&self, text: &str) {
        let words = self.words(self.done.load(Ordering::Relaxed));
        (self.progress)(&format!("{words}; {text}"));
    }

    fn words(&self, done: usize) -> String {
        let Self { of, what, .. } = self;
        let to_go = to_go(done, *of, self.start.elapsed().as_secs_f64());
        format!("{done} of {of} {what}{to_go}")
    }
}

/// How long the rest takes at the pace so far, to follow on what is done.
pub fn to_go(done: usize, of: usize, seconds: f64) -> String {
    let rest = seconds * of.saturating_sub(done) as f64 / done as f64;
    match rest {
        rest if done == 0 || seconds < 5.0 || rest < 1.0 => String::new(),
        rest if rest < 120.0 => format!(", about {rest:.0} s to go"),
        rest => format!(", about {:.0} min to go", rest / 60.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn the_time_to_go_is_told_once_there_is_a_pace() {
        for (count, seconds, text) in [
            (0, 60.0, ""),
            (1, 2.0, ""),
            (2, 10.0, ", about 30 s to go"),
            (1, 60.0, ", about 7 min to go"),
            (8, 60.0, ""),
        ] {
            assert_eq!(to_go(count, 8, seconds), text);
        }
    }

    #[test]
    fn whatever_is_told_says_how_much_is_done() {
        let told = Mutex::new(Vec::new());
        let hear = |text: &str| told.lock().expect("one thread").push(text.to_owned());
        let tally = Tally::new(2, "touches solved", &hear);
        tally.tell("round 1");
        tally.add();
        tally.tell("round 2");
        assert_eq!(
            told.into_inner().expect("one thread"),
            [
                "0 of 2 touches solved",
                "0 of 2 touches solved; round 1",
                "1 of 2 touches solved",
                "1 of 2 touches solved; round 2",
            ]
        );
    }
}
