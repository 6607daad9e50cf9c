//! What would widen the window: which value moves the window ratio most, and how far it has to go.

use super::compared::{Compared, possible, recounted, with};
use super::contenders::Contenders;
use super::layouts::{Layout, layouts};
use super::lifts::{Lift, lifts};
use super::{Window, window_of};
use crate::event::{Event, count};
use crate::input::{Document, Scalable};
use crate::panel::Panel;
use crate::rounding::{signed, signed_with_error, significant};
use crate::sensitivity::PanelFamily;
use crate::touch::{TouchError, WorkLimits};
use rayon::prelude::*;

/// Relative step to either side of a value.
pub(super) const STEP: f64 = 0.1;
/// Furthest a value is moved, as a factor.
pub const FURTHEST: f64 = 2.5;
/// The check meets the wanted ratio within this share.
const CLOSE: f64 = 0.03;
/// Windows solved to check, of the events near the binding ones; and how many values of one lever are tried.
const MOST_CHECKS: usize = 4;

/// What one value does to the window ratio of the binding pair.
#[derive(Clone, Debug, PartialEq)]
pub struct Lever {
    /// The value.
    pub scalable: Scalable,
    /// Relative change of the window ratio over relative change of the value, d ln W / d ln p, by
    /// central difference over 10 % to either side, to which fields follow their derivatives as powers.
    pub log_sensitivity: f64,
    /// Estimated numerical error of it.
    pub log_sensitivity_error: f64,
    /// What is known of the way to the wanted ratio.
    pub reach: Reach,
}

/// Whether one value reaches the wanted ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// Every event was counted again with this value, in its unit, which reaches it.
    Reaches(Checked),
    /// The best value that was tried does not.
    FallsShort(Checked),
    /// Its slope says that a factor of [`FURTHEST`] would not be enough, or that it does nothing.
    TooFar,
    /// It may reach it; that was not tried.
    NotTried,
    /// The wanted ratio is there without it.
    NotNeeded,
}

/// A lever put to the test: events counted again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checked {
    /// The value in its unit.
    pub value: f64,
    /// Window ratio with that value.
    pub ratio: f64,
    /// Whether every event was counted; otherwise those near the binding ones, and the ratio may be smaller.
    pub is_whole: bool,
}

impl Lever {
    /// Change of the window ratio per unit of the value.
    pub fn per_unit(&self, ratio: f64) -> f64 {
        self.log_sensitivity * ratio / self.scalable.value
    }

    /// Change of W by 10 % more, in percent. What changes no field has no error of a field.
    pub fn at_ten_percent(&self) -> String {
        let change = 10.0 * self.log_sensitivity;
        match self.scalable.changes_field {
            true => format!(
                "{} %",
                signed_with_error(change, 10.0 * self.log_sensitivity_error)
            ),
            false => format!("{} %", signed(change, 1)),
        }
    }

    /// In words where no value was found that every event was counted again with.
    pub fn untried_words(&self) -> &'static str {
        match self.reach {
            Reach::TooFar => "not within a factor of 2.5",
            Reach::NotTried => "not tried",
            Reach::NotNeeded => "-",
            Reach::Reaches(_) | Reach::FallsShort(_) => "",
        }
    }

    /// What was found when every event was counted again.
    pub fn checked(&self) -> Option<Checked> {
        match self.reach {
            Reach::Reaches(checked) | Reach::FallsShort(checked) => Some(checked),
            Reach::TooFar | Reach::NotTried | Reach::NotNeeded => None,
        }
    }
}

/// Levers, the strongest first, and what was checked.
#[derive(Clone, Debug, PartialEq)]
pub struct LeverSearch {
    /// Window ratio at the values of the file.
    pub ratio: f64,
    /// Window ratio asked for.
    pub wanted: f64,
    /// The levers, those that reach the wanted ratio first, then by strength.
    pub levers: Vec<Lever>,
    /// Other ways to lay the traces, the widest window first; none looked at when the wanted ratio is there.
    pub layouts: Vec<Layout>,
    /// Field problems solved.
    pub field_problems: usize,
    /// Why there are no levers.
    pub missing: Option<String>,
    /// Where nothing is left of the weakest true touch, what would leave it most, the best first.
    pub lifts: Vec<Lift>,
    /// What is left of it now \[counts\]: its lowest bound, below zero; none where there is a ratio.
    pub left_counts: Option<f64>,
}

