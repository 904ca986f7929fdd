//! Tickets for the WebSocket, and the registration of the actors a device writes under.

use actix_web::{HttpRequest, HttpResponse, web};
use shared::wire::{AskTicket, Ticket};
use ulid::Ulid;

use super::form;
use crate::App;
use crate::auth::Member;
use crate::auth::access::{Bearer, Boarding, TICKET_S};
use crate::error::Failure;
use crate::store::Boarded;

/// A phone makes one actor per tab and session; this many unshared ones are far more than enough.
const MAX_ACTORS: usize = 1000;
/// Actor ids are 16 bytes from our own app and at most 32 from anybody.
const MAX_ACTOR_DIGITS: usize = 64;

/// `POST /api/ticket`.
///
/// # Errors
/// Names the device or actor that is not of the form, or the actor that is somebody else's.
pub async fn issue_ticket(
    app: web::Data<App>,
    request: HttpRequest,
    member: Member,
    body: web::Json<AskTicket>,
) -> Result<HttpResponse, Failure> {
    let AskTicket { device, actors } = body.into_inner();
    if Ulid::from_string(&device).is_err() {
        return Err(Failure::bad_request("device"));
    }
    if actors.len() > MAX_ACTORS {
        return Err(Failure::bad_request("actors"));
    }
    if let Some(wrong) = actors.iter().find(|actor| !is_actor(actor)) {
        return Err(Failure::bad_request(
            wrong.chars().take(MAX_ACTOR_DIGITS).collect::<String>(),
        ));
    }
    let me = member.me();
    let now_ms = app.config.clock.now_ms();
    let label = form::platform(&request);
    let boarded = Boarded {
        shop: &me.shop,
        user: &me.user,
        session: Some(member.session()),
        device: &device,
        label: &label,
    };
    app.store.register_actors(&boarded, &actors, now_ms).await?;
    let boarding = Boarding::Member {
        bearer: Bearer {
            shop: me.shop.clone(),
            user: me.user.clone(),
            session: member.session().to_owned(),
        },
        device,
    };
    let ticket = app
        .access
        .ticket(&boarding, app.config.clock.mint(), now_ms)?;
    Ok(HttpResponse::Created().json(Ticket {
        ticket,
        expires_in_s: TICKET_S,
    }))
}

/// Lower-case hexadecimal of whole bytes.
fn is_actor(text: &str) -> bool {
    !text.is_empty()
        && text.len() <= MAX_ACTOR_DIGITS
        && text.len().is_multiple_of(2)
        && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

#[cfg(test)]
mod tests {
    use super::is_actor;

    #[test]
    fn knows_actors() {
        assert!(is_actor("00ff"));
        for text in ["", "0", "00FF", "0x", &"00".repeat(33)] {
            assert!(!is_actor(text), "{text}");
        }
    }
}
