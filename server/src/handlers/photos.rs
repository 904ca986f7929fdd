//! Photos: sent by the open tus protocol (version 1.0.0, with creation and expiration), so that an
//! upload goes on where it stopped; read by the job's people and by an adjuster.
//!
//! A file is taken only when the book refers to it, with its size and kind; so nobody can put down
//! here what no job knows. An upload belongs to the person who began it.

use std::time::{Duration, UNIX_EPOCH};

use actix_web::http::StatusCode;
use actix_web::http::header::{self, HttpDate};
use actix_web::{HttpRequest, HttpResponse, ResponseError, web};
use base64::prelude::{BASE64_STANDARD, Engine as _};
use futures_util::StreamExt;
use shared::book::photo::{MAX_PHOTO_BYTES, Media};
use shared::book::photos;
use shared::proof::Digest;
use shared::wire::{Code, Refusal};

use crate::App;
use crate::auth::{Member, Viewer};
use crate::error::Failure;
use crate::live::load::load;
use crate::photos::look;
use crate::store::{DocKey, NewUpload, Upload};

const RESUMABLE: &str = "Tus-Resumable";
const VERSION: &str = "1.0.0";
const OFFSET: &str = "Upload-Offset";
const LENGTH: &str = "Upload-Length";
const METADATA: &str = "Upload-Metadata";
const EXPIRES: &str = "Upload-Expires";
/// Media type of a part of an upload.
const PART: &str = "application/offset+octet-stream";
/// So much is kept at once of what comes in: what a cut can cost at most.
const KEEP_BYTES: usize = 64 * 1024;
/// A photo is a picture and nothing else, wherever somebody opens it.
const PICTURE_POLICY: &str = "default-src 'none'; sandbox";
/// The name is the content: it never changes. Only for the browser of whoever asked.
const KEEP: &str = "private, max-age=31536000, immutable";

/// `OPTIONS /api/jobs/{book}/photos`: what of the protocol is spoken here.
pub async fn show_protocol() -> HttpResponse {
    HttpResponse::NoContent()
        .insert_header((RESUMABLE, VERSION))
        .insert_header(("Tus-Version", VERSION))
        .insert_header(("Tus-Extension", "creation,expiration"))
        .insert_header(("Tus-Max-Size", MAX_PHOTO_BYTES))
        .finish()
}

/// `POST /api/jobs/{book}/photos`: begins an upload; its address is in `Location`.
/// `Upload-Metadata` has `digest` (64 hexadecimal digits) and `type`, as the book has them.
pub async fn begin_upload(
    app: web::Data<App>,
    member: Member,
    request: HttpRequest,
    book: web::Path<String>,
) -> HttpResponse {
    tus(
        &request,
        begin(&app, &member, &request, book.into_inner()).await,
    )
}

/// `HEAD /api/jobs/{book}/photos/uploads/{upload}`: how much of it is here.
pub async fn show_upload(
    app: web::Data<App>,
    member: Member,
    request: HttpRequest,
    path: web::Path<(String, String)>,
) -> HttpResponse {
    let found = find(&app, &member, path.into_inner()).await;
    tus(
        &request,
        found.map(|upload| stands(StatusCode::OK, &upload)),
    )
}

/// `PATCH /api/jobs/{book}/photos/uploads/{upload}`: what comes next of it.
pub async fn take_part(
    app: web::Data<App>,
    member: Member,
    request: HttpRequest,
    path: web::Path<(String, String)>,
    body: web::Payload,
) -> HttpResponse {
    let taken = take(&app, &member, &request, path.into_inner(), body).await;
    tus(&request, taken)
}

