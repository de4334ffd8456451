//! The three kinds of value a record's field can hold, and how domain types become them.
//!
//! The rows of [`super::rows`] are written and read through these; nothing here knows who stores them.

use super::day::Day;

/// One stored value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// Nothing recorded.
    Null,
    /// A whole number.
    Int(i64),
    /// Text, possibly empty.
    Text(String),
}

/// A stored value that does not fit the field it stands in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{table} {id}: field '{field}' holds {found}, which is no {wanted}")]
pub struct MisfitError {
    /// Name of the table.
    pub table: &'static str,
    /// The record's number; 0 where the number itself does not fit.
    pub id: i64,
    /// The field.
    pub field: &'static str,
    /// What stands there.
    pub found: String,
    /// What belongs there.
    pub wanted: &'static str,
}

/// A type that a record's field can have.
pub trait Field: Sized {
    /// What the field holds, in words, for error messages.
    const WANTED: &'static str;
    /// The value to store.
    fn to_value(&self) -> Value;
    /// The typed field, or nothing where the value does not fit.
    fn from_value(value: &Value) -> Option<Self>;
}

impl Field for i64 {
    const WANTED: &'static str = "whole number";
    fn to_value(&self) -> Value {
        Value::Int(*self)
    }
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Int(n) => Some(*n),
            _ => None,
        }
    }
}

impl Field for bool {
    const WANTED: &'static str = "yes or no (1 or 0)";
    fn to_value(&self) -> Value {
        Value::Int(i64::from(*self))
    }
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Int(0) => Some(false),
            Value::Int(1) => Some(true),
            _ => None,
        }
    }
}

impl Field for String {
    const WANTED: &'static str = "text";
    fn to_value(&self) -> Value {
        Value::Text(self.clone())
    }
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Text(text) => Some(text.clone()),
            _ => None,
        }
    }
}

impl Field for Day {
    const WANTED: &'static str = "date";
    fn to_value(&self) -> Value {
        Value::Text(self.to_string())
    }
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Text(text) => text.parse().ok(),
            _ => None,
        }
    }
}

impl<T: Field> Field for Option<T> {
    const WANTED: &'static str = T::WANTED;
    fn to_value(&self) -> Value {
        self.as_ref().map_or(Value::Null, Field::to_value)
    }
    fn from_value(value: &Value) -> Option<Self> {
        match value {
            Value::Null => Some(None),
            other => T::from_value(other).map(Some),
        }
    }
}

/// Makes a plain enum whose variants are stored as fixed words.
macro_rules! stored_words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[$vmeta])* $variant),+ }

        impl $name {
            /// Every value, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The word it is stored and shown as.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl $crate::records::value::Field for $name {
            const WANTED: &'static str = concat!("word among", $(" ", $word),+);
            fn to_value(&self) -> $crate::records::value::Value {
                $crate::records::value::Value::Text(self.word().to_owned())
            }
            fn from_value(value: &$crate::records::value::Value) -> Option<Self> {
                match value {
                    $crate::records::value::Value::Text(text) => match text.as_str() {
                        $($word => Some(Self::$variant),)+
                        _ => None,
                    },
                    _ => None,
                }
            }
        }
    };
}
pub(crate) use stored_words;
