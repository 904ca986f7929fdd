//! The phone's app, embedded in the binary (debug builds read it from disk).
//!
//! Files whose name carries a hash never change and are kept by the browser; the entry points
//! are asked for again each time. A `.br` beside a file is sent to browsers that take Brotli.
//! A path without an extension is a page of the app, which routes by itself.

use std::fmt::Write as _;

use actix_web::http::{Method, header};
use actix_web::{HttpRequest, HttpResponse};
use rust_embed::{Embed, EmbeddedFile};

use crate::error::Failure;

#[derive(Embed)]
#[folder = "../client/dist/"]
struct AppFiles;

const INDEX: &str = "index.html";
const KEEP: &str = "public, max-age=31536000, immutable";
const ASK_AGAIN: &str = "no-cache";
/// A hash in a file name has at least this many hexadecimal digits.
const MIN_HASH_DIGITS: usize = 8;

/// `GET` of anything that is no other route.
///
/// # Errors
/// When there is no such file.
pub async fn show_file(request: HttpRequest) -> Result<HttpResponse, Failure> {
    if !matches!(*request.method(), Method::GET | Method::HEAD) {
        return Err(Failure::not_found());
    }
    let path = request.path().trim_start_matches('/');
    let name = path.rsplit('/').next().unwrap_or_default();
    let is_page = !name.contains('.');
    let path = if is_page { INDEX } else { path };
    let original = AppFiles::get(path).ok_or_else(Failure::not_found)?;
    let etag = etag(&original);
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((header::CACHE_CONTROL, caching(path)))
        .insert_header((header::ETAG, etag.clone()))
        .insert_header((header::VARY, "Accept-Encoding"));
    if has_header(&request, header::IF_NONE_MATCH, &etag) {
        return Ok(answer
            .status(actix_web::http::StatusCode::NOT_MODIFIED)
            .finish());
    }
    answer.content_type(mime_guess::from_path(path).first_or_octet_stream().as_ref());
    if accepts_brotli(&request)
        && let Some(packed) = AppFiles::get(&format!("{path}.br"))
    {
        answer.insert_header((header::CONTENT_ENCODING, "br"));
        return Ok(answer.body(packed.data.into_owned()));
    }
    Ok(answer.body(original.data.into_owned()))
}

fn etag(file: &EmbeddedFile) -> String {
    let mut text = String::from("\"");
    for byte in &file.metadata.sha256_hash()[..16] {
        let _ = write!(text, "{byte:02x}");
    }
    text.push('"');
    text
}

fn has_header(request: &HttpRequest, name: header::HeaderName, wanted: &str) -> bool {
    request
        .headers()
        .get_all(name)
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .any(|value| value.trim() == wanted)
}

fn accepts_brotli(request: &HttpRequest) -> bool {
    request
        .headers()
        .get_all(header::ACCEPT_ENCODING)
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .any(|offer| {
            let mut parts = offer.split(';').map(str::trim);
            parts.next() == Some("br") && !parts.any(|q| q == "q=0" || q == "q=0.0")
        })
}

fn caching(path: &str) -> &'static str {
    let name = path.rsplit('/').next().unwrap_or_default();
    let hashed = name
        .split(['.', '-', '_'])
        .any(|part| part.len() >= MIN_HASH_DIGITS && part.bytes().all(|b| b.is_ascii_hexdigit()));
    if hashed { KEEP } else { ASK_AGAIN }
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    #[test]
    fn packs_only_for_those_who_unpack() {
        let accepts = |offer: &str| {
            let request = TestRequest::get().insert_header((header::ACCEPT_ENCODING, offer));
            accepts_brotli(&request.to_http_request())
        };
        assert!(accepts("gzip, deflate, br"));
        assert!(accepts("br;q=1.0, gzip;q=0.8"));
        // RFC 9110, section 12.4.2: a weight of 0 means 'not acceptable'.
        for offer in ["gzip", "", "br;q=0", "brr"] {
            assert!(!accepts(offer), "{offer}");
        }
    }

    #[test]
    fn keeps_only_what_never_changes() {
        assert_eq!(caching("client-3f2a90b1c4d5e6f7.js"), KEEP);
        assert_eq!(caching("client_bg-3f2a90b1c4d5e6f7.wasm"), KEEP);
        for path in ["index.html", "sw.js", "manifest.webmanifest", "style.css"] {
            assert_eq!(caching(path), ASK_AGAIN, "{path}");
        }
    }
}
