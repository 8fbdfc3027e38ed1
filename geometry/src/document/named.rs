//! How what is saved is read: a thing of several fields only as an object that names them, never as a list of them.
//!
//! In: a text and what is to be read from it. Out: that, or where and why not. `serde`'s own readers take lists too, for
//! forms that are not JSON; nothing here is ever written so, and their code would be a third of all readers.

use core::fmt;

use serde::Deserialize;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, MapAccess, SeqAccess, VariantAccess, Visitor,
};

/// What a JSON text holds, and nothing after it.
pub(super) fn read<'de, T: Deserialize<'de>>(text: &'de str) -> Result<T, serde_json::Error> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let found = T::deserialize(ByName(&mut reader))?;
    reader.end()?;
    Ok(found)
}

/// A reader, a visitor or a part of what is read: in it, too, fields are named.
struct ByName<T>(T);

/// Hands what is no struct and holds none on as it is.
macro_rules! plain {
    ($($name:ident)*) => {
        $(fn $name<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
            self.0.$name(visitor)
        })*
    };
}

/// Hands on what may hold a struct.
macro_rules! holding {
    ($($name:ident($($arg:ident: $kind:ty),*))*) => {
        $(fn $name<V: Visitor<'de>>(self, $($arg: $kind,)* visitor: V) -> Result<V::Value, D::Error> {
            self.0.$name($($arg,)* Holding(visitor))
        })*
    };
}

impl<'de, D: Deserializer<'de>> Deserializer<'de> for ByName<D> {
    type Error = D::Error;

    plain! {
        deserialize_any deserialize_bool deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64 deserialize_u8
        deserialize_u16 deserialize_u32 deserialize_u64 deserialize_f32 deserialize_f64 deserialize_char deserialize_str
        deserialize_string deserialize_bytes deserialize_byte_buf deserialize_unit deserialize_identifier
        deserialize_ignored_any
    }

    holding! {
        deserialize_option()
        deserialize_newtype_struct(name: &'static str)
        deserialize_seq()
        deserialize_tuple(len: usize)
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.0.deserialize_unit_struct(name, visitor)
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        len: usize,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.0.deserialize_tuple_struct(name, len, Holding(visitor))
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
        self.0.deserialize_map(Fields(visitor))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.0.deserialize_struct(name, fields, Fields(visitor))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        self.0.deserialize_enum(name, variants, Variants(visitor))
    }
}

/// Takes what is there or not, or stands in a list.
struct Holding<V>(V);

impl<'de, V: Visitor<'de>> Visitor<'de> for Holding<V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.expecting(f)
    }

    fn visit_none<E: serde::de::Error>(self) -> Result<V::Value, E> {
        self.0.visit_none()
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<V::Value, E> {
        self.0.visit_unit()
    }

    fn visit_some<D: Deserializer<'de>>(self, reader: D) -> Result<V::Value, D::Error> {
        self.0.visit_some(ByName(reader))
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, reader: D) -> Result<V::Value, D::Error> {
        self.0.visit_newtype_struct(ByName(reader))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<V::Value, A::Error> {
        self.0.visit_seq(ByName(list))
    }
}

/// Takes an object.
struct Fields<V>(V);

impl<'de, V: Visitor<'de>> Visitor<'de> for Fields<V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.expecting(f)
    }

    fn visit_map<A: MapAccess<'de>>(self, object: A) -> Result<V::Value, A::Error> {
        self.0.visit_map(ByName(object))
    }
}

/// Takes one of several kinds.
struct Variants<V>(V);

impl<'de, V: Visitor<'de>> Visitor<'de> for Variants<V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.expecting(f)
    }

    fn visit_enum<A: EnumAccess<'de>>(self, kind: A) -> Result<V::Value, A::Error> {
        self.0.visit_enum(ByName(kind))
    }
}

