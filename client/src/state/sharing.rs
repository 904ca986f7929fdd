//! The line to the server, kept open while there is one: what is new goes out, what comes in is
//! written to disk and shown. It comes back by itself.

use std::time::Duration;

use futures_channel::mpsc::UnboundedReceiver;
use futures_util::{FutureExt, StreamExt, select};
use gloo_net::http::Method;
use gloo_timers::future::sleep;
use leptos::prelude::*;
use shared::sync::frame::Frame;
use shared::wire::JobLine;

use super::session::Session;
use super::shelf::{Errand, Notice, Other, Shelf};
use crate::net::NetError;
use crate::net::line::{self, Reader, Writer};
use crate::platform;

/// Waits between tries; the last one is used again and again.
const PATIENCE_S: [u64; 6] = [1, 2, 4, 8, 15, 30];
/// A book whose changes were refused this often is left to a person.
const MAX_REFUSALS: u32 = 3;

/// Keeps sharing for as long as the page lives.
pub async fn keep_sharing(shelf: Shelf, session: Session, mut errands: UnboundedReceiver<Errand>) {
    let mut failures = 0;
    loop {
        if session.me.get_untracked().is_some() && shelf.ready.get_untracked() {
            match share(shelf, session, &mut errands).await {
                Ended::Lost { had_line } => failures = if had_line { 0 } else { failures + 1 },
                Ended::SignInNeeded => {
                    session.expired.set(true);
                    failures = PATIENCE_S.len();
                }
                Ended::Again => continue,
            }
            shelf.online.set(false);
            shelf.others.set(Vec::new());
        }
        let wait = PATIENCE_S[failures.min(PATIENCE_S.len() - 1)];
        // A new sign-in or the browser's word that it is online again ends the wait.
        let mut tired = sleep(Duration::from_secs(wait)).fuse();
        loop {
            select! {
                () = tired => break,
                errand = errands.next() => match errand {
                    Some(Errand::TryNow) => break,
                    Some(_) => {}
                    None => return,
                },
            }
        }
    }
}

enum Ended {
    Lost { had_line: bool },
    SignInNeeded,
    Again,
}

async fn share(shelf: Shelf, session: Session, errands: &mut UnboundedReceiver<Errand>) -> Ended {
    let api = session.api();
    match api
        .call::<Vec<JobLine>>(Method::GET, "/api/jobs", None::<&()>)
        .await
    {
        Ok(lines) => shelf.learn(lines),
        Err(error) if error.needs_sign_in() => return Ended::SignInNeeded,
        Err(_) => return Ended::Lost { had_line: false },
    }
    session.expired.set(false);
    let books = shelf.books();
    let actors = {
        let mut actors: Vec<String> = books
            .held
            .borrow()
            .values()
            .flat_map(super::held::Held::actors)
            .collect();
        actors.push(books.actor.borrow().to_hex_string());
        actors.sort();
        actors.dedup();
        actors
    };
    let (mut writer, mut reader) = match line::open(&api, &books.device, actors).await {
        Ok(ends) => ends,
        Err(error) if error.needs_sign_in() => return Ended::SignInNeeded,
        Err(_) => return Ended::Lost { had_line: false },
    };
    shelf.online.set(true);
    let ids: Vec<String> = books.held.borrow().keys().cloned().collect();
    for id in &ids {
        if let Some(held) = books.held.borrow_mut().get_mut(id) {
            held.peer = automerge::sync::State::new();
        }
    }
    for id in ids {
        if say(shelf, &mut writer, &id).await.is_err() {
            return Ended::Lost { had_line: true };
        }
    }
    talk(shelf, session, errands, &mut writer, &mut reader).await
}

async fn talk(
    shelf: Shelf,
    session: Session,
    errands: &mut UnboundedReceiver<Errand>,
    writer: &mut Writer,
    reader: &mut Reader,
) -> Ended {
    let mut count = 0;
    loop {
        let step = select! {
            errand = errands.next() => match errand {
                Some(Errand::Share(id)) => say(shelf, writer, &id).await,
                Some(Errand::Whereabouts(id, place)) => {
                    count += 1;
                    whereabouts(session, writer, id, &place, count).await
                }
                Some(Errand::TryNow) => Ok(()),
                None => return Ended::Lost { had_line: true },
            },
            frame = reader.read().fuse() => match frame {
                Ok(frame) if frame.kind == "error" => {
                    return refused(shelf, session, frame).await;
                }
                Ok(frame) => hear(shelf, writer, frame).await,
                Err(error) => Err(error),
            },
        };
        if step.is_err() {
            return Ended::Lost { had_line: true };
        }
    }
}

