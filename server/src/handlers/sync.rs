//! The WebSocket over which books are shared.

use actix_web::rt;
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;

use crate::App;
use crate::auth::access::Boarding;
use crate::auth::origin::OwnOrigin;
use crate::error::Failure;
use crate::live::lines::Line;
use crate::live::word::Who;
use crate::live::{MAX_FRAME_BYTES, connection};
use crate::store::{Followed, Sender};

/// Query of the WebSocket's address.
#[derive(Debug, Deserialize)]
pub struct Query {
    ticket: String,
}

/// `GET /sync?ticket=…`.
///
/// # Errors
/// When the ticket is not good, whoever has it was removed meanwhile, or the request does not ask
/// for a WebSocket.
pub async fn open_line(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    query: web::Query<Query>,
    body: web::Payload,
) -> Result<HttpResponse, Failure> {
    let boarding = app
        .access
        .board(&query.ticket, app.config.clock.now_ms())
        .ok_or_else(Failure::sign_in_needed)?;
    let (line, follows) = enter(&app, boarding).await?;
    let (answer, session, messages) =
        actix_ws::handle(&request, body).map_err(|_| Failure::bad_request("websocket"))?;
    let messages = messages
        .max_frame_size(MAX_FRAME_BYTES)
        .aggregate_continuations()
        .max_continuation_size(MAX_FRAME_BYTES);
    rt::spawn(connection::run(
        app.live.clone(),
        line,
        follows,
        session,
        messages,
    ));
    Ok(answer)
}

/// Enters the line, then asks whether its person is still good.
async fn enter(app: &App, boarding: Boarding) -> Result<(Line, Option<Followed>), Failure> {
    match boarding {
        Boarding::Member { bearer, device } => {
            let sender = Sender {
                user: bearer.user,
                device,
            };
            let who = Who::Member {
                sender: sender.clone(),
                session: bearer.session.clone(),
            };
            let line = app.live.enter(&bearer.shop, who);
            match app
                .store
                .may_write(&bearer.shop, &sender, &bearer.session)
                .await?
            {
                true => Ok((line, None)),
                false => Err(Failure::sign_in_needed()),
            }
        }
        Boarding::Follower(follower) => {
            let who = Who::Follower {
                link: follower.link.clone(),
            };
            let line = app.live.enter(&follower.shop, who);
            let now_ms = app.config.clock.now_ms();
            let followed = app
                .store
                .followed(&follower.shop, &follower.link, now_ms)
                .await?;
            Ok((line, Some(followed.ok_or_else(Failure::link_invalid)?)))
        }
    }
}