impl<'de, S: DeserializeSeed<'de>> DeserializeSeed<'de> for ByName<S> {
    type Value = S::Value;

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<S::Value, D::Error> {
        self.0.deserialize(ByName(reader))
    }
}

impl<'de, A: SeqAccess<'de>> SeqAccess<'de> for ByName<A> {
    type Error = A::Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, A::Error> {
        self.0.next_element_seed(ByName(seed))
    }

    fn size_hint(&self) -> Option<usize> {
        self.0.size_hint()
    }
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for ByName<A> {
    type Error = A::Error;

    fn next_key_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, A::Error> {
        self.0.next_key_seed(seed)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, A::Error> {
        self.0.next_value_seed(ByName(seed))
    }
}

impl<'de, A: EnumAccess<'de>> EnumAccess<'de> for ByName<A> {
    type Error = A::Error;
    type Variant = ByName<A::Variant>;

    fn variant_seed<S: DeserializeSeed<'de>>(
        self,
        seed: S,
    ) -> Result<(S::Value, Self::Variant), A::Error> {
        let (kind, of) = self.0.variant_seed(seed)?;
        Ok((kind, ByName(of)))
    }
}

impl<'de, A: VariantAccess<'de>> VariantAccess<'de> for ByName<A> {
    type Error = A::Error;

    fn unit_variant(self) -> Result<(), A::Error> {
        self.0.unit_variant()
    }

    fn newtype_variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<S::Value, A::Error> {
        self.0.newtype_variant_seed(ByName(seed))
    }

    fn tuple_variant<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, A::Error> {
        self.0.tuple_variant(len, Holding(visitor))
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, A::Error> {
        self.0.struct_variant(fields, Fields(visitor))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Place {
        x: f64,
        #[serde(default)]
        name: Option<String>,
        #[serde(default)]
        within: Vec<Kind>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case", deny_unknown_fields)]
    enum Kind {
        None,
        At([f64; 2]),
        Of(Box<Place>),
        Named { id: u32 },
        Both(u32, String),
    }

    #[track_caller]
    fn check(text: &str) {
        let plain: Place = serde_json::from_str(text).unwrap();
        assert_eq!(read::<Place>(text).unwrap(), plain);
    }

    #[test]
    fn what_is_named_is_read_as_by_any_reader() {
        check(r#"{"x": 1}"#);
        check(r#" {"name": null, "x": -1.5e3, "within": []} "#);
        check(
            r#"{"x": 0.1, "name": "keel", "within": ["none", {"at": [1, 2]}, {"named": {"id": 7}}]}"#,
        );
        check(r#"{"x": 2, "within": [{"of": {"x": 3, "within": ["none"]}}, {"both": [4, "a"]}]}"#);
    }

    #[test]
    fn a_list_of_fields_is_refused_wherever_it_stands() {
        for text in [
            r#"[1, null, []]"#,
            r#"{"x": 2, "within": [{"of": [3, null, []]}]}"#,
            r#"{"x": 2, "within": [{"named": [7]}]}"#,
        ] {
            assert!(serde_json::from_str::<Place>(text).is_ok(), "{text}");
            let says = read::<Place>(text).unwrap_err().to_string();
            assert!(says.contains("invalid type: sequence"), "{says}");
        }
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place_as_by_any_reader() {
        for text in [
            r#"{"x": 1,}"#,
            r#"{"x": 1} {}"#,
            r#"{"x": "one"}"#,
            r#"{"x": 1, "y": 2}"#,
            r#"{"x": 1, "x": 2}"#,
            r#"{"name": "keel"}"#,
            r#"{"x": 1, "within": ["some"]}"#,
            "{\"x\": 1,\n\"within\": [{\"named\": {\"id\": -7}}]}",
            r#"{"x": 1, "within": ["none""#,
        ] {
            let plain = serde_json::from_str::<Place>(text).unwrap_err();
            assert_eq!(
                read::<Place>(text).unwrap_err().to_string(),
                plain.to_string()
            );
        }
    }
}
