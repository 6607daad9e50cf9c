//! From events to a threshold, and what it is worth.

use super::gather::EventTable;
use crate::event::{Event, Group};
use crate::panel::Panel;
use padfield_engine::units::Time;
use statrs::distribution::{ContinuousCDF, Normal};

/// Most scans in a row that a recommended debounce may ask for.
const MOST_DEBOUNCE: u32 = 20;
/// How long a touch of a neighbour lasts (common practice, no source).
const TOUCH_SECONDS: f64 = 0.5;

/// Threshold and what follows from it, in counts towards a touch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThresholdChoice {
    /// Counts at which the pad acts: a whole number where one separates the bounds.
    pub threshold: f64,
    /// Counts at which it lets go.
    pub release: f64,
    /// Share of a typical adult touch; none without one.
    pub share_of_adult: Option<f64>,
    /// Whether the release threshold, too, lies above every false event.
    pub release_is_above_false: bool,
    /// Scans in a row that must agree.
    pub debounce: u32,
    /// Fewest scans in a row that keep false events rare enough; none up to 20.
    pub needed_debounce: Option<u32>,
    /// Time from scan to scan of all channels, segments of sliders and wheels too.
    pub cycle: Time,
    /// Longest time from touch to feedback with that debounce.
    pub response: Time,
    /// Probability that the weakest true touch is missed by one window of so many scans.
    pub miss_probability: f64,
    /// Events per year from noise alone, all pads with a threshold of their own together.
    pub false_per_year_from_noise: f64,
    /// Events per year if every touch of a neighbour were the strongest false one.
    pub false_per_year_from_neighbours: f64,
}

/// The window of one pad, or of all pads with one threshold.
#[derive(Clone, Debug, PartialEq)]
pub struct PadWindow {
    /// Panel index; none for all pads together.
    pub pad: Option<usize>,
    /// Index into the events; none when no user touches the pad.
    pub weakest_true: Option<usize>,
    /// Index into the events; none when nothing false is known.
    pub strongest_false: Option<usize>,
    /// Lowest bound of the true events over highest of the false ones; zero when the weakest true
    /// touch may show nothing, endless when nothing false can be seen.
    pub ratio: f64,
    /// The same with every input at its nominal value: one unit that is built as drawn.
    pub nominal_ratio: f64,
    /// The threshold; none when no threshold separates the two.
    pub choice: Option<ThresholdChoice>,
}

impl PadWindow {
    /// The ratio, and that of one unit as drawn; none where no user touches the pad alone, as the segments of
    /// a slider, whose total is judged.
    pub fn judged_ratios(&self) -> Option<[f64; 2]> {
        self.weakest_true.map(|_| [self.ratio, self.nominal_ratio])
    }
}

/// Probability that a normal variable exceeds `deviations` standard deviations. Source: M. Abramowitz
/// and I. A. Stegun, Handbook of Mathematical Functions, 26.2 (from memory); computed by a library.
pub(super) fn exceedance(deviations: f64) -> f64 {
    Normal::standard().sf(deviations)
}

/// Decides on the threshold of a pad, or of all pads together.
///
/// W is the lowest bound of the true events over the highest of the false ones; the threshold is their
/// geometric mean. Per scan an event of mean mu and noise sigma exceeds the threshold with probability
/// Q((threshold - mu)/sigma), n scans in a row with its n-th power; a true touch is missed by n scans
/// with 1 - (1 - Q((mu - threshold)/sigma))^n. Means are those at the unfavourable ends; scans count as
/// independent.
pub fn decide(panel: &Panel, table: &EventTable, pad: Option<usize>) -> PadWindow {
    let of_pad = |event: &Event| pad.is_none_or(|pad| event.pad == pad);
    let indexed = || table.events.iter().enumerate().filter(|(_, e)| of_pad(e));
    let weakest_true = indexed()
        .filter(|(_, event)| event.group == Group::True)
        .min_by(|(_, a), (_, b)| a.bound.total_cmp(&b.bound))
        .map(|(index, _)| index);
    let strongest_false = indexed()
        .filter(|(_, event)| event.group == Group::False)
        .max_by(|(_, a), (_, b)| a.bound.total_cmp(&b.bound))
        .map(|(index, _)| index);
    let mut window = PadWindow {
        pad,
        weakest_true,
        strongest_false,
        ratio: 0.0,
        nominal_ratio: nominal_ratio(panel, indexed().map(|(_, event)| event)),
        choice: None,
    };
    let (Some(weakest), Some(strongest)) = (weakest_true, strongest_false) else {
        return window;
    };
    let (weakest, strongest) = (&table.events[weakest], &table.events[strongest]);
    window.ratio = ratio(weakest.bound, strongest.bound);
    if window.ratio > 1.0 {
        window.choice = Some(choose(panel, table, weakest, strongest));
    }
    window
}

