//! What would widen the window: which value moves the window ratio most, and how far it has to go.

use super::event::{Cause, Event, Group};
use super::events::{at_pin, return_paths};
use super::{PadWindow, Window, window};
use crate::panel::{Finger, Panel};
use crate::scenario::{Document, Override, Scalable};
use crate::touch::{TouchError, TouchPlace, Touches, WorkLimits, solve_touches};
use crate::units::{Capacitance, Length};

/// Relative step to either side of a value.
const STEP: f64 = 0.1;
/// Furthest a value is moved, as a factor.
const FURTHEST: f64 = 2.5;
/// The check meets the wanted ratio within this share.
const CLOSE: f64 = 0.03;
/// Whole windows solved to check.
const MOST_CHECKS: usize = 4;

/// What one value does to the window ratio of the binding pair.
#[derive(Clone, Debug, PartialEq)]
pub struct Lever {
    /// The value.
    pub scalable: Scalable,
    /// Relative change of the window ratio over relative change of the value, d ln W / d ln p, by
    /// central difference over 10 % to either side.
    pub exponent: f64,
    /// Estimated numerical error of the exponent.
    pub exponent_error: f64,
    /// The value at which the power law reaches the wanted ratio; none when that lies beyond a factor
    /// of 2.5, or the wanted ratio is there already.
    pub needed: Option<f64>,
}

impl Lever {
    /// Change of the window ratio per unit of the value.
    pub fn per_unit(&self, ratio: f64) -> f64 {
        self.exponent * ratio / self.scalable.value
    }
}

/// A lever put to the test: every touch of every user solved again.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// Index into the levers.
    pub lever: usize,
    /// The value in its unit.
    pub value: f64,
    /// Window ratio with that value.
    pub ratio: f64,
    /// Whether that is the wanted ratio, within 3 %.
    pub is_enough: bool,
}

/// Levers, the strongest first, and what was checked.
#[derive(Clone, Debug, PartialEq)]
pub struct LeverSearch {
    /// Window ratio at the values of the file.
    pub ratio: f64,
    /// Window ratio asked for.
    pub wanted: f64,
    /// The levers, the shortest way first.
    pub levers: Vec<Lever>,
    /// Values that were checked, the last one of each lever.
    pub checked: Vec<Checked>,
    /// Field problems solved.
    pub field_problems: usize,
    /// Why there are no levers.
    pub missing: Option<String>,
}

/// The two events that bind, to be solved on other panels.
struct Pair<'a> {
    weakest: &'a Event,
    strongest: &'a Event,
    noise_margin: f64,
}

