//! What a request is answered when it cannot be done: a stable code and the subject.
//!
//! The server's own faults are logged once, here, and reveal nothing.

use std::fmt;

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use schemars::JsonSchema;
use serde::Serialize;
use shared::wire::{Code, Refusal};

use crate::auth::limit::Wait;
use crate::requests;
use crate::store::StoreError;

/// What a refused request is answered.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Refused {
    #[serde(flatten)]
    refusal: Refusal,
    /// The request's id, which the server's log has as well.
    #[serde(skip_serializing_if = "Option::is_none")]
    request: Option<String>,
}

/// A request that failed.
#[derive(Debug)]
pub enum Failure {
    /// The request's fault.
    Refused {
        /// Stable code.
        code: Code,
        /// What it is about.
        subject: Option<String>,
    },
    /// Too many tries; the next one is free after this.
    Wait(Wait),
    /// Too much heavy work at once; there is room again after so many seconds.
    Busy(u64),
    /// The server's fault.
    Internal(anyhow::Error),
}

impl Failure {
    fn refused(code: Code, subject: impl Into<Option<&'static str>>) -> Self {
        Self::Refused {
            code,
            subject: subject.into().map(str::to_owned),
        }
    }

    /// A field of the body is not of the form.
    #[must_use]
    pub fn bad_request(subject: impl Into<String>) -> Self {
        Self::Refused {
            code: Code::BadRequest,
            subject: Some(subject.into()),
        }
    }

    /// No token, or not a good one.
    #[must_use]
    pub fn sign_in_needed() -> Self {
        Self::refused(Code::SignInNeeded, None)
    }

    /// E-mail or password is wrong; never says which.
    #[must_use]
    pub fn wrong_credentials() -> Self {
        Self::refused(Code::WrongCredentials, None)
    }

    /// Signed in, but not allowed.
    #[must_use]
    pub fn not_allowed(subject: &'static str) -> Self {
        Self::refused(Code::NotAllowed, subject)
    }

    /// No such route or thing.
    #[must_use]
    pub fn not_found() -> Self {
        Self::refused(Code::NotFound, None)
    }

    /// The job is there, this of it is not.
    #[must_use]
    pub fn nothing(subject: &'static str) -> Self {
        Self::refused(Code::NotFound, subject)
    }

    /// A one-time link that is not good any more.
    #[must_use]
    pub fn link_invalid() -> Self {
        Self::refused(Code::LinkInvalid, None)
    }

    /// Something with this name exists.
    #[must_use]
    pub fn taken(subject: impl Into<String>) -> Self {
        Self::Refused {
            code: Code::Taken,
            subject: Some(subject.into()),
        }
    }

    /// The shop would be without an owner.
    #[must_use]
    pub fn last_owner() -> Self {
        Self::refused(Code::LastOwner, None)
    }

    /// Heavy work finds no room; it may be asked for again after so many seconds.
    #[must_use]
    pub fn busy(seconds: u64) -> Self {
        Self::Busy(seconds)
    }

    /// The body is too large.
    #[must_use]
    pub fn too_large() -> Self {
        Self::refused(Code::TooLarge, "body")
    }
}

impl From<anyhow::Error> for Failure {
    fn from(error: anyhow::Error) -> Self {
        Self::Internal(error)
    }
}

impl From<Wait> for Failure {
    fn from(wait: Wait) -> Self {
        Self::Wait(wait)
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Taken(subject) => Self::taken(subject),
            StoreError::LinkInvalid => Self::link_invalid(),
            StoreError::Missing => Self::not_found(),
            StoreError::LastOwner => Self::last_owner(),
            StoreError::OnePerson => Self::not_allowed("two-people"),
            StoreError::Revoked => Self::sign_in_needed(),
            StoreError::Unfit(subject) => Self::bad_request(subject),
            StoreError::Full(subject) => Self::refused(Code::TooLarge, subject),
            StoreError::Database(_) | StoreError::Corrupt(_) => Self::Internal(error.into()),
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Refused { code, subject } => write!(f, "refused: {code:?} {subject:?}"),
            Self::Wait(wait) => write!(f, "refused for {} s", wait.seconds),
            Self::Busy(seconds) => write!(f, "no room for {seconds} s"),
            Self::Internal(_) => f.write_str("internal error"),
        }
    }
}

impl ResponseError for Failure {
    fn status_code(&self) -> StatusCode {
        let code = match self {
            Self::Refused { code, .. } => *code,
            Self::Wait(_) => Code::TooMany,
            Self::Busy(_) => Code::Busy,
            Self::Internal(_) => Code::Internal,
        };
        match code {
            Code::BadRequest => StatusCode::BAD_REQUEST,
            Code::SignInNeeded | Code::WrongCredentials => StatusCode::UNAUTHORIZED,
            Code::NotAllowed => StatusCode::FORBIDDEN,
            Code::NotFound => StatusCode::NOT_FOUND,
            Code::LinkInvalid => StatusCode::GONE,
            Code::Taken | Code::LastOwner => StatusCode::CONFLICT,
            Code::TooMany => StatusCode::TOO_MANY_REQUESTS,
            Code::Busy => StatusCode::SERVICE_UNAVAILABLE,
            Code::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Code::Internal => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    fn error_response(&self) -> HttpResponse {
        let mut answer = HttpResponse::build(self.status_code());
        let (code, subject) = match self {
            Self::Refused { code, subject } => (*code, subject.clone()),
            Self::Wait(wait) => {
                answer.insert_header((header::RETRY_AFTER, wait.seconds));
                (Code::TooMany, None)
            }
            Self::Busy(seconds) => {
                answer.insert_header((header::RETRY_AFTER, *seconds));
                (Code::Busy, None)
            }
            Self::Internal(error) => {
                tracing::error!(error = format!("{error:#}"), "a request failed");
                (Code::Internal, None)
            }
        };
        answer.json(Refused {
            refusal: Refusal { code, subject },
            request: requests::id(),
        })
    }
}
