//! Keys whose value is one word out of a few.

use super::reading::Misread;
use crate::measuring_circuit::Start;
use crate::panel::{
    Application, CopperModel, Edge, FilmBound, IdleState, Model, NearMiss, SlotFilling, SlotSide,
};
use crate::study::Sequence;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;

/// The candidate spelled most like `word`, if one is near enough to be meant.
pub(crate) fn nearest<'c>(
    word: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .map(|candidate| {
            let distance = strsim::damerau_levenshtein(&word, &candidate.to_lowercase());
            (distance, candidate)
        })
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count() / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// `"a", "b" or "c"`.
pub(crate) fn listed<'c>(words: impl IntoIterator<Item = &'c str>) -> String {
    let quoted: Vec<String> = words.into_iter().map(|w| format!("\"{w}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => "nothing".to_owned(),
    }
}

struct WordVisitor<T: 'static> {
    known: &'static [(&'static str, T)],
}

impl<T: Copy> Visitor<'_> for WordVisitor<T> {
    type Value = T;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&listed(self.known.iter().map(|k| k.0)))
    }
    fn visit_str<E: de::Error>(self, text: &str) -> Result<T, E> {
        if let Some((_, value)) = self.known.iter().find(|known| known.0 == text) {
            return Ok(*value);
        }
        let all = listed(self.known.iter().map(|k| k.0));
        let hint = match nearest(text, self.known.iter().map(|k| k.0)) {
            Some(word) => format!("did you mean \"{word}\"? one of {all}"),
            None => format!("write one of {all}"),
        };
        Err(super::quantity::two_lines(Misread::new(
            format!("\"{text}\" is not known here"),
            hint,
        )))
    }
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident($inner:ty), $schema:literal, [$(($word:literal, $value:expr)),* $(,)?]) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub struct $name(pub $inner);

        impl $name {
            const KNOWN: &'static [(&'static str, $name)] = &[$(($word, $name($value))),*];
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserializer.deserialize_any(WordVisitor { known: Self::KNOWN })
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $schema.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "enum": [$($word),*] })
            }
        }
    };
}

words!(
    /// State of idle pads.
    IdleWord(IdleState), "IdleState",
    [("grounded", IdleState::Grounded), ("floating", IdleState::Floating), ("driven", IdleState::Driven)]
);
words!(
    /// How the panel becomes a field problem.
    ModelWord(Model), "Model",
    [("volume", Model::Volume), ("axisymmetric", Model::Axisymmetric), ("section", Model::Section)]
);
words!(
    /// How copper enters the field problem.
    CopperModelWord(CopperModel), "CopperModel",
    [("sheet", CopperModel::Sheet), ("thick", CopperModel::Thick)]
);
words!(
    /// What the panel is part of.
    ApplicationWord(Application), "Application",
    [
        ("mains", Application::Mains),
        ("appliance", Application::Appliance),
        ("machinery", Application::Machinery),
        ("medical", Application::Medical),
        ("emergency stop", Application::EmergencyStop),
        ("vehicle", Application::Vehicle),
        ("explosive atmosphere", Application::ExplosiveAtmosphere),
        ("public", Application::Public),
    ]
);
words!(
    /// How a ground area is filled.
    FillWord(FillKind), "Fill",
    [("solid", FillKind::Solid), ("hatch", FillKind::Hatch)]
);
words!(
    /// What copper that is no pad is connected to.
    ConnectionWord(ConnectionKind), "Connection",
    [
        ("grounded", ConnectionKind::Grounded),
        ("floating", ConnectionKind::Floating),
        ("driven", ConnectionKind::Driven),
    ]
);
words!(
    /// What a metal frame is connected to.
    BezelWord(BezelKind), "BezelState",
    [
        ("earthed", BezelKind::Earthed),
        ("floating", BezelKind::Floating),
        ("held", BezelKind::Held),
    ]
);
words!(
    /// How a hatch enters the field.
    DrawnWord(Drawn), "Drawn",
    [("sheet", Drawn::Sheet), ("lines", Drawn::Lines)]
);
words!(
    /// When an object is there.
    PresenceWord(Presence), "Presence",
    [("always", Presence::Always), ("at times", Presence::AtTimes)]
);
words!(
    /// What a glove is taken for.
    GloveWord(GloveKind), "GloveAs",
    [("dielectric", GloveKind::Dielectric), ("conductor", GloveKind::Conductor)]
);
words!(
    /// Ends of a slider.
    EndsWord(Ends), "Ends",
    [("full", Ends::Full), ("half", Ends::Half)]
);
words!(
    /// Face of the layer a slot is cut from.
    SideWord(SlotSide), "Side",
    [("back", SlotSide::Back), ("front", SlotSide::Front)]
);
words!(
    /// What is in a slot.
    FillingWord(SlotFilling), "Filling",
    [("air", SlotFilling::Air), ("water", SlotFilling::Water)]
);
words!(
    /// What a wet film is taken for.
    FilmWord(FilmBound), "FilmBound",
    [
        ("dielectric", FilmBound::Dielectric),
        ("floating", FilmBound::Floating),
        ("earthed", FilmBound::Earthed),
    ]
);
words!(
    /// Shape of a pad.
    ShapeWord(Shape), "Shape",
    [
        ("rectangle", Shape::Rectangle),
        ("rounded rectangle", Shape::RoundedRectangle),
        ("disc", Shape::Disc),
        ("ring", Shape::Ring),
        ("polygon", Shape::Polygon),
        ("slider", Shape::Slider),
        ("wheel", Shape::Wheel),
    ]
);

