//! A key that signs, made on this phone: by the browser, which never gives it away, where it can;
//! else from random bytes that are kept here.
//!
//! Ed25519 in the Web Cryptography API is of secure contexts only. This file refuses to know what is
//! signed and where the key is kept.

use js_sys::{Array, ArrayBuffer, Object, Promise, Reflect, Uint8Array};
use shared::proof::{PublicKey, Seed, Signature};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CryptoKey, SubtleCrypto};

const ALGORITHM: &str = "Ed25519";

/// A key that is on this phone.
#[derive(Debug)]
pub struct Key {
    kind: Kind,
    public: PublicKey,
}

#[derive(Debug)]
enum Kind {
    /// The browser's own: it signs and does not tell.
    Browser(CryptoKey),
    /// Ours, from random bytes.
    Kept([u8; 32]),
}

impl Key {
    /// A fresh key; `None` when the browser has no random numbers.
    pub async fn fresh() -> Option<Self> {
        match browsers_own().await {
            Ok(key) => Some(key),
            Err(_) => {
                let mut seed = [0; 32];
                seed[..16].copy_from_slice(&super::fresh_bytes());
                seed[16..].copy_from_slice(&super::fresh_bytes());
                Some(Self::kept(seed))
            }
        }
    }

    fn kept(seed: [u8; 32]) -> Self {
        let public = Seed::new(&seed).public();
        let kind = Kind::Kept(seed);
        Self { kind, public }
    }

    /// The half that is shown to everybody.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        self.public
    }

    /// Signs a text; `None` when the browser refuses.
    pub async fn sign(&self, text: &str) -> Option<Signature> {
        match &self.kind {
            Kind::Kept(seed) => Some(Seed::new(seed).sign(text.as_bytes())),
            Kind::Browser(key) => {
                let bytes = Uint8Array::from(text.as_bytes());
                let signing = subtle()?.sign_with_str_and_js_u8_array(ALGORITHM, key, &bytes);
                let signature = bytes_of(signing.ok()?).await?;
                Some(Signature(signature.try_into().ok()?))
            }
        }
    }

    /// As something that the browser's store keeps.
    #[must_use]
    pub fn to_value(&self) -> JsValue {
        let value = Object::new();
        let set = |name: &str, to: &JsValue| {
            // A plain object takes any field.
            let _ = Reflect::set(&value, &name.into(), to);
        };
        match &self.kind {
            Kind::Browser(key) => {
                set("key", key);
                set("public", &Uint8Array::from(&self.public.as_bytes()[..]));
            }
            Kind::Kept(seed) => set("seed", &Uint8Array::from(&seed[..])),
        }
        value.into()
    }

    /// What was kept; `None` when it is something else.
    #[must_use]
    pub fn from_value(value: &JsValue) -> Option<Self> {
        let field = |name: &str| Reflect::get(value, &name.into()).ok();
        let bytes = |name: &str| -> Option<[u8; 32]> {
            let bytes: Uint8Array = field(name)?.dyn_into().ok()?;
            bytes.to_vec().try_into().ok()
        };
        if let Some(seed) = bytes("seed") {
            return Some(Self::kept(seed));
        }
        let key: CryptoKey = field("key")?.dyn_into().ok()?;
        let public = PublicKey::from_bytes(&bytes("public")?).ok()?;
        let kind = Kind::Browser(key);
        Some(Self { kind, public })
    }
}

/// The browser's cryptography; none outside secure contexts.
fn subtle() -> Option<SubtleCrypto> {
    let crypto = web_sys::window()?.crypto().ok()?;
    let subtle: JsValue = Reflect::get(&crypto, &"subtle".into()).ok()?;
    subtle.dyn_into().ok()
}

async fn browsers_own() -> Result<Key, JsValue> {
    let subtle = subtle().ok_or(JsValue::NULL)?;
    let uses = Array::of2(&"sign".into(), &"verify".into());
    let pair = JsFuture::from(subtle.generate_key_with_str(ALGORITHM, false, &uses)?).await?;
    let half = |name: &str| -> Result<CryptoKey, JsValue> {
        Reflect::get(&pair, &name.into())?.dyn_into()
    };
    let public = bytes_of(subtle.export_key("raw", &half("publicKey")?)?).await;
    let public: [u8; 32] = public
        .and_then(|bytes| bytes.try_into().ok())
        .ok_or(JsValue::NULL)?;
    Ok(Key {
        kind: Kind::Browser(half("privateKey")?),
        public: PublicKey::from_bytes(&public).map_err(|_| JsValue::NULL)?,
    })
}

async fn bytes_of(promise: Promise) -> Option<Vec<u8>> {
    let buffer: ArrayBuffer = JsFuture::from(promise).await.ok()?.dyn_into().ok()?;
    Some(Uint8Array::new(&buffer).to_vec())
}
