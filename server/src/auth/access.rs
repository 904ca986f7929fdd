//! Access tokens and WebSocket tickets: JWT signed with Ed25519 (RFC 7519, RFC 8037).
//!
//! All nodes of a server share the key, so a token of one is good at another. A ticket carries
//! who, which device, and a number that each node accepts once.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Context;
use jsonwebtoken::jwk::Jwk;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use shared::sync::gate::Role;

use crate::store::Revoked;

/// An access token is good for ten minutes.
pub const ACCESS_TOKEN_S: u64 = 10 * 60;
/// A ticket is good for half a minute, and once.
pub const TICKET_S: u64 = 30;

/// PKCS#8 of an Ed25519 seed up to the seed itself (RFC 8410, section 7).
const PKCS8_PREFIX: [u8; 16] = [
    0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20,
];

#[derive(Clone, Serialize, Deserialize)]
struct Claims {
    sub: String,
    shop: String,
    aud: String,
    exp: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    device: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    jti: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    link: Option<Link>,
}

/// Who an access token speaks for.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Bearer {
    /// Shop id.
    pub shop: String,
    /// User id.
    pub user: String,
}

/// A link through which one book is read, and nothing written.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Link {
    /// Link id.
    pub link: String,
    /// Document id of the book.
    pub book: String,
}

/// Who opens a WebSocket, on which device.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Boarding {
    /// Who; with a link, whoever made it.
    pub bearer: Bearer,
    /// Device id.
    pub device: String,
    /// Without a link all books of the shop are read and written.
    pub link: Option<Link>,
}

impl Boarding {
    /// What this line may do with a book, if anything.
    #[must_use]
    pub fn role(&self, book: &str) -> Option<Role> {
        match &self.link {
            None => Some(Role::Write),
            Some(link) => (link.book == book).then_some(Role::Read),
        }
    }

    /// Does the right to be on the line end with this?
    #[must_use]
    pub fn is_ended_by(&self, revoked: &Revoked) -> bool {
        let Bearer {
            shop: here,
            user: who,
        } = &self.bearer;
        match revoked {
            Revoked::Shop { shop } => shop == here,
            Revoked::Person { shop, user } => shop == here && user == who,
            Revoked::Device { shop, user, device } => {
                shop == here && user == who && *device == self.device
            }
            Revoked::Link { shop, link } => {
                shop == here && self.link.as_ref().is_some_and(|own| own.link == *link)
            }
        }
    }
}

/// Signs and reads tokens.
#[derive(Clone)]
pub struct AccessKey {
    sign: EncodingKey,
    read: DecodingKey,
    /// Tickets already used, until they would have expired anyway.
    used: Arc<Mutex<HashMap<String, i64>>>,
}

impl fmt::Debug for AccessKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("AccessKey(…)")
    }
}

impl AccessKey {
    /// From the 32-byte seed of RFC 8032.
    ///
    /// # Errors
    /// When the seed is not 32 bytes.
    pub fn from_seed(seed: &[u8]) -> anyhow::Result<Self> {
        let sign = EncodingKey::from_ed_der(&[&PKCS8_PREFIX, seed].concat());
        let public = Jwk::from_encoding_key(&sign, Algorithm::EdDSA).context("token key")?;
        Ok(Self {
            sign,
            read: DecodingKey::from_jwk(&public).context("token key")?,
            used: Arc::default(),
        })
    }

    /// An access token.
    ///
    /// # Errors
    /// When signing fails.
    pub fn grant(&self, bearer: &Bearer, now_ms: i64) -> anyhow::Result<String> {
        self.sign(&Claims {
            sub: bearer.user.clone(),
            shop: bearer.shop.clone(),
            aud: "api".into(),
            exp: expiry(now_ms, ACCESS_TOKEN_S),
            device: None,
            jti: None,
            link: None,
        })
    }

    /// Who an access token speaks for, if it is ours and has not expired.
    #[must_use]
    pub fn bearer(&self, token: &str, now_ms: i64) -> Option<Bearer> {
        let claims = self.read(token, "api", now_ms)?;
        Some(Bearer {
            shop: claims.shop,
            user: claims.sub,
        })
    }

    /// A ticket for one WebSocket.
    ///
    /// # Errors
    /// When signing fails.
    pub fn ticket(&self, boarding: &Boarding, id: String, now_ms: i64) -> anyhow::Result<String> {
        self.sign(&Claims {
            sub: boarding.bearer.user.clone(),
            shop: boarding.bearer.shop.clone(),
            aud: "sync".into(),
            exp: expiry(now_ms, TICKET_S),
            device: Some(boarding.device.clone()),
            jti: Some(id),
            link: boarding.link.clone(),
        })
    }

