//! The dimension library: read by members, changed by owners.

use actix_web::http::header::ContentType;
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use shared::library::{self, MAX_BYTES, Sheet, SheetLine};

use crate::App;
use crate::auth::{Member, Owner};
use crate::error::Failure;
use crate::store::Place;

/// What a new revision comes after.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct After {
    after: u32,
}

/// `GET /api/sheets`.
///
/// # Errors
/// When the database fails.
pub async fn list_sheets(
    app: web::Data<App>,
    member: Member,
) -> Result<web::Json<Vec<SheetLine>>, Failure> {
    Ok(web::Json(app.store.sheets(&member.me().shop).await?))
}

/// `POST /api/sheets`: a sheet file.
///
/// # Errors
/// Names what is wrong with the file, and where.
pub async fn make_sheet(
    app: web::Data<App>,
    owner: Owner,
    body: web::Payload,
) -> Result<HttpResponse, Failure> {
    let sheet = read(body).await?;
    let (id, now_ms) = (app.config.clock.mint(), app.config.clock.now_ms());
    let line = app
        .store
        .keep_revision(owner.me(), Place::New(id), sheet, now_ms)
        .await?;
    Ok(HttpResponse::Created().json(line))
}

/// `GET /api/sheets/{sheet}/revisions`.
///
/// # Errors
/// When the shop has no such sheet.
pub async fn list_revisions(
    app: web::Data<App>,
    member: Member,
    sheet: web::Path<String>,
) -> Result<web::Json<Vec<SheetLine>>, Failure> {
    let lines = app.store.revisions(&member.me().shop, &sheet).await?;
    Ok(web::Json(lines))
}

/// `POST /api/sheets/{sheet}/revisions?after=`: a sheet file.
///
/// # Errors
/// When the shop has no such sheet or a newer revision of it; names what is wrong with the file, and
/// where.
pub async fn make_revision(
    app: web::Data<App>,
    owner: Owner,
    sheet: web::Path<String>,
    query: web::Query<After>,
    body: web::Payload,
) -> Result<HttpResponse, Failure> {
    let new = read(body).await?;
    let place = Place::After(sheet.into_inner(), query.after);
    let now_ms = app.config.clock.now_ms();
    let line = app
        .store
        .keep_revision(owner.me(), place, new, now_ms)
        .await?;
    Ok(HttpResponse::Created().json(line))
}

/// `GET /api/sheets/{sheet}/revisions/{revision}`: the sheet file.
///
/// # Errors
/// When the shop has no such revision.
pub async fn show_revision(
    app: web::Data<App>,
    member: Member,
    path: web::Path<(String, u32)>,
) -> Result<HttpResponse, Failure> {
    let (sheet, revision) = path.into_inner();
    let text = app
        .store
        .revision(&member.me().shop, &sheet, revision)
        .await?;
    Ok(HttpResponse::Ok()
        .content_type(ContentType::json())
        .body(text))
}

/// Reads the body after it is known who sends it, and the file aside: a large one takes a moment.
async fn read(body: web::Payload) -> Result<Sheet, Failure> {
    let bytes = body
        .to_bytes_limited(MAX_BYTES)
        .await
        .map_err(|_| Failure::too_large())?
        .map_err(|_| Failure::bad_request("body"))?;
    let read = web::block(move || library::parse_bytes(&bytes))
        .await
        .map_err(|error| Failure::Internal(error.into()))?;
    read.map_err(|refusals| {
        let first = refusals.first().map(ToString::to_string);
        Failure::bad_request(first.unwrap_or_else(|| "sheet".to_owned()))
    })
}