/// Finds what moves the window ratio of the binding pair and checks the shortest way to the wanted one.
///
/// `found` is the window of `panel`, which is `document` under `overrides`.
///
/// # Errors
/// See [`TouchError`].
pub fn levers(
    document: &Document,
    overrides: &[Override],
    panel: &Panel,
    found: &Window,
    limits: &WorkLimits<'_>,
) -> Result<LeverSearch, TouchError> {
    let limits = &limits.starting_at(found.table.fineness);
    let binding = found.binding();
    let mut search = LeverSearch {
        ratio: binding.ratio,
        wanted: panel.usage.wanted_ratio.value,
        levers: Vec::new(),
        checked: Vec::new(),
        field_problems: 0,
        missing: None,
    };
    let Some(pair) = Pair::new(panel, found, binding) else {
        search.missing = Some("a weakest true or strongest false event is missing".to_owned());
        return Ok(search);
    };
    let places = pair.places(panel);
    let nominal = solve_touches(panel, &places, limits)?;
    search.field_problems += nominal.problems();
    let start = pair.ratio(panel, &nominal)?;
    if !(start > 0.0 && start.is_finite()) {
        search.missing = Some("the weakest true touch shows nothing to build on".to_owned());
        return Ok(search);
    }
    for scalable in document.scalables(panel) {
        (limits.progress)(&format!("what {} does to the window", scalable.path));
        let mut ends = Vec::new();
        for factor in [1.0 - STEP, 1.0 + STEP] {
            let mut all = overrides.to_vec();
            all.extend(scalable.overrides(factor));
            // A step that makes an impossible panel leaves the other side.
            let Ok(changed) = document.panel(&all) else {
                continue;
            };
            let ratio = if scalable.changes_field {
                let touches = solve_touches(&changed, &pair.places(&changed), limits)?;
                search.field_problems += touches.problems();
                pair.ratio(&changed, &touches)?
            } else {
                pair.ratio(&changed, &nominal)?
            };
            if ratio > 0.0 && ratio.is_finite() {
                ends.push((factor.ln(), ratio.ln()));
            }
        }
        if ends.len() == 1 {
            ends.push((0.0, start.ln()));
        }
        let [(x0, y0), (x1, y1)] = ends[..] else {
            continue;
        };
        let exponent = (y1 - y0) / (x1 - x0);
        let exponent_error = if scalable.changes_field {
            pair.relative_error() / (x1 - x0).abs()
        } else {
            0.0
        };
        search.levers.push(Lever {
            needed: needed(&search, exponent, exponent_error).map(|f| f * scalable.value),
            scalable,
            exponent,
            exponent_error,
        });
    }
    let way = |lever: &Lever| {
        let factor = lever.needed.map(|needed| needed / lever.scalable.value);
        factor.map_or(f64::INFINITY, |factor| factor.ln().abs())
    };
    search.levers.sort_by(|a, b| {
        let by_way = way(a).total_cmp(&way(b));
        by_way.then(b.exponent.abs().total_cmp(&a.exponent.abs()))
    });
    check(document, overrides, &mut search, limits)?;
    Ok(search)
}

/// Factor at which the power law reaches the wanted ratio.
fn needed(search: &LeverSearch, exponent: f64, error: f64) -> Option<f64> {
    if search.ratio >= search.wanted || exponent.abs() <= 2.0 * error || search.ratio <= 0.0 {
        return None;
    }
    let factor = (search.wanted / search.ratio).powf(exponent.recip());
    (FURTHEST.recip()..=FURTHEST)
        .contains(&factor)
        .then_some(factor)
}

/// Solves the whole window at the needed value of the shortest ways, and corrects the value by secants.
fn check(
    document: &Document,
    overrides: &[Override],
    search: &mut LeverSearch,
    limits: &WorkLimits<'_>,
) -> Result<(), TouchError> {
    let mut left = MOST_CHECKS;
    for index in 0..search.levers.len() {
        let lever = &search.levers[index];
        let (Some(needed), value) = (lever.needed, lever.scalable.value) else {
            return Ok(());
        };
        let scalable = lever.scalable.clone();
        let mut factor = needed / value;
        while left > 0 {
            let mut all = overrides.to_vec();
            all.extend(scalable.overrides(factor));
            let Ok(changed) = document.panel(&all) else {
                break;
            };
            (limits.progress)(&format!("checking {} with every touch", scalable.path));
            let solved = window(&changed, limits)?;
            left -= 1;
            search.field_problems += solved.field_problems;
            let ratio = solved.binding().ratio;
            let is_enough = ratio >= search.wanted * (1.0 - CLOSE);
            search.checked.retain(|checked| checked.lever != index);
            search.checked.push(Checked {
                lever: index,
                value: factor * value,
                ratio,
                is_enough,
            });
            if is_enough && ratio <= search.wanted * 1.2 {
                return Ok(());
            }
            let exponent = (ratio / search.ratio).ln() / factor.ln();
            let next = (search.wanted / search.ratio).powf(exponent.recip());
            if !(FURTHEST.recip()..=FURTHEST).contains(&next) || ratio <= 0.0 {
                break;
            }
            factor = next;
        }
        if search.checked.iter().any(|checked| checked.is_enough) || left == 0 {
            return Ok(());
        }
    }
    Ok(())
}

impl<'a> Pair<'a> {
    fn new(panel: &Panel, found: &'a Window, binding: &PadWindow) -> Option<Self> {
        Some(Self {
            weakest: &found.table.events[binding.weakest_true?],
            strongest: &found.table.events[binding.strongest_false?],
            noise_margin: panel.usage.noise_margin.value,
        })
    }

