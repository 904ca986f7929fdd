//! Passwords: argon2id with the second recommended parameters of RFC 9106, section 4
//! (t = 3, p = 4, m = 64 MiB, 128-bit salt, 256-bit tag), away from the async threads.
//!
//! An unknown e-mail costs the same work as a wrong password, so that time tells nothing.

use std::sync::Arc;

use anyhow::{Context, anyhow};
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

/// Shortest password in characters.
pub const MIN_PASSWORD_LENGTH: usize = 10;
/// Longest password in bytes, so that hashing cannot be made slow from outside.
pub const MAX_PASSWORD_BYTES: usize = 1024;

const MEMORY_KIB: u32 = 64 * 1024;
const PASSES: u32 = 3;
const LANES: u32 = 4;
const TAG_BYTES: usize = 32;
/// At most this many at once: each holds 64 MiB.
const AT_ONCE: usize = 4;

/// Hashes and checks passwords.
#[derive(Debug, Clone)]
pub struct Passwords {
    permits: Arc<Semaphore>,
    /// Hash of a random password that nobody has.
    nobody: Arc<str>,
}

fn hasher() -> anyhow::Result<Argon2<'static>> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, Some(TAG_BYTES))
        .map_err(|e| anyhow!("argon2 parameters: {e}"))?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

fn hash_now(password: &str) -> anyhow::Result<String> {
    let hash: PasswordHash = hasher()?
        .hash_password(password.as_bytes())
        .map_err(|e| anyhow!("hashing a password: {e}"))?;
    Ok(hash.to_string())
}

fn matches_now(password: &str, hash: &str) -> anyhow::Result<bool> {
    let hash = PasswordHash::new(hash).map_err(|e| anyhow!("stored password hash: {e}"))?;
    match hasher()?.verify_password(password.as_bytes(), &hash) {
        Ok(()) => Ok(true),
        Err(argon2::password_hash::Error::PasswordInvalid) => Ok(false),
        Err(e) => Err(anyhow!("checking a password: {e}")),
    }
}

impl Passwords {
    /// Prepares the hash that unknown e-mails are checked against.
    ///
    /// # Errors
    /// When argon2 cannot hash at all.
    pub async fn prepare() -> anyhow::Result<Self> {
        let nobody = spawn_blocking(|| hash_now(&super::secret::Secret::random().reveal()))
            .await
            .context("hashing")??;
        Ok(Self {
            permits: Arc::new(Semaphore::new(AT_ONCE)),
            nobody: nobody.into(),
        })
    }

    /// Hash of a new password, as a PHC string.
    ///
    /// # Errors
    /// When argon2 fails.
    pub async fn hash(&self, password: String) -> anyhow::Result<String> {
        let _permit = self.permits.acquire().await.context("password permits")?;
        spawn_blocking(move || hash_now(&password))
            .await
            .context("hashing")?
    }

    /// Is it the password behind the hash? Without a hash the answer is no, after the same work.
    ///
    /// # Errors
    /// When the stored hash is broken or argon2 fails.
    pub async fn check(&self, password: String, hash: Option<String>) -> anyhow::Result<bool> {
        let _permit = self.permits.acquire().await.context("password permits")?;
        let known = hash.is_some();
        let hash = hash.unwrap_or_else(|| self.nobody.to_string());
        let matches = spawn_blocking(move || matches_now(&password, &hash))
            .await
            .context("checking")??;
        Ok(known && matches)
    }
}

#[cfg(test)]
mod tests {
    use argon2::{AssociatedData, ParamsBuilder};

    use super::*;

    /// RFC 9106, section 5.3 (read in the vectors of pyca/cryptography, `KDF/argon2id.txt`): the
    /// function that hashes here, with the inputs of the RFC.
    #[test]
    fn argon2id_of_rfc_9106() {
        let params = ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .output_len(32)
            .data(AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let hasher =
            Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        hasher
            .hash_password_into(&[1; 32], &[2; 16], &mut tag)
            .unwrap();
        let text: String = tag.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(
            text,
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }

    #[tokio::test]
    async fn accepts_the_password_only() {
        let passwords = Passwords::prepare().await.unwrap();
        let hash = passwords.hash("plumb and level".into()).await.unwrap();
        // RFC 9106, section 4, second recommended option.
        assert!(
            hash.starts_with("$argon2id$v=19$m=65536,t=3,p=4$"),
            "{hash}"
        );
        let check = |word: &str, hash: Option<&String>| {
            let (passwords, word, hash) = (passwords.clone(), word.to_owned(), hash.cloned());
            async move { passwords.check(word, hash).await.unwrap() }
        };
        assert!(check("plumb and level", Some(&hash)).await);
        assert!(!check("plumb and level ", Some(&hash)).await);
        assert!(!check("plumb and level", None).await);
    }
}
