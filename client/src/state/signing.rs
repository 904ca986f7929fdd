//! Sign-offs of a book: what is signed, with this phone's key, and what was signed before.
//!
//! Signing needs the server, which computes everything again before it keeps a statement. Nothing is
//! written on the phone, so nothing can be lost: without signal it is simply not signed yet.

use std::collections::BTreeSet;

use gloo_net::http::Method;
use leptos::prelude::{GetUntracked, GetValue};
use shared::proof::Digest;
use shared::proof::leaf::Who;
use shared::proof::statement::{
    Claims, Deed, SignedStatement, Statement, StatementFormat, possession,
};
pub use shared::proof::statement::{SignOff, sign_offs};
use shared::solve::solve;
use shared::wire::{KeepStatement, KeptStatement, RegisterKey};

use super::book::Book;
use super::session::Session;
use super::shelf::Shelf;
use crate::net::NetError;
use crate::platform;
use crate::platform::keys::Key;
use crate::store::names;

/// Why something was not signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotSigned {
    /// Nobody is signed in, or the book is not here.
    NotHere,
    /// The server does not have all of it yet.
    NotShared,
    /// It is not what the person was shown: somebody has read on.
    Changed,
    /// The browser made no key, or did not sign or keep it.
    NoKey,
    /// The server was not reached or refused.
    Net(NetError),
}

impl From<NetError> for NotSigned {
    fn from(error: NetError) -> Self {
        Self::Net(error)
    }
}

impl Session {
    /// The texts of a book's statements.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn statements(self, book: &str) -> Result<Vec<String>, NetError> {
        let path = format!("/api/jobs/{book}/statements");
        self.api().call(Method::GET, &path, None::<&()>).await
    }

    /// Signs a stage of a book off, if it is still what the person was shown.
    ///
    /// # Errors
    /// [`NotSigned`].
    pub async fn sign_off(
        self,
        shelf: Shelf,
        book: &Book,
        seen: &Claims,
    ) -> Result<KeptStatement, NotSigned> {
        let id = book.id.get_value();
        let content = shelf.with_book(&id, |held| {
            let heads: BTreeSet<Digest> =
                held.doc.get_heads().iter().map(|h| Digest(h.0)).collect();
            let heads: Vec<Digest> = heads.into_iter().collect();
            (heads, shared::book::read(&held.doc).0, held.unshared())
        });
        let (heads, job, unshared) = content.ok_or(NotSigned::NotHere)?;
        if unshared > 0 {
            return Err(NotSigned::NotShared);
        }
        // From nothing, as everybody computes it who checks the statement.
        let claims = Claims::of(&job, &solve(&job), &seen.stage).ok_or(NotSigned::NotHere)?;
        if claims != *seen {
            return Err(NotSigned::Changed);
        }
        self.say(shelf, &id, Deed::SignOff, heads, claims).await
    }

    /// Joins a sign-off: the same content, signed by somebody else as well.
    ///
    /// # Errors
    /// [`NotSigned`].
    pub async fn countersign(
        self,
        shelf: Shelf,
        of: &SignedStatement,
    ) -> Result<KeptStatement, NotSigned> {
        let said = of.statement();
        let deed = Deed::Countersign { of: of.digest() };
        let (heads, claims) = (said.heads.clone(), said.claims.clone());
        self.say(shelf, said.job.as_str(), deed, heads, claims)
            .await
    }

    async fn say(
        self,
        shelf: Shelf,
        job: &str,
        deed: Deed,
        heads: Vec<Digest>,
        claims: Claims,
    ) -> Result<KeptStatement, NotSigned> {
        let me = self.me.get_untracked().ok_or(NotSigned::NotHere)?;
        let device = shelf.device();
        let key = shelf.device_key(&me.user).await.ok_or(NotSigned::NoKey)?;
        let here = |_| NotSigned::NotHere;
        let who = Who {
            user: me.user.parse().map_err(here)?,
            name: me.name,
            device: Some(device.parse().map_err(here)?),
        };
        let statement = Statement {
            format: StatementFormat::V1,
            deed,
            shop: me.shop.parse().map_err(here)?,
            job: job.parse().map_err(here)?,
            heads,
            claims,
            who,
            at_ms: platform::now_ms(),
        };
        let proof = possession(
            &statement.shop,
            &statement.who.user,
            &device.parse().map_err(here)?,
        );
        let register = RegisterKey {
            device,
            key: key.public().to_string(),
            signature: key.sign(&proof).await.ok_or(NotSigned::NoKey)?.to_string(),
        };
        let api = self.api();
        // The same key again changes nothing.
        api.call::<Option<()>>(Method::POST, "/api/keys", Some(&register))
            .await?;
        let words = statement.to_sign().map_err(|_| NotSigned::NotHere)?;
        let signature = key.sign(&words).await.ok_or(NotSigned::NoKey)?;
        let keep = KeepStatement {
            text: SignedStatement::put_together(statement, key.public(), signature)
                .map_err(|_| NotSigned::NotHere)?
                .text()
                .to_owned(),
        };
        Ok(api
            .call(Method::POST, "/api/statements", Some(&keep))
            .await?)
    }
}

impl Shelf {
    /// The key of this person on this phone, made when there is none yet; `None` when the browser
    /// makes or keeps none.
    async fn device_key(self, user: &str) -> Option<Key> {
        let store = self.books().store.borrow().clone()?;
        let name = names::key(user);
        let kept = store.value(&name).await.ok()?;
        if let Some(key) = kept.as_ref().and_then(Key::from_value) {
            return Some(key);
        }
        let key = Key::fresh().await?;
        store.keep_value(&name, key.to_value()).await.ok()?;
        Some(key)
    }
}