/// `GET /api/jobs/{book}/photos/{digest}`: the file.
///
/// # Errors
/// When it is not here, or the shop has no such job.
pub async fn show_photo(
    app: web::Data<App>,
    member: Member,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, Failure> {
    let (book, digest) = path.into_inner();
    show(&app, &key(&member, book), &digest).await
}

/// `GET /api/follow/photos/{digest}`: the same of the job that a link shows. What was hidden there is
/// hidden from whoever follows.
///
/// # Errors
/// As [`show_photo`].
pub async fn show_followed(
    app: web::Data<App>,
    viewer: Viewer,
    digest: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let job = viewer.job();
    let (photos, _) = photos(&load(&app.store, &job).await?.doc);
    let shown = |photo: &shared::book::Photo| photo.digest == *digest && photo.struck.is_none();
    match photos.iter().any(shown) {
        true => show(&app, &job, &digest).await,
        false => Err(Failure::not_found()),
    }
}

fn key(member: &Member, doc: String) -> DocKey {
    let shop = member.me().shop.clone();
    DocKey { shop, doc }
}

/// Every answer names the protocol; a request of another version is not looked at further.
fn tus(request: &HttpRequest, done: Result<HttpResponse, Failure>) -> HttpResponse {
    let mut answer = match text(request, RESUMABLE) {
        Some(VERSION) => done.unwrap_or_else(|failure| failure.error_response()),
        _ => refuse(StatusCode::PRECONDITION_FAILED, RESUMABLE),
    };
    let headers = answer.headers_mut();
    for name in ["tus-resumable", "tus-version"] {
        let name = header::HeaderName::from_static(name);
        headers.insert(name, header::HeaderValue::from_static(VERSION));
    }
    answer
}

fn refuse(status: StatusCode, subject: &str) -> HttpResponse {
    HttpResponse::build(status).json(Refusal {
        code: Code::BadRequest,
        subject: Some(subject.to_owned()),
    })
}

fn text<'a>(request: &'a HttpRequest, name: &str) -> Option<&'a str> {
    request.headers().get(name)?.to_str().ok()
}

fn number(request: &HttpRequest, name: &'static str) -> Result<i64, Failure> {
    let number = text(request, name).and_then(|text| text.trim().parse().ok());
    number
        .filter(|number| *number >= 0)
        .ok_or_else(|| Failure::bad_request(name))
}

/// A value of the metadata: `name base64, name base64`.
fn metadata(request: &HttpRequest, name: &str) -> Option<String> {
    let mut pairs = text(request, METADATA)?.split(',');
    let value = pairs.find_map(|pair| {
        let (key, value) = pair.trim().split_once(' ')?;
        (key == name).then_some(value.trim())
    })?;
    String::from_utf8(BASE64_STANDARD.decode(value).ok()?).ok()
}

async fn begin(
    app: &App,
    member: &Member,
    request: &HttpRequest,
    book: String,
) -> Result<HttpResponse, Failure> {
    if text(request, RESUMABLE) != Some(VERSION) {
        return Err(Failure::bad_request(RESUMABLE));
    }
    let bytes = number(request, LENGTH)?;
    if bytes.unsigned_abs() > MAX_PHOTO_BYTES {
        return Err(Failure::too_large());
    }
    let digest = metadata(request, "digest").and_then(|digest| digest.parse::<Digest>().ok());
    let digest = digest.ok_or_else(|| Failure::bad_request("digest"))?;
    let media = metadata(request, "type").and_then(|media| Media::of(&media));
    let media = media.ok_or_else(|| Failure::bad_request("type"))?;
    let key = key(member, book);
    let loaded = load(&app.store, &key).await?;
    if loaded.seq == 0 {
        return Err(Failure::not_found());
    }
    let (known, _) = photos(&loaded.doc);
    let name = digest.to_string();
    let mut known = known.iter().filter(|photo| photo.digest == name).peekable();
    if known.peek().is_none() {
        // The record may still be on its way; the phone tries again.
        return Err(Failure::nothing("digest"));
    }
    if !known.any(|photo| photo.media == media && photo.bytes == bytes.unsigned_abs()) {
        return Err(Failure::bad_request(LENGTH));
    }
    let now_ms = app.config.clock.now_ms();
    let upload = app.config.clock.mint();
    let location = format!("/api/jobs/{}/photos/uploads/{upload}", key.doc);
    let new = NewUpload {
        upload,
        key,
        user: member.me().user.clone(),
        digest,
        media: media.name(),
        bytes,
    };
    let begun = app.store.begin_upload(new, now_ms).await?;
    let mut answer = stands(StatusCode::CREATED, &begun);
    let location = header::HeaderValue::from_str(&location).map_err(anyhow::Error::from)?;
    answer.headers_mut().insert(header::LOCATION, location);
    Ok(answer)
}

