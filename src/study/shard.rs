//! A part of a plan for one machine of several.

use super::Plan;
use std::fmt;
use std::str::FromStr;

/// One of several parts of a plan: every so many-th run of points that follow one another.
///
/// Whole runs, because their points share a first guess: a point has the same bits in a shard and in
/// the whole plan. Every so many-th, because neighbours cost about the same.
///
/// ```
/// use padfield::study::Shard;
/// let shard: Shard = "3/16".parse().unwrap();
/// assert_eq!((shard.number(), shard.count()), (3, 16));
/// assert!("0/4".parse::<Shard>().is_err() && "5/4".parse::<Shard>().is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shard {
    count: u32,
    number: u32,
}

impl Shard {
    /// All of a plan.
    pub const WHOLE: Self = Self {
        count: 1,
        number: 1,
    };

    /// Number `number` of `count`, counted from 1; none when there is no such part.
    pub fn new(number: u32, count: u32) -> Option<Self> {
        (1..=count)
            .contains(&number)
            .then_some(Self { count, number })
    }

    /// Which part, from 1.
    pub fn number(self) -> u32 {
        self.number
    }

    /// Of how many.
    pub fn count(self) -> u32 {
        self.count
    }

    /// The part of so many that the point number `index` of the plan falls to.
    pub fn of_point(plan: &Plan<'_>, index: u64, count: u32) -> Self {
        let run = index / plan.run_length();
        let number = (run % u64::from(count.max(1))) as u32 + 1;
        Self { count, number }
    }

    /// Whether the point number `index` of the plan falls to this part.
    pub fn contains(self, plan: &Plan<'_>, index: u64) -> bool {
        Self::of_point(plan, index, self.count) == self
    }

    /// How many points of the plan fall to this part.
    pub fn len(self, plan: &Plan<'_>) -> u64 {
        let length = plan.run_length();
        let whole_runs = plan.len() / length;
        let (own, count) = (u64::from(self.number) - 1, u64::from(self.count));
        let runs = (whole_runs + count - 1 - own) / count;
        let rest_here = whole_runs % count == own;
        runs * length + if rest_here { plan.len() % length } else { 0 }
    }

    /// Whether no point falls to it: there are more parts than runs.
    pub fn is_empty(self, plan: &Plan<'_>) -> bool {
        self.len(plan) == 0
    }

    /// First point of the run number `turn` of this part; none beyond the plan.
    pub fn run_start(self, plan: &Plan<'_>, turn: u64) -> Option<u64> {
        let run = turn
            .checked_mul(u64::from(self.count))?
            .checked_add(u64::from(self.number) - 1)?;
        let start = run.checked_mul(plan.run_length())?;
        (start < plan.len()).then_some(start)
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}/{}", self.number, self.count)
    }
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('/').and_then(|(number, count)| {
            Self::new(number.trim().parse().ok()?, count.trim().parse().ok()?)
        });
        parts.ok_or_else(|| {
            "expected a part and how many there are, such as 3/16 for the third of sixteen"
                .to_owned()
        })
    }
}
