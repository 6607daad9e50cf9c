//! One event in counts: who does what, and what a pad makes of it.

use super::count::{PadField, count, signed, sizes};
use super::input_ends::InputEnds;
use crate::panel::Panel;
use crate::rounding::significant;
use crate::touch::Surrounding;
use padfield_engine::units::Length;

/// What a pad should make of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// The pad should act.
    True,
    /// The pad should not act.
    False,
    /// The pad may act or not: told, not judged.
    Either,
}

impl Group {
    /// As in tables and records.
    pub fn words(self) -> &'static str {
        match self {
            Self::True => "must act",
            Self::False => "must not act",
            Self::Either => "either",
        }
    }
}

/// A user's finger, palm or hand at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Gesture {
    pub user: String,
    pub supply: String,
    /// The pad that is aimed at.
    pub aimed_at: String,
    /// From that pad's centre to where the contact is.
    pub offset: [Length; 2],
    /// The pad the offset points to, if one lies there.
    pub towards: Option<String>,
}

/// What happens.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// A user aims at this pad.
    Touch(Gesture),
    /// A user aims at another pad.
    NeighbourTouch(Gesture),
    /// A palm leans beside the pad.
    Palm(Gesture),
    /// A user lays a finger on the trace of that name.
    TraceTouch(Gesture, String),
    /// A user misses the pad: the finger lies on the trace of that name, off the pad, but no farther than
    /// somebody who aims at the pad may land.
    NearMiss(Gesture, String),
    /// Nobody touches; the count is noisy.
    Noise,
    /// What baseline tracking leaves of the drift.
    Drift,
    /// The surroundings change; nobody touches a pad.
    Surrounding(Surrounding, String),
}

impl Cause {
    /// The gesture behind it, when somebody touches.
    pub fn gesture(&self) -> Option<&Gesture> {
        match self {
            Self::Touch(gesture)
            | Self::NeighbourTouch(gesture)
            | Self::Palm(gesture)
            | Self::NearMiss(gesture, _)
            | Self::TraceTouch(gesture, _) => Some(gesture),
            Self::Noise | Self::Drift | Self::Surrounding(..) => None,
        }
    }
}

/// An event in counts towards a touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// What the pad should make of it.
    pub group: Group,
    pub cause: Cause,
    /// Panel index of the pad whose count is meant.
    pub pad: usize,
    /// Index of the supply it happens on; none where no supply makes a difference.
    pub supply: Option<usize>,
    /// What the pad shows of its field at nominal values.
    pub field: PadField,
    /// The same with the field's inputs at the ends of their tolerances; empty when they have none.
    pub field_ends: Vec<PadField>,
    /// At nominal values \[counts\].
    pub mean: f64,
    /// Smallest and largest over the input tolerances \[counts\].
    pub input_range: [f64; 2],
    /// On the unit where its inputs are worst for it.
    pub worst: Worst,
    /// Estimated numerical error \[counts\].
    pub numerical_error: f64,
    /// Noise \[counts rms\].
    pub noise: f64,
    /// Unfavourable end of everything \[counts\].
    pub bound: f64,
}

/// An event on the unit whose inputs, each at an end of its tolerance, are worst for it: fewest counts above
/// the noise where the pad must act, most counts with the noise where it must not. Less sensitive units have
/// less of the noise that comes through the finger, too.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Worst {
    /// Mean there \[counts\].
    pub mean: f64,
    /// Noise there \[counts rms\].
    pub noise: f64,
}

impl Worst {
    /// How bad a unit is, with so many standard deviations of its noise: what is missing where something must be
    /// seen, what there is where nothing may be \[counts\].
    pub fn badness(&self, must_be_seen: bool, noise_margin: f64) -> f64 {
        let towards = match must_be_seen {
            true => -self.mean,
            false => self.mean,
        };
        towards + noise_margin * self.noise
    }
}

/// A noise in counts rms in words, and that of the worst unit where it is another.
pub fn noise_words(nominal: f64, worst: f64) -> String {
    let [nominal, worst] = [nominal, worst].map(|noise| significant(noise, 2));
    match nominal == worst {
        true => nominal,
        false => format!("{nominal} ({worst} on the worst unit)"),
    }
}

impl Event {
    /// Mean at the unfavourable end of inputs and numerical error, without noise \[counts\].
    pub fn worst_mean(&self) -> f64 {
        match self.group {
            Group::True => self.worst.mean - self.numerical_error,
            Group::False | Group::Either => self.worst.mean + self.numerical_error,
        }
    }

    /// Its unfavourable end on a unit where it has this mean and this noise: numerical error, in proportion,
    /// and so many standard deviations of the noise \[counts\].
    pub fn bound_at(&self, mean: f64, noise: f64, noise_margin: f64) -> f64 {
        let share = if self.mean == 0.0 {
            0.0
        } else {
            mean / self.mean
        };
        let margin = (self.numerical_error * share).abs() + noise_margin * noise;
        match self.group {
            Group::True => mean - margin,
            Group::False | Group::Either => mean + margin,
        }
    }

    /// The same with every input at its nominal value: one unit that is built as drawn \[counts\].
    pub fn nominal_bound(&self, noise_margin: f64) -> f64 {
        self.bound_at(self.mean, self.noise, noise_margin)
    }

