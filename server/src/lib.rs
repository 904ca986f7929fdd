//! The Baybook server as a library, so that tests start the real thing.
//!
//! [`start`] opens the database, brings it up to date, and listens. The outside world is kept at
//! thin edges: `clock` (time, ids), `store` (database), `handlers` (HTTP), `live` (WebSockets).

pub mod clock;
pub mod config;
pub mod error;
pub mod backup;
pub mod store;
pub mod auth;
pub mod live;
pub mod report;
pub mod photos;
pub mod demo;
pub mod metrics;
pub mod requests;
pub mod handlers;
pub mod openapi;
pub mod routes;
pub mod running;
pub mod commands;

use auth::access::AccessKey;
use auth::limit::Limit;
use auth::password::Passwords;
use config::Config;
use live::Live;
use metrics::Metrics;
use report::Press;
use store::Store;

pub use running::{Running, start};

/// What every handler can reach.
#[derive(Debug)]
pub struct App {
    /// Checked settings.
    pub config: Config,
    /// The database.
    pub store: Store,
    /// Token key.
    pub access: AccessKey,
    /// Password hashing.
    pub passwords: Passwords,
    /// Open books.
    pub live: Live,
    /// Figures for an operator.
    pub metrics: Metrics,
    /// Makes reports.
    pub press: Press,
    /// Tries to sign in or to use a link, per network address.
    pub tries_by_address: Limit,
    /// Tries to sign in, per account.
    pub tries_by_account: Limit,
}
