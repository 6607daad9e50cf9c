//! What is typed in a record: the serde mirror. Faults of a single value are found here, while the
//! deserialiser still knows its line and column.

use serde::Deserialize;
use serde::de::{self, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::fmt;

use crate::case::{Kind, Wall};

/// No panel is larger; keeps products of coordinates finite.
const LARGEST_COORDINATE_MM: f64 = 1e9;
const LARGEST_PERMITTIVITY: f64 = 1e9;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Record {
    pub id: Option<String>,
    pub title: Option<String>,
    pub kind: KindWord,
    #[serde(rename = "box")]
    pub domain: EitherBounds,
    pub wall: Option<WallRecord>,
    pub background_eps_r: Option<PositivePermittivity>,
    #[serde(default)]
    pub dielectrics: Vec<DielectricRecord>,
    #[serde(default)]
    pub conductors: Vec<ConductorRecord>,
    pub length_unit: Option<String>,
    #[serde(rename = "outer_boundary")]
    _outer_boundary: Option<IgnoredAny>,
    #[serde(rename = "result")]
    _result: Option<IgnoredAny>,
    #[serde(rename = "how")]
    _how: Option<IgnoredAny>,
    #[serde(rename = "note")]
    _note: Option<IgnoredAny>,
    #[serde(rename = "source")]
    _source: Option<IgnoredAny>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DielectricRecord {
    pub name: String,
    pub eps_r: PositivePermittivity,
    pub rect: Option<Rect>,
    #[serde(rename = "box")]
    pub block: Option<Block>,
    pub comes_with: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ConductorRecord {
    pub name: String,
    #[serde(default)]
    pub rects: Vec<Rect>,
    #[serde(default)]
    pub boxes: Vec<Block>,
    #[serde(default)]
    pub cylinders: Vec<Cylinder>,
}

pub(super) struct KindWord(pub Kind);

impl<'de> Deserialize<'de> for KindWord {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Words;
        impl Visitor<'_> for Words {
            type Value = KindWord;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("\"planar\", \"axisymmetric\" or \"volume\"")
            }
            fn visit_str<E: de::Error>(self, word: &str) -> Result<KindWord, E> {
                match word {
                    "planar" => Ok(KindWord(Kind::Planar)),
                    "axisymmetric" | "axisym" => Ok(KindWord(Kind::Axisymmetric)),
                    "volume" | "3d" => Ok(KindWord(Kind::Volume)),
                    _ => Err(de::Error::unknown_variant(
                        word,
                        &["planar", "axisymmetric", "volume"],
                    )),
                }
            }
        }
        deserializer.deserialize_str(Words)
    }
}

pub(super) struct PositivePermittivity(pub f64);

impl<'de> Deserialize<'de> for PositivePermittivity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let value = f64::deserialize(deserializer)?;
        if value > 0.0 && value <= LARGEST_PERMITTIVITY {
            Ok(Self(value))
        } else {
            Err(de::Error::custom(format!(
                "the relative permittivity is {value}, expected a positive number up to {LARGEST_PERMITTIVITY:e}"
            )))
        }
    }
}

/// Bounds `[low, high]` per axis in a row [mm].
pub(super) trait Bounds {
    fn numbers(&self) -> &[f64];
}

macro_rules! bounds {
    ($name:ident, $counts:expr, $words:literal) => {
        pub(super) struct $name(Vec<f64>);

        impl Bounds for $name {
            fn numbers(&self) -> &[f64] {
                &self.0
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let numbers = coordinates(deserializer, $counts, $words)?;
                for pair in numbers.chunks_exact(2) {
                    if pair[0] > pair[1] {
                        return Err(de::Error::custom(format!(
                            "the bounds {} to {} run backwards, expected low before high",
                            pair[0], pair[1]
                        )));
                    }
                }
                Ok(Self(numbers))
            }
        }
    };
}

bounds!(Rect, &[4], "4 numbers [low, high, low, high] in mm");
bounds!(Block, &[6], "6 numbers [x0, x1, y0, y1, z0, z1] in mm");
bounds!(
    EitherBounds,
    &[4, 6],
    "4 or 6 numbers, low and high along each axis in mm"
);

/// `[xc, yc, radius, z0, z1]` [mm].
pub(super) struct Cylinder(pub [f64; 5]);

