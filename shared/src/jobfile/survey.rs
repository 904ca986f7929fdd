//! A first walk over the text that builds nothing: everything is where it belongs, nothing stands
//! twice, nothing is too many.
//!
//! It needs memory for the names of one map at a time and no depth of stack, whatever the text.

use std::collections::HashSet;
use std::fmt;

use serde::de::{self, DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

use super::shape::Shape;
use super::{Refusal, place};
use crate::job::rules::Step;

/// Walks over the text of a file of this shape; `what` it holds is said.
///
/// # Errors
/// The first thing that is not JSON, stands twice, is too many or is something else than what
/// belongs there.
pub(crate) fn survey(text: &str, shape: Shape, what: &str) -> Result<(), Refusal> {
    let mut survey = Survey {
        path: Vec::new(),
        refusal: None,
    };
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let look = Look {
        survey: &mut survey,
        shape,
    };
    match look.deserialize(&mut deserializer) {
        Ok(()) => deserializer.end().map_err(|error| {
            Refusal::whole(format!(
                "after the {what}: {error}; a file holds one {what}"
            ))
        }),
        Err(error) => {
            let place = place::of_steps(&survey.path);
            let (line, column) = (error.line(), error.column());
            Err(match survey.refusal {
                Some(says) => Refusal::new(place, format!("{says} (line {line}, column {column})")),
                None => Refusal::new(place, format!("not JSON: {error}")),
            })
        }
    }
}

struct Survey {
    /// The way to what is looked at; stays where it is when something is refused.
    path: Vec<Step>,
    refusal: Option<String>,
}

struct Look<'a> {
    survey: &'a mut Survey,
    shape: Shape,
}

impl Look<'_> {
    fn refuse<E: de::Error>(self, says: String) -> E {
        let error = E::custom(&says);
        self.survey.refusal = Some(says);
        error
    }

    /// Something else stands where the shape belongs.
    fn instead<E: de::Error>(self, found: &str) -> E {
        let belongs = self.shape.belongs();
        self.refuse(format!("{found} stands here; {belongs}"))
    }

    fn scalar<E: de::Error>(self, fits: bool, found: &str) -> Result<(), E> {
        if fits {
            return Ok(());
        }
        Err(self.instead(found))
    }

    fn number<E: de::Error>(self) -> Result<(), E> {
        let fits = matches!(self.shape.inner(), Shape::Number);
        self.scalar(fits, "a number")
    }
}

impl<'de> DeserializeSeed<'de> for Look<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Look<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a part of a job file")
    }

    fn visit_bool<E: de::Error>(self, _: bool) -> Result<(), E> {
        let fits = matches!(self.shape.inner(), Shape::Flag);
        self.scalar(fits, "true or false")
    }

    fn visit_i64<E: de::Error>(self, _: i64) -> Result<(), E> {
        self.number()
    }

    fn visit_u64<E: de::Error>(self, _: u64) -> Result<(), E> {
        self.number()
    }

    fn visit_f64<E: de::Error>(self, _: f64) -> Result<(), E> {
        self.number()
    }

    fn visit_str<E: de::Error>(self, _: &str) -> Result<(), E> {
        let fits = matches!(self.shape.inner(), Shape::Text);
        self.scalar(fits, "a text")
    }

    fn visit_unit<E: de::Error>(self) -> Result<(), E> {
        let fits = matches!(self.shape, Shape::Maybe(_));
        self.scalar(fits, "nothing (null)")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<(), A::Error> {
        let Shape::List(most, of) = self.shape.inner() else {
            return Err(self.instead("a list"));
        };
        for index in 0..most {
            self.survey.path.push(Step::Index(index));
            let look = Look {
                survey: &mut *self.survey,
                shape: *of,
            };
            let found = list.next_element_seed(look)?;
            self.survey.path.pop();
            if found.is_none() {
                return Ok(());
            }
        }
        match list.next_element::<IgnoredAny>()? {
            Some(_) => Err(self.refuse(too_many(most))),
            None => Ok(()),
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<(), A::Error> {
        match self.shape.inner() {
            Shape::Object(fields) => self.fields(fields, map),
            Shape::Map(most, of) => self.entries(most, *of, map),
            _ => Err(self.instead("an object")),
        }
    }
}

impl Look<'_> {
    fn fields<'de, A: MapAccess<'de>>(
        self,
        fields: &[(&'static str, Shape)],
        mut map: A,
    ) -> Result<(), A::Error> {
        let mut seen = vec![false; fields.len()];
        while let Some(key) = map.next_key::<String>()? {
            let Some(index) = fields.iter().position(|(name, _)| *name == key) else {
                // Refused by name when the form is read.
                map.next_value::<IgnoredAny>()?;
                continue;
            };
            let (name, shape) = fields[index];
            self.survey.path.push(Step::Field(name));
            if std::mem::replace(&mut seen[index], true) {
                return Err(self.refuse(TWICE.to_owned()));
            }
            let look = Look {
                survey: &mut *self.survey,
                shape,
            };
            map.next_value_seed(look)?;
            self.survey.path.pop();
        }
        Ok(())
    }

    fn entries<'de, A: MapAccess<'de>>(
        self,
        most: usize,
        shape: Shape,
        mut map: A,
    ) -> Result<(), A::Error> {
        let mut seen = HashSet::new();
        while let Some(key) = map.next_key::<String>()? {
            if seen.len() == most {
                return Err(self.refuse(too_many(most)));
            }
            self.survey.path.push(Step::Key(key.clone()));
            if !seen.insert(key) {
                return Err(self.refuse(TWICE.to_owned()));
            }
            let look = Look {
                survey: &mut *self.survey,
                shape,
            };
            map.next_value_seed(look)?;
            self.survey.path.pop();
        }
        Ok(())
    }
}

const TWICE: &str = "stands twice in the same object; keep one";

fn too_many(most: usize) -> String {
    format!("too many stand here; a file may hold {most}")
}