async fn find(
    app: &App,
    member: &Member,
    (book, upload): (String, String),
) -> Result<Upload, Failure> {
    let now_ms = app.config.clock.now_ms();
    let (key, user) = (key(member, book), &member.me().user);
    Ok(app.store.upload(&key, user, &upload, now_ms).await?)
}

async fn take(
    app: &App,
    member: &Member,
    request: &HttpRequest,
    path: (String, String),
    mut body: web::Payload,
) -> Result<HttpResponse, Failure> {
    if text(request, RESUMABLE) != Some(VERSION) {
        return Err(Failure::bad_request(RESUMABLE));
    }
    let mut upload = find(app, member, path).await?;
    if text(request, "Content-Type") != Some(PART) {
        return Ok(refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "Content-Type"));
    }
    if number(request, OFFSET)? != upload.received {
        return Err(Failure::taken(OFFSET));
    }
    let mut waiting = Vec::new();
    while let Some(part) = body.next().await {
        match part {
            Ok(part) => waiting.extend_from_slice(&part),
            // A line that is cut in the middle: what came is kept.
            Err(error) => {
                keep(app, &mut upload, &mut waiting).await?;
                return Err(Failure::bad_request(error.to_string()));
            }
        }
        if waiting.len() >= KEEP_BYTES {
            keep(app, &mut upload, &mut waiting).await?;
        }
    }
    keep(app, &mut upload, &mut waiting).await?;
    Ok(stands(StatusCode::NO_CONTENT, &upload))
}

async fn keep(app: &App, upload: &mut Upload, waiting: &mut Vec<u8>) -> Result<(), Failure> {
    if waiting.is_empty() {
        return Ok(());
    }
    let now_ms = app.config.clock.now_ms();
    let digest = upload.digest;
    let media = Media::of(&upload.media).ok_or_else(|| anyhow::anyhow!("stored media type"))?;
    let look = |whole: &[u8]| look(whole, &digest, media);
    app.store
        .extend_upload(upload, waiting, now_ms, look)
        .await?;
    waiting.clear();
    Ok(())
}

/// An answer that says how much of an upload is here.
fn stands(status: StatusCode, upload: &Upload) -> HttpResponse {
    let at = Duration::from_millis(upload.expires_at_ms.max(0).unsigned_abs());
    HttpResponse::build(status)
        .insert_header((OFFSET, upload.received))
        .insert_header((LENGTH, upload.bytes))
        .insert_header((EXPIRES, HttpDate::from(UNIX_EPOCH + at).to_string()))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .finish()
}

async fn show(app: &App, key: &DocKey, digest: &str) -> Result<HttpResponse, Failure> {
    let digest: Digest = digest.parse().map_err(|_| Failure::not_found())?;
    let photo = app.store.photo(key, &digest).await?;
    let ending = match Media::of(&photo.media) {
        Some(Media::Png) => "png",
        _ => "jpg",
    };
    let name = format!(
        "attachment; filename=\"{:.12}.{ending}\"",
        digest.to_string()
    );
    Ok(HttpResponse::Ok()
        .content_type(photo.media)
        .insert_header((header::CONTENT_DISPOSITION, name))
        .insert_header((header::CONTENT_SECURITY_POLICY, PICTURE_POLICY))
        .insert_header((header::CACHE_CONTROL, KEEP))
        .body(photo.bytes))
}
