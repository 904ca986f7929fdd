//! The API in the open form that tools read (OpenAPI 3.1), made from the types that the routes use.
//!
//! What a route takes and answers stands in `operations`, one entry for each route of `routes`; a
//! test holds the two lists together. The schemas are those of `shared`, so a field that is added
//! there is described here.

mod route;
mod operations;
mod photos;
mod sheets;

use std::sync::LazyLock;

use schemars::generate::SchemaSettings;
use schemars::{Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

use crate::error::Refused;
use operations::OPERATIONS;
use photos::PHOTOS;
use sheets::SHEETS;

/// Media type of JSON.
const JSON: &str = "application/json";

/// Who may use a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Access {
    /// Whoever sends the secret in the body or query, or anybody at all.
    Open,
    /// Whoever has the refresh cookie.
    Cookie,
    /// A member's access token.
    Member,
    /// An owner's access token.
    Owner,
    /// An adjuster's access token.
    Follower,
}

/// What makes a schema, with what it refers to.
type Describes = fn(&mut SchemaGenerator) -> Schema;

/// One route.
struct Operation {
    method: &'static str,
    path: &'static str,
    /// In words.
    what: &'static str,
    access: Access,
    /// Names, types and whether they are needed, of what stands behind the question mark.
    query: &'static [(&'static str, &'static str, bool)],
    /// Names of headers that are needed.
    headers: &'static [&'static str],
    takes: Option<Describes>,
    /// Status of a good answer, its media type, and its schema if it has one.
    gives: (u16, &'static str, Option<Describes>),
    /// Further statuses of refusals, beside those that follow from the rest.
    refuses: &'static [u16],
}

impl Operation {
    /// All statuses with which it may refuse.
    fn refusals(&self) -> Vec<u16> {
        let mut all = self.refuses.to_vec();
        if self.takes.is_some() {
            all.extend([400, 413]);
        }
        if !self.headers.is_empty() {
            all.push(412);
        }
        if self.query.iter().any(|(_, _, needed)| *needed) {
            all.push(400);
        }
        match self.access {
            Access::Open => {}
            Access::Cookie | Access::Member => all.push(401),
            Access::Owner => all.extend([401, 403]),
            Access::Follower => all.extend([401, 410]),
        }
        if self.path.starts_with("/api/") && self.path != "/api/openapi.json" {
            all.push(500);
        }
        all.sort_unstable();
        all.dedup();
        all
    }

    fn value(&self, generator: &mut SchemaGenerator) -> Value {
        let mut value = json!({
            "operationId": self.name(),
            "summary": self.what,
            "responses": self.responses(generator),
        });
        let parameters = self.parameters();
        if !parameters.is_empty() {
            value["parameters"] = Value::Array(parameters);
        }
        if let Some(takes) = self.takes {
            let schema = takes(generator);
            value["requestBody"] =
                json!({ "required": true, "content": { JSON: { "schema": schema } } });
        }
        if let Some(scheme) = self.scheme() {
            value["security"] = json!([{ scheme: [] }]);
        }
        value
    }

    /// `post-api-people-user-role`.
    fn name(&self) -> String {
        let words = self.path.split(['/', '{', '}', '.']);
        let words = words.filter(|word| !word.is_empty());
        let words: Vec<&str> = std::iter::once(self.method).chain(words).collect();
        words.join("-")
    }

    fn scheme(&self) -> Option<&'static str> {
        match self.access {
            Access::Open => None,
            Access::Cookie => Some("refresh"),
            Access::Member | Access::Owner => Some("session"),
            Access::Follower => Some("follower"),
        }
    }

    fn parameters(&self) -> Vec<Value> {
        let in_path = self.path.split('/').filter_map(|part| {
            let name = part.strip_prefix('{')?.strip_suffix('}')?;
            let schema = match name {
                "revision" => json!({ "type": "integer", "minimum": 1, "maximum": u32::MAX }),
                _ => json!({ "type": "string", "minLength": 1 }),
            };
            Some(json!({ "name": name, "in": "path", "required": true, "schema": schema }))
        });
        let in_query = self.query.iter().map(|(name, kind, needed)| {
            let schema = match *kind {
                "date-time" => json!({ "type": "string", "format": "date-time" }),
                "integer" => json!({ "type": "integer", "minimum": 0, "maximum": u32::MAX }),
                "page" => json!({ "type": "integer", "minimum": 1, "maximum": 200 }),
                "language" => json!({ "enum": ["en", "es"], "default": "en" }),
                "paper" => json!({ "enum": ["a4", "letter"], "default": "a4" }),
                "unit" => json!({ "enum": ["mm", "in", "in-decimal"], "default": "mm" }),
                "kind" => json!({ "enum": shared::proof::leaf::Event::KINDS }),
                kind => json!({ "type": kind }),
            };
            json!({ "name": name, "in": "query", "required": needed, "schema": schema })
        });
        let in_headers = self.headers.iter().map(|name| {
            json!({ "name": name, "in": "header", "required": true, "schema": { "type": "string" } })
        });
        in_path.chain(in_query).chain(in_headers).collect()
    }

    fn responses(&self, generator: &mut SchemaGenerator) -> Value {
        let mut all = Map::new();
        let (status, media, gives) = self.gives;
        let mut good = json!({ "description": describe(status) });
        if let Some(gives) = gives {
            good["content"] = json!({ media: { "schema": gives(generator) } });
        }
        all.insert(status.to_string(), good);
        for status in self.refusals() {
            all.insert(status.to_string(), refusal(status, self.path, generator));
        }
        Value::Object(all)
    }
}

