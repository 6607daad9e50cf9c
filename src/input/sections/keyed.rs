//! Which keys of a section are written.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::de::{Deserialize, DeserializeSeed, Deserializer, IntoDeserializer, MapAccess, Visitor};
use serde::forward_to_deserialize_any;
use std::borrow::Cow;
use std::fmt;
use std::ops::Deref;

/// A section, and those of its keys that the file gives.
#[derive(Clone, Debug)]
pub struct Keyed<T> {
    section: T,
    written: Vec<&'static str>,
}

impl<T> Keyed<T> {
    /// The keys that are written, in the order of the section's documentation.
    pub fn written(&self) -> impl Iterator<Item = &'static str> {
        self.written.iter().copied()
    }

    /// Dotted paths of the keys that are written in `[section]`.
    pub fn paths(&self, section: &str) -> impl Iterator<Item = String> {
        self.written().map(move |key| format!("{section}.{key}"))
    }

    /// Whether a key is written.
    pub fn has(&self, key: &str) -> bool {
        self.written.contains(&key)
    }

    /// The first of these keys that is written.
    pub fn any_of(&self, keys: &[&str]) -> Option<&'static str> {
        self.written().find(|key| keys.contains(key))
    }

    /// The first key beside these that is written.
    pub fn any_but(&self, keys: &[&str]) -> Option<&'static str> {
        self.written().find(|key| !keys.contains(key))
    }
}

impl<T> Deref for Keyed<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.section
    }
}

impl<T: JsonSchema> JsonSchema for Keyed<T> {
    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }
    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Keyed<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut written = Vec::new();
        let section = T::deserialize(Noting {
            inner: deserializer,
            written: &mut written,
        })?;
        Ok(Self { section, written })
    }
}

/// What is read, with a note of the keys: around a deserializer, the visitor of a struct, its map.
struct Noting<'w, I> {
    inner: I,
    written: &'w mut Vec<&'static str>,
}

impl<'de, D: Deserializer<'de>> Deserializer<'de> for Noting<'_, D> {
    type Error = D::Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
        self.inner.deserialize_any(visitor)
    }
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        let mut found = Vec::new();
        let noting = Noting {
            inner: (visitor, fields),
            written: &mut found,
        };
        let value = self.inner.deserialize_struct(name, fields, noting)?;
        let is_found = |field: &&&str| found.contains(*field);
        self.written.extend(fields.iter().filter(is_found));
        Ok(value)
    }
    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit
        unit_struct newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}

type Fields = &'static [&'static str];

impl<'de, V: Visitor<'de>> Visitor<'de> for Noting<'_, (V, Fields)> {
    type Value = V::Value;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.inner.0.expecting(formatter)
    }
    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<V::Value, A::Error> {
        let (visitor, fields) = self.inner;
        visitor.visit_map(Noting {
            inner: (map, fields),
            written: self.written,
        })
    }
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for Noting<'_, (A, Fields)> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, A::Error> {
        let (map, fields) = &mut self.inner;
        let Some(key) = map.next_key::<String>()? else {
            return Ok(None);
        };
        self.written
            .extend(fields.iter().find(|field| **field == key));
        seed.deserialize(key.into_deserializer()).map(Some)
    }
    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, A::Error> {
        self.inner.0.next_value_seed(seed)
    }
}
