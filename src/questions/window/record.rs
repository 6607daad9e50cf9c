//! The window for machines; counts are counts towards a touch, lengths mm.

use super::{
    Checked, Layout, Lever, LeverSearch, Lift, PadWindow, Reach, Reference, ThresholdChoice, Window,
};
use crate::accuracy::MissedRecord;
use crate::event::{Cause, Event, Gesture, Group};
use crate::record::{all, finite, record};

record! {
    /// The threshold over all users, or that there is none.
    pub struct WindowRecord(window: &Window, levers: Option<&LeverSearch>) {
        /// Whether every pad has a threshold.
        exists: bool = window.exists(),
        /// Window ratio of the pad where it is narrowest; null when it is endless.
        window_ratio: Option<f64> = finite(window.binding().ratio),
        /// Every pad.
        pads: Vec<PadRecord> = window.pads.iter().map(|pad| PadRecord::of(window, pad)).collect(),
        /// All pads with one threshold.
        one_threshold_for_all: PadRecord = PadRecord::of(window, &window.common),
        /// The events, true ones first; of every user, supply and pad the worst place.
        events: Vec<EventRecord> = {
            let events = window.table.events.iter();
            events.map(|event| EventRecord::of(&window.table.pads, event)).collect()
        },
        /// User of the references.
        reference_user: String = window.table.reference_user.clone(),
        /// A typical adult touch on every pad, for comparison: centred, first supply, nominal values.
        references: Vec<ReferenceRecord> = {
            let references = window.table.references.iter();
            references.map(|one| ReferenceRecord::of(&window.table.pads, one)).collect()
        },
        /// What would widen the window; null when that was not asked.
        levers: Option<LeversRecord> = levers.map(LeversRecord::of),
        /// What could not be judged because the panel file does not describe it.
        not_described: Vec<String> = window.table.not_described.clone(),
        /// What is assumed.
        assumptions: Vec<String> = window.assumptions.clone(),
        /// What it took and how exact it is.
        numerics: NumericsRecord = NumericsRecord::of(window),
    }

    /// What the window took and how exact it is.
    pub struct NumericsRecord(window: &Window) {
        /// Field problems that were solved.
        field_problems: usize = window.field_problems,
        /// Wall-clock time, s.
        seconds: f64 = window.seconds,
        /// Relative accuracy asked for.
        accuracy_asked: f64 = window.accuracy_asked,
        /// Whether every printed quantity has it.
        accuracy_reached: bool = window.accuracy_reached,
        /// The printed quantities that have not.
        accuracy_missed: Vec<MissedRecord> = all(&window.missed, MissedRecord::of),
    }

    /// The window of one pad, or of all pads with one threshold.
    pub struct PadRecord(window: &Window, pad: &PadWindow) {
        /// Its name; null for all pads together.
        pad: Option<String> = pad.pad.map(|pad| window.table.pads[pad].clone()),
        /// Lowest bound of the true events over the highest of the false ones; null when it is endless or
        /// nobody aims at the pad.
        window_ratio: Option<f64> = pad.judged_ratios().and_then(|[ratio, _]| finite(ratio)),
        /// The same with every input at its nominal value.
        nominal_window_ratio: Option<f64> = pad.judged_ratios().and_then(|[_, nominal]| finite(nominal)),
        /// The true event with the lowest bound.
        weakest_true: Option<EventRecord> = event(window, pad.weakest_true),
        /// The false event with the highest bound.
        strongest_false: Option<EventRecord> = event(window, pad.strongest_false),
        /// The threshold and what follows from it; null when there is none.
        choice: Option<ChoiceRecord> = pad.choice.as_ref().map(ChoiceRecord::of),
    }

