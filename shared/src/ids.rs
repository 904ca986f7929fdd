//! Identifiers: newtypes that parse and print, and never mint.
//!
//! An identifier is 1 to [`MAX_ID_LENGTH`] characters without white space or control characters
//! at either end or inside. The book uses ULIDs; a job file written by hand may use any name.
//! This module refuses to know where a new identifier comes from: the edges mint them.

use std::borrow::{Borrow, Cow};
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

/// Longest identifier in characters: enough for a ULID, a UUID or a descriptive name.
pub const MAX_ID_LENGTH: usize = 64;

/// Why a text cannot be an identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IdError {
    /// The text has no characters.
    #[error("an identifier cannot be empty")]
    Empty,
    /// The text has more than [`MAX_ID_LENGTH`] characters.
    #[error("an identifier has at most {MAX_ID_LENGTH} characters, this one has {0}")]
    TooLong(usize),
    /// The text contains white space or a control character.
    #[error("an identifier has no spaces or control characters; use '-' or '_' instead")]
    Space,
}

fn check(text: &str) -> Result<(), IdError> {
    if text.is_empty() {
        return Err(IdError::Empty);
    }
    let length = text.chars().count();
    if length > MAX_ID_LENGTH {
        return Err(IdError::TooLong(length));
    }
    if text.chars().any(|c| c.is_whitespace() || c.is_control()) {
        return Err(IdError::Space);
    }
    Ok(())
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(String);

        impl $name {
            /// Parses an identifier.
            ///
            /// # Errors
            /// [`IdError`] when the text is empty, too long or has spaces.
            pub fn parse(text: &str) -> Result<Self, IdError> {
                check(text).map(|()| Self(text.to_owned()))
            }

            /// The identifier as text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl TryFrom<String> for $name {
            type Error = IdError;
            fn try_from(text: String) -> Result<Self, IdError> {
                check(&text).map(|()| Self(text))
            }
        }

        impl From<$name> for String {
            fn from(id: $name) -> Self {
                id.0
            }
        }

        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, IdError> {
                Self::parse(text)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "minLength": 1, "maxLength": MAX_ID_LENGTH })
            }
        }

        impl Borrow<str> for $name {
            fn borrow(&self) -> &str {
                &self.0
            }
        }
    };
}

id!(
    /// A point of the body that is measured.
    PointId
);
id!(
    /// A structural member that carries points.
    MemberId
);
id!(
    /// One round of readings with the car in one condition.
    StageId
);
id!(
    /// One position of the laser: a level beam and perhaps a plumb beam.
    SetupId
);
id!(
    /// The coordinate frame of a 3-D device.
    FrameId
);
id!(
    /// A tape, tram bar, laser or other tool.
    ToolId
);
id!(
    /// One reading.
    ReadingId
);
id!(
    /// What the book says of one photo.
    PhotoId
);
id!(
    /// One book: everything about one car, one shared document.
    BookId
);
id!(
    /// A person with an account.
    UserId
);
id!(
    /// A shop: its people, jobs and log.
    ShopId
);
id!(
    /// A phone or computer that somebody works on.
    DeviceId
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parses_and_prints() {
        let id = PointId::parse("tower-L").unwrap();
        assert_eq!(id.to_string(), "tower-L");
        assert_eq!(serde_json::to_string(&id).unwrap(), "\"tower-L\"");
    }

    #[test]
    fn refuses_what_cannot_be_told_apart() {
        assert_eq!(PointId::parse(""), Err(IdError::Empty));
        assert_eq!(PointId::parse("tower L"), Err(IdError::Space));
        assert_eq!(PointId::parse(&"x".repeat(65)), Err(IdError::TooLong(65)));
        assert!(serde_json::from_str::<PointId>("\"a\\nb\"").is_err());
    }
}
