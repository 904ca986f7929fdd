//! The shop's log, for its owners.

use actix_web::web;
use serde::Deserialize;
use shared::proof::leaf::Event;
use shared::proof::page::LogPage;

use crate::App;
use crate::auth::Owner;
use crate::clock::from_rfc3339;
use crate::error::Failure;
use crate::store::LogQuery;

/// Entries of a page when nobody says how many.
const PAGE: u64 = 50;
/// Most entries of a page.
const MAX_PAGE: u64 = 200;

/// What is asked for.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Query {
    job: Option<String>,
    person: Option<String>,
    kind: Option<String>,
    before: Option<String>,
    after: Option<String>,
    below: Option<u32>,
    limit: Option<u64>,
}

/// `GET /api/log?job=&person=&kind=&before=&after=&below=&limit=`: newest first; times are RFC 3339
/// text, `after` included and `before` not.
///
/// # Errors
/// Names the part of the question that is not of the form.
pub async fn show_log(
    app: web::Data<App>,
    owner: Owner,
    query: web::Query<Query>,
) -> Result<web::Json<LogPage>, Failure> {
    let asked = query.into_inner();
    let is_known = |kind: &String| Event::KINDS.contains(&kind.as_str());
    if !asked.kind.as_ref().is_none_or(is_known) {
        return Err(Failure::bad_request("kind"));
    }
    let limit = asked.limit.unwrap_or(PAGE);
    if !(1..=MAX_PAGE).contains(&limit) {
        return Err(Failure::bad_request("limit"));
    }
    let query = LogQuery {
        job: asked.job,
        person: asked.person,
        kind: asked.kind,
        before_ms: moment(asked.before, "before")?,
        after_ms: moment(asked.after, "after")?,
        below: asked.below.map(i64::from),
        limit,
    };
    Ok(web::Json(
        app.store.log_page(&owner.me().shop, &query).await?,
    ))
}

fn moment(text: Option<String>, field: &'static str) -> Result<Option<i64>, Failure> {
    let read = |text: String| from_rfc3339(&text).ok_or_else(|| Failure::bad_request(field));
    text.map(read).transpose()
}
