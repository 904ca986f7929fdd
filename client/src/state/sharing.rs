//! The line to the server, kept open while there is one: what is new goes out, what comes in is
//! written to disk and shown. It comes back by itself.

use std::collections::BTreeSet;
use std::pin::pin;
use std::time::Duration;

use futures_channel::mpsc::UnboundedReceiver;
use futures_util::{FutureExt, StreamExt, select};
use gloo_timers::future::sleep;
use leptos::prelude::*;
use shared::adjust::sorting::gather;
use shared::sync::frame::Frame;
use shared::wire::{Code, Refusal};

use super::held::Held;
use super::session::Session;
use super::shelf::{Errand, HEARD_MS, Notice, OnDisk, Other, Shelf};
use crate::json;
use crate::net::line::{self, Reader, Writer};
use crate::net::{Api, NetError};
use crate::platform;

/// Waits between tries; the last one is used again and again.
const PATIENCE_S: [u64; 6] = [1, 2, 4, 8, 15, 30];

/// How long a line may be silent when something was sent that is always answered, and how fast a poor
/// line still carries what was sent (common practice: a few kilobytes a second at the edge of a cell). A
/// phone that changed networks keeps a dead line open for minutes, and nothing but silence tells.
const ANSWER_MS: i64 = 20_000;
const BYTES_PER_MS: i64 = 4;

