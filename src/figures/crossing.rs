//! Where a quantity meets its limit along a line of points.
//!
//! Between two points the line is interpolated monotonically: the logarithm of the value along x when
//! all values and the limit are positive, the value itself otherwise. Other monotone interpolations
//! (value along x, logarithm along logarithm) may meet the limit elsewhere between the same two points;
//! the interval holds them all. It also reaches from where the line of (value - error) meets the limit
//! to where the line of (value + error) does. When one of these does not meet it inside the computed
//! range, the interval is open to that side: it then ends one spacing beyond the range, which is a
//! place to compute next rather than an answer.
//!
//! ```
//! use padfield::chart::Reading;
//! use padfield::figures::crossing::crossings;
//!
//! let ratio = [(2.0, 60.0), (6.0, 22.0), (10.0, 8.0)];
//! let line = ratio.map(|(x, value)| Reading { x, value, error: 0.02 * value });
//! let met = crossings(&line, 20.0);
//! assert_eq!(met.describe("mm"), "6.38 mm (6.30 to 6.57)");
//! assert_eq!(crossings(&line, 90.0).describe("mm"), "none between 2 mm and 10 mm");
//! ```

use padfield_chart::Reading;

/// One place where the line meets the limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Where, in the unit of x.
    pub x: f64,
    /// Lower end of the interval, in the unit of x.
    pub low: f64,
    /// Upper end of the interval, in the unit of x.
    pub high: f64,
    /// Whether the interval goes on below `low`: an error bar holds the limit down to the first point.
    pub open_below: bool,
    /// Whether it goes on above `high`.
    pub open_above: bool,
    /// Whether the value rises through the limit as x rises.
    pub rising: bool,
    /// Whether points without a number lie in between: the place is a guess, the interval the whole gap.
    pub across_gap: bool,
}

/// All crossings of a line with a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossings {
    /// In the order of x.
    pub found: Vec<Crossing>,
    /// First and last x with a number; none when no point has one.
    pub range: Option<[f64; 2]>,
    /// Whether nothing was found although an error bar holds the limit.
    pub within_error: bool,
}

/// All places where the line through the readings meets the limit. Readings may come in any order;
/// those that are not finite are gaps, and of several at one x the first counts.
pub fn crossings(readings: &[Reading], limit: f64) -> Crossings {
    let runs = runs(readings);
    let points = || runs.iter().flatten();
    let range = points().next().zip(points().next_back());
    let scale = Scale {
        logarithm: limit > 0.0 && points().all(|p| p.value > 0.0),
        positive_x: points().all(|p| p.x > 0.0),
    };
    let mut found = Vec::new();
    for (number, run) in runs.iter().enumerate() {
        if let Some(before) = number.checked_sub(1).and_then(|n| runs[n].last()) {
            found.extend(across_gap(before, &run[0], limit, scale));
        }
        found.extend((1..run.len()).filter_map(|at| in_run(run, at, limit, scale)));
    }
    found.dedup_by(|second, first| second.x == first.x && second.rising == first.rising);
    drop_touches(&mut found);
    let holds = |p: &Reading| (p.value - limit).abs() <= p.error;
    Crossings {
        within_error: found.is_empty() && points().any(holds),
        range: range.map(|(first, last)| [first.x, last.x]),
        found,
    }
}

/// How to interpolate.
#[derive(Clone, Copy)]
struct Scale {
    logarithm: bool,
    positive_x: bool,
}

/// Readings in the order of x, cut where there is no number.
fn runs(readings: &[Reading]) -> Vec<Vec<Reading>> {
    let mut sorted: Vec<Reading> = readings
        .iter()
        .filter(|r| r.x.is_finite())
        .map(|r| Reading {
            error: if r.error.is_finite() {
                r.error.abs()
            } else {
                0.0
            },
            ..*r
        })
        .collect();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x));
    sorted.dedup_by(|later, first| later.x == first.x);
    sorted
        .split(|r| !r.value.is_finite())
        .filter(|run| !run.is_empty())
        .map(<[Reading]>::to_vec)
        .collect()
}

/// Whether a line from `a` to `b` passes from one side of the limit to the other.
fn passes(a: f64, b: f64, limit: f64) -> bool {
    (a > limit) != (b > limit)
}

/// Where the straight line between two points of a monotone picture of the plane meets the limit.
fn meets(a: [f64; 2], b: [f64; 2], limit: f64, log_value: bool, log_x: bool) -> f64 {
    let bent = |value: f64, bend: bool| if bend { value.ln() } else { value };
    let [ya, yb, yl] = [a[1], b[1], limit].map(|v| bent(v, log_value));
    let share = ((yl - ya) / (yb - ya)).clamp(0.0, 1.0);
    match log_x {
        true => a[0] * (b[0] / a[0]).powf(share),
        false => a[0] + share * (b[0] - a[0]),
    }
}