/// Lowest bound of the true events over highest of the false ones: zero when the weakest true touch may show
/// nothing, endless when nothing false can be seen.
pub(crate) fn ratio(weakest: f64, strongest: f64) -> f64 {
    if weakest <= 0.0 {
        0.0
    } else if strongest <= 0.0 {
        f64::INFINITY
    } else {
        weakest / strongest
    }
}

/// W of the means, with numerical error and noise but without input tolerances.
fn nominal_ratio<'e>(panel: &Panel, events: impl Iterator<Item = &'e Event>) -> f64 {
    let (mut weakest, mut strongest) = (f64::INFINITY, 0.0_f64);
    for event in events {
        let bound = event.nominal_bound(panel.usage.noise_margin.value);
        match event.group {
            Group::True => weakest = weakest.min(bound),
            Group::False => strongest = strongest.max(bound),
            Group::Either => {}
        }
    }
    ratio(weakest, strongest)
}

/// A whole number between the bounds, nearest to their geometric mean, or that mean itself.
pub(crate) fn threshold_between(low: f64, high: f64) -> f64 {
    let middle = (low.max(0.0) * high).sqrt();
    let whole = middle.round();
    let others = [whole, whole - 1.0, whole + 1.0];
    others
        .into_iter()
        .find(|&candidate| candidate > low && candidate < high && candidate > 0.0)
        .unwrap_or(middle)
}

fn choose(
    panel: &Panel,
    table: &EventTable,
    weakest: &Event,
    strongest: &Event,
) -> ThresholdChoice {
    let usage = &panel.usage;
    let threshold = threshold_between(strongest.bound, weakest.bound);
    let release = threshold * usage.release_share.value;
    let mut scan = panel.electronics.scan;
    let budget = scan.budget(&panel.electronics.circuit, &table.channels);
    let scans_per_year = Time::from_years(1.0).seconds() / budget.cycle.seconds();
    let per_scan = |event: &Event| {
        if event.worst.noise > 0.0 {
            exceedance((threshold - event.worst_mean()) / event.worst.noise)
        } else {
            f64::from(u8::from(event.worst_mean() >= threshold))
        }
    };
    let from_noise = |debounce: u32| -> f64 {
        let quiet = table.references.iter().map(|reference| {
            if reference.noise > 0.0 {
                exceedance(threshold / reference.noise)
            } else {
                0.0
            }
        });
        quiet
            .map(|probability| probability.powi(debounce as i32) * scans_per_year)
            .sum()
    };
    let touches_per_year = usage.touches_per_day.value * 365.25;
    let windows = (TOUCH_SECONDS / budget.cycle.seconds()).max(1.0);
    let from_neighbours = |debounce: u32| {
        let in_a_row = per_scan(strongest).powi(debounce as i32);
        touches_per_year * (windows * in_a_row).min(1.0)
    };
    let needed_debounce = (1..=MOST_DEBOUNCE)
        .find(|&n| from_noise(n) + from_neighbours(n) <= usage.false_per_year.value);
    let debounce = scan.debounce.max(1);
    scan.debounce = debounce;
    let typical = |reference: &&super::Reference| reference.pad == weakest.pad;
    let adult = table.references.iter().find(typical);
    let lost = if weakest.worst.noise > 0.0 {
        exceedance((weakest.worst_mean() - threshold) / weakest.worst.noise)
    } else {
        0.0
    };
    ThresholdChoice {
        threshold,
        release,
        share_of_adult: adult
            .filter(|reference| reference.counts > 0.0)
            .map(|reference| threshold / reference.counts),
        release_is_above_false: release > strongest.bound,
        debounce,
        needed_debounce,
        cycle: budget.cycle,
        response: scan
            .budget(&panel.electronics.circuit, &table.channels)
            .response,
        // 1 - (1 - p)^n without losing small p.
        miss_probability: -(f64::from(debounce) * (-lost).ln_1p()).exp_m1(),
        false_per_year_from_noise: from_noise(debounce),
        false_per_year_from_neighbours: from_neighbours(debounce),
    }
}