/// Keeps sharing for as long as the page lives.
pub async fn keep_sharing(shelf: Shelf, session: Session, mut errands: UnboundedReceiver<Errand>) {
    let mut failures = 0;
    loop {
        let may_share = session.me.get_untracked().is_some() && shelf.ready.get_untracked();
        if may_share && shelf.is_on_line() {
            match share(shelf, session, &mut errands).await {
                Ended::Lost { had_line } => failures = if had_line { 0 } else { failures + 1 },
                Ended::SignInNeeded => {
                    session.expired.set(true);
                    failures = PATIENCE_S.len();
                }
                Ended::Again => continue,
            }
            shelf.set_online(false);
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
    match shelf.ask_list(&api).await {
        Ok(()) => {}
        Err(error) if error.needs_sign_in() => return Ended::SignInNeeded,
        Err(_) => return Ended::Lost { had_line: false },
    }
    session.expired.set(false);
    let books = shelf.books();
    // Somebody else may have signed in since.
    books.foreign.borrow_mut().clear();
    let (mut line, mut reader) = match open(shelf, &api).await {
        Ok(ends) => ends,
        Err(error) if error.needs_sign_in() => return Ended::SignInNeeded,
        Err(_) => return Ended::Lost { had_line: false },
    };
    shelf.set_online(true);
    let ids: Vec<String> = books.held.borrow().keys().cloned().collect();
    for id in &ids {
        if let Some(held) = books.held.borrow_mut().get_mut(id) {
            held.meet();
        }
    }
    for id in ids {
        if say(shelf, &mut line, &id).await.is_err() {
            return Ended::Lost { had_line: true };
        }
    }
    talk(shelf, session, errands, &mut line, &mut reader).await
}

/// A line, and the actors that the server knows to be ours.
struct Line {
    writer: Writer,
    api: Api,
    actors: BTreeSet<String>,
    /// When the line is taken for dead, unless something comes; milliseconds since 1970.
    answer_by: Option<i64>,
}

impl Line {
    /// So much was sent that has to be answered. A wait that has begun goes on.
    fn expect_answer(&mut self, bytes: usize) {
        let carried = i64::try_from(bytes).unwrap_or(i64::MAX) / BYTES_PER_MS;
        let from = self.answer_by.unwrap_or(platform::now_ms() + ANSWER_MS);
        self.answer_by = Some(from.saturating_add(carried));
    }

    /// Ends when the line is taken for dead; never, while nothing has to be answered.
    async fn silence(answer_by: Option<i64>) {
        let Some(answer_by) = answer_by else {
            return std::future::pending().await;
        };
        let left = u64::try_from(answer_by - platform::now_ms()).unwrap_or(0);
        sleep(Duration::from_millis(left)).await;
    }
}

/// Opens a line under the names of all that waits. What somebody else on this phone has written
/// under a name of theirs is written again under ours.
async fn open(shelf: Shelf, api: &Api) -> Result<(Line, Reader), NetError> {
    let books = shelf.books();
    loop {
        let mut actors: BTreeSet<String> =
            gather(books.held.borrow().values().flat_map(Held::actors));
        actors.insert(books.actor.borrow().to_hex_string());
        actors.retain(|actor| !books.foreign.borrow().contains(actor));
        match line::open(api, &books.device, actors.iter().cloned().collect()).await {
            Ok((writer, reader)) => {
                let api = api.clone();
                let line = Line {
                    writer,
                    api,
                    actors,
                    answer_by: None,
                };
                return Ok((line, reader));
            }
            Err(error) => give_up_or(shelf, error)?,
        }
    }
}

/// Goes on without an actor that is somebody else's.
fn give_up_or(shelf: Shelf, error: NetError) -> Result<(), NetError> {
    match error {
        NetError::Refused(Refusal {
            code: Code::Taken,
            subject: Some(actor),
        }) if !shelf.books().foreign.borrow().contains(&actor) => {
            shelf.give_up_actor(&actor);
            Ok(())
        }
        error => Err(error),
    }
}

async fn talk(
    shelf: Shelf,
    session: Session,
    errands: &mut UnboundedReceiver<Errand>,
    line: &mut Line,
    reader: &mut Reader,
) -> Ended {
    let mut count = 0;
    loop {
        let mut silence = pin!(Line::silence(line.answer_by).fuse());
        let step = select! {
            () = silence => Err(NetError::Offline),
            errand = errands.next() => match errand {
                Some(Errand::Share(id)) => say(shelf, line, &id).await,
                Some(Errand::Whereabouts(id, place)) => {
                    count += 1;
                    whereabouts(session, &mut line.writer, id, &place, count).await
                }
                Some(Errand::TryNow) => Ok(()),
                Some(Errand::LetGo) => return Ended::Lost { had_line: true },
                None => return Ended::Lost { had_line: true },
            },
            frame = reader.read().fuse() => match frame {
                Ok(frame) if frame.kind == "error" => {
                    return refused(shelf, frame);
                }
                Ok(frame) => {
                    line.answer_by = None;
                    hear(shelf, line, frame).await
                }
                Err(error) => Err(error),
            },
        };
        if step.is_err() {
            return Ended::Lost { had_line: true };
        }
    }
}

/// Sends what a book has to say, if anything.
async fn say(shelf: Shelf, line: &mut Line, id: &str) -> Result<(), NetError> {
    if shelf.with_book(id, Held::is_fetched) == Some(true) {
        shelf.recover(id).await;
    }
    let books = shelf.books();
    let actors: Vec<String> = {
        let all = books.held.borrow();
        let actors = all.get(id).map(Held::actors).unwrap_or_default();
        let foreign = books.foreign.borrow();
        let news = actors.difference(&line.actors);
        news.filter(|actor| !foreign.contains(*actor))
            .cloned()
            .collect()
    };
    if !actors.is_empty() {
        // Another tab writes under a name of its own, which the server has to know first.
        match line::register(&line.api, &books.device, actors.clone()).await {
            Ok(_) => line.actors.extend(actors),
            // The line begins anew without it.
            Err(error) => return give_up_or(shelf, error).and(Err(NetError::Offline)),
        }
    }
    let failed = shelf.on_disk(id) == OnDisk::Failed;
    let message = {
        let mut held = books.held.borrow_mut();
        held.get_mut(id)
            .and_then(|held| Some((held.next_message(failed)?, held.unshared() > 0)))
    };
    let Some(((asks, data), is_answered)) = message else {
        return Ok(());
    };
    if is_answered {
        line.expect_answer(data.len());
    }
    let frame = Frame {
        kind: if asks { "request" } else { "sync" }.into(),
        document: Some(id.to_owned()),
        data: Some(data),
        ..Frame::default()
    };
    line.writer.write(frame).await
}

async fn hear(shelf: Shelf, line: &mut Line, frame: Frame) -> Result<(), NetError> {
    let Some(id) = frame.document.clone() else {
        return Ok(());
    };
    match frame.kind.as_str() {
        "sync" => {
            let Some(data) = frame.data else {
                return Ok(());
            };
            let refused = {
                let books = shelf.books();
                let mut held = books.held.borrow_mut();
                let Some(held) = held.get_mut(&id) else {
                    return Ok(());
                };
                held.receive(&data).map_err(|_| NetError::Offline)?;
                held.is_refused()
            };
            if !refused {
                shelf.after_change(&id);
                shelf.redo_lost(&id).await;
                shelf.tidy_up(&id).await;
            }
            say(shelf, line, &id).await
        }
        "doc-unavailable" => {
            let is_refused = shelf.with_book(&id, Held::is_refused);
            if is_refused == Some(true) {
                if let Some(held) = shelf.books().held.borrow_mut().get_mut(&id) {
                    held.begin_anew();
                }
                return say(shelf, line, &id).await;
            }
            shelf.tell_person(Notice::Unavailable);
            Ok(())
        }
        "ephemeral" => {
            presence(shelf, id, frame);
            Ok(())
        }
        _ => Ok(()),
    }
}

fn refused(shelf: Shelf, frame: Frame) -> Ended {
    let Some(id) = frame.document else {
        return Ended::Lost { had_line: true };
    };
    shelf.refuse(&id, frame.message.unwrap_or_default());
    // The new name has to be made known with a new ticket, and the talk begins anew.
    Ended::Again
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
    let words = frame.data.and_then(|data| json::read::<Whereabouts>(&data));
    let Some(Whereabouts { name, place }) = words else {
        return;
    };
    let from = frame.sender.unwrap_or_default();
    let now = platform::now_ms();
    let short = |text: String| text.chars().take(80).collect::<String>();
    shelf.others.update(|others| {
        others.retain(|other| other.from != from && now - other.heard_ms < HEARD_MS);
        others.push(Other {
            book,
            from,
            name: short(name),
            place: short(place),
            heard_ms: now,
        });
    });
}
