//! A copy of the archives that answers reads faster than the files. It is never the truth.

use std::fmt::Debug;

use crate::types::{Head, Record, StreamId};

/// A disposable copy, fed after the archive is durable. Every error is a reason to read the archive instead.
pub trait ReadCopy: Send + Sync + Debug {
    /// Takes records that follow what it has, and the stream's new end.
    fn feed(&self, stream: StreamId, records: &[Record], head: Head) -> Result<(), String>;
    /// The records from `from` to `to`, both included, each with its checksum verified.
    fn read(&self, stream: StreamId, from: u64, to: u64) -> Result<Vec<Record>, String>;
    /// The end of the stream as last fed.
    fn head(&self, stream: StreamId) -> Result<Option<Head>, String>;
    /// The streams it has anything of.
    fn streams(&self) -> Result<Vec<StreamId>, String>;
    /// Forgets the stream's end, so that the next opening feeds the stream again.
    fn distrust(&self, stream: StreamId) -> Result<(), String>;
    /// Forgets the stream.
    fn forget(&self, stream: StreamId) -> Result<(), String>;
}
