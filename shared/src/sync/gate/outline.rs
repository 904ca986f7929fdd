//! What a sync message holds, told from its raw bytes before the document engine sees them.
//!
//! Only the first version of the message is taken: the second carries packed documents, and a peer
//! that was never told of it does not send it. Counts and the parameters of Bloom filters are
//! bounded here: a filter of no bits per entry makes the engine divide by zero when it answers, and
//! one of four thousand million probes makes it busy for minutes.

use super::Refusal;
use super::bytes::Input;

/// First byte of a message of the first version.
const FIRST_VERSION: u8 = 0x42;
const HASH_BYTES: u64 = 32;
/// Hashes in one list.
const MAX_HASHES: u64 = 10_000;
/// Summaries in one message; the engine itself sends one.
const MAX_SUMMARIES: u64 = 8;
/// Changes in one message.
const MAX_CHANGES: u64 = 100_000;
/// Entries of a summary's Bloom filter, and what it may ask of us per entry.
const MAX_BLOOM_ENTRIES: u64 = 1_000_000;
const BLOOM_BITS: std::ops::RangeInclusive<u64> = 1..=32;
const BLOOM_PROBES: std::ops::RangeInclusive<u64> = 1..=16;

/// The chunks of changes that a message carries.
///
/// # Errors
/// When a count or a summary is out of bounds, or the bytes are no message of the first version.
pub(super) fn chunks(data: &[u8]) -> Result<Vec<&[u8]>, Refusal> {
    let mut input = Input(data);
    if input.byte() != Some(FIRST_VERSION) {
        return Err(Refusal::Unreadable);
    }
    hashes(&mut input)?; // heads
    hashes(&mut input)?; // need
    for _ in 0..count(&mut input, MAX_SUMMARIES)? {
        hashes(&mut input)?; // last sync
        bloom(input.prefixed().ok_or(Refusal::Unreadable)?)?;
    }
    let changes = count(&mut input, MAX_CHANGES)?;
    (0..changes)
        .map(|_| input.prefixed().ok_or(Refusal::Unreadable))
        .collect()
}

fn count(input: &mut Input<'_>, most: u64) -> Result<u64, Refusal> {
    match input.unsigned() {
        None => Err(Refusal::Unreadable),
        Some(count) if count > most => Err(Refusal::TooLarge),
        Some(count) => Ok(count),
    }
}

fn hashes(input: &mut Input<'_>) -> Result<(), Refusal> {
    let count = count(input, MAX_HASHES)?;
    input.take(count * HASH_BYTES).ok_or(Refusal::Unreadable)?;
    Ok(())
}

/// No bytes mean no entries; else the bits must be there for the entries that it claims.
fn bloom(bytes: &[u8]) -> Result<(), Refusal> {
    if bytes.is_empty() {
        return Ok(());
    }
    let mut input = Input(bytes);
    let mut number = || input.unsigned().ok_or(Refusal::Unreadable);
    let (entries, bits, probes) = (number()?, number()?, number()?);
    if entries > MAX_BLOOM_ENTRIES || !BLOOM_BITS.contains(&bits) || !BLOOM_PROBES.contains(&probes)
    {
        return Err(Refusal::Summary);
    }
    let needed = (entries * bits).div_ceil(8);
    input.take(needed).ok_or(Refusal::Unreadable)?;
    Ok(())
}