/// The crossing between points `at - 1` and `at` of a run.
fn in_run(run: &[Reading], at: usize, limit: f64, scale: Scale) -> Option<Crossing> {
    let (a, b) = (&run[at - 1], &run[at]);
    if !passes(a.value, b.value, limit) {
        return None;
    }
    let ends = [[a.x, a.value], [b.x, b.value]];
    let place = |log_value, log_x| meets(ends[0], ends[1], limit, log_value, log_x);
    let x = place(scale.logarithm, false);
    let others = [
        place(false, false),
        place(scale.logarithm, scale.logarithm && scale.positive_x),
    ];
    let rising = b.value > a.value;
    // A rising line with its errors added meets the limit earlier, a falling one later.
    let (earlier, later) = if rising { (1.0, -1.0) } else { (-1.0, 1.0) };
    let before = (1..=at)
        .rev()
        .find_map(|to| edge(run, to, earlier, limit, scale));
    let after = (at..run.len()).find_map(|to| edge(run, to, later, limit, scale));
    let spacing = |from: usize| run[from + 1].x - run[from].x;
    let below = || {
        let beyond = run[0].x - spacing(0);
        if scale.positive_x {
            beyond.max(0.0)
        } else {
            beyond
        }
    };
    let above = || run[run.len() - 1].x + spacing(run.len() - 2);
    let low = before.unwrap_or_else(below);
    let high = after.unwrap_or_else(above);
    Some(Crossing {
        x,
        low: others.into_iter().fold(low.min(x), f64::min),
        high: others.into_iter().fold(high.max(x), f64::max),
        open_below: before.is_none(),
        open_above: after.is_none(),
        rising,
        across_gap: false,
    })
}

/// Where the line of values with their errors added (or subtracted) meets the limit before point `to`.
fn edge(run: &[Reading], to: usize, sign: f64, limit: f64, scale: Scale) -> Option<f64> {
    let [a, b] = [&run[to - 1], &run[to]].map(|p| [p.x, p.value + sign * p.error]);
    let logarithm = scale.logarithm && a[1] > 0.0 && b[1] > 0.0;
    passes(a[1], b[1], limit).then(|| meets(a, b, limit, logarithm, false))
}

fn across_gap(before: &Reading, after: &Reading, limit: f64, scale: Scale) -> Option<Crossing> {
    let [a, b] = [before, after].map(|p| [p.x, p.value]);
    passes(before.value, after.value, limit).then(|| Crossing {
        x: meets(a, b, limit, scale.logarithm, false),
        low: before.x,
        high: after.x,
        open_below: false,
        open_above: false,
        rising: after.value > before.value,
        across_gap: true,
    })
}

/// A line that comes down to the limit in one point and goes up again does not cross it.
fn drop_touches(found: &mut Vec<Crossing>) {
    let mut at = 1;
    while at < found.len() {
        if found[at - 1].x == found[at].x {
            found.drain(at - 1..=at);
        } else {
            at += 1;
        }
    }
}

impl Crossing {
    /// `"6.38 mm (6.30 to 6.57)"`, and what has to be said of the interval.
    pub fn describe(&self, unit: &str) -> String {
        let half = (self.high - self.low) / 2.0;
        let decimals = match half > 0.0 {
            true => (1.0 - half.log10().floor()).clamp(0.0, 9.0) as usize,
            false => 6,
        };
        let fixed = |value: f64| format!("{value:.decimals$}");
        let text = format!(
            "{} ({} to {})",
            with_unit(&fixed(self.x), unit),
            fixed(self.low),
            fixed(self.high)
        );
        match self.remark() {
            "" => text,
            remark => format!("{text}, {remark}"),
        }
    }

    /// What has to be said of the interval; empty for an ordinary one.
    pub fn remark(&self) -> &'static str {
        match (self.across_gap, self.open_below, self.open_above) {
            (true, ..) => "in a gap without numbers",
            (_, true, true) => "interval open to both sides",
            (_, true, false) => "interval open below",
            (_, false, true) => "interval open above",
            _ => "",
        }
    }
}

impl Crossings {
    /// All crossings in words, or between which values there is none.
    pub fn describe(&self, unit: &str) -> String {
        let Some([first, last]) = self.range else {
            return "no point has a number".to_owned();
        };
        if self.found.is_empty() {
            let [first, last] = [first, last].map(|x| with_unit(&x.to_string(), unit));
            let within = match self.within_error {
                true => ", although error bars reach the limit",
                false => "",
            };
            return format!("none between {first} and {last}{within}");
        }
        let all: Vec<String> = self.found.iter().map(|c| c.describe(unit)).collect();
        all.join("; ")
    }
}

fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        "" => number.to_owned(),
        unit => format!("{number} {unit}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64, f64)]) -> Vec<Reading> {
        let reading = |&(x, value, error): &(f64, f64, f64)| Reading { x, value, error };
        points.iter().map(reading).collect()
    }

    #[test]
    fn an_exponential_is_met_exactly_and_its_errors_make_the_interval() {
        let points: Vec<_> = (1..=9)
            .map(f64::from)
            .map(|x| (x, 100.0 * (-x / 3.0).exp(), 5.0 * (-x / 3.0).exp()))
            .collect();
        let met = crossings(&line(&points), 20.0);
        let [only] = met.found[..] else {
            panic!("{met:?}")
        };
        // 100 exp(-x/3) = 20 at x = 3 ln 5; with 5 % more or less at 3 ln 5.25 and 3 ln 4.75.
        assert!((only.x - 3.0 * 5f64.ln()).abs() < 1e-12);
        assert!(only.low <= 3.0 * 4.75f64.ln() + 1e-12 && only.low > 3.0 * 4.75f64.ln() - 0.05);
        assert!(only.high >= 3.0 * 5.25f64.ln() - 1e-12 && only.high < 3.0 * 5.25f64.ln() + 0.05);
        assert!(!only.rising && !only.open_below && !only.open_above && !met.within_error);
    }

    #[test]
    fn the_interval_holds_a_power_law_through_coarse_points() {
        let power = |x: f64| 2.4 * x.powf(-1.2);
        let met = crossings(
            &line(&[(1.0, power(1.0), 0.0), (4.0, power(4.0), 0.0)]),
            1.0,
        );
        let truth = 2.4f64.powf(1.0 / 1.2);
        let only = met.found[0];
        assert!(only.low <= truth + 1e-12 && truth <= only.high, "{only:?}");
        assert!(only.high - only.low > 0.1);
    }

    #[test]
    fn values_that_change_sign_are_interpolated_as_they_are() {
        let met = crossings(&line(&[(0.0, -1.0, 0.25), (2.0, 1.0, 0.25)]), 0.5);
        let only = met.found[0];
        assert!((only.x - 1.5).abs() < 1e-12 && only.rising);
        assert!((only.low - 1.25).abs() < 1e-12 && (only.high - 1.75).abs() < 1e-12);
    }

    #[test]
    fn every_crossing_is_found_and_a_touch_is_none() {
        let wave = line(&[
            (1.0, 1.0, 0.0),
            (2.0, 3.0, 0.0),
            (3.0, 1.0, 0.0),
            (4.0, 5.0, 0.0),
        ]);
        let met = crossings(&wave, 2.0);
        let rising: Vec<bool> = met.found.iter().map(|c| c.rising).collect();
        assert_eq!(rising, [true, false, true]);
        assert!(crossings(&wave, 3.0).found.len() == 1);
        // It starts at 1, comes down to it and goes up again.
        let started = crossings(&wave, 1.0).found;
        assert!(started.len() == 1 && started[0].x == 1.0, "{started:?}");
        // Through a point exactly at the limit: once.
        let through = crossings(
            &line(&[(1.0, 3.0, 0.0), (2.0, 2.0, 0.0), (3.0, 1.0, 0.0)]),
            2.0,
        );
        assert_eq!(through.found.len(), 1);
        assert_eq!(through.found[0].x, 2.0);
    }

    #[test]
    fn an_error_bar_that_never_clears_the_limit_leaves_the_interval_open() {
        let flat = line(&[(2.0, 21.0, 2.0), (3.0, 19.0, 2.0), (5.0, 17.5, 2.0)]);
        let only = crossings(&flat, 20.0).found[0];
        assert!(only.open_below && !only.open_above);
        assert_eq!(only.low, 1.0);
        assert!(
            only.describe("mm").ends_with("interval open below"),
            "{}",
            only.describe("mm")
        );
        let above = crossings(&line(&[(2.0, 30.0, 1.0), (3.0, 19.5, 1.0)]), 20.0).found[0];
        assert!(above.open_above && !above.open_below);
        assert_eq!(above.high, 4.0);
    }

    #[test]
    fn gaps_are_told_and_no_crossing_is_said_as_such() {
        let holed = line(&[(2.0, 30.0, 0.1), (3.0, f64::NAN, 0.0), (4.0, 10.0, 0.1)]);
        let only = crossings(&holed, 20.0).found[0];
        assert!(only.across_gap && only.low == 2.0 && only.high == 4.0);
        let none = crossings(&holed, 9.95);
        assert_eq!(
            none.describe("mm"),
            "none between 2 mm and 4 mm, although error bars reach the limit"
        );
        assert_eq!(crossings(&[], 1.0).describe("mm"), "no point has a number");
    }

    #[test]
    fn order_and_doubled_points_make_no_difference() {
        let points = [
            (6.0, 22.0, 0.1),
            (2.0, 60.0, 0.1),
            (10.0, 8.0, 0.1),
            (6.0, 99.0, 0.1),
        ];
        let sorted = [points[1], points[0], points[2]];
        assert_eq!(
            crossings(&line(&points), 20.0),
            crossings(&line(&sorted), 20.0)
        );
    }
}
