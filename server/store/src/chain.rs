//! Checksum and hash chain of records.
//!
//! The checksum (CRC-32) finds damage to one record. The chain finds records that were lost, moved, exchanged
//! or rewritten: each hash is BLAKE3 over the previous hash, the record's header and its payload, **truncated
//! to 128 bits**. That is ample against accidents and against a change to a stored record (a second
//! preimage); it is not a signature: whoever may write the whole file can compute a new chain.

use std::fmt;
use std::str::FromStr;

use uuid::Uuid;

use crate::types::{Head, NewRecord, Record, StreamId};

/// A chain hash: the first 16 bytes of BLAKE3, written as 32 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct ChainHash(pub [u8; 16]);

impl fmt::Display for ChainHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", u128::from_be_bytes(self.0))
    }
}

impl fmt::Debug for ChainHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The text is not 32 lowercase hexadecimal digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a chain hash is 32 lowercase hexadecimal digits")]
pub struct NotAChainHash;

impl FromStr for ChainHash {
    type Err = NotAChainHash;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        // One spelling only: a flipped bit in the text must never read as the same hash.
        if text.len() != 32 || !text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
            return Err(NotAChainHash);
        }
        u128::from_str_radix(text, 16).map(|n| Self(n.to_be_bytes())).map_err(|_| NotAChainHash)
    }
}

/// The hash that the first record of a stream builds on.
pub(crate) fn genesis(stream: StreamId) -> ChainHash {
    let mut hasher = blake3::Hasher::new();
    hasher.update(b"deadship-archive 1\n").update(stream.0.as_bytes());
    truncated(&hasher)
}

/// The fields in front of the payload, in the fixed binary order that checksum and chain are computed over.
fn header(stream: StreamId, seq: u64, event_id: Uuid, part: u32, of: u32) -> [u8; 48] {
    let mut bytes = [0; 48];
    bytes[..16].copy_from_slice(stream.0.as_bytes());
    bytes[16..24].copy_from_slice(&seq.to_be_bytes());
    bytes[24..40].copy_from_slice(event_id.as_bytes());
    bytes[40..44].copy_from_slice(&part.to_be_bytes());
    bytes[44..].copy_from_slice(&of.to_be_bytes());
    bytes
}

/// The checksum that this record ought to have.
pub(crate) fn checksum(stream: StreamId, record: &Record) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(&header(stream, record.seq, record.event_id, record.part, record.of));
    crc.update(record.payload.as_bytes());
    crc.finalize()
}

/// The chain hash that this record ought to have after `previous`.
pub(crate) fn link(previous: ChainHash, stream: StreamId, record: &Record) -> ChainHash {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&previous.0);
    hasher.update(&header(stream, record.seq, record.event_id, record.part, record.of));
    hasher.update(&record.crc32.to_be_bytes());
    hasher.update(record.payload.as_bytes());
    truncated(&hasher)
}

fn truncated(hasher: &blake3::Hasher) -> ChainHash {
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
    ChainHash(bytes)
}

/// Gives the records of one append their numbers, checksums and chain hashes, following `head`.
pub(crate) fn seal(stream: StreamId, head: Option<Head>, new: &[NewRecord]) -> Vec<Record> {
    let next = head.map_or(1, |h| h.seq + 1);
    let mut chain = head.map_or_else(|| genesis(stream), |h| h.chain);
    // `judge::fits` bounds the number of records far below u32::MAX.
    let of = u32::try_from(new.len()).unwrap_or(u32::MAX);
    let mut sealed = Vec::with_capacity(new.len());
    for ((seq, part), record) in (next..).zip(1..=of).zip(new) {
        let mut record = Record {
            seq,
            event_id: record.event_id,
            part,
            of,
            crc32: 0,
            chain,
            payload: record.payload.clone(),
        };
        record.crc32 = checksum(stream, &record);
        record.chain = link(chain, stream, &record);
        chain = record.chain;
        sealed.push(record);
    }
    sealed
}