    /// A threshold and what follows from it.
    pub struct ChoiceRecord(choice: &ThresholdChoice) {
        /// Counts at which the pad acts.
        threshold_counts: f64 = choice.threshold,
        /// Counts at which it lets go.
        release_counts: f64 = choice.release,
        /// Counts between them.
        hysteresis_counts: f64 = choice.threshold - choice.release,
        /// Whether the release threshold, too, lies above every false event.
        release_is_above_false: bool = choice.release_is_above_false,
        /// Share of a typical adult touch; null without one.
        share_of_adult_touch: Option<f64> = choice.share_of_adult,
        /// Scans in a row that must agree.
        debounce_scans: u32 = choice.debounce,
        /// Fewest scans in a row that keep false events rare enough; null: none up to 20.
        needed_debounce_scans: Option<u32> = choice.needed_debounce,
        /// Time from scan to scan of all channels, ms.
        cycle_ms: f64 = choice.cycle.ms(),
        /// Longest time from touch to feedback with that debounce, ms.
        response_ms: f64 = choice.response.ms(),
        /// Probability that the weakest true touch is missed by one window of so many scans.
        miss_probability: f64 = choice.miss_probability,
        /// Events per year from noise alone, all pads with a threshold of their own together.
        false_per_year_from_noise: f64 = choice.false_per_year_from_noise,
        /// Events per year if every touch of a neighbour were the strongest false one.
        false_per_year_from_neighbours: f64 = choice.false_per_year_from_neighbours,
    }

    /// A typical adult touch on a pad.
    pub struct ReferenceRecord(pads: &[String], reference: &Reference) {
        /// The pad.
        pad: String = pads[reference.pad].clone(),
        /// Its count shift.
        count_shift: f64 = reference.counts,
        /// Base at the pin, pF.
        base_at_pin_pf: f64 = reference.base_at_pin.pf(),
        /// Base count.
        base_count: f64 = reference.base_count,
        /// Untouched noise, counts rms.
        noise_counts_rms: f64 = reference.noise,
    }

