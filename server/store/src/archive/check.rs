//! Checks that records follow each other: sequence, chain, and whole appends.

use crate::chain::{ChainHash, genesis, link};
use crate::types::{Head, Record, StreamId};

/// Walks along a stream record by record.
#[derive(Debug, Clone)]
pub(crate) struct Check {
    stream: StreamId,
    seq: u64,
    chain: ChainHash,
    /// Part and size of the append that the last record belongs to.
    part: u32,
    of: u32,
}

impl Check {
    /// At the beginning of a stream.
    pub(crate) fn start(stream: StreamId) -> Self {
        Self { stream, seq: 0, chain: genesis(stream), part: 0, of: 0 }
    }

    /// Right after this record, which the caller trusts.
    pub(crate) fn after(stream: StreamId, record: &Record) -> Self {
        Self { stream, seq: record.seq, chain: record.chain, part: record.part, of: record.of }
    }

    /// Takes the next record if it belongs here.
    pub(crate) fn accept(&mut self, record: &Record) -> Result<(), &'static str> {
        if record.seq != self.seq + 1 {
            return Err("the sequence number does not follow the record before");
        }
        let follows = if self.is_whole() {
            record.part == 1 && record.of >= 1
        } else {
            record.part == self.part + 1 && record.of == self.of
        };
        if !follows {
            return Err("the record does not belong to the append that it stands in");
        }
        if link(self.chain, self.stream, record) != record.chain {
            return Err("the chain hash does not follow from the record before");
        }
        *self = Self::after(self.stream, record);
        Ok(())
    }

    /// Whether the last append is complete.
    pub(crate) fn is_whole(&self) -> bool {
        self.part == self.of
    }

    /// The sequence number that comes next.
    pub(crate) fn next_seq(&self) -> u64 {
        self.seq + 1
    }

    /// The end of what was accepted.
    pub(crate) fn head(&self) -> Option<Head> {
        (self.seq > 0).then_some(Head { seq: self.seq, chain: self.chain })
    }
}
