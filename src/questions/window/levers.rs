//! What would widen the window: which value moves the window ratio most, and how far it has to go.

use super::contenders::Contenders;
use super::lifts::{Lift, lifts};
use super::{PadWindow, Window, decide, ratio, window_of};
use crate::event::{Event, Group, InputEnds, PadField, count};
use crate::input::{Candidate, Document, Override, Scalable};
use crate::panel::{Finger, Panel};
use crate::rounding::{signed, signed_with_error, significant};
use crate::sensitivity::{DifferentiatedTouch, PanelFamily, PlaceError, PlaceModel};
use crate::touch::{PadTouch, TouchError, TouchPlace, WorkLimits};
use padfield_engine::field::{FieldError, Settings};
use padfield_engine::units::Length;
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

/// Another way to lay a trace, with its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// What is done, for people.
    pub words: String,
    /// Window ratio with it: of every event where it was solved as a whole, else of the pair that binds now.
    pub ratio: f64,
    /// Whether every event was solved again.
    pub is_whole: bool,
}

impl LeverSearch {
    /// The first lever that reaches the wanted ratio.
    pub fn enough(&self) -> Option<&Lever> {
        let mut all = self.levers.iter();
        all.find(|lever| matches!(lever.reach, Reach::Reaches(_)))
    }
}

/// Events with their fields for comparison: the two that bind, or the weakest true one alone.
pub(super) struct Compared<'a> {
    events: Vec<&'a Event>,
    noise_margin: f64,
    /// What the pad shows at the places of all, on the panel as it is.
    pub(super) shown: Vec<Option<PadTouch>>,
    /// The touches among them with the rates of what the pad shows; none for what happens without a touch.
    models: Vec<Option<PlaceModel>>,
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
    pair.follow((document, panel), &scalables, &mut search, limits)?;
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

/// Those of the values that leave a panel on one side of what they are at least.
pub(super) fn possible(document: &Document, scalables: Vec<Scalable>) -> Vec<Scalable> {
    let all = scalables.into_par_iter();
    let is_possible = |one: &Scalable| {
        let ends = [1.0 - STEP, 1.0 + STEP];
        ends.into_iter()
            .any(|factor| with(document, &one.overrides(factor)).is_some())
    };
    all.filter(is_possible).collect()
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

/// Solves the binding pair with every other way to lay a trace, and the whole window with the best of them.
fn layouts(
    document: &Document,
    panel: &Panel,
    pair: &Compared<'_>,
    search: &mut LeverSearch,
    limits: &WorkLimits<'_>,
) -> Result<(), TouchError> {
    let candidates = document.trace_candidates(panel);
    let solve = |candidate: &Candidate, limits: &WorkLimits<'_>| {
        let Some(changed) = with(document, &candidate.overrides) else {
            return Ok(None);
        };
        (limits.progress)(&format!("what it does: {}", candidate.words));
        let shown = pair.solve(&changed.panel, limits)?;
        let layout = Layout {
            words: candidate.words.clone(),
            ratio: pair.ratio(&changed, &shown),
            is_whole: false,
        };
        Ok(layout.ratio.is_finite().then_some((layout, changed)))
    };
    // Side by side in shares of the memory; what finds no room there has all of it.
    let share = limits.under(Settings {
        memory_cap_bytes: limits.settings.memory_cap_bytes / rayon::current_num_threads() as u64,
        ..limits.settings.clone()
    });
    let shared: Vec<_> = candidates
        .par_iter()
        .map(|candidate| solve(candidate, &share))
        .collect();
    let mut found: Vec<(Layout, PanelFamily)> = Vec::new();
    for (candidate, solved) in candidates.iter().zip(shared) {
        found.extend(match solved {
            Err(TouchError::Field(FieldError::TooLarge { .. } | FieldError::NoMemory { .. })) => {
                solve(candidate, limits)?
            }
            solved => solved?,
        });
    }
    search.field_problems += found.len() * pair.touches();
    found.sort_by(|a, b| b.0.ratio.total_cmp(&a.0.ratio));
    if let Some((best, changed)) = found.first_mut()
        && best.ratio > search.ratio
    {
        let solved = window_of(changed, limits)?;
        search.field_problems += solved.field_problems;
        best.ratio = solved.binding().ratio;
        best.is_whole = true;
    }
    search.layouts = found.into_iter().map(|(layout, _)| layout).collect();
    Ok(())
}

/// The family of a file with some of its values elsewhere; none for an impossible panel.
pub(super) fn with(document: &Document, overrides: &[Override]) -> Option<PanelFamily> {
    PanelFamily::of_document(&document.overridden(overrides).ok()?).ok()
}

/// An event counted again; its numerical error keeps its share of the mean.
fn recounted_event(event: Event, inputs: &InputEnds<'_>, noise_margin: f64) -> Event {
    let before = event.mean;
    let mut counted = event.counted(inputs);
    if before != 0.0 {
        counted.numerical_error *= (counted.mean / before).abs();
    }
    counted.with_bound(noise_margin)
}

