//! The dimension library: read by members, changed by owners.

use actix_web::http::header::ContentType;
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use shared::book::Intention;
use shared::library::{self, MAX_BYTES, Sheet, SheetLine};
use shared::wire::PublishSheet;

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

/// `GET /api/sheets/{sheet}/revisions/{revision}/start`: what makes a new book one of this body.
///
/// # Errors
/// When the shop has no such revision.
pub async fn start_revision(
    app: web::Data<App>,
    member: Member,
    path: web::Path<(String, u32)>,
) -> Result<web::Json<Vec<Intention>>, Failure> {
    let (sheet, revision) = path.into_inner();
    let shop = &member.me().shop;
    start(app.store.revision(shop, &sheet, revision).await?).await
}

/// `POST /api/sheets/{sheet}/published`: all shops of this server see this revision, and no other of the
/// sheet.
///
/// # Errors
/// When the shop has no such revision.
pub async fn publish_revision(
    app: web::Data<App>,
    owner: Owner,
    sheet: web::Path<String>,
    body: web::Json<PublishSheet>,
) -> Result<HttpResponse, Failure> {
    let now_ms = app.config.clock.now_ms();
    app.store
        .publish_revision(owner.me(), &sheet, body.revision, now_ms)
        .await?;
    Ok(HttpResponse::NoContent().finish())
}

/// `DELETE /api/sheets/{sheet}/published`: other shops no longer see it. What they pinned is theirs.
///
/// # Errors
/// When the shop publishes no such sheet.
pub async fn withdraw_sheet(
    app: web::Data<App>,
    owner: Owner,
    sheet: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let now_ms = app.config.clock.now_ms();
    app.store.withdraw_sheet(owner.me(), &sheet, now_ms).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// `GET /api/shared-sheets`: what other shops of this server have published.
///
/// # Errors
/// When the database fails.
pub async fn list_shared(
    app: web::Data<App>,
    member: Member,
) -> Result<web::Json<Vec<SheetLine>>, Failure> {
    Ok(web::Json(app.store.shared_sheets(&member.me().shop).await?))
}

/// `GET /api/shared-sheets/{sheet}`: the sheet file.
///
/// # Errors
/// When no shop publishes such a sheet.
pub async fn show_shared(
    app: web::Data<App>,
    _member: Member,
    sheet: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let text = app.store.published_sheet(&sheet).await?;
    Ok(HttpResponse::Ok()
        .content_type(ContentType::json())
        .body(text))
}

/// `GET /api/shared-sheets/{sheet}/start`: what makes a new book one of this body.
///
/// # Errors
/// When no shop publishes such a sheet.
pub async fn start_shared(
    app: web::Data<App>,
    _member: Member,
    sheet: web::Path<String>,
) -> Result<web::Json<Vec<Intention>>, Failure> {
    start(app.store.published_sheet(&sheet).await?).await
}

/// Made here, so that a phone in the bay need not know what a sheet is.
async fn start(file: String) -> Result<web::Json<Vec<Intention>>, Failure> {
    let read = web::block(move || library::parse(&file).map(|sheet| library::starting(&sheet)));
    let read = read
        .await
        .map_err(|error| Failure::Internal(error.into()))?;
    let start = read.map_err(|_| Failure::Internal(anyhow::anyhow!("a kept sheet is none")))?;
    Ok(web::Json(start))
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