words!(
    /// How the variables of a study are combined.
    CombineWord(Combination), "Combination",
    [
        ("all", Combination::All),
        ("side by side", Combination::SideBySide),
        ("sample", Combination::Sample),
    ]
);
words!(
    /// How the samples of a study are drawn.
    SequenceWord(Sequence), "Sequence",
    [("sobol", Sequence::Sobol), ("random", Sequence::Random)]
);
words!(
    /// Distances of the values of a range.
    ScaleWord(Scale), "Scale",
    [("linear", Scale::Linear), ("logarithmic", Scale::Logarithmic)]
);
words!(
    /// How a value is distributed over its tolerance; the deviations of a normal one are a key of their own.
    SpreadWord(SpreadKind), "Spread",
    [
        ("rectangular", SpreadKind::Rectangular),
        ("triangular", SpreadKind::Triangular),
        ("normal", SpreadKind::Normal),
    ]
);
words!(
    /// What a pad should make of a finger that missed it onto its own trace.
    NearMissWord(NearMiss), "NearMiss",
    [
        ("must act", NearMiss::MustAct),
        ("either", NearMiss::Either),
        ("must not act", NearMiss::MustNotAct),
    ]
);
words!(
    /// Measuring principle.
    PrincipleWord(PrincipleKind), "Principle",
    [
        ("resistor oscillator", PrincipleKind::ResistorOscillator),
        ("current oscillator", PrincipleKind::CurrentOscillator),
        ("charge transfer", PrincipleKind::ChargeTransfer),
    ]
);
words!(
    /// Whether something is counted.
    YesWord(bool), "Yes",
    [("yes", true), ("no", false)]
);
words!(
    /// An edge of board and overlay.
    EdgeWord(Edge), "Edge",
    [("left", Edge::Left), ("right", Edge::Right), ("bottom", Edge::Bottom), ("top", Edge::Top)]
);
words!(
    /// How a measurement starts.
    StartWord(Start), "Start",
    [("free", Start::Free), ("synchronised", Start::Synchronised)]
);

/// Measuring principle; its values are keys of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PrincipleKind {
    /// `resistor`, `thresholds`.
    ResistorOscillator,
    /// `current`, `thresholds`.
    CurrentOscillator,
    /// `integration_capacitor`, `reference`, `transfer_time`.
    ChargeTransfer,
}

impl PrincipleKind {
    /// The words of the panel file.
    pub fn words(self) -> &'static str {
        let known = PrincipleWord::KNOWN.iter();
        known
            .filter(|(_, word)| word.0 == self)
            .map(|(words, _)| *words)
            .next()
            .unwrap_or_default()
    }
}

/// How the variables of a study are combined; the number of samples is a key of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Combination {
    /// Each with each.
    All,
    /// First with first, second with second.
    SideBySide,
    /// Spread over the ranges.
    Sample,
}

/// How a value is distributed over its tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpreadKind {
    /// The same probability everywhere.
    Rectangular,
    /// Rising to the nominal value.
    Triangular,
    /// `deviations`.
    Normal,
}

/// Distances of the values of a range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Equal differences.
    Linear,
    /// Equal ratios.
    Logarithmic,
}

/// How a copper area is filled; the measures of a hatch are keys of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FillKind {
    /// Copper everywhere.
    Solid,
    /// `line`, `pitch`, `angle`.
    Hatch,
}

/// What copper that is no pad is connected to; the gain of a driven one is a key of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConnectionKind {
    /// At 0 V.
    Grounded,
    /// Open.
    Floating,
    /// With the measured pad.
    Driven,
}

/// What a metal frame is connected to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BezelKind {
    /// At 0 V.
    Earthed,
    /// Open.
    Floating,
    /// To the user's other hand.
    Held,
}

/// How a hatch enters the field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drawn {
    /// As a sheet that leaks.
    Sheet,
    /// Every line.
    Lines,
}

/// When an object is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// Always.
    Always,
    /// It may be gone.
    AtTimes,
}

/// What a glove is taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GloveKind {
    /// An insulating layer.
    Dielectric,
    /// A part of the finger.
    Conductor,
}

/// Ends of a slider.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// As long as the other segments.
    Full,
    /// Half as long.
    Half,
}

/// Shape of a pad; its measures are keys of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// `size`.
    Rectangle,
    /// `size`, `corner_radius`.
    RoundedRectangle,
    /// `diameter`.
    Disc,
    /// `diameter`, `inner_diameter`.
    Ring,
    /// `corners`.
    Polygon,
    /// `segments`, `pitch`, `height`, `gap`.
    Slider,
    /// `segments`, `diameter`, `inner_diameter`, `gap`.
    Wheel,
}
