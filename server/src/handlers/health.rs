//! Is the server up?

/// `GET /health`.
pub async fn show_health() -> &'static str {
    "ok"
}
