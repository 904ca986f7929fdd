//! Is the server alive, and should it be sent anybody?

use std::time::Duration;

use actix_web::{HttpResponse, web};
use schemars::JsonSchema;
use serde::Serialize;
use tokio::time::timeout;

use crate::App;

/// A database that takes longer to answer is none.
const PATIENCE: Duration = Duration::from_secs(2);

/// What a server needs so that somebody should be sent to it.
#[derive(Debug, Clone, Copy, Serialize, JsonSchema)]
pub struct Readiness {
    /// All of what follows, and not stopping.
    pub ready: bool,
    /// Does the database answer?
    pub database: bool,
    /// Has it every change of the schema that this program knows?
    pub migrations: bool,
    /// Are the other servers on it heard? `null` where there are none (SQLite).
    pub listening: Option<bool>,
    /// Has it been told to stop?
    pub stopping: bool,
}

/// `GET /health`.
pub async fn show_health() -> &'static str {
    "ok"
}

/// `GET /ready`: 200 or 503, with what is missing.
pub async fn show_readiness(app: web::Data<App>) -> HttpResponse {
    let looked = timeout(PATIENCE, app.store.has_all_migrations()).await;
    let looked = looked.ok().and_then(Result::ok);
    let (database, migrations) = (looked.is_some(), looked == Some(true));
    let listening = app.store.is_shared().then(|| app.live.hears_others());
    let stopping = app.live.is_stopping();
    let readiness = Readiness {
        ready: migrations && listening != Some(false) && !stopping,
        database,
        migrations,
        listening,
        stopping,
    };
    let mut answer = match readiness.ready {
        true => HttpResponse::Ok(),
        false => HttpResponse::ServiceUnavailable(),
    };
    answer.insert_header(("Cache-Control", "no-store"));
    answer.json(readiness)
}
