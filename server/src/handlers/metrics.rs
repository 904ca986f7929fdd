//! The figures, on an address of their own: they are nobody's who merely reaches the server.

use actix_web::{HttpResponse, web};

use crate::App;
use crate::error::Failure;
use crate::metrics::MEDIA_TYPE;

/// `GET /metrics` on `--metrics-listen`.
///
/// # Errors
/// When the figures cannot be written.
pub async fn show_metrics(app: web::Data<App>) -> Result<HttpResponse, Failure> {
    let text = app
        .metrics
        .text(&app.live)
        .map_err(|error| Failure::Internal(error.into()))?;
    Ok(HttpResponse::Ok().content_type(MEDIA_TYPE).body(text))
}
