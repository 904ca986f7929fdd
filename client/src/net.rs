//! The server over HTTP: JSON in, JSON out, a fresh token when the old one has expired.
//!
//! Nothing here is waited for by a screen. This file refuses to know what a page shows.

pub mod line;

use std::cell::RefCell;
use std::rc::Rc;

use crate::json;
use crate::platform::tabs::turn;
use gloo_net::http::{Method, RequestBuilder, Response};
use gloo_timers::callback::Timeout;
use serde::Serialize;
use serde::de::DeserializeOwned;
use shared::wire::{Code, Refusal, Session};
use wasm_bindgen::JsValue;
use web_sys::AbortController;

/// What is sent is JSON.
const JSON: [(&str, &str); 1] = [("Content-Type", "application/json")];

/// How long an answer may take to begin.
const ANSWER_MS: u32 = 30_000;
/// The same when something is sent, as much as a piece of a photo, on a poor line.
const TAKEN_MS: u32 = 120_000;

/// Name of the turn to renew the session.
const SESSION: &str = "baybook-session";

/// What an answer of the tus protocol says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tus {
    /// How much of an upload the server has, bytes.
    pub offset: Option<usize>,
    /// Where an upload that was begun goes on.
    pub location: Option<String>,
}

/// Why a call gave no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NetError {
    /// The server was not reached.
    Offline,
    /// The server refused.
    Refused(Refusal),
}

impl NetError {
    /// Is it only that nobody is signed in?
    #[must_use]
    pub fn needs_sign_in(&self) -> bool {
        matches!(self, Self::Refused(refusal) if refusal.code == Code::SignInNeeded)
    }
}

/// Calls with the token of the signed-in person.
#[derive(Debug, Clone, Default)]
pub struct Api {
    token: Rc<RefCell<Option<String>>>,
}

impl Api {
    /// Uses this session from now on, or none.
    pub fn use_session(&self, session: Option<&Session>) {
        *self.token.borrow_mut() = session.map(|session| session.access_token.clone());
    }

    /// A call that needs nobody to be signed in.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn open<T: DeserializeOwned>(
        &self,
        method: Method,
        path: &str,
        body: Option<&impl Serialize>,
    ) -> Result<T, NetError> {
        call(method, path, body, None).await
    }

    /// A call with a token of its own, as an adjuster has one.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn with_token<T: DeserializeOwned>(
        &self,
        token: &str,
        path: &str,
    ) -> Result<T, NetError> {
        call(Method::GET, path, None::<&()>, Some(token)).await
    }

    /// A call as the signed-in person; renews the token once when it has expired.
    ///
    /// # Errors
    /// [`NetError`]; `needs_sign_in` when the session is over.
    pub async fn call<T: DeserializeOwned>(
        &self,
        method: Method,
        path: &str,
        body: Option<&impl Serialize>,
    ) -> Result<T, NetError> {
        let body = body.map(|body| serde_json::to_string(body).map_err(|_| NetError::Offline));
        read(self.send_as_person(method, path, body.transpose()?).await?)
    }

    async fn send_as_person(
        &self,
        method: Method,
        path: &str,
        body: Option<String>,
    ) -> Result<String, NetError> {
        let body = body.map(|text| JsValue::from_str(&text));
        text_of(self.respond(&method, path, &JSON, body).await?).await
    }

    /// An answer to the signed-in person; renews the token once when it has expired.
    async fn respond(
        &self,
        method: &Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<JsValue>,
    ) -> Result<Response, NetError> {
        let token = self.token.borrow().clone();
        if let Some(token) = token {
            match respond(method, path, headers, body.clone(), Some(&token)).await {
                Err(error) if error.needs_sign_in() => {}
                answer => return answer,
            }
        }
        let session = self.renew().await?;
        respond(method, path, headers, body, Some(&session.access_token)).await
    }

    /// A file as the signed-in person.
    ///
    /// # Errors
    /// [`NetError`]; `needs_sign_in` when the session is over.
    pub async fn file(&self, path: &str) -> Result<Vec<u8>, NetError> {
        let response = self.respond(&Method::GET, path, &[], None).await?;
        response.binary().await.map_err(|_| NetError::Offline)
    }

    /// A request of the tus protocol as the signed-in person.
    ///
    /// # Errors
    /// [`NetError`]; `needs_sign_in` when the session is over.
    pub async fn tus(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<&[u8]>,
    ) -> Result<Tus, NetError> {
        let body = body.map(|bytes| js_sys::Uint8Array::from(bytes).into());
        let mut all = vec![("Tus-Resumable", "1.0.0")];
        all.extend_from_slice(headers);
        let response = self.respond(&method, path, &all, body).await?;
        let header = |name| response.headers().get(name);
        Ok(Tus {
            offset: header("Upload-Offset").and_then(|text| text.parse().ok()),
            location: header("Location"),
        })
    }

    /// A file with somebody else's token.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn file_with_token(&self, token: &str, path: &str) -> Result<Vec<u8>, NetError> {
        bytes(path, token).await
    }

    /// A new session from the refresh cookie.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn renew(&self) -> Result<Session, NetError> {
        // The cookie is changed with each use, and one that was used before ends the session: two
        // tabs must not use the same. Without turns in this browser they very rarely do.
        let _turn = turn(SESSION, false).await;
        let session: Session =
            call(Method::POST, "/api/session/refresh", None::<&()>, None).await?;
        self.use_session(Some(&session));
        Ok(session)
    }
}

