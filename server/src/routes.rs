//! All routes on one page, and the headers that every answer carries.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::error::JsonPayloadError;
use actix_web::http::header;
use actix_web::middleware::DefaultHeaders;
use actix_web::{App as Routes, Error, web};

use crate::App;
use crate::error::Failure;
use crate::handlers::{app_files, health, jobs, people, session, setup, statements, sync, ticket};

/// Largest JSON body: the longest form has a few short fields.
const MAX_JSON_BYTES: usize = 64 * 1024;

/// One year.
const HSTS: &str = "max-age=31536000";

/// Everything from our own origin only; WebAssembly may be compiled, nothing may be evaluated.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
     style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; \
     manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; \
     frame-ancestors 'none'";

/// The routes over what the handlers share.
pub fn app(
    shared: web::Data<App>,
) -> Routes<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl MessageBody>,
        Error = Error,
        InitError = (),
    >,
> {
    let mut headers = DefaultHeaders::new()
        .add((header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY))
        .add((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .add((header::X_FRAME_OPTIONS, "DENY"))
        .add((header::REFERRER_POLICY, "no-referrer"))
        .add(("Cross-Origin-Opener-Policy", "same-origin"))
        .add(("Cross-Origin-Resource-Policy", "same-origin"))
        .add((
            "Permissions-Policy",
            "camera=(self), geolocation=(), microphone=()",
        ));
    if shared.config.behind_tls() {
        headers = headers.add((header::STRICT_TRANSPORT_SECURITY, HSTS));
    }
    let json = web::JsonConfig::default()
        .limit(MAX_JSON_BYTES)
        .error_handler(|error, _| refuse_body(&error).into());
    Routes::new()
        .app_data(shared)
        .app_data(json)
        .wrap(headers)
        .service(
            web::scope("/api")
                .wrap(DefaultHeaders::new().add((header::CACHE_CONTROL, "no-store")))
                .route("/setup", web::post().to(setup::set_up_shop))
                .route("/session", web::post().to(session::sign_in))
                .route("/session/refresh", web::post().to(session::refresh_session))
                .route("/session", web::delete().to(session::sign_out))
                .route("/me", web::get().to(people::show_me))
                .route("/people", web::get().to(people::list_people))
                .route("/invitations", web::post().to(people::invite_person))
                .route(
                    "/invitations/accept",
                    web::post().to(people::accept_invitation),
                )
                .route("/jobs", web::get().to(jobs::list_jobs))
                .route("/overview", web::get().to(jobs::show_overview))
                .route("/keys", web::post().to(statements::register_key))
                .route("/statements", web::post().to(statements::keep_statement))
                .route(
                    "/jobs/{book}/statements",
                    web::get().to(statements::list_statements),
                )
                .route("/ticket", web::post().to(ticket::issue_ticket))
                .default_service(web::to(no_such_route)),
        )
        .route("/sync", web::get().to(sync::open_line))
        .route("/health", web::get().to(health::show_health))
        .default_service(web::to(app_files::show_file))
}

fn refuse_body(error: &JsonPayloadError) -> Failure {
    match error {
        JsonPayloadError::Overflow { .. } | JsonPayloadError::OverflowKnownLength { .. } => {
            Failure::too_large()
        }
        JsonPayloadError::Deserialize(error) => Failure::bad_request(error.to_string()),
        _ => Failure::bad_request("body"),
    }
}

async fn no_such_route() -> Result<&'static str, Failure> {
    Err(Failure::not_found())
}