/// A refusal says why in a stable code; the two states of a server have a form of their own.
fn refusal(status: u16, path: &str, generator: &mut SchemaGenerator) -> Value {
    let schema = match path {
        "/ready" => of::<crate::handlers::health::Readiness>(generator),
        _ => of::<Refused>(generator),
    };
    let mut answer =
        json!({ "description": describe(status), "content": { JSON: { "schema": schema } } });
    if status == 429 || (status == 503 && path != "/ready") {
        answer["headers"] = json!({ "Retry-After": {
            "description": "Seconds to wait", "schema": { "type": "integer", "minimum": 1 },
        } });
    }
    answer
}

fn describe(status: u16) -> &'static str {
    match status {
        101 => "The line is open",
        200 => "Here it is",
        201 => "Made",
        204 => "Done",
        400 => "The body, query or a field is not of the form; the subject says which",
        401 => "Sign in first, or the secret is wrong",
        403 => "Not with this role, or from a page of another site",
        404 => "No such thing in this shop",
        412 => "Another version of the protocol",
        415 => "No part of an upload",
        409 => {
            "Something with this name exists, somebody was there first, or the shop would be without an owner"
        }
        410 => "The link was used, has run out, or never was",
        413 => "Larger than allowed",
        429 => "Too many tries",
        503 => "Too much at once: come again, or send nobody here now",
        _ => "The server's own fault; nothing was changed",
    }
}

/// The schema of a type, as a reference where it has a name.
fn of<T: schemars::JsonSchema>(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<T>()
}

/// The whole description.
#[must_use]
pub fn document() -> Value {
    let settings = SchemaSettings::draft2020_12().with(|settings| {
        settings.definitions_path = "/components/schemas".into();
        settings.meta_schema = None;
    });
    let mut generator = settings.into_generator();
    let mut paths = Map::new();
    for operation in OPERATIONS.iter().chain(&PHOTOS).chain(&SHEETS) {
        let value = operation.value(&mut generator);
        let path = paths.entry(operation.path).or_insert_with(|| json!({}));
        path[operation.method] = value;
    }
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "Baybook",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "Who may use which route: docs/who-may-do-what.md. Every answer carries \
                            X-Request-Id, which the server's log has as well.",
        },
        "paths": paths,
        "components": {
            "schemas": generator.take_definitions(true),
            "securitySchemes": {
                "session": { "type": "http", "scheme": "bearer", "bearerFormat": "JWT",
                    "description": "A member's access token, of POST /api/session" },
                "follower": { "type": "http", "scheme": "bearer", "bearerFormat": "JWT",
                    "description": "An adjuster's access token, of POST /api/follow" },
                "refresh": { "type": "apiKey", "in": "cookie", "name": "baybook_refresh",
                    "description": "Set by the routes that begin a session" },
            },
        },
    })
}

/// The same as text.
pub fn text() -> &'static str {
    static TEXT: LazyLock<String> = LazyLock::new(|| document().to_string());
    &TEXT
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::routes::{API, OUTSIDE_API};

    #[test]
    fn has_every_route_and_nothing_else() {
        let all = || OPERATIONS.iter().chain(&PHOTOS).chain(&SHEETS);
        let described: BTreeSet<_> = all().map(|o| (o.method, o.path)).collect();
        let served: BTreeSet<_> = API.iter().chain(OUTSIDE_API).copied().collect();
        assert_eq!(described, served);
        assert_eq!(all().count(), served.len(), "none twice");
    }

    #[test]
    fn refers_to_nothing_that_is_not_there() {
        let document = document();
        let text = document.to_string();
        let mut found = 0;
        for part in text.split("\"$ref\":\"#").skip(1) {
            let pointer = part.split('"').next().unwrap();
            assert!(document.pointer(pointer).is_some(), "{pointer}");
            found += 1;
        }
        assert!(found > 50, "{found} references");
        assert!(!text.contains("$defs"));
    }
}
