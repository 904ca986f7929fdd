//! Access tokens and WebSocket tickets: JWT signed with Ed25519 (RFC 7519, RFC 8037).
//!
//! All nodes of a server share the key, so a token of one is good at another. A ticket carries
//! who, which device, and a number that each node accepts once. A token says whose it is; whether
//! that person, session, device or link is still good is asked at every request.

use std::collections::HashMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::Context;
use jsonwebtoken::jwk::Jwk;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

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
    sid: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    device: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    jti: Option<String>,
}

/// Who an access token speaks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bearer {
    /// Shop id.
    pub shop: String,
    /// User id.
    pub user: String,
    /// The session, which began with a sign-in.
    pub session: String,
}

/// Somebody with a link to one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Follower {
    /// Shop id.
    pub shop: String,
    /// Link id.
    pub link: String,
}

/// Who opens a WebSocket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Boarding {
    /// A member, on this device.
    Member {
        /// Who.
        bearer: Bearer,
        /// Device id.
        device: String,
    },
    /// An adjuster.
    Follower(Follower),
}

/// What a token is for; a token for one is none for another.
const API: &str = "api";
const FOLLOW: &str = "follow";
const SYNC: &str = "sync";
const SYNC_FOLLOW: &str = "sync-follow";

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
        let claims = Claims::new(API, &bearer.shop, &bearer.user, now_ms, ACCESS_TOKEN_S);
        self.sign(&Claims {
            sid: Some(bearer.session.clone()),
            ..claims
        })
    }

    /// Who an access token speaks for, if it is ours and has not expired.
    #[must_use]
    pub fn bearer(&self, token: &str, now_ms: i64) -> Option<Bearer> {
        let claims = self.read(token, API, now_ms)?;
        Some(Bearer {
            shop: claims.shop,
            user: claims.sub,
            session: claims.sid?,
        })
    }

    /// An access token for an adjuster.
    ///
    /// # Errors
    /// When signing fails.
    pub fn grant_follower(&self, who: &Follower, now_ms: i64) -> anyhow::Result<String> {
        self.sign(&Claims::new(
            FOLLOW,
            &who.shop,
            &who.link,
            now_ms,
            ACCESS_TOKEN_S,
        ))
    }

    /// Which link an adjuster's token speaks for, if it is ours and has not expired.
    #[must_use]
    pub fn follower(&self, token: &str, now_ms: i64) -> Option<Follower> {
        let claims = self.read(token, FOLLOW, now_ms)?;
        Some(Follower {
            shop: claims.shop,
            link: claims.sub,
        })
    }

    /// A ticket for one WebSocket.
    ///
    /// # Errors
    /// When signing fails.
    pub fn ticket(&self, boarding: &Boarding, id: String, now_ms: i64) -> anyhow::Result<String> {
        let claims = match boarding {
            Boarding::Member { bearer, device } => Claims {
                sid: Some(bearer.session.clone()),
                device: Some(device.clone()),
                ..Claims::new(SYNC, &bearer.shop, &bearer.user, now_ms, TICKET_S)
            },
            Boarding::Follower(who) => {
                Claims::new(SYNC_FOLLOW, &who.shop, &who.link, now_ms, TICKET_S)
            }
        };
        self.sign(&Claims {
            jti: Some(id),
            ..claims
        })
    }

    /// Who boards with this ticket; the second time nobody.
    #[must_use]
    pub fn board(&self, ticket: &str, now_ms: i64) -> Option<Boarding> {
        let member = self.read(ticket, SYNC, now_ms);
        let claims = match &member {
            Some(claims) => claims.clone(),
            None => self.read(ticket, SYNC_FOLLOW, now_ms)?,
        };
        let mut used = self.used.lock().unwrap_or_else(PoisonError::into_inner);
        used.retain(|_, expires| *expires * 1000 > now_ms);
        if used.insert(claims.jti?, claims.exp).is_some() {
            return None;
        }
        Some(match member {
            Some(_) => Boarding::Member {
                bearer: Bearer {
                    shop: claims.shop,
                    user: claims.sub,
                    session: claims.sid?,
                },
                device: claims.device?,
            },
            None => Boarding::Follower(Follower {
                shop: claims.shop,
                link: claims.sub,
            }),
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

impl Claims {
    fn new(audience: &str, shop: &str, subject: &str, now_ms: i64, seconds: u64) -> Self {
        Self {
            sub: subject.to_owned(),
            shop: shop.to_owned(),
            aud: audience.to_owned(),
            exp: expiry(now_ms, seconds),
            sid: None,
            device: None,
            jti: None,
        }
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
    use base64::Engine as _;
    use base64::engine::general_purpose::URL_SAFE_NO_PAD;
    use jsonwebtoken::crypto;
    use jsonwebtoken::jwk::{AlgorithmParameters, ThumbprintHash};

    use super::*;

    fn ana() -> Bearer {
        Bearer {
            shop: "shop".into(),
            user: "ana".into(),
            session: "first".into(),
        }
    }

    fn adjuster() -> Follower {
        Follower {
            shop: "shop".into(),
            link: "link".into(),
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
        let boarding = Boarding::Member {
            bearer: ana(),
            device: "phone".into(),
        };
        let ticket = key.ticket(&boarding, "1".into(), 0).unwrap();
        assert_eq!(key.bearer(&ticket, 0), None, "a ticket is no access token");
        assert_eq!(key.board(&ticket, 0), Some(boarding));
        assert_eq!(key.board(&ticket, 0), None, "a ticket is good once");
        assert_eq!(key.board(&key.grant(&ana(), 0).unwrap(), 0), None);
    }

    #[test]
    fn an_adjusters_tokens_are_no_members() {
        let key = AccessKey::from_seed(&[7; 32]).unwrap();
        let token = key.grant_follower(&adjuster(), 0).unwrap();
        assert_eq!(key.follower(&token, 0), Some(adjuster()));
        assert_eq!(key.bearer(&token, 0), None);
        assert_eq!(key.board(&token, 0), None);
        assert_eq!(key.follower(&key.grant(&ana(), 0).unwrap(), 0), None);
        let boarding = Boarding::Follower(adjuster());
        let ticket = key.ticket(&boarding, "1".into(), 0).unwrap();
        assert_eq!(key.follower(&ticket, 0), None);
        assert_eq!(key.board(&ticket, 0), Some(boarding));
        assert_eq!(key.board(&ticket, 0), None, "a ticket is good once");
    }

    /// RFC 8037, appendices A.1 to A.4 (read in the tests of jwcrypto): the key of a seed, its
    /// thumbprint, and its signature over the example.
    #[test]
    fn keys_and_signatures_of_rfc_8037() {
        let bytes = |text: &str| URL_SAFE_NO_PAD.decode(text).unwrap();
        let key =
            AccessKey::from_seed(&bytes("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A")).unwrap();
        let public = Jwk::from_encoding_key(&key.sign, Algorithm::EdDSA).unwrap();
        let AlgorithmParameters::OctetKeyPair(pair) = &public.algorithm else {
            panic!("{public:?}");
        };
        assert_eq!(pair.x, "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo");
        assert_eq!(
            public.thumbprint(ThumbprintHash::SHA256).unwrap(),
            "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
        );
        let said = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc";
        let signature = "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";
        let signed = crypto::sign(said.as_bytes(), &key.sign, Algorithm::EdDSA).unwrap();
        assert_eq!(signed, signature);
        let verify = |signature: &str| {
            crypto::verify(signature, said.as_bytes(), &key.read, Algorithm::EdDSA).unwrap()
        };
        assert!(verify(signature));
        assert!(!verify(&signature.replacen('h', "i", 1)));
    }

    /// RFC 7515, appendix A.1 (read in the tests of jwcrypto): a good token of another algorithm is
    /// none of ours, nor is one that says that it needs no signature (A.5).
    #[test]
    fn takes_no_token_of_another_algorithm() {
        let key = AccessKey::from_seed(&[7; 32]).unwrap();
        let payload = "eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcGxlLmNvbS9pc19yb290Ijp0cnVlfQ";
        let hmac = format!(
            "eyJ0eXAiOiJKV1QiLA0KICJhbGciOiJIUzI1NiJ9.{payload}.dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk"
        );
        let unsecured = format!("eyJhbGciOiJub25lIn0.{payload}.");
        for token in [hmac, unsecured] {
            assert_eq!(key.bearer(&token, 0), None, "{token}");
            assert_eq!(key.board(&token, 0), None, "{token}");
        }
        // Our own claims under the public key as a shared secret, an old confusion of algorithms.
        let public = Jwk::from_encoding_key(&key.sign, Algorithm::EdDSA).unwrap();
        let AlgorithmParameters::OctetKeyPair(pair) = public.algorithm else {
            panic!("no key pair");
        };
        let secret = EncodingKey::from_secret(&URL_SAFE_NO_PAD.decode(pair.x).unwrap());
        let claims = Claims::new(API, "shop", "ana", 0, ACCESS_TOKEN_S);
        let forged = jsonwebtoken::encode(&Header::new(Algorithm::HS256), &claims, &secret);
        assert_eq!(key.bearer(&forged.unwrap(), 0), None);
    }

    #[test]
    fn refuses_a_short_seed() {
        assert!(AccessKey::from_seed(&[7; 31]).is_err());
    }
}
