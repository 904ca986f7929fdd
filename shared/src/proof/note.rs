//! A text with signatures, in the open form of C2SP signed-note with Ed25519.
//!
//! The text ends in a newline; a blank line follows, then one line per signature: em dash, key name,
//! and the base64 of four bytes of key id and the signature over the text.

use std::fmt;
use std::str::FromStr;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::{Digest, PublicKey, Seed, Signature};

/// Signature type of Ed25519 in C2SP signed-note.
const ED25519: u8 = 1;
/// Most signatures of a note; C2SP signed-note asks for at least 16.
const MAX_SIGNATURES: usize = 100;

/// Why a note or a key of notes is not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoteError {
    /// The name of a key.
    #[error("a key name is a few characters without spaces and without '+'")]
    Name,
    /// The text of a note.
    #[error("a note's text is not empty, ends in a newline and has no control characters")]
    Text,
    /// The whole of a note.
    #[error("a note is a text, a blank line, and lines of '— name base64'")]
    Form,
    /// The key of a verifier.
    #[error("a note's key is NAME+HEX+BASE64 with the matching eight digits in the middle")]
    Key,
    /// No signature of the key that was asked for.
    #[error("no signature of the key {0}")]
    Unsigned(String),
    /// A signature of the key that does not fit the text.
    #[error("the signature of the key {0} does not fit the text")]
    Broken(String),
}

/// A key that signs notes, its public half: `NAME+HEX+BASE64` as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteKey {
    name: String,
    key: PublicKey,
}

impl NoteKey {
    /// A key under a name, for example `baybook/SHOP`.
    ///
    /// # Errors
    /// [`NoteError::Name`] when the name is empty or has a space or '+'.
    pub fn new(name: &str, key: PublicKey) -> Result<Self, NoteError> {
        if !is_name(name) {
            return Err(NoteError::Name);
        }
        Ok(Self {
            name: name.to_owned(),
            key,
        })
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The Ed25519 key.
    #[must_use]
    pub fn public_key(&self) -> &PublicKey {
        &self.key
    }

    /// First four bytes of SHA-256(name ‖ 0x0A ‖ type ‖ key).
    fn id(&self) -> [u8; 4] {
        let digest =
            Digest::of_all(&[self.name.as_bytes(), b"\n", &[ED25519], self.key.as_bytes()]);
        let [a, b, c, d, ..] = digest.0;
        [a, b, c, d]
    }
}

fn is_name(name: &str) -> bool {
    !name.is_empty()
        && !name
            .chars()
            .any(|c| c == '+' || c.is_whitespace() || c.is_control())
}

impl fmt::Display for NoteKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}+", self.name)?;
        for byte in self.id() {
            write!(f, "{byte:02x}")?;
        }
        let typed = [&[ED25519], self.key.as_bytes().as_slice()].concat();
        write!(f, "+{}", STANDARD.encode(typed))
    }
}

impl FromStr for NoteKey {
    type Err = NoteError;

    fn from_str(text: &str) -> Result<Self, NoteError> {
        let mut pieces = text.splitn(3, '+');
        let (Some(name), Some(_), Some(typed)) = (pieces.next(), pieces.next(), pieces.next())
        else {
            return Err(NoteError::Key);
        };
        let typed = STANDARD.decode(typed).map_err(|_| NoteError::Key)?;
        let [ED25519, bytes @ ..] = typed.as_slice() else {
            return Err(NoteError::Key);
        };
        let bytes = bytes.try_into().map_err(|_| NoteError::Key)?;
        let key = PublicKey::from_bytes(bytes).map_err(|_| NoteError::Key)?;
        let key = Self::new(name, key)?;
        // The key id in the middle must be the one that follows from the rest.
        if key.to_string() == text {
            Ok(key)
        } else {
            Err(NoteError::Key)
        }
    }
}

/// One signature line.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    name: String,
    /// Key id and signature, of whatever type.
    bytes: Vec<u8>,
}

/// A text with signatures, not necessarily verified.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    text: String,
    lines: Vec<Line>,
}

impl Note {
    /// Signs a text.
    ///
    /// # Errors
    /// [`NoteError`] when the name or the text cannot be written.
    pub fn sign(text: &str, name: &str, seed: &Seed) -> Result<Self, NoteError> {
        let key = NoteKey::new(name, seed.public())?;
        if !is_text(text) {
            return Err(NoteError::Text);
        }
        let signature = seed.sign(text.as_bytes());
        Ok(Self {
            text: text.to_owned(),
            lines: vec![Line {
                name: name.to_owned(),
                bytes: [key.id().as_slice(), &signature.0].concat(),
            }],
        })
    }

    /// Reads a note without verifying it.
    ///
    /// # Errors
    /// [`NoteError::Form`] or [`NoteError::Text`].
    pub fn parse(note: &str) -> Result<Self, NoteError> {
        let at = note.rfind("\n\n").ok_or(NoteError::Form)?;
        let (text, rest) = note.split_at(at + 1);
        if !is_text(text) {
            return Err(NoteError::Text);
        }
        let rest = rest.strip_prefix('\n').ok_or(NoteError::Form)?;
        let body = rest.strip_suffix('\n').ok_or(NoteError::Form)?;
        let lines: Vec<Line> = body
            .split('\n')
            .map(|line| parse_line(line).ok_or(NoteError::Form))
            .collect::<Result<_, _>>()?;
        if lines.len() > MAX_SIGNATURES {
            return Err(NoteError::Form);
        }
        let note = Self {
            text: text.to_owned(),
            lines,
        };
        Ok(note)
    }

    /// The text, if this key has signed it. Signatures of other keys are passed over.
    ///
    /// # Errors
    /// [`NoteError::Broken`] when any signature of the key does not fit, [`NoteError::Unsigned`]
    /// when there is none.
    pub fn verify(&self, key: &NoteKey) -> Result<&str, NoteError> {
        let id = key.id();
        let mut signed = false;
        for line in &self.lines {
            let (Some(line_id), Some(signature)) = (line.bytes.get(..4), line.bytes.get(4..))
            else {
                continue;
            };
            if line.name != key.name || line_id != id {
                continue;
            }
            let fits = signature
                .try_into()
                .is_ok_and(|bytes| key.key.verifies(self.text.as_bytes(), &Signature(bytes)));
            if !fits {
                return Err(NoteError::Broken(key.to_string()));
            }
            signed = true;
        }
        match signed {
            true => Ok(&self.text),
            false => Err(NoteError::Unsigned(key.to_string())),
        }
    }
}

fn is_text(text: &str) -> bool {
    text.len() > 1 && text.ends_with('\n') && !text.chars().any(|c| c < ' ' && c != '\n')
}

fn parse_line(line: &str) -> Option<Line> {
    let (name, encoded) = line.strip_prefix("— ")?.split_once(' ')?;
    let bytes = STANDARD.decode(encoded).ok()?;
    (is_name(name) && bytes.len() > 4).then(|| Line {
        name: name.to_owned(),
        bytes,
    })
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.text)?;
        for line in &self.lines {
            writeln!(f, "— {} {}", line.name, STANDARD.encode(&line.bytes))?;
        }
        Ok(())
    }
}