impl LeverSearch {
    /// The first lever that reaches the wanted ratio.
    pub fn enough(&self) -> Option<&Lever> {
        let mut all = self.levers.iter();
        all.find(|lever| matches!(lever.reach, Reach::Reaches(_)))
    }
}

/// Finds what moves the window ratio of the binding pair and checks the shortest ways to the wanted one.
///
/// `found` is the window of `family`, which needs its file.
///
/// # Errors
/// See [`TouchError`].
pub fn levers(
    family: &PanelFamily,
    found: &Window,
    limits: &WorkLimits<'_>,
) -> Result<LeverSearch, TouchError> {
    let limits = &limits.starting_at(found.table.fineness);
    let panel = &family.panel;
    let binding = found.binding();
    let mut search = LeverSearch {
        ratio: binding.ratio,
        wanted: panel.usage.wanted_ratio.value,
        levers: Vec::new(),
        layouts: Vec::new(),
        field_problems: 0,
        missing: None,
        lifts: Vec::new(),
        left_counts: None,
    };
    let Some(document) = &family.document else {
        search.missing = Some("the panel has no file whose values could be turned".to_owned());
        return Ok(search);
    };
    let Some(mut pair) = Compared::pair(panel, found, binding) else {
        search.missing = Some("a weakest true or strongest false event is missing".to_owned());
        return Ok(search);
    };
    if !(binding.ratio > 0.0 && binding.ratio.is_finite()) {
        search.missing = Some(match binding.ratio > 0.0 {
            true => "nothing false is seen at all".to_owned(),
            false => nothing_left(panel, pair.events[0]),
        });
        if binding.ratio <= 0.0 {
            search.left_counts = Some(pair.events[0].bound);
            pair.events.truncate(1);
            lifts(document, panel, pair, found, &mut search, limits)?;
        }
        return Ok(search);
    }
    let scalables = possible(document, document.scalables(panel));
    search.field_problems += pair.follow((document, panel), &scalables, limits)?;
    let ratio = search.ratio;
    let all = scalables.into_par_iter().enumerate();
    let all = all.map(|(index, scalable)| turned(document, (index, scalable), &pair, found, ratio));
    search.levers = all.flatten().collect();
    let way = |lever: &Lever| {
        let factor = power_law(search.ratio, search.wanted, lever);
        factor.map_or(f64::INFINITY, |factor| factor.ln().abs())
    };
    search.levers.sort_by(|a, b| {
        let by_way = way(a).total_cmp(&way(b));
        by_way.then(b.log_sensitivity.abs().total_cmp(&a.log_sensitivity.abs()))
    });
    check(document, found, &mut search, limits)?;
    if search.ratio < search.wanted {
        layouts(document, panel, &pair, &mut search, limits)?;
    }
    let reaches = |lever: &Lever| matches!(lever.reach, Reach::Reaches(_));
    search.levers.sort_by_key(|lever| !reaches(lever));
    Ok(search)
}

/// What a step of a value to either side does to the window ratio; none when neither leaves a panel with one.
fn turned(
    document: &Document,
    (index, scalable): (usize, Scalable),
    pair: &Compared<'_>,
    found: &Window,
    nominal: f64,
) -> Option<Lever> {
    let mut ends = Vec::new();
    for factor in [1.0 - STEP, 1.0 + STEP] {
        // A step that makes an impossible panel leaves the other side.
        let Some(changed) = with(document, &scalable.overrides(factor)) else {
            continue;
        };
        let ratio = match scalable.changes_field {
            true => pair.ratio(&changed, &pair.turned(index, factor)),
            false => recounted(&changed, found),
        };
        if ratio > 0.0 && ratio.is_finite() {
            ends.push((factor.ln(), ratio.ln()));
        }
    }
    if ends.len() == 1 {
        ends.push((0.0, nominal.ln()));
    }
    let [(x0, y0), (x1, y1)] = ends[..] else {
        return None;
    };
    let log_sensitivity = (y1 - y0) / (x1 - x0);
    Some(Lever {
        log_sensitivity,
        log_sensitivity_error: match scalable.changes_field {
            true => pair.relative_error() * (1.0 + log_sensitivity.abs()),
            false => 0.0,
        },
        scalable,
        reach: Reach::NotTried,
    })
}