    /// Sets mean, noise, the range over all inputs and the worst unit from its fields; `numerical_error` and the
    /// bound follow from the other numbers.
    pub fn counted(mut self, inputs: &InputEnds<'_>) -> Self {
        let nominal = count(
            inputs.nominal(),
            &self.cause,
            self.pad,
            self.supply,
            &self.field,
        );
        let mut range = [f64::INFINITY, f64::NEG_INFINITY];
        for field in std::iter::once(&self.field).chain(&self.field_ends) {
            let value =
                |panel: &Panel| signed(panel, &self.cause, self.pad, self.supply, field).mean;
            let [low, high] = inputs.range(&value);
            range = [range[0].min(low), range[1].max(high)];
        }
        if self.cause == Cause::Drift {
            range = sizes(range);
        }
        self.mean = nominal.mean;
        self.noise = nominal.noise;
        self.input_range = range;
        self.worst = self.worst_unit(inputs);
        self
    }

    /// The worst unit over all inputs and the panel's margin of noise.
    fn worst_unit(&self, inputs: &InputEnds<'_>) -> Worst {
        let margin = inputs.nominal().usage.noise_margin.value;
        let badness = |found: &Worst| found.badness(self.group == Group::True, margin);
        // A drift that may turn its sign has no extreme size at the ends, but either way one.
        let ways: &[f64] = match self.cause {
            Cause::Drift => &[1.0, -1.0],
            _ => &[1.0],
        };
        let fields = || std::iter::once(&self.field).chain(&self.field_ends);
        let units = ways.iter().flat_map(|way| {
            fields().map(move |field| {
                let unit = |panel: &Panel| {
                    let counted = signed(panel, &self.cause, self.pad, self.supply, field);
                    Worst {
                        mean: way * counted.mean,
                        noise: counted.noise,
                    }
                };
                inputs.worst(&unit, &badness)
            })
        });
        units
            .max_by(|a, b| badness(a).total_cmp(&badness(b)))
            .unwrap_or_default()
    }

    /// Sets [`Event::bound`] from the other numbers, with so many standard deviations of the noise.
    pub fn with_bound(mut self, noise_margin: f64) -> Self {
        let noise = noise_margin * self.worst.noise;
        self.bound = match self.group {
            Group::True => self.worst_mean() - noise,
            Group::False | Group::Either => self.worst_mean() + noise,
        };
        self
    }

    pub fn noise_words(&self) -> String {
        noise_words(self.noise, self.worst.noise)
    }

    /// The event in words, without the pad that sees it: "small child, 3 mm off to the left, isolated".
    pub fn words(&self) -> String {
        match &self.cause {
            Cause::Touch(gesture) => gesture.words(false),
            Cause::NeighbourTouch(gesture) => gesture.words(true),
            Cause::Palm(gesture) => format!(
                "{} with its middle {:.0} mm from \"{}\" {}, {} supply",
                gesture.user,
                gesture.distance().mm(),
                gesture.aimed_at,
                gesture.direction(),
                gesture.supply
            ),
            Cause::TraceTouch(gesture, trace) => format!(
                "{} on trace \"{trace}\", {:.0} mm from \"{}\", {} supply",
                gesture.user,
                gesture.distance().mm(),
                gesture.aimed_at,
                gesture.supply
            ),
            Cause::NearMiss(gesture, trace) => format!(
                "{} misses \"{}\" by {:.1} mm onto its trace \"{trace}\", {} supply",
                gesture.user,
                gesture.aimed_at,
                gesture.distance().mm(),
                gesture.supply
            ),
            Cause::Noise => "noise while nobody touches".to_owned(),
            Cause::Drift => "drift that tracking leaves".to_owned(),
            Cause::Surrounding(kind, name) => format!("{} {name}", kind.words()),
        }
    }
}

impl Gesture {
    /// From the pad's centre to the contact.
    pub fn distance(&self) -> Length {
        let [x, y] = self.offset.map(Length::metres);
        Length::from_metres(x.hypot(y))
    }

    fn words(&self, with_pad: bool) -> String {
        let mut text = self.user.clone();
        if with_pad {
            text += &format!(" on \"{}\"", self.aimed_at);
        }
        let distance = self.distance().mm();
        text += &if distance < 0.005 {
            ", centred".to_owned()
        } else {
            format!(", {} mm off {}", short(distance), self.direction())
        };
        format!("{text}, {} supply", self.supply)
    }

    /// `towards "mist"`, `to the left`, `upwards`, ...
    fn direction(&self) -> String {
        if let Some(pad) = &self.towards {
            return format!("towards \"{pad}\"");
        }
        let [x, y] = self.offset.map(Length::metres);
        let along = |large: f64, small: f64| large.abs() > 2.4 * small.abs();
        match (along(x, y), along(y, x)) {
            (true, _) if x > 0.0 => "to the right".to_owned(),
            (true, _) => "to the left".to_owned(),
            (_, true) if y > 0.0 => "upwards".to_owned(),
            (_, true) => "downwards".to_owned(),
            _ => format!(
                "to the {} {}",
                if y > 0.0 { "upper" } else { "lower" },
                if x > 0.0 { "right" } else { "left" }
            ),
        }
    }
}

fn short(mm: f64) -> String {
    let text = crate::rounding::fixed(mm, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}
