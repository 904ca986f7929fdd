//! The WebSocket over which books are shared.

use actix_web::rt;
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;

use crate::App;
use crate::auth::origin::OwnOrigin;
use crate::error::Failure;
use crate::live::{MAX_FRAME_BYTES, connection};

/// Query of the WebSocket's address.
#[derive(Debug, Deserialize)]
pub struct Boarding {
    ticket: String,
}

/// `GET /sync?ticket=…`.
///
/// # Errors
/// When the ticket is not good, or the request does not ask for a WebSocket.
pub async fn open_line(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    query: web::Query<Boarding>,
    body: web::Payload,
) -> Result<HttpResponse, Failure> {
    let boarding = app
        .access
        .board(&query.ticket, app.config.clock.now_ms())
        .ok_or_else(Failure::sign_in_needed)?;
    let (answer, session, messages) =
        actix_ws::handle(&request, body).map_err(|_| Failure::bad_request("websocket"))?;
    let messages = messages
        .max_frame_size(MAX_FRAME_BYTES)
        .aggregate_continuations()
        .max_continuation_size(MAX_FRAME_BYTES);
    rt::spawn(connection::run(
        app.live.clone(),
        boarding,
        session,
        messages,
    ));
    Ok(answer)
}
