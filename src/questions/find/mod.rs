//! The inverse question: where in a range does a quantity meet its limit?
//!
//! [`search`] takes a range, a limit and anything that gives a value with its estimated error
//! ([`Ask`]); it gives every crossing it finds, each as a place with the interval that follows from
//! the error bars, and where the condition holds. [`find`] asks a panel file.
//!
//! 1. Seven places over the whole range are solved, at equal ratios when it spans more than a decade.
//! 2. Where the parabola through three neighbours says that the limit may be met between them, its
//!    vertex is solved too: a pair of crossings, or a touch, between two places of the first scan.
//! 3. Every crossing is refined by the secant through the two nearest places, kept inside its bracket
//!    and replaced by halving when it stalls (T. J. Dekker, "Finding a zero by means of successive
//!    linear interpolation", 1969; the forced halving as in Bus and Dekker, ACM Trans. Math. Softw. 1,
//!    1975; both from memory), until the value differs from the limit by a twentieth of its error.
//! 4. Both ends of its interval, where value plus or minus error equals the limit, are refined in the
//!    same way.
//!
//! Two crossings between two places of the first scan that no parabola gives away are missed. A place
//! that cannot be solved bounds the range on either side of it and is told.

mod ask;
mod checks;
mod panel;
mod record;
mod refine;
mod report;
mod result;
mod search;
#[cfg(test)]
mod tests;

pub use ask::{Ask, Place, Sample, Span};
pub use checks::Answered;
pub use panel::{Answer, FindError, Question, find};
pub use record::FindRecord;
pub use report::{Told, report};
pub use result::{Bound, Crossing, Ending, Found, Stretch};
pub use search::{MOST_SOLVES, SCAN, search};
