//! What is asked of the one who solves, and over which range.

/// A value with its estimated error, in one unit.
pub use crate::record::Uncertain as Sample;

/// Gives values. Places are numbers in the unit of the range.
pub trait Ask {
    /// Whether a place can be solved at all, asked before any work: the reason when it cannot.
    ///
    /// # Errors
    /// The reason why not.
    fn possible(&mut self, place: f64) -> Result<(), String>;

    /// Solves a place.
    ///
    /// # Errors
    /// The reason why there is no value.
    fn solve(&mut self, place: f64) -> Result<Sample, String>;

    /// Whether to end before the next solve.
    fn stopped(&self) -> bool {
        false
    }
}

/// A place that has been asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Where, in the unit of the range.
    pub at: f64,
    /// The value, or why there is none.
    pub sample: Result<Sample, String>,
}

/// The range that is searched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Its start.
    pub from: f64,
    /// Its end, above the start.
    pub to: f64,
    /// Equal ratios rather than equal distances; needs a start above 0.
    pub logarithmic: bool,
}

impl Span {
    /// Where a place lies on the way, 0 to 1.
    pub fn share(&self, place: f64) -> f64 {
        if self.logarithmic {
            (place / self.from).ln() / (self.to / self.from).ln()
        } else {
            (place - self.from) / (self.to - self.from)
        }
    }

    /// The place at a share of the way, with nine significant digits.
    pub fn place(&self, share: f64) -> f64 {
        if share <= 0.0 {
            return self.from;
        }
        if share >= 1.0 {
            return self.to;
        }
        let place = if self.logarithmic {
            self.from * (self.to / self.from).powf(share)
        } else {
            self.from + (self.to - self.from) * share
        };
        // Near zero nine digits of the place are finer than anything the range asks for.
        let place: f64 = format!("{place:.8e}").parse().unwrap_or(place);
        place.clamp(self.from, self.to)
    }
}