/// What takes all counts of the weakest true touch, so that no ratio is left to widen.
fn nothing_left(panel: &Panel, event: &Event) -> String {
    let margin = panel.usage.noise_margin.value;
    let of_counts = |value: f64| significant(value, 2);
    let mut text = format!(
        "nothing is left of the weakest true touch. Of its {} counts the inputs take {}, the numerical error {}, \
         {margin} standard deviations of the noise {}",
        of_counts(event.mean),
        of_counts((event.mean - event.worst.mean).max(0.0)),
        of_counts(event.numerical_error),
        of_counts(margin * event.worst.noise)
    );
    let counted = count(panel, &event.cause, event.pad, event.supply, &event.field);
    let supply = event.supply.map(|index| &panel.usage.supplies.value[index]);
    // As powers: more than half of the noise comes through the finger.
    if let Some(supply) = supply
        && 2.0 * counted.common_mode.powi(2) > counted.noise.powi(2)
    {
        text += &format!(
            ", most of which is the common-mode voltage of supply \"{}\"",
            supply.name
        );
    }
    text
}

/// Factor at which the power law of the slope reaches the wanted ratio: where to start looking, never an
/// answer.
fn power_law(ratio: f64, wanted: f64, lever: &Lever) -> Option<f64> {
    if ratio >= wanted
        || lever.log_sensitivity.abs() <= 2.0 * lever.log_sensitivity_error
        || ratio <= 0.0
    {
        return None;
    }
    let factor = (wanted / ratio).powf(lever.log_sensitivity.recip());
    (FURTHEST.recip()..=FURTHEST)
        .contains(&factor)
        .then_some(factor)
}

/// Counts events again at values of the levers with the shortest ways, corrected by secants: all of them where only
/// the circuit changes, which costs nothing and is always tried; else those near the binding ones, and all with
/// the value that reaches.
fn check(
    document: &Document,
    found: &Window,
    search: &mut LeverSearch,
    limits: &WorkLimits<'_>,
) -> Result<(), TouchError> {
    let (start, wanted) = (search.ratio, search.wanted);
    let near = Contenders::of(found);
    let mut left = MOST_CHECKS;
    for index in 0..search.levers.len() {
        let lever = search.levers[index].clone();
        if start >= wanted {
            search.levers[index].reach = Reach::NotNeeded;
            continue;
        }
        let Some(mut factor) = power_law(start, wanted, &lever) else {
            search.levers[index].reach = Reach::TooFar;
            continue;
        };
        let scalable = &lever.scalable;
        let is_enough = |ratio: f64| ratio >= wanted * (1.0 - CLOSE);
        let done = search.enough().is_some();
        let mut best: Option<Checked> = None;
        for _ in 0..MOST_CHECKS {
            if scalable.changes_field && (left == 0 || done) {
                break;
            }
            let Some(changed) = with(document, &scalable.overrides(factor)) else {
                break;
            };
            let ratio = if scalable.changes_field {
                (limits.progress)(&format!("checking {} with what is near", scalable.path));
                let (ratio, problems) = near.ratio(&changed, limits)?;
                left -= 1;
                search.field_problems += problems;
                ratio
            } else {
                recounted(&changed, found)
            };
            let tried = Checked {
                value: factor * scalable.value,
                ratio,
                is_whole: !scalable.changes_field,
            };
            if best.is_none_or(|best| ratio > best.ratio) {
                best = Some(tried);
            }
            if is_enough(ratio) && ratio <= wanted * 1.2 {
                best = Some(tried);
                break;
            }
            let exponent = (ratio / start).ln() / factor.ln();
            let next = (wanted / start).powf(exponent.recip());
            if !(FURTHEST.recip()..=FURTHEST).contains(&next) || ratio <= 0.0 {
                break;
            }
            factor = next;
        }
        if let Some(checked) = &mut best
            && is_enough(checked.ratio)
            && !checked.is_whole
            && let Some(changed) = with(
                document,
                &scalable.overrides(checked.value / scalable.value),
            )
        {
            (limits.progress)(&format!("checking {} with every touch", scalable.path));
            let solved = window_of(&changed, limits)?;
            search.field_problems += solved.field_problems;
            checked.ratio = solved.binding().ratio;
            checked.is_whole = true;
        }
        search.levers[index].reach = match best {
            Some(checked) if is_enough(checked.ratio) => Reach::Reaches(checked),
            Some(checked) => Reach::FallsShort(checked),
            None => Reach::NotTried,
        };
    }
    Ok(())
}
