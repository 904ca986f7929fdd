//! A sign-off: what somebody says about one stage of one job, over exactly which content.
//!
//! A [`Statement`] names the document's heads and the [`Claims`] that follow from them, so that
//! anybody who has the book can compute them again. It is signed as canonical text with the key of
//! a device (Ed25519); a countersignature is a statement of its own that names the sign-off it joins.
//! Lengths are whole micrometres. This file refuses to know who may sign: that is the roster's.

mod claims;
mod tool_check;

use serde::{Deserialize, Serialize};

use super::canonical::{self, CanonicalError};
use super::leaf::Who;
use super::{Digest, PublicKey, Seed, Signature};
use crate::ids::{BookId, DeviceId, ShopId, UserId};

pub use super::grid::Grid;
pub use claims::{Aside, Claims, Counts, RuleClaim, digest_of_result};
pub use tool_check::{Checked, ToolCheck};

/// Version of the form; it also keeps a signed statement from passing for anything else.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum StatementFormat {
    /// The first.
    #[default]
    #[serde(rename = "baybook-statement/1")]
    V1,
}

/// What is said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Statement {
    /// Version of the form.
    pub format: StatementFormat,
    /// Sign-off or countersignature.
    pub deed: Deed,
    /// The shop.
    pub shop: ShopId,
    /// The job.
    pub job: BookId,
    /// Heads of the document, sorted: everything that the signer had in front of them.
    pub heads: Vec<Digest>,
    /// What follows from them.
    pub claims: Claims,
    /// Who signs.
    pub who: Who,
    /// When, milliseconds since 1970, as the signer's device saw it.
    pub at_ms: i64,
}

/// Sign-off or countersignature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
pub enum Deed {
    /// The stage is signed off.
    SignOff,
    /// An owner joins a sign-off.
    Countersign {
        /// The digest of the signed sign-off.
        of: Digest,
    },
}

/// Why a statement cannot be signed or is not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StatementError {
    /// It is not of the form.
    #[error(transparent)]
    Form(#[from] CanonicalError),
    /// The heads.
    #[error("heads: at least one, sorted, none twice")]
    Heads,
    /// The grid.
    #[error("claims.grid.shift_pm: 0 to 999999")]
    Grid,
    /// The signature.
    #[error("the signature is not of this key over this statement")]
    Signature,
}

/// The text that a device signs when its key is registered, to show that it has the key.
#[must_use]
pub fn possession(shop: &ShopId, user: &UserId, device: &DeviceId) -> String {
    // Identifiers have no line ends, so each stands for itself.
    format!("baybook-key/1\n{shop}\n{user}\n{device}\n")
}

impl Statement {
    /// The text that is signed, for a key that lives elsewhere.
    ///
    /// # Errors
    /// [`StatementError`] when it cannot be signed as it is.
    pub fn to_sign(&self) -> Result<String, StatementError> {
        if self.heads.is_empty() || !self.heads.is_sorted_by(|a, b| a < b) {
            return Err(StatementError::Heads);
        }
        if !self.claims.grid.is_sound() {
            return Err(StatementError::Grid);
        }
        Ok(canonical::write(self)?)
    }
}

/// A statement with its signature, as it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedStatement {
    signed: Signed,
    text: String,
}

/// The written form.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Signed {
    key: PublicKey,
    signature: Signature,
    statement: Statement,
}

impl SignedStatement {
    /// Signs a statement with a key that is here.
    ///
    /// # Errors
    /// [`StatementError`] when it cannot be signed as it is.
    pub fn sign(statement: Statement, seed: &Seed) -> Result<Self, StatementError> {
        let signature = seed.sign(statement.to_sign()?.as_bytes());
        Self::assemble(statement, seed.public(), signature)
    }

    /// A statement that was signed elsewhere: the bytes of [`Statement::to_sign`], by this key.
    ///
    /// # Errors
    /// [`StatementError::Signature`] when the signature does not fit.
    pub fn assemble(
        statement: Statement,
        key: PublicKey,
        signature: Signature,
    ) -> Result<Self, StatementError> {
        let whole = Self::put_together(statement, key, signature)?;
        whole.verify()?;
        Ok(whole)
    }

    /// The same without asking whether the signature fits: for a phone whose browser has just made
    /// it. Whoever receives the statement asks.
    ///
    /// # Errors
    /// [`StatementError::Form`] when it cannot be written.
    pub fn put_together(
        statement: Statement,
        key: PublicKey,
        signature: Signature,
    ) -> Result<Self, StatementError> {
        let signed = Signed {
            key,
            signature,
            statement,
        };
        let text = canonical::write(&signed)?;
        Ok(Self { signed, text })
    }

    /// Reads a signed statement; [`SignedStatement::verify`] says what it is worth.
    ///
    /// # Errors
    /// [`StatementError`] when it is not of the form, or not written in the one way.
    pub fn parse(text: &str) -> Result<Self, StatementError> {
        let signed: Signed = canonical::parse(text.as_bytes())?;
        signed.statement.to_sign()?;
        Ok(Self {
            signed,
            text: text.to_owned(),
        })
    }

    /// Is the signature the key's, over this statement?
    ///
    /// # Errors
    /// [`StatementError::Signature`] when it is not.
    pub fn verify(&self) -> Result<(), StatementError> {
        let Signed {
            key,
            signature,
            statement,
        } = &self.signed;
        match key.verifies(statement.to_sign()?.as_bytes(), signature) {
            true => Ok(()),
            false => Err(StatementError::Signature),
        }
    }

    /// What is said.
    #[must_use]
    pub fn statement(&self) -> &Statement {
        &self.signed.statement
    }

    /// Whose key signed it.
    #[must_use]
    pub fn key(&self) -> &PublicKey {
        &self.signed.key
    }

    /// The text as it is kept and shown to anybody.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the text; the log names a statement by it.
    #[must_use]
    pub fn digest(&self) -> Digest {
        Digest::of(self.text.as_bytes())
    }

    /// A short code to read out over the phone, see [`Digest::code`]: printed on a report, and found
    /// again on the shop's screen.
    #[must_use]
    pub fn code(&self) -> String {
        self.digest().code()
    }
}

/// A sign-off, and who joined it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignOff {
    /// The sign-off.
    pub signed: SignedStatement,
    /// Countersignatures.
    pub joined: Vec<SignedStatement>,
}

/// Sign-offs with their countersignatures, the newest first; what cannot be read is left out.
#[must_use]
pub fn sign_offs(texts: &[String]) -> Vec<SignOff> {
    let all: Vec<SignedStatement> = texts
        .iter()
        .filter_map(|text| SignedStatement::parse(text).ok())
        .collect();
    let joins = |of: &Digest| -> Vec<SignedStatement> {
        let is_of = |deed: Deed| matches!(deed, Deed::Countersign { of: its } if its == *of);
        all.iter()
            .filter(|signed| is_of(signed.statement().deed))
            .cloned()
            .collect()
    };
    // The server tells them in their order.
    all.iter()
        .rev()
        .filter(|signed| signed.statement().deed == Deed::SignOff)
        .map(|signed| SignOff {
            joined: joins(&signed.digest()),
            signed: signed.clone(),
        })
        .collect()
}