    /// Who boards with this ticket; the second time nobody.
    #[must_use]
    pub fn board(&self, ticket: &str, now_ms: i64) -> Option<Boarding> {
        let claims = self.read(ticket, "sync", now_ms)?;
        let mut used = self.used.lock().unwrap_or_else(PoisonError::into_inner);
        used.retain(|_, expires| *expires * 1000 > now_ms);
        if used.insert(claims.jti?, claims.exp).is_some() {
            return None;
        }
        Some(Boarding {
            bearer: Bearer {
                shop: claims.shop,
                user: claims.sub,
            },
            device: claims.device?,
            link: claims.link,
        })
    }

    fn sign(&self, claims: &Claims) -> anyhow::Result<String> {
        jsonwebtoken::encode(&Header::new(Algorithm::EdDSA), claims, &self.sign)
            .context("signing a token")
    }

    fn read(&self, token: &str, audience: &str, now_ms: i64) -> Option<Claims> {
        let mut validation = Validation::new(Algorithm::EdDSA);
        validation.set_audience(&[audience]);
        validation.set_required_spec_claims(&["exp", "aud", "sub"]);
        // The library would ask the machine's clock; ours is an argument.
        validation.validate_exp = false;
        let claims: Claims = decode(token, &self.read, &validation)?;
        (claims.exp * 1000 > now_ms).then_some(claims)
    }
}

fn decode<T: DeserializeOwned + Clone>(
    token: &str,
    key: &DecodingKey,
    validation: &Validation,
) -> Option<T> {
    Some(
        jsonwebtoken::decode::<T>(token, key, validation)
            .ok()?
            .claims,
    )
}

fn expiry(now_ms: i64, seconds: u64) -> i64 {
    now_ms / 1000 + i64::try_from(seconds).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ana() -> Bearer {
        Bearer {
            shop: "shop".into(),
            user: "ana".into(),
        }
    }

    #[test]
    fn reads_its_own_tokens_until_they_expire() {
        let key = AccessKey::from_seed(&[7; 32]).unwrap();
        let token = key.grant(&ana(), 1_000_000).unwrap();
        assert_eq!(key.bearer(&token, 1_000_000), Some(ana()));
        assert_eq!(key.bearer(&token, 1_000_000 + 599_000), Some(ana()));
        assert_eq!(key.bearer(&token, 1_000_000 + 600_000), None);
    }

    #[test]
    fn takes_no_other_token() {
        let key = AccessKey::from_seed(&[7; 32]).unwrap();
        let other = AccessKey::from_seed(&[8; 32]).unwrap();
        assert_eq!(key.bearer(&other.grant(&ana(), 0).unwrap(), 0), None);
        let boarding = Boarding {
            bearer: ana(),
            device: "phone".into(),
            link: None,
        };
        let ticket = key.ticket(&boarding, "1".into(), 0).unwrap();
        assert_eq!(key.bearer(&ticket, 0), None, "a ticket is no access token");
        assert_eq!(key.board(&ticket, 0), Some(boarding));
        assert_eq!(key.board(&ticket, 0), None, "a ticket is good once");
        assert_eq!(key.board(&key.grant(&ana(), 0).unwrap(), 0), None);
    }

    #[test]
    fn a_link_reads_one_book() {
        let key = AccessKey::from_seed(&[7; 32]).unwrap();
        let boarding = Boarding {
            bearer: ana(),
            device: "phone".into(),
            link: Some(Link {
                link: "l1".into(),
                book: "b1".into(),
            }),
        };
        let ticket = key.ticket(&boarding, "1".into(), 0).unwrap();
        let boarding = key.board(&ticket, 0).unwrap();
        assert_eq!(boarding.role("b1"), Some(Role::Read));
        assert_eq!(boarding.role("b2"), None);
        let taken_back = |link: &str| Revoked::Link {
            shop: "shop".into(),
            link: link.into(),
        };
        assert!(boarding.is_ended_by(&taken_back("l1")));
        assert!(!boarding.is_ended_by(&taken_back("l2")));
    }

    #[test]
    fn refuses_a_short_seed() {
        assert!(AccessKey::from_seed(&[7; 31]).is_err());
    }
}
