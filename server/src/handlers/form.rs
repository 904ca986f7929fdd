//! Checks of what people fill in, and the address they come from.

use std::net::IpAddr;

use actix_web::HttpRequest;
use actix_web::http::header;

use crate::App;
use crate::auth::password::{MAX_PASSWORD_BYTES, MIN_PASSWORD_LENGTH};
use crate::error::Failure;
use crate::store::NewUser;

const MAX_NAME_LENGTH: usize = 200;
/// RFC 5321, section 4.5.3.1.3: a path has at most 256 octets, its brackets included.
const MAX_EMAIL_BYTES: usize = 254;

/// A name without white space around it.
///
/// # Errors
/// Names the field when it is empty, too long, or has control characters.
pub fn name(field: &'static str, text: &str) -> Result<String, Failure> {
    let text = text.trim();
    let length = text.chars().count();
    if length == 0 || length > MAX_NAME_LENGTH || text.chars().any(char::is_control) {
        return Err(Failure::bad_request(field));
    }
    Ok(text.to_owned())
}

/// An e-mail in lower case. Only its form is checked: something, one `@`, something.
///
/// # Errors
/// Names the field when it is not of the form.
pub fn email(text: &str) -> Result<String, Failure> {
    let text = text.trim().to_lowercase();
    let of_the_form = text.split_once('@').is_some_and(|(local, domain)| {
        !local.is_empty() && !domain.is_empty() && !domain.contains('@')
    });
    if !of_the_form
        || text.len() > MAX_EMAIL_BYTES
        || text.chars().any(|c| c.is_whitespace() || c.is_control())
    {
        return Err(Failure::bad_request("email"));
    }
    Ok(text)
}

/// A password long enough to be one.
///
/// # Errors
/// Names the field when it is too short or too long.
pub fn password(text: &str) -> Result<(), Failure> {
    if text.chars().count() < MIN_PASSWORD_LENGTH || text.len() > MAX_PASSWORD_BYTES {
        return Err(Failure::bad_request("password"));
    }
    Ok(())
}

/// A checked person with a hashed password, ready to be kept.
///
/// # Errors
/// Names the first field that is not of the form.
pub async fn new_user(
    app: &App,
    name_text: &str,
    email_text: &str,
    password_text: String,
) -> Result<NewUser, Failure> {
    let name = name("name", name_text)?;
    let email = email(email_text)?;
    password(&password_text)?;
    Ok(NewUser {
        user_id: app.config.clock.mint(),
        name,
        email,
        password_hash: app.passwords.hash(password_text).await?,
    })
}

/// What a request says it runs on, in a few words of a fixed list: `Android · Chrome`. Anything else
/// that a browser tells of itself is left out.
#[must_use]
pub fn platform(request: &HttpRequest) -> String {
    let told = request
        .headers()
        .get(header::USER_AGENT)
        .and_then(|value| value.to_str().ok());
    platform_of(told.unwrap_or_default())
}

/// The first name that fits counts: browsers name those that they want to be taken for as well.
fn platform_of(told: &str) -> String {
    const SYSTEMS: [(&str, &str); 7] = [
        ("Android", "Android"),
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Windows", "Windows"),
        ("Macintosh", "Mac"),
        ("CrOS", "ChromeOS"),
        ("Linux", "Linux"),
    ];
    const BROWSERS: [(&str, &str); 6] = [
        ("Edg", "Edge"),
        ("OPR/", "Opera"),
        ("Firefox", "Firefox"),
        ("FxiOS", "Firefox"),
        ("Chrome", "Chrome"),
        ("Safari", "Safari"),
    ];
    let known = |list: &[(&str, &'static str)]| {
        let found = list.iter().find(|(sign, _)| told.contains(sign));
        found.map(|(_, word)| *word)
    };
    let words = [known(&SYSTEMS), known(&BROWSERS)];
    words.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// The address that rate limits count: the peer's, or behind a trusted proxy the one it saw.
#[must_use]
pub fn address(app: &App, request: &HttpRequest) -> String {
    let Some(peer) = request.peer_addr() else {
        return String::new();
    };
    let headers = request.headers().get_all("X-Forwarded-For");
    let forwarded: Vec<&str> = headers
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .collect();
    counted_as(app.config.proxies.client(peer.ip(), &forwarded))
}

/// One household has 2^64 addresses of IP version 6; they count as one (RFC 4291, section 2.5.4).
fn counted_as(address: IpAddr) -> String {
    match address.to_canonical() {
        IpAddr::V4(address) => address.to_string(),
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            format!("{a:x}:{b:x}:{c:x}:{d:x}::/64")
        }
    }
}

/// Takes one try of this address.
///
/// # Errors
/// When it has none left.
pub fn take_try(app: &App, request: &HttpRequest) -> Result<(), Failure> {
    let address = address(app, request);
    let now_ms = app.config.clock.now_ms();
    Ok(app.tries_by_address.take(&address, now_ms)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_what_people_write() {
        assert_eq!(email(" Ana@Shop.Example ").unwrap(), "ana@shop.example");
        assert_eq!(name("name", " Ana Lind ").unwrap(), "Ana Lind");
        assert!(password("1234567890").is_ok());
    }

    #[test]
    fn says_what_a_browser_runs_on() {
        // The forms of RFC 9110, section 10.1.5, as browsers fill them; versions invented.
        let phone = "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) \
                     Chrome/140.0.0.0 Mobile Safari/537.36";
        assert_eq!(platform_of(phone), "Android · Chrome");
        let tablet = "Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) Version/18.0 Safari/604.1";
        assert_eq!(platform_of(tablet), "iPad · Safari");
        assert_eq!(platform_of("curl/8.0"), "");
    }

    #[test]
    fn counts_neighbours_together() {
        let counted = |text: &str| counted_as(text.parse().unwrap());
        assert_eq!(counted("192.0.2.7"), "192.0.2.7");
        assert_eq!(counted("::ffff:192.0.2.7"), "192.0.2.7");
        assert_eq!(counted("2001:db8:1:2:3:4:5:6"), counted("2001:db8:1:2::1"));
        assert_ne!(counted("2001:db8:1:2::1"), counted("2001:db8:1:3::1"));
    }

    #[test]
    fn refuses_what_is_not_of_the_form() {
        for text in ["", "@", "a@", "@b", "a@b@c", "a b@c", "a@\u{7}b"] {
            assert!(email(text).is_err(), "{text:?}");
        }
        assert!(name("name", " \t ").is_err());
        assert!(name("name", "a\u{7}b").is_err());
        assert!(password("123456789").is_err());
        assert!(password(&"x".repeat(1025)).is_err());
    }
}
