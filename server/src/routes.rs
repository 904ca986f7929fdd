//! All routes on one page, and the headers that every answer carries.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::error::JsonPayloadError;
use actix_web::http::header;
use actix_web::middleware::{DefaultHeaders, from_fn};
use actix_web::{App as Routes, Error, web};

use crate::App;
use crate::error::Failure;
use crate::handlers::{
    app_files, desk, devices, follow, health, jobs, links, log, openapi, people, photos, reports,
    resets, rules, session, setup, sheets, statements, sync, ticket,
};
use crate::requests;

/// Largest JSON body: the longest form has a few short fields.
const MAX_JSON_BYTES: usize = 64 * 1024;

/// One year.
const HSTS: &str = "max-age=31536000";

/// Everything from our own origin only; WebAssembly may be compiled, nothing may be evaluated.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
     style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; \
     manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; \
     frame-ancestors 'none'";

/// The methods of routes by their names; the framework has all but one.
mod methods {
    pub(super) use actix_web::web::{delete, get, head, patch, post};

    pub(super) fn options() -> actix_web::Route {
        actix_web::web::method(actix_web::http::Method::OPTIONS)
    }
}

/// Routes from a list of methods, paths and handlers; the list itself can be read, so that a test can
/// ask of every route who may use it.
macro_rules! routes {
    ($(#[$doc:meta])* $table:ident, $configure:ident, $prefix:literal; $($method:ident $path:literal => $handler:path;)+) => {
        $(#[$doc])*
        pub const $table: &[(&str, &str)] = &[$((stringify!($method), concat!($prefix, $path)),)+];

        fn $configure(config: &mut web::ServiceConfig) {
            $(config.route($path, methods::$method().to($handler));)+
        }
    };
}

routes! {
    /// Method and path of every route of the API.
    API, api, "/api";
    post "/setup" => setup::set_up_shop;
    post "/session" => session::sign_in;
    post "/session/refresh" => session::refresh_session;
    delete "/session" => session::sign_out;
    get "/me" => people::show_me;
    get "/people" => people::list_people;
    post "/people/{user}/role" => people::change_role;
    delete "/people/{user}" => people::remove_person;
    post "/people/{user}/reset" => resets::make_reset_link;
    post "/reset" => resets::choose_password;
    get "/people/{user}/devices" => devices::list_persons;
    delete "/people/{user}/devices/{device}" => devices::revoke_persons;
    get "/devices" => devices::list_own;
    delete "/devices/{device}" => devices::revoke_own;
    post "/invitations" => people::invite_person;
    post "/invitations/accept" => people::accept_invitation;
    get "/rules" => rules::show_rules;
    post "/rules" => rules::set_rules;
    get "/log" => log::show_log;
    get "/jobs" => jobs::list_jobs;
    get "/overview" => jobs::show_overview;
    post "/keys" => statements::register_key;
    post "/statements" => statements::keep_statement;
    get "/signed-jobs" => statements::list_signed_jobs;
    get "/jobs/{book}/statements" => statements::list_statements;
    get "/jobs/{book}/since" => desk::show_since;
    get "/backup" => desk::show_backup;
    get "/due-tools" => desk::list_due_tools;
    get "/jobs/{book}/report" => reports::show_report;
    options "/jobs/{book}/photos" => photos::show_protocol;
    post "/jobs/{book}/photos" => photos::begin_upload;
    head "/jobs/{book}/photos/uploads/{upload}" => photos::show_upload;
    patch "/jobs/{book}/photos/uploads/{upload}" => photos::take_part;
    get "/jobs/{book}/photos/{digest}" => photos::show_photo;
    post "/jobs/{book}/links" => links::make_link;
    get "/jobs/{book}/links" => links::list_jobs_links;
    get "/links" => links::list_links;
    delete "/links/{link}" => links::revoke_link;
    post "/follow" => follow::follow_job;
    get "/follow/statements" => follow::list_statements;
    get "/follow/report" => reports::show_followed;
    get "/follow/photos/{digest}" => photos::show_followed;
    get "/sheets" => sheets::list_sheets;
    post "/sheets" => sheets::make_sheet;
    get "/sheets/{sheet}/revisions" => sheets::list_revisions;
    post "/sheets/{sheet}/revisions" => sheets::make_revision;
    get "/sheets/{sheet}/revisions/{revision}" => sheets::show_revision;
    get "/sheets/{sheet}/revisions/{revision}/start" => sheets::start_revision;
    post "/sheets/{sheet}/published" => sheets::publish_revision;
    delete "/sheets/{sheet}/published" => sheets::withdraw_sheet;
    get "/shared-sheets" => sheets::list_shared;
    get "/shared-sheets/{sheet}" => sheets::show_shared;
    get "/shared-sheets/{sheet}/start" => sheets::start_shared;
    post "/ticket" => ticket::issue_ticket;
    get "/openapi.json" => openapi::show_api;
}

routes! {
    /// Method and path of the routes beside the API; anything else is a file of the app.
    OUTSIDE_API, outside_api, "";
    get "/sync" => sync::open_line;
    get "/health" => health::show_health;
    get "/ready" => health::show_readiness;
}

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
        .app_data(web::PathConfig::default().error_handler(|_, _| Failure::not_found().into()))
        .app_data(
            web::QueryConfig::default()
                .error_handler(|error, _| Failure::bad_request(error.to_string()).into()),
        )
        .wrap(headers)
        .wrap(from_fn(requests::observe))
        .service(
            web::scope("/api")
                .wrap(DefaultHeaders::new().add((header::CACHE_CONTROL, "no-store")))
                .configure(api)
                .default_service(web::to(no_such_route)),
        )
        .configure(outside_api)
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
