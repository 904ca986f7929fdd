//! The Merkle tree of an append-only log: hashing, proofs and their checks as in RFC 9162, section 2.1.
//!
//! A leaf hashes as SHA-256(0x00 ‖ entry), an inner node as SHA-256(0x01 ‖ left ‖ right); the left
//! half of n leaves is the largest power of two below n. A [`Frontier`] is all that a writer needs
//! to go on: one hash per complete part. This file refuses to know what an entry says.

use serde::{Deserialize, Serialize};

use super::Digest;

/// Hash of one entry.
#[must_use]
pub fn leaf_hash(entry: &[u8]) -> Digest {
    Digest::of_all(&[&[0], entry])
}

fn node_hash(left: &Digest, right: &Digest) -> Digest {
    Digest::of_all(&[&[1], &left.0, &right.0])
}

/// Root over the hashes of all entries; the empty tree has the digest of nothing.
#[must_use]
pub fn root(leaves: &[Digest]) -> Digest {
    leaves
        .iter()
        .fold(Frontier::default(), Frontier::with)
        .root()
}

/// The largest power of two below `size`, which is at least 2.
fn split(size: usize) -> usize {
    size.next_power_of_two() / 2
}

/// The path from an entry to the root, nearest first; `None` when there is no such entry.
#[must_use]
pub fn inclusion_proof(leaves: &[Digest], index: usize) -> Option<Vec<Digest>> {
    if index >= leaves.len() {
        return None;
    }
    if leaves.len() == 1 {
        return Some(Vec::new());
    }
    let (left, right) = leaves.split_at(split(leaves.len()));
    let (mut path, other) = if index < left.len() {
        (inclusion_proof(left, index)?, root(right))
    } else {
        (inclusion_proof(right, index - left.len())?, root(left))
    };
    path.push(other);
    Some(path)
}

/// The proof that the first `older` entries are those of the tree when it had that size; `None`
/// when it never had, and for size 0, whose root proves nothing.
#[must_use]
pub fn consistency_proof(leaves: &[Digest], older: usize) -> Option<Vec<Digest>> {
    (1..=leaves.len())
        .contains(&older)
        .then(|| part(leaves, older, true))
}

/// SUBPROOF of RFC 9162: `known` says that the verifier has the root of these leaves already.
fn part(leaves: &[Digest], older: usize, known: bool) -> Vec<Digest> {
    if older == leaves.len() {
        return if known {
            Vec::new()
        } else {
            vec![root(leaves)]
        };
    }
    let (left, right) = leaves.split_at(split(leaves.len()));
    let (mut proof, other) = if older <= left.len() {
        (part(left, older, known), root(right))
    } else {
        (part(right, older - left.len(), false), root(left))
    };
    proof.push(other);
    proof
}

/// Does the proof show that the entry stands at `index` of the tree of this size and root?
#[must_use]
pub fn verify_inclusion(
    leaf: &Digest,
    index: u64,
    size: u64,
    proof: &[Digest],
    root: &Digest,
) -> bool {
    if index >= size {
        return false;
    }
    let (mut place, mut last) = (index, size - 1);
    let mut hash = *leaf;
    for other in proof {
        if last == 0 {
            return false;
        }
        if place & 1 == 1 || place == last {
            hash = node_hash(other, &hash);
            while place & 1 == 0 && place != 0 {
                place >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, other);
        }
        place >>= 1;
        last >>= 1;
    }
    last == 0 && hash == *root
}

/// A tree's head: its size and root.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// Number of entries.
    pub size: u64,
    /// Root over them.
    pub root: Digest,
}

/// Does the proof show that the newer tree begins with the older one? Size 0 proves nothing, and
/// is refused.
#[must_use]
pub fn verify_consistency(older: &Head, newer: &Head, proof: &[Digest]) -> bool {
    if older.size == 0 || older.size > newer.size {
        return false;
    }
    if older.size == newer.size {
        return proof.is_empty() && older.root == newer.root;
    }
    // A complete older tree is a node of the newer one, and its root need not be said.
    let mut proof = proof.iter();
    let first = match older.size.is_power_of_two() {
        true => Some(&older.root),
        false => proof.next(),
    };
    let Some(first) = first else {
        return false;
    };
    let (mut place, mut last) = (older.size - 1, newer.size - 1);
    while place & 1 == 1 {
        place >>= 1;
        last >>= 1;
    }
    let (mut old, mut new) = (*first, *first);
    for other in proof {
        if last == 0 {
            return false;
        }
        if place & 1 == 1 || place == last {
            old = node_hash(other, &old);
            new = node_hash(other, &new);
            while place & 1 == 0 && place != 0 {
                place >>= 1;
                last >>= 1;
            }
        } else {
            new = node_hash(&new, other);
        }
        place >>= 1;
        last >>= 1;
    }
    last == 0 && old == older.root && new == newer.root
}

/// A tree that only grows, as the roots of its complete parts, largest first.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Parts")]
pub struct Frontier {
    size: u64,
    parts: Vec<Digest>,
}

/// A frontier as it is read, not yet checked.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Parts {
    size: u64,
    parts: Vec<Digest>,
}

impl TryFrom<Parts> for Frontier {
    type Error = String;

    fn try_from(Parts { size, parts }: Parts) -> Result<Self, String> {
        let expected = size.count_ones();
        if parts.len() != expected as usize {
            return Err(format!(
                "a tree of {size} entries has {expected} complete parts, not {}",
                parts.len()
            ));
        }
        Ok(Self { size, parts })
    }
}

impl Frontier {
    /// Number of entries.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Adds the hash of one entry.
    pub fn push(&mut self, leaf: &Digest) {
        let mut hash = *leaf;
        // Each trailing one of the size is a complete part that this entry doubles.
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.parts.pop() {
                hash = node_hash(&left, &hash);
            }
        }
        self.parts.push(hash);
        self.size += 1;
    }

    fn with(mut self, leaf: &Digest) -> Self {
        self.push(leaf);
        self
    }

    /// Root over all entries.
    #[must_use]
    pub fn root(&self) -> Digest {
        let mut parts = self.parts.iter().rev();
        let Some(last) = parts.next() else {
            return Digest::of(&[]);
        };
        parts.fold(*last, |hash, left| node_hash(left, &hash))
    }

    /// Size and root.
    #[must_use]
    pub fn head(&self) -> Head {
        Head {
            size: self.size,
            root: self.root(),
        }
    }
}
