//! The words of the store: streams, records, heads.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::chain::ChainHash;

/// Which append-only stream: one run's log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StreamId(pub Uuid);

impl StreamId {
    /// A new random stream id.
    pub fn random() -> Self {
        Self(Uuid::new_v4())
    }
}

impl fmt::Display for StreamId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.hyphenated().fmt(f)
    }
}

impl FromStr for StreamId {
    type Err = uuid::Error;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Uuid::try_parse(text).map(Self)
    }
}

/// Where the caller believes the stream ends. Sequence numbers start at 1 and have no gaps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expected {
    /// The stream has no record yet.
    NoStream,
    /// The last record has this sequence number; `Exact(0)` means the same as `NoStream`.
    Exact(u64),
}

impl Expected {
    /// The sequence number of the last record that the caller knows of, 0 for none.
    pub fn seq(self) -> u64 {
        match self {
            Self::NoStream => 0,
            Self::Exact(seq) => seq,
        }
    }
}

/// A record that a caller wants appended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewRecord {
    /// The event's own id: appending the same ids again at the same place changes nothing.
    pub event_id: Uuid,
    /// One JSON value as text, on one line. It is kept byte for byte.
    pub payload: String,
}

/// A stored record, with what proves that it is whole and in its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// Sequence number in the stream: from 1, without gaps.
    pub seq: u64,
    /// The event's own id.
    pub event_id: Uuid,
    /// Place in the append that it came with, from 1.
    pub part: u32,
    /// How many records that append had. An append is kept whole or not at all.
    pub of: u32,
    /// CRC-32 over the stream, the fields above and the payload.
    pub crc32: u32,
    /// Chain hash up to and including this record.
    pub chain: ChainHash,
    /// The payload, byte for byte as appended.
    pub payload: String,
}

/// The end of a stream: proof of everything in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Sequence number of the last record.
    pub seq: u64,
    /// Chain hash of the last record.
    pub chain: ChainHash,
}

impl fmt::Display for Head {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.seq, self.chain)
    }
}

/// What an append did. Either way the records are durable when this is returned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appended {
    /// The records were written.
    Written {
        /// Sequence number of the first record written.
        first: u64,
        /// The stream's end right after them.
        head: Head,
    },
    /// The same events were already there, at the same place: a repeated request.
    Already {
        /// Sequence number of the first of them.
        first: u64,
        /// Sequence number of the last of them.
        last: u64,
    },
}

impl Appended {
    /// Sequence number of the first record of the request.
    pub fn first(&self) -> u64 {
        match self {
            Self::Written { first, .. } | Self::Already { first, .. } => *first,
        }
    }

    /// Sequence number of the last record of the request.
    pub fn last(&self) -> u64 {
        match self {
            Self::Written { head, .. } => head.seq,
            Self::Already { last, .. } => *last,
        }
    }
}
