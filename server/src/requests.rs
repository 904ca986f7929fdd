//! What every request gets: an id, a line in the log, its place in the figures.
//!
//! The log names the route as it is listed, never the path, query, body or headers: what people
//! type and the secrets of links stay out of it.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, web};
use tokio::time::Instant;
use tracing::Instrument as _;

use crate::App;
use crate::metrics::Route;

/// Carries the request's id in every answer.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Files of the app, and whatever is no route.
const APP: &str = "app";
/// Asked for every few seconds by machines.
const QUIET: [&str; 2] = ["/health", "/ready"];

tokio::task_local! {
    static ID: String;
}

/// The id of the request that is being answered.
#[must_use]
pub fn id() -> Option<String> {
    ID.try_with(Clone::clone).ok()
}

/// Answers a request, and takes note of it.
///
/// # Errors
/// As whatever answers it.
pub async fn observe(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let Some(app) = request.app_data::<web::Data<App>>().cloned() else {
        return next.call(request).await;
    };
    let id = app.config.clock.mint();
    let method = word(request.method());
    let span = tracing::info_span!("request", id);
    let begun = Instant::now();
    let answering = next.call(request).instrument(span.clone());
    let mut answer = ID.scope(id.clone(), answering).await?;
    let took = begun.elapsed();
    let status = answer.status();
    let pattern = answer.request().match_pattern();
    let route = pattern.filter(|route| !route.is_empty());
    let route = route.unwrap_or_else(|| APP.to_owned());
    if let Ok(value) = HeaderValue::from_str(&id) {
        answer.headers_mut().insert(REQUEST_ID, value);
    }
    span.in_scope(|| say(method, &route, status, took.as_micros()));
    let route = Route { method, route };
    app.metrics
        .answered(route, status.as_u16(), took.as_secs_f64());
    Ok(answer)
}

fn say(method: &str, route: &str, status: StatusCode, took_us: u128) {
    let status = status.as_u16();
    let took_ms = took_us as f64 / 1000.0;
    if QUIET.contains(&route) || route == APP {
        tracing::debug!(method, route, status, took_ms, "answered");
    } else {
        tracing::info!(method, route, status, took_ms, "answered");
    }
}

/// A method from a fixed list.
fn word(method: &Method) -> &'static str {
    match *method {
        Method::GET => "GET",
        Method::POST => "POST",
        Method::DELETE => "DELETE",
        Method::HEAD => "HEAD",
        Method::OPTIONS => "OPTIONS",
        Method::PUT => "PUT",
        Method::PATCH => "PATCH",
        _ => "other",
    }
}
