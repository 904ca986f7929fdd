//! The API's own description.

use actix_web::HttpResponse;
use actix_web::http::header::ContentType;

use crate::openapi;

/// `GET /api/openapi.json`.
pub async fn show_api() -> HttpResponse {
    HttpResponse::Ok()
        .content_type(ContentType::json())
        .body(openapi::text())
}