    /// An event in counts towards a touch.
    pub struct EventRecord(pads: &[String], event: &Event) {
        /// What the pad should make of it: `true`, `false` or `either`.
        group: &'static str = match event.group {
            Group::True => "true",
            Group::False => "false",
            Group::Either => "either",
        },
        /// The pad whose count is meant.
        pad: String = pads[event.pad].clone(),
        /// What happens, for people.
        words: String = event.words(),
        /// What happens.
        cause: CauseRecord = CauseRecord::of(&event.cause),
        /// At nominal values, counts.
        mean_counts: f64 = event.mean,
        /// Smallest and largest over the input tolerances, counts.
        input_range_counts: [f64; 2] = event.input_range,
        /// Estimated numerical error, counts.
        numerical_error_counts: f64 = event.numerical_error,
        /// Noise, counts rms.
        noise_counts_rms: f64 = event.noise,
        /// Mean on the unit whose inputs are worst for it, counts.
        worst_mean_counts: f64 = event.worst.mean,
        /// Noise on that unit, counts rms.
        worst_noise_counts_rms: f64 = event.worst.noise,
        /// Unfavourable end of everything, counts.
        bound_counts: f64 = event.bound,
    }

    /// What happens.
    pub struct CauseRecord(cause: &Cause) {
        /// `touch`, `neighbour touch`, `palm`, `trace touch`, `near miss`, `noise`, `drift`, or a change of
        /// the surroundings.
        kind: &'static str = match cause {
            Cause::Touch(_) => "touch",
            Cause::NeighbourTouch(_) => "neighbour touch",
            Cause::Palm(_) => "palm",
            Cause::TraceTouch(..) => "trace touch",
            Cause::NearMiss(..) => "near miss",
            Cause::Noise => "noise",
            Cause::Drift => "drift",
            Cause::Surrounding(kind, _) => kind.words(),
        },
        /// Who touches, when somebody does.
        #[serde(flatten)]
        gesture: Option<GestureRecord> = cause.gesture().map(GestureRecord::of),
        /// Name of the trace under the finger.
        #[serde(skip_serializing_if = "Option::is_none")]
        trace: Option<String> = match cause {
            Cause::TraceTouch(_, trace) | Cause::NearMiss(_, trace) => Some(trace.clone()),
            _ => None,
        },
        /// Name of the change of the surroundings.
        #[serde(skip_serializing_if = "Option::is_none")]
        name: Option<String> = match cause {
            Cause::Surrounding(_, name) => Some(name.clone()),
            _ => None,
        },
    }

    /// A touch by somebody.
    pub struct GestureRecord(gesture: &Gesture) {
        /// Who touches.
        user: String = gesture.user.clone(),
        /// Supply of the device.
        supply: String = gesture.supply.clone(),
        /// The pad aimed at.
        aimed_at: String = gesture.aimed_at.clone(),
        /// From that pad's centre to where the contact is, mm.
        offset_mm: [f64; 2] = gesture.offset.map(|part| part.mm()),
    }

    /// What would widen the window.
    pub struct LeversRecord(search: &LeverSearch) {
        /// Window ratio at the values of the file; null when it is endless.
        window_ratio: Option<f64> = finite(search.ratio),
        /// Window ratio asked for.
        wanted_ratio: f64 = search.wanted,
        /// Values, those that reach the wanted ratio first, then by strength.
        levers: Vec<LeverRecord> =
            search.levers.iter().map(|lever| LeverRecord::of(search, lever)).collect(),
        /// Other ways to lay the traces, the widest window first.
        trace_layouts: Vec<LayoutRecord> = all(&search.layouts, LayoutRecord::of),
        /// Why there are no levers; null when there are.
        missing: Option<String> = search.missing.clone(),
        /// What is left of the weakest true touch: its lowest bound, below zero, counts; null where there is
        /// a ratio.
        left_counts: Option<f64> = search.left_counts,
        /// Where nothing is left of the weakest true touch, what would leave it most, the best first.
        lifts: Vec<LiftRecord> = all(&search.lifts, LiftRecord::of),
        /// Field problems that were solved for it.
        field_problems: usize = search.field_problems,
    }

    /// What one value does to the window ratio.
    pub struct LeverRecord(search: &LeverSearch, lever: &Lever) {
        /// Its dotted path.
        path: String = lever.scalable.path.clone(),
        /// The value.
        value: f64 = lever.scalable.value,
        /// Its unit; empty for plain numbers.
        unit: String = lever.scalable.unit.clone(),
        /// Relative change of the window ratio over relative change of the value.
        log_sensitivity: f64 = lever.log_sensitivity,
        /// Its estimated numerical error.
        log_sensitivity_error: f64 = lever.log_sensitivity_error,
        /// Change of the window ratio per unit of the value; null where there is none.
        ratio_change_per_unit: Option<f64> = finite(lever.per_unit(search.ratio)),
        /// Whether it reaches the wanted ratio alone: `reaches`, `falls short`, `too far`, `not tried` or
        /// `not needed`.
        reach: &'static str = match lever.reach {
            Reach::Reaches(_) => "reaches",
            Reach::FallsShort(_) => "falls short",
            Reach::TooFar => "too far",
            Reach::NotTried => "not tried",
            Reach::NotNeeded => "not needed",
        },
        /// A value with which every event was counted again; null where none was.
        checked: Option<TriedRecord> = lever.checked().map(TriedRecord::of),
    }

    /// A value with which events were counted again.
    pub struct TriedRecord(tried: Checked) {
        /// The value.
        value: f64 = tried.value,
        /// Window ratio with it; null when it is endless.
        window_ratio: Option<f64> = finite(tried.ratio),
        /// Whether every event was counted; otherwise those near the binding ones, and the ratio may be smaller.
        every_event_counted: bool = tried.is_whole,
    }

    /// Another way to lay a trace.
    pub struct LayoutRecord(layout: &Layout) {
        /// What is done, for people.
        words: String = layout.words.clone(),
        /// Window ratio with it; null when it is endless.
        window_ratio: Option<f64> = finite(layout.ratio),
        /// Whether every event was solved again; otherwise the pair that binds now.
        every_event_solved: bool = layout.is_whole,
    }

    /// What one value does to the weakest true touch.
    pub struct LiftRecord(lift: &Lift) {
        /// Its dotted path.
        path: String = lift.scalable.path.clone(),
        /// The value.
        value: f64 = lift.scalable.value,
        /// Its unit; empty for plain numbers.
        unit: String = lift.scalable.unit.clone(),
        /// What is left of the touch with 10 % less of it, counts; null for an impossible panel.
        left_with_10_percent_less_counts: Option<f64> = lift.left_counts[0],
        /// The same with 10 % more of it.
        left_with_10_percent_more_counts: Option<f64> = lift.left_counts[1],
        /// Of a value that changes no field: every event counted again with the factor of 2.5 that helps.
        furthest: Option<TriedRecord> = lift.furthest.map(TriedRecord::of),
    }
}

fn event(window: &Window, index: Option<usize>) -> Option<EventRecord> {
    index.map(|index| EventRecord::of(&window.table.pads, &window.table.events[index]))
}