/// Window ratio of the panel when only what circuit and return path make of the fields has changed: every
/// event counted again.
pub(super) fn recounted(changed: &PanelFamily, found: &Window) -> f64 {
    let inputs = InputEnds::new(changed);
    let margin = changed.panel.usage.noise_margin.value;
    let mut table = found.table.clone();
    for event in &mut table.events {
        *event = recounted_event(event.clone(), &inputs, margin);
    }
    let touched = (0..changed.panel.pads.len())
        .map(|pad| decide(&changed.panel, &table, Some(pad)))
        .filter(|pad| pad.weakest_true.is_some());
    touched.map(|pad| pad.ratio).fold(f64::INFINITY, f64::min)
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

impl<'a> Compared<'a> {
    fn pair(panel: &Panel, found: &'a Window, binding: &PadWindow) -> Option<Self> {
        let events = [binding.weakest_true?, binding.strongest_false?];
        Some(Self {
            events: events.map(|index| &found.table.events[index]).to_vec(),
            noise_margin: panel.usage.noise_margin.value,
            shown: Vec::new(),
            models: Vec::new(),
        })
    }

    /// Solves all on the panel as it is, with the rates of what the pad shows to these values.
    pub(super) fn follow(
        &mut self,
        (document, panel): (&Document, &Panel),
        scalables: &[Scalable],
        search: &mut LeverSearch,
        limits: &WorkLimits<'_>,
    ) -> Result<(), TouchError> {
        (limits.progress)("what every value of the file does to the binding events");
        self.shown = self.solve(panel, limits)?;
        search.field_problems += self.touches();
        let family = PanelFamily::turning(document, panel, scalables);
        let places = self.events.par_iter().zip(&self.shown);
        let models = places.map(|(event, known)| {
            let Some(place) = place(panel, event) else {
                return Ok(None);
            };
            let watched = (event.pad, Some(&[event.pad][..]));
            match PlaceModel::new(&family, &place, watched, *known, &|_| true, limits) {
                Ok(model) => Ok(Some(model)),
                Err(PlaceError::NotInModel) => Ok(None),
                Err(PlaceError::Touch(error)) => Err(error),
                Err(PlaceError::Scenario(error)) => Err(TouchError::Panel(error)),
            }
        });
        self.models = models.collect::<Result<_, _>>()?;
        let problems = self.models.iter().flatten().map(|model| model.problems);
        search.field_problems += problems.sum::<usize>();
        Ok(())
    }

    /// What the pad shows with a value turned by a factor; what happens without a touch has the place of the first.
    pub(super) fn turned(&self, index: usize, factor: f64) -> Vec<Option<PadTouch>> {
        let own = |model: &PlaceModel| model.carried(&[(index, factor)]);
        let first = self
            .models
            .first()
            .and_then(|model| model.as_ref().map(own));
        let all = self.models.iter();
        all.map(|model| model.as_ref().map(own).or(first)).collect()
    }

    /// What the pad shows where the events touch a panel; what happens without a touch has the place of the first.
    fn solve(
        &self,
        panel: &Panel,
        limits: &WorkLimits<'_>,
    ) -> Result<Vec<Option<PadTouch>>, TouchError> {
        let all = self.events.par_iter().map(|event| {
            let Some(place) = place(panel, event) else {
                return Ok(None);
            };
            let only = Some(&[event.pad][..]);
            let touch = DifferentiatedTouch::solve_for(panel, &place, only, limits)?;
            Ok(touch.pads()?[event.pad])
        });
        let mut shown = all.collect::<Result<Vec<Option<PadTouch>>, TouchError>>()?;
        for number in 0..shown.len() {
            shown[number] = shown[number].or(shown[0]);
        }
        Ok(shown)
    }

    /// How many of the events are touches.
    fn touches(&self) -> usize {
        let all = self.events.iter();
        all.filter(|event| event.cause.gesture().is_some()).count()
    }

    /// The bound of one of the events on another panel, whose pad shows this; numerical errors keep their
    /// share of the mean, what the field does at the ends of its inputs its proportion.
    pub(super) fn bound(
        &self,
        number: usize,
        changed: &PanelFamily,
        shown: &[Option<PadTouch>],
    ) -> f64 {
        let (Some(from), Some(to)) = (&self.shown[number], &shown[number]) else {
            return f64::NAN;
        };
        let event = self.events[number];
        let scaled = |field: &PadField| field.scaled_like(from, to);
        let moved = Event {
            field: scaled(&event.field),
            field_ends: event.field_ends.iter().map(scaled).collect(),
            ..event.clone()
        };
        recounted_event(moved, &InputEnds::new(changed), self.noise_margin).bound
    }

    /// The ratio of the two bounds on another panel, whose pad shows this.
    fn ratio(&self, changed: &PanelFamily, shown: &[Option<PadTouch>]) -> f64 {
        let [weakest, strongest] = [0, 1].map(|number| self.bound(number, changed, shown));
        ratio(weakest, strongest)
    }

    /// Relative numerical error of the ratio.
    fn relative_error(&self) -> f64 {
        self.events
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
    debug_assert!(event.group != Group::True || pad == event.pad);
    Some(TouchPlace { finger, pad })
}