    /// Where the two events touch the panel; what happens without a touch has the place of the other.
    fn places(&self, panel: &Panel) -> [TouchPlace; 2] {
        let weakest = place(panel, self.weakest);
        let strongest = place(panel, self.strongest).or_else(|| weakest.clone());
        let missing = || TouchPlace {
            finger: panel.usage.users.value[0].clone(),
            pad: 0,
        };
        [weakest, strongest].map(|place| place.unwrap_or_else(missing))
    }

    /// The ratio of the two bounds on another panel; tolerances and errors keep their share of the mean.
    fn ratio(&self, panel: &Panel, touches: &Touches) -> Result<f64, TouchError> {
        let weakest = self.bound(panel, touches, 0, self.weakest)?;
        let strongest = self.bound(panel, touches, 1, self.strongest)?;
        Ok(weakest / strongest)
    }

    fn bound(
        &self,
        panel: &Panel,
        touches: &Touches,
        index: usize,
        event: &Event,
    ) -> Result<f64, TouchError> {
        let supplies = &panel.usage.supplies.value;
        let gesture = event.cause.gesture();
        let supply = gesture.and_then(|g| supplies.iter().find(|s| s.name == g.supply));
        let Some(supply) = supply.or(supplies.first()) else {
            return Ok(f64::NAN);
        };
        let [nominal, ..] = return_paths(panel, supply);
        let seen = touches.seen(index, nominal)?;
        let (Some(base), Some(shift)) = (seen.bases[event.pad], seen.shifts[event.pad]) else {
            return Ok(f64::NAN);
        };
        let circuit = &panel.electronics.circuit;
        let base = at_pin(panel, event.pad, base.estimate.value);
        let shift = Capacitance::from_farads(shift.value);
        let through = seen.couplings[event.pad].map(Capacitance::from_farads);
        let untouched = circuit.noise(base).total();
        let (mean, noise) = match (&event.cause, panel.usage.drift_residue) {
            (Cause::Noise, _) | (Cause::Drift, None) => (0.0, untouched),
            // The film is not solved again: its counts stay as they are.
            (Cause::Surrounding(..), _) => (event.mean, untouched),
            (Cause::Drift, Some(residue)) => {
                (circuit.counts_towards_touch(base, residue), untouched)
            }
            _ => (
                circuit.counts_towards_touch(base, shift),
                circuit.noise_while_touched(base + shift, through),
            ),
        };
        let share = |counts: f64| {
            if event.mean == 0.0 {
                0.0
            } else {
                counts / event.mean
            }
        };
        let changed = Event {
            mean,
            input_range: event.input_range.map(|end| mean * share(end)),
            numerical_error: (mean * share(event.numerical_error)).abs(),
            noise,
            ..event.clone()
        };
        Ok(changed.with_bound(self.noise_margin).bound)
    }

    /// Relative numerical error of the ratio.
    fn relative_error(&self) -> f64 {
        [self.weakest, self.strongest]
            .iter()
            .filter(|event| event.mean != 0.0)
            .map(|event| (event.numerical_error / event.mean).abs())
            .sum()
    }
}

/// The place of an event on a panel that may have other dimensions: an offset keeps its length, and
/// a palm its distance from the pad.
pub(crate) fn place(panel: &Panel, event: &Event) -> Option<TouchPlace> {
    let gesture = event.cause.gesture()?;
    let usage = &panel.usage;
    let known = |finger: &&Finger| finger.name == gesture.user;
    let mut all = usage.users.value.iter().chain(usage.palm.as_ref());
    let mut finger = all.find(known)?.clone();
    finger.offset = gesture
        .offset
        .map(|part| Length::from_metres(part.metres()));
    let pad = panel
        .pads
        .iter()
        .position(|pad| pad.name == gesture.aimed_at)?;
    debug_assert!(event.group == Group::False || pad == event.pad);
    Some(TouchPlace { finger, pad })
}