impl<'de> Deserialize<'de> for Cylinder {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let words = "5 numbers [xc, yc, radius, z0, z1] in mm";
        let numbers = coordinates(deserializer, &[5], words)?;
        let [x, y, radius, bottom, top] = numbers[..] else {
            return Err(de::Error::invalid_length(numbers.len(), &words));
        };
        if radius <= 0.0 {
            return Err(de::Error::custom(format!(
                "the radius of a cylinder is {radius} mm, expected a positive number"
            )));
        }
        if bottom > top {
            return Err(de::Error::custom(format!(
                "the bounds {bottom} to {top} run backwards, expected low before high"
            )));
        }
        Ok(Self([x, y, radius, bottom, top]))
    }
}

/// A list of finite numbers whose count is one of `counts`.
fn coordinates<'de, D: Deserializer<'de>>(
    deserializer: D,
    counts: &'static [usize],
    words: &'static str,
) -> Result<Vec<f64>, D::Error> {
    struct List {
        counts: &'static [usize],
        words: &'static str,
    }
    impl<'de> Visitor<'de> for List {
        type Value = Vec<f64>;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str(self.words)
        }
        fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Vec<f64>, A::Error> {
            let mut numbers: Vec<f64> = Vec::new();
            while let Some(number) = list.next_element::<f64>()? {
                if number.is_nan() || number.abs() > LARGEST_COORDINATE_MM {
                    return Err(de::Error::custom(format!(
                        "the coordinate {number} is out of range, expected a number of millimetres up to {LARGEST_COORDINATE_MM:e}"
                    )));
                }
                if numbers.len() == 6 {
                    return Err(de::Error::custom(format!(
                        "too many numbers, expected {}",
                        self.words
                    )));
                }
                numbers.push(number);
            }
            if self.counts.contains(&numbers.len()) {
                Ok(numbers)
            } else {
                Err(de::Error::invalid_length(numbers.len(), &self.words))
            }
        }
    }
    deserializer.deserialize_seq(List { counts, words })
}

/// Condition on the outer wall as typed.
pub(super) enum WallRecord {
    /// One word for every face.
    All(Wall),
    /// Axis name with its low and high face.
    PerAxis(Vec<(String, [Wall; 2])>),
}

impl<'de> Deserialize<'de> for WallRecord {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Form;
        impl<'de> Visitor<'de> for Form {
            type Value = WallRecord;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("\"grounded\", \"insulated\", \"open\" or a table of them by axis")
            }
            fn visit_str<E: de::Error>(self, word: &str) -> Result<WallRecord, E> {
                wall_word(word).map(WallRecord::All)
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<WallRecord, A::Error> {
                let mut axes: Vec<(String, [Wall; 2])> = Vec::new();
                while let Some((axis, pair)) = map.next_entry::<String, WallPair>()? {
                    if axes.iter().any(|(known, _)| *known == axis) {
                        return Err(de::Error::custom(format!("the axis `{axis}` occurs twice")));
                    }
                    axes.push((axis, pair.0));
                }
                Ok(WallRecord::PerAxis(axes))
            }
        }
        deserializer.deserialize_any(Form)
    }
}

struct WallPair([Wall; 2]);

impl<'de> Deserialize<'de> for WallPair {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Form;
        impl<'de> Visitor<'de> for Form {
            type Value = WallPair;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("one wall word or two of them, [low face, high face]")
            }
            fn visit_str<E: de::Error>(self, word: &str) -> Result<WallPair, E> {
                wall_word(word).map(|wall| WallPair([wall; 2]))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<WallPair, A::Error> {
                let mut walls = [Wall::Grounded; 2];
                for (count, wall) in walls.iter_mut().enumerate() {
                    let word: String = list
                        .next_element()?
                        .ok_or_else(|| de::Error::invalid_length(count, &self))?;
                    *wall = wall_word(&word)?;
                }
                if list.next_element::<IgnoredAny>()?.is_some() {
                    return Err(de::Error::invalid_length(3, &self));
                }
                Ok(WallPair(walls))
            }
        }
        deserializer.deserialize_any(Form)
    }
}

fn wall_word<E: de::Error>(word: &str) -> Result<Wall, E> {
    match word {
        "grounded" => Ok(Wall::Grounded),
        "insulated" => Ok(Wall::Insulated),
        "open" => Ok(Wall::Open),
        _ => Err(E::unknown_variant(word, &["grounded", "insulated", "open"])),
    }
}