/// A thin wrapper for each kind of answer: what is generic is compiled for every one of them.
async fn call<T: DeserializeOwned>(
    method: Method,
    path: &str,
    body: Option<&impl Serialize>,
    token: Option<&str>,
) -> Result<T, NetError> {
    let body = body.map(|body| serde_json::to_string(body).map_err(|_| NetError::Offline));
    read(send(method, path, body.transpose()?, token).await?)
}

fn read<T: DeserializeOwned>(text: String) -> Result<T, NetError> {
    json::read(text.as_bytes()).ok_or(NetError::Refused(internal()))
}

fn internal() -> Refusal {
    Refusal {
        code: Code::Internal,
        subject: None,
    }
}

/// Sends a request and waits for its answer.
async fn send(
    method: Method,
    path: &str,
    body: Option<String>,
    token: Option<&str>,
) -> Result<String, NetError> {
    let body = body.map(|text| JsValue::from_str(&text));
    text_of(respond(&method, path, &JSON, body, token).await?).await
}

/// The text of an answer; an empty one is JSON's `null`.
async fn text_of(response: Response) -> Result<String, NetError> {
    let text = response.text().await.map_err(|_| NetError::Offline)?;
    Ok(if text.is_empty() {
        "null".to_owned()
    } else {
        text
    })
}

/// The bytes of a file.
async fn bytes(path: &str, token: &str) -> Result<Vec<u8>, NetError> {
    let response = respond(&Method::GET, path, &[], None, Some(token)).await?;
    response.binary().await.map_err(|_| NetError::Offline)
}

/// Sends a request; an answer that refuses is an error.
async fn respond(
    method: &Method,
    path: &str,
    headers: &[(&str, &str)],
    body: Option<JsValue>,
    token: Option<&str>,
) -> Result<Response, NetError> {
    // A dead connection is only told by silence; the browser would wait for minutes.
    let patience = AbortController::new().ok();
    let signal = patience.as_ref().map(AbortController::signal);
    let wait_ms = body.as_ref().map_or(ANSWER_MS, |_| TAKEN_MS);
    let _tired = patience.map(|patience| Timeout::new(wait_ms, move || patience.abort()));
    let mut request = RequestBuilder::new(path)
        .method(method.clone())
        .abort_signal(signal.as_ref());
    if let Some(token) = token {
        request = request.header("Authorization", &format!("Bearer {token}"));
    }
    for (name, value) in headers {
        request = request.header(name, value);
    }
    let request = match body {
        Some(body) => request.body(body),
        None => request.build(),
    };
    let response = request
        .map_err(|_| NetError::Offline)?
        .send()
        .await
        .map_err(|_| NetError::Offline)?;
    if response.ok() {
        return Ok(response);
    }
    let status = response.status();
    let text = response.text().await.map_err(|_| NetError::Offline)?;
    let bare = |code| {
        NetError::Refused(Refusal {
            code,
            subject: None,
        })
    };
    Err(match (json::read(text.as_bytes()), status) {
        (Some(refusal), _) => NetError::Refused(refusal),
        // An answer to `HEAD` has no words.
        (None, 401) if text.is_empty() => bare(Code::SignInNeeded),
        (None, 404) if text.is_empty() => bare(Code::NotFound),
        // A proxy between us and the server answers in its own words; the server is then not reached.
        _ => NetError::Offline,
    })
}
