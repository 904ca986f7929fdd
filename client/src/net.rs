//! The server over HTTP: JSON in, JSON out, a fresh token when the old one has expired.
//!
//! Nothing here is waited for by a screen. This file refuses to know what a page shows.

pub mod line;

use std::cell::RefCell;
use std::rc::Rc;

use crate::json;
use crate::platform::tabs::turn;
use gloo_net::http::{Method, RequestBuilder, Response};
use serde::Serialize;
use serde::de::DeserializeOwned;
use shared::wire::{Code, Refusal, Session};

/// Name of the turn to renew the session.
const SESSION: &str = "baybook-session";

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
        let token = self.token.borrow().clone();
        if let Some(token) = token {
            match send(method.clone(), path, body.clone(), Some(&token)).await {
                Err(error) if error.needs_sign_in() => {}
                answer => return answer,
            }
        }
        let session = self.renew().await?;
        send(method, path, body, Some(&session.access_token)).await
    }

    /// A file as the signed-in person; renews the token once when it has expired.
    ///
    /// # Errors
    /// [`NetError`]; `needs_sign_in` when the session is over.
    pub async fn file(&self, path: &str) -> Result<Vec<u8>, NetError> {
        let token = self.token.borrow().clone();
        if let Some(token) = token {
            match bytes(path, &token).await {
                Err(error) if error.needs_sign_in() => {}
                answer => return answer,
            }
        }
        let session = self.renew().await?;
        bytes(path, &session.access_token).await
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

/// Sends a request and waits for its answer; an empty one is JSON's `null`.
async fn send(
    method: Method,
    path: &str,
    body: Option<String>,
    token: Option<&str>,
) -> Result<String, NetError> {
    let response = respond(method, path, body, token).await?;
    let text = response.text().await.map_err(|_| NetError::Offline)?;
    Ok(if text.is_empty() {
        "null".to_owned()
    } else {
        text
    })
}

/// The bytes of a file.
async fn bytes(path: &str, token: &str) -> Result<Vec<u8>, NetError> {
    let response = respond(Method::GET, path, None, Some(token)).await?;
    response.binary().await.map_err(|_| NetError::Offline)
}

/// Sends a request; an answer that refuses is an error.
async fn respond(
    method: Method,
    path: &str,
    body: Option<String>,
    token: Option<&str>,
) -> Result<Response, NetError> {
    let mut request = RequestBuilder::new(path).method(method);
    if let Some(token) = token {
        request = request.header("Authorization", &format!("Bearer {token}"));
    }
    let request = match body {
        Some(body) => request
            .header("Content-Type", "application/json")
            .body(body),
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
    let text = response.text().await.map_err(|_| NetError::Offline)?;
    // A proxy between us and the server answers in its own words; the server is then not reached.
    Err(json::read(text.as_bytes()).map_or(NetError::Offline, NetError::Refused))
}
