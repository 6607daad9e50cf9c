//! Values that are one word out of a few.

use super::reading::Misread;
use super::two_lines;
use crate::input::names::{listed, nearest};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

/// What the words of a key stand for.
pub trait FileWord: Copy + 'static {
    /// Name in the schema.
    const NAME: &'static str;
    /// Every word with its meaning.
    const KNOWN: &'static [(&'static str, Self)];
}

/// One word out of a few.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Word<E>(pub E);

fn known<E: FileWord>() -> impl Iterator<Item = &'static str> {
    E::KNOWN.iter().map(|(word, _)| *word)
}

struct WordVisitor<E>(PhantomData<E>);

impl<E: FileWord> Visitor<'_> for WordVisitor<E> {
    type Value = Word<E>;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&listed(known::<E>()))
    }
    fn visit_str<R: de::Error>(self, text: &str) -> Result<Word<E>, R> {
        if let Some((_, value)) = E::KNOWN.iter().find(|known| known.0 == text) {
            return Ok(Word(*value));
        }
        let all = listed(known::<E>());
        let hint = match nearest(text, known::<E>()) {
            Some(word) => format!("did you mean \"{word}\"? one of {all}"),
            None => format!("write one of {all}"),
        };
        Err(two_lines(Misread::new(
            format!("\"{text}\" is not known here"),
            hint,
        )))
    }
}

impl<'de, E: FileWord> Deserialize<'de> for Word<E> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(WordVisitor(PhantomData))
    }
}

impl<E: FileWord> JsonSchema for Word<E> {
    fn schema_name() -> Cow<'static, str> {
        E::NAME.into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let known: Vec<&str> = known::<E>().collect();
        json_schema!({ "type": "string", "enum": known })
    }
}

/// The words of a type of the panel, or a type of the file's own with its words.
macro_rules! words {
    (for $name:ident as $schema:literal: $($word:literal => $variant:ident),+ $(,)?) => {
        impl $crate::input::quantity::FileWord for $name {
            const NAME: &'static str = $schema;
            const KNOWN: &'static [(&'static str, Self)] = &[$(($word, Self::$variant)),+];
        }
    };
    ($(#[$doc:meta])* $name:ident as $schema:literal: $($(#[$about:meta])* $word:literal => $variant:ident),+ $(,)?) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum $name {
            $($(#[$about])* #[doc = concat!("`", $word, "`.")] $variant,)+
        }
        $crate::input::quantity::words!(for $name as $schema: $($word => $variant),+);
    };
}
pub(crate) use words;

impl FileWord for bool {
    const NAME: &'static str = "Yes";
    const KNOWN: &'static [(&'static str, Self)] = &[("yes", true), ("no", false)];
}