/// Sends what a book has to say, if anything.
async fn say(shelf: Shelf, writer: &mut Writer, id: &str) -> Result<(), NetError> {
    // 'Shared' must never be said of what is not even on this disk.
    if !shelf.is_saved(id) {
        return Ok(());
    }
    let message = {
        let books = shelf.books();
        let mut held = books.held.borrow_mut();
        let Some(held) = held.get_mut(id).filter(|held| held.refusals < MAX_REFUSALS) else {
            return Ok(());
        };
        let kind = if held.doc.get_heads().is_empty() {
            "request"
        } else {
            "sync"
        };
        held.next_message().map(|data| (kind, data))
    };
    match message {
        Some((kind, data)) => {
            let frame = Frame {
                kind: kind.into(),
                document: Some(id.to_owned()),
                data: Some(data),
                ..Frame::default()
            };
            writer.write(frame).await
        }
        None => Ok(()),
    }
}

async fn hear(shelf: Shelf, writer: &mut Writer, frame: Frame) -> Result<(), NetError> {
    let Some(id) = frame.document.clone() else {
        return Ok(());
    };
    match frame.kind.as_str() {
        "sync" => {
            let Some(data) = frame.data else {
                return Ok(());
            };
            let heard = {
                let books = shelf.books();
                let mut held = books.held.borrow_mut();
                let Some(held) = held.get_mut(&id) else {
                    return Ok(());
                };
                let before = held.doc.get_heads();
                let heard = held.receive(&data);
                heard.map(|()| (held.doc.get_heads() != before, held.unshared()))
            };
            match heard {
                Ok((_, unshared)) => {
                    shelf.after_change(&id);
                    if unshared == 0 {
                        shelf.tidy_up(&id).await;
                    }
                }
                Err(_) => return Err(NetError::Offline),
            }
            say(shelf, writer, &id).await
        }
        "doc-unavailable" => {
            shelf.notice.set(Some(Notice::Unavailable));
            Ok(())
        }
        "ephemeral" => {
            presence(shelf, id, frame);
            Ok(())
        }
        _ => Ok(()),
    }
}

async fn refused(shelf: Shelf, session: Session, frame: Frame) -> Ended {
    let reason = frame.message.unwrap_or_default();
    if let Some(id) = frame.document {
        let by = session
            .me
            .get_untracked()
            .map(|me| me.name)
            .unwrap_or_default();
        shelf.start_over(&id, &by, reason).await;
        shelf.after_change(&id);
        // The new name has to be made known with a new ticket.
        return Ended::Again;
    }
    Ended::Lost { had_line: true }
}

async fn whereabouts(
    session: Session,
    writer: &mut Writer,
    id: String,
    place: &str,
    count: u64,
) -> Result<(), NetError> {
    let Some(me) = session.me.get_untracked() else {
        return Ok(());
    };
    let words = serde_json::json!({ "name": me.name, "place": place });
    let frame = Frame {
        kind: "ephemeral".into(),
        document: Some(id),
        session: Some(me.user),
        count: Some(count),
        data: Some(words.to_string().into_bytes()),
        ..Frame::default()
    };
    writer.write(frame).await
}

/// Somebody says where they are; what cannot be read says nothing.
fn presence(shelf: Shelf, book: String, frame: Frame) {
    #[derive(serde::Deserialize)]
    struct Whereabouts {
        name: String,
        place: String,
    }
    let words = frame
        .data
        .and_then(|data| serde_json::from_slice::<Whereabouts>(&data).ok());
    let Some(Whereabouts { name, place }) = words else {
        return;
    };
    let from = frame.sender.unwrap_or_default();
    let now = platform::now_ms();
    let short = |text: String| text.chars().take(80).collect::<String>();
    shelf.others.update(|others| {
        others.retain(|other| other.from != from && now - other.heard_ms < 60_000);
        others.push(Other {
            book,
            from,
            name: short(name),
            place: short(place),
            heard_ms: now,
        });
    });
}
